"""What the glued width of a rib does to the plate, along a whole rib, from the section problems of the T.

A rib joined along a mere line misses five things. The T twists less than plate and rib apart, since its
corner is massive. The strip under the rib cannot freely bend, stretch and shear across. A force along the
rib finds the root giving way a little (slip). And a force or a torque of the rib enters the plate neither
at the edges of the glued width nor at its middle, but so that plate and rib together give as much as the T
does.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicSpline

from platemodel.fem.arrays import Floats
from platemodel.fem.blade import EVEN, Tapering
from platemodel.fem.reach import WHOLE
from platemodel.fem.section import SHEAR_FACTOR, Stiffness, rotate_compliance
from platemodel.fem.t_section import DIGITS, TSection, Turning, bending, symmetric, turning

# Heights at which the T is solved, in mean plate thicknesses; the spline between is within 5e-4 of the T.
HEIGHTS = np.geomspace(0.25, 15.0, 10)
# Slopes of the rib's grain for which its twist is solved; a polynomial runs between. Both signs, for a plate
# whose grain runs out does not slope as the rib's does.
SLOPES = np.radians([-12.0, -6.0, 0.0, 6.0, 12.0])
LEVEL = 1e-3  # rad: a rib that nowhere slopes more is solved as level
# Lines beside an opening lie so far in that they move nearly as the rib does: the strip gives as much as the
# T, within a few per cent, and must not give more. Half or twice of it moves a pitch by less than 0.1 %.
LEAST_GIVE = 0.02
LARGEST_SHARE = 0.5  # of the stiffness in twist that sideways bending may take: reached on steep tapers alone
MOST_CROSSED = 0.8  # of the mean of slip and sinking, lest both together give nothing
INNER = 0.25  # of the inner pair of lines that a rib is joined on, in glued widths from the middle


@dataclass(frozen=True)
class Junction:
    """What the rib adds besides stretching and bending along itself, at n points.

    Attributes
    ----------
    torsion : array (n,)
        N m2: acts on the twist; torsion of the T less torsion of the plate alone.
    sideways : array (n,)
        Sideways curvature that a unit twist causes where the grain leaves the rib's line.
    cross : array (n, 2, 2)
        Acts on the strip's mean membrane strain and curvature across, per metre of rib; N, N m, N m2.
    shear : array (n,)
        Acts on the strip's mean in-plane shear plus ``eccentricity`` times the twist, per metre of rib; N.
    eccentricity : array (n,)
        m: in-plane shear that a twist of the T causes in the strip under the rib.
    slip : array (n,)
        How far the rib moves along against the edges of the glued width for a force along it, m per N/m.
    sinking : array (n,)
        How far the rib moves along its height against its root for a line force on it, m per N/m.
    crossed : array (n,)
        How far it moves along the normal for a force along it, where the grain slopes, m per N/m.
    roll : array (n,)
        How far the rib turns about its line against its root for a line torque on it, 1/N.
    rolled : array (n,)
        How far a unit twist turns the rib about its line by itself where its grain slopes, m.
    force, torque : array (n,)
        Share of a line force, and of a line torque, that enters at the outer lines; the rest enters at the
        inner ones. More than one where the outer lines lie further in than all of it enters.
    """

    torsion: np.ndarray
    sideways: np.ndarray
    cross: np.ndarray
    shear: np.ndarray
    eccentricity: np.ndarray
    slip: np.ndarray
    sinking: np.ndarray
    crossed: np.ndarray
    roll: np.ndarray
    rolled: np.ndarray
    force: np.ndarray
    torque: np.ndarray

    def mirrored(self) -> "Junction":
        """Return the junction of a rib on the other face: what couples bending with stretch changes sign."""
        cross = self.cross * np.array([[1.0, -1.0], [-1.0, 1.0]])
        return replace(self, cross=cross, eccentricity=-self.eccentricity, rolled=-self.rolled)

    def squares(self) -> Iterator[tuple[Floats, Floats, Floats]]:
        """Yield weight w and factors a, b of strain and curvature: w (a e + b k)^2 sums to the cross term."""
        stretch, bend = self.cross[:, 0, 0], self.cross[:, 1, 1]
        # coupling is the mean of the two: round-off leaves a little difference
        coupling = 0.5 * (self.cross[:, 0, 1] + self.cross[:, 1, 0])
        share = coupling / stretch
        yield stretch, np.ones_like(share), share
        yield bend - coupling * share, np.zeros_like(share), np.ones_like(share)


@dataclass(frozen=True)
class MeanSection:
    """The T that stands for a whole rib, its grain laid level, and how its grain slopes along it.

    Attributes
    ----------
    sloped : tuple of TSection
        The same with the grain at `SLOPES`; none for a level rib.
    slope : array (n,)
        Of the rib's grain against its line, towards the normal, rad.
    """

    section: TSection
    sloped: tuple[TSection, ...]
    slope: np.ndarray


def mean_section(
    weights: Floats,
    width: Floats,
    plate: Floats,
    rib: Floats,
    slope: Floats,
    carved: bool,
    thickness: float,
) -> MeanSection:
    """Make the T that stands for a whole rib.

    Parameters
    ----------
    weights, width : array (n,)
        Length of rib that each point stands for, and its width there, m.
    plate, rib : array (n, 6, 6)
        Compliances in the rib's axes t, b, n, 1/Pa.
    slope : array (n,)
        Of the rib's grain against t, towards n, rad.
    carved : bool
        The plate's grain slopes as the rib's does; otherwise it follows the surface.
    thickness : float
        Mean of the plate's, m.
    """
    wide = float(np.average(width, weights=weights))
    woods = [turned(rib, slope)]
    woods.insert(0, turned(plate, slope) if carved else plate)
    plate, rib = (np.average(c, axis=0, weights=weights) for c in woods)

    def section(angle: float) -> TSection:
        on_plate = turned(plate[None], np.array([-angle]))[0] if carved else plate
        return TSection(thickness, wide, _key(on_plate), _key(turned(rib[None], np.array([-angle]))[0]))

    level = float(np.abs(slope).max()) < LEVEL
    return MeanSection(section(0.0), () if level else tuple(section(a) for a in SLOPES), slope)


def level_across(axes: Floats, wood: Floats) -> Floats:
    """Turn frames (n, 3, 3) about their first axes until b lies along that axis of a wood which is nearest.

    The T takes its woods as symmetric about the t-n plane. A slope across moves their constants and couples b
    with the other axes, both by its square; the one without the other is worse than neither.
    """
    t, across = axes[:, 0], axes[:, 1] @ wood.T
    k = 1 + int(np.abs(across[:, 1:]).sum(axis=0).argmax())
    b = np.sign(across[:, k, None]) * wood[k]
    b = b - np.einsum("ni,ni->n", b, t)[:, None] * t
    b /= np.linalg.norm(b, axis=1)[:, None]
    return np.stack([t, b, np.cross(t, b)], axis=1)


def turned(compliance: Floats, slope: Floats) -> Floats:
    """Compliance in axes turned about b by a slope, t towards n."""
    c, s = np.cos(slope), np.sin(slope)
    zero, one = np.zeros_like(c), np.ones_like(c)
    turn = np.stack([c, zero, s, zero, one, zero, -s, zero, c], axis=-1).reshape(-1, 3, 3)
    return rotate_compliance(compliance, turn)


def _key(compliance: Floats) -> tuple[float, ...]:
    """Elastic stiffness as a tuple; rounded, so that round-off does not make another wood of it."""
    c = np.linalg.inv(compliance)
    scale = np.abs(c).max()
    return tuple(float(v) for v in (scale * np.round(c / scale, DIGITS)).ravel())


def junction(
    mean: MeanSection,
    width: Floats,
    height: Floats,
    stiff: Stiffness,
    reach: float = WHOLE,
    tapered: Tapering = EVEN,
) -> Junction:
    """Junction terms along a rib.

    Parameters
    ----------
    width, height : array (n,)
        Of the rib at each point, m.
    stiff : Stiffness
        Of the plate at each point, in the rib's axes.
    reach : float
        Where the outer lines lie on which plate and rib are joined, in widths from the middle.
    tapered : Tapering

    Notes
    -----
    The T is solved at ``HEIGHTS``; a cubic spline over the height's logarithm runs through the answers. The
    twist is solved at ``SLOPES`` too. The strip's terms then follow the plate's own stiffness from point to
    point.
    """
    at = np.log(np.clip(height / mean.section.thickness, HEIGHTS[0], HEIGHTS[-1]))
    terms = _bending_over_heights(mean.section, reach)(at).T
    slip, sinking, roll = np.exp(terms[:3])
    force, torque = terms[3:5]
    crossed = np.zeros_like(slip)
    if mean.sloped:
        most = MOST_CROSSED * np.sqrt(slip * sinking)
        crossed = np.clip(_crossed_over_slopes(mean, at, reach), -most, most)
    turned = _turning_over_slopes(mean, at)
    _, coupling, _, shear_share, slide, rolled, laid = turned
    twist, side = np.exp(turned[0]), np.exp(turned[2])
    # the strip's stiffness is the inverse of what is left of its compliance; no coupling of the plate's own
    wide = 2.0 * reach * width
    stretch, bend = stiff.membrane[:, 1, 1], stiff.bending[:, 1, 1]
    (a, b), (c, d) = terms[5:].reshape(2, 2, -1) / wide
    a, d = 1.0 / stretch - a, 1.0 / bend - d
    scale = wide / (a * d - b * c)
    cross = np.array([[scale * d - wide * stretch, scale * b], [scale * c, scale * a - wide * bend]])
    membrane = stiff.membrane[:, 2, 2]
    lost = np.minimum(shear_share * width / wide, 1.0 - LEAST_GIVE)
    shear = wide * membrane * lost / (1.0 - lost)
    eccentricity = -slide / (wide * lost)
    # the strip's own share of the twist's energy, which the torsion of the T already holds, as it does that
    # of the sideways bending
    share = eccentricity**2 * wide * membrane * lost
    # where the height changes so does the warping, which bends the rib sideways, and torque is laid on a rib
    # that rolls by itself
    level = -coupling / side
    most = np.sqrt(LARGEST_SHARE * twist / side)
    sideways = np.clip(level + tapered.sideways, -most, most)
    growth = _turning_over_slopes(mean, at, 1)[0] * twist / height
    extra = side * level * tapered.twisted - 2.0 * (laid - rolled) * growth * tapered.rate
    # a rib lower than some 2 mm takes from the strip's twist as much as it adds: a thousandth of a bar's
    torsion = np.maximum(twist + extra - side * sideways**2 - share, 0.0)
    return Junction(
        torsion,
        sideways,
        np.moveaxis(cross, 2, 0),
        shear,
        eccentricity,
        slip,
        sinking,
        crossed,
        roll,
        rolled,
        force,
        torque,
    )


def _heights(section: TSection) -> tuple[float, ...]:
    return tuple(float(h) for h in section.thickness * HEIGHTS)


def _turned(section: TSection) -> Turning:
    """Solve the turning of a section; of two that are one seen from either end, only one."""
    other = section.turned()
    return _solved(section) if section.rib >= other.rib else _solved(other).turned()


@lru_cache(maxsize=128)
def _solved(section: TSection) -> Turning:
    return turning(section, _heights(section))


@lru_cache(maxsize=128)
def _bending_over_heights(section: TSection, reach: float) -> CubicSpline:
    """Spline over the height's logarithm: logs of slip, sinking, roll; shares of force, torque; reliefs."""
    bent, turned = bending(section, _heights(section)), _turned(section)
    strip = _Strip(section, reach)
    slip = np.maximum(bent.push - strip.shear_give(), LEAST_GIVE * bent.push)
    # the rib's own give is a field of the rib's; the plate has the rest
    force, _ = strip.force_share(bent.force - bent.sink, bent.relief[:, 1, 1])
    torque, turn = strip.torque_share(turned.torque - turned.roll, turned.shear_relief)
    roll = np.maximum(turned.torque - turn, LEAST_GIVE * turned.roll)
    gives = [np.log(give) for give in (slip, bent.sink, roll)]
    return CubicSpline(np.log(HEIGHTS), np.column_stack([*gives, force, torque, bent.relief.reshape(-1, 4)]))


@lru_cache(maxsize=128)
def _turning_over_heights(section: TSection) -> CubicSpline:
    """Spline over log heights: log twist, coupling, log sideways, shear lost, slide, two rolls.

    The shear lost is the relief over the compliance of as much plate as the rib is wide: beside the T's mean
    plate that of a point may slope otherwise, and across.
    """
    of = _turned(section)
    whole = section.width * np.linalg.inv(symmetric(section.plate))[5, 5] / section.thickness
    columns = [np.log(of.twist), of.coupling, np.log(of.sideways), of.shear_relief / whole, of.slide]
    columns += [of.rolled, of.tapered]
    return CubicSpline(np.log(HEIGHTS), np.column_stack(columns))


def _turning_over_slopes(mean: MeanSection, at: Floats, order: int = 0) -> Floats:
    """Return the same, or a derivative, at every point's slope: (7, n)."""
    if not mean.sloped:
        return _turning_over_heights(mean.section)(at, order).T
    tables = np.array([_turning_over_heights(section)(at, order).T for section in mean.sloped])
    weights = _lagrange(SLOPES, np.clip(mean.slope, SLOPES[0], SLOPES[-1]))
    return np.einsum("ks,kcs->cs", weights, tables)


def _crossed_over_slopes(mean: MeanSection, at: Floats, reach: float) -> Floats:
    """Movement along the normal for a force along, at every point's slope: (n,), a line in the slope.

    What the strip of the plate gives is the plate's.
    """
    down, up = (_crossed_over_heights(mean.sloped[k], reach)(at) for k in (1, 3))
    return 0.5 * (up + down + (up - down) * mean.slope / SLOPES[3])


@lru_cache(maxsize=128)
def _crossed_over_heights(section: TSection, reach: float) -> CubicSpline:
    net = bending(section, _heights(section)).crossed - _Strip(section, reach).crossed_give()
    return CubicSpline(np.log(HEIGHTS), net)


def _lagrange(nodes: Floats, x: Floats) -> Floats:
    """Lagrange polynomials of some nodes at places: (nodes, places)."""
    out = np.ones((len(nodes), len(x)))
    for i, node in enumerate(nodes):
        for other in np.delete(nodes, i):
            out[i] *= (x - other) / (node - other)
    return out


class _Strip:
    """The plate of a T as a strip that bends and shears across (Timoshenko), loaded on two pairs of lines.

    Where its grain runs out, a shear force across makes it slide along too, as far as nothing holds it.
    """

    def __init__(self, section: TSection, reach: float) -> None:
        c, h, self.half = symmetric(section.plate), section.thickness, 0.5 * section.length
        faces = [2, 4]  # bear nothing
        held = c[1, faces] @ np.linalg.solve(c[np.ix_(faces, faces)], c[faces, 1])
        self.bend = (c[1, 1] - held) * h**3 / 12.0
        s = np.linalg.inv(c)
        self.membrane, self.across = h / s[5, 5], s[3, 5] / h
        self.slide = self.across * self.membrane  # across for a unit of shear along, nothing pressing across
        self.shear = 1.0 / (1.0 / (SHEAR_FACTOR * h * c[3, 3]) + self.slide * self.across)
        self.lines, self.wide = np.array([INNER, reach]) * section.width, 2.0 * reach * section.width

    def shear_give(self) -> float:
        """Movement along of the outer lines for a unit force along on them."""
        return (self.half - self.lines[1]) / (2.0 * self.membrane)

    def crossed_give(self) -> float:
        """Movement along the normal of the same lines for the same force, where the grain slopes."""
        return 0.5 * (self.half - self.lines[1]) * self.across

    def force_share(self, give: Floats, relief: Floats) -> tuple[Floats, Floats]:
        """Share of a line force at the outer lines that makes the strip give as wanted, its give: (k,)."""
        a, b = self.half, self.lines
        far, near = np.maximum.outer(b, b), np.minimum.outer(b, b)
        # integral over half the strip of the two bending moments, (a - b_i) / 2 inside, (a - x) / 2 outside
        bent = 0.25 * ((a - near) * (a - far) * near)
        bent += 0.25 * (a - far) * ((a - near) ** 2 - (a - far) ** 2) / 2.0
        bent += 0.25 * (a - far) ** 3 / 3.0
        flexible = (a - far) / (2.0 * self.shear) + 2.0 * bent / self.bend
        edge = b[1]  # the stiffer strip between the outer lines takes its mean moment
        mean = 0.5 * ((a - b) * b + (edge - b) * (a - 0.5 * (edge + b))) / edge
        return _share(flexible[..., None] - relief * np.multiply.outer(mean, mean)[..., None], give)

    def torque_share(self, give: Floats, relief: Floats) -> tuple[Floats, Floats]:
        """Return the same for a line torque, of which each end takes half; the rib holds back the slide."""
        a, b = self.half, self.lines
        far, near = np.maximum.outer(b, b), np.minimum.outer(b, b)
        bent = near**2 / (12.0 * far) + (far**2 - near**2) / (8.0 * far) + (a - far) / 4.0
        flexible = 1.0 / (2.0 * far * self.shear) + 2.0 * bent / self.bend
        return _share(flexible[..., None] - (self.slide / self.wide) ** 2 * relief, give)


def _share(flexible: Floats, wanted: Floats) -> tuple[Floats, Floats]:
    """Share s of the second line with which (1 - s, s) gives as wanted, else least, and the give."""
    inner, both, outer = flexible[0, 0], flexible[0, 1], flexible[1, 1]
    square, slope = inner - 2.0 * both + outer, inner - both
    root = np.sqrt(np.maximum(slope**2 - square * (inner - wanted), 0.0))
    share = (slope - root) / square
    return share, inner - 2.0 * slope * share + square * share**2
