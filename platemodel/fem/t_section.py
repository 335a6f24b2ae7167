"""The T-shaped section of plate and rib, cut out and loaded: its flexibilities and stiffnesses.

One section for each height of the rib, and the plate alone, solved as two problems that do not mix (see
`platemodel.fem.section_grid`): bending (stretch and bending across, line forces on the rib) and turning
(twist, sideways bending, shear of the two sides, line torque on the rib). The rib's rows of rectangles are
eliminated from its free edge to the joint for all heights at once; the plate's part is eliminated once.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from platemodel.fem.arrays import Floats
from platemodel.fem.blade import fade
from platemodel.fem.section_grid import (
    BENDING,
    TURNING,
    Kind,
    Line,
    bordered,
    condense,
    count,
    from_free_edge,
    grid_stiffness,
    line,
    rising,
    spread,
    steady,
    twisting,
)

# Plate counted on each side of the rib, in plate thicknesses; 8 changes no term by more than 0.6 %.
FLANGE = 4.0
ROWS = np.array([-0.5, -0.46, -0.37, -0.18, 0.1, 0.5])  # of rectangles in the plate, in its thickness
INSIDE = np.array([0.0, 0.25, 0.4, 0.47, 0.5])  # of rectangles in the rib, in its width from the middle
OUTSIDE = np.array(
    [0.0, 0.01, 0.035, 0.1, 0.25, 0.55, 1.0]
)  # of rectangles beside it, in the flange's length
NEAR = np.array([0.0, 0.04, 0.12, 0.25, 0.45, 0.7])  # of the rib next to the joint, in plate thicknesses
BELOW = np.array([0.2, 0.45, 0.7, 0.88, 0.97, 1.0])  # below them, in what is left of the rib's height
# The line about which a rib's sections lag, in rib heights below its root, and what is left of its shear
# area: exact for a rectangle whose root is held along, by the parabola of its shear stress.
PIVOT = 1.0 / 12.0
# Unknowns that a rib shares with its plate, beside the joint's, and how many of them are strains, not loads.
_SHARED, _STRAINS = {BENDING: 4, TURNING: 5}, {BENDING: 0, TURNING: 2}
DIGITS = 10  # of a wood's stiffness, of its largest: round-off does not make another wood of it
# Signs of the 36 stiffnesses in axes turned about n by half a turn.
TURN = np.outer(*2 * ([1.0, 1.0, 1.0, -1.0, -1.0, 1.0],)).ravel()


@dataclass(frozen=True)
class TSection:
    """A plate strip with a rib on its lower face; axes t along, b across, n normal.

    Attributes
    ----------
    thickness, width : float
        Of plate and rib, m.
    plate, rib : tuple of 36 floats
        Elastic stiffness row by row, Pa, order tt, bb, nn, bn, tn, tb. What couples b with the other axes is
        left out: the section is taken as symmetric.
    """

    thickness: float
    width: float
    plate: tuple[float, ...]
    rib: tuple[float, ...]

    @property
    def flange(self) -> float:
        """Plate on each side of the rib, m."""
        return FLANGE * self.thickness

    @property
    def length(self) -> float:
        """Of the whole strip across, m."""
        return self.width + 2.0 * self.flange

    def turned(self) -> "TSection":
        """Return the section seen from its other end: grain that rose along t now falls."""
        plate, rib = (tuple(TURN * np.array(of)) for of in (self.plate, self.rib))
        return replace(self, plate=plate, rib=rib)


@dataclass(frozen=True)
class Bending:
    """Flexibilities of Ts of k heights in their plane of symmetry.

    Attributes
    ----------
    relief : array (k, 2, 2)
        Compliance (of membrane strain and curvature across) that the plate loses, integrated over the strip.
    force : array (k,)
        Deflection of the rib against the strip's supported ends under a line force, m/N m; the force is laid
        on the section, and the deflection averaged over it, by the parabola of a shear force's stress.
    push : array (k,)
        The same along the rib, at the rib's pivot, for a force along it.
    sink : array (k,)
        What the rib itself gives of ``force``: its deflection with its root held, m/N m.
    crossed : array (k,)
        Deflection along the normal for a unit of ``push``, where the grain slopes, m/N m.
    """

    relief: np.ndarray
    force: np.ndarray
    push: np.ndarray
    sink: np.ndarray
    crossed: np.ndarray


@dataclass(frozen=True)
class Turning:
    """Stiffnesses and flexibilities of Ts of k heights in twist and sideways.

    Attributes
    ----------
    twist, coupling, sideways : array (k,)
        Stiffness that the rib adds to unit twist, to both, and to unit sideways bending: N m2.
    shear_relief : array (k,)
        Compliance to in-plane shear that the plate loses, integrated over the strip, m per N/m.
    slide : array (k,)
        Relative displacement along the rib of the strip's two sides for a unit twist, m2.
    torque : array (k,)
        Mean rotation of the rib against the strip's ends, which share a line torque, 1/N.
    roll : array (k,)
        What the rib itself gives of ``torque``: its mean rotation with its root held, 1/N.
    rolled, tapered : array (k,)
        Mean rotation of the rib, its root held, that a unit twist causes by itself where the grain slopes, m;
        and its mean as a change of height lays torque on the section.
    """

    twist: np.ndarray
    coupling: np.ndarray
    sideways: np.ndarray
    shear_relief: np.ndarray
    slide: np.ndarray
    torque: np.ndarray
    roll: np.ndarray
    rolled: np.ndarray
    tapered: np.ndarray

    def turned(self) -> "Turning":
        """Return that of the same Ts seen from their other end."""
        return replace(self, coupling=-self.coupling, rolled=-self.rolled, tapered=-self.tapered)


def bending(section: TSection, heights: tuple[float, ...]) -> Bending:
    """Solve Ts under stretch and bending across and under line forces on the rib.

    Parameters
    ----------
    section : TSection
    heights : tuple of float
        m.
    """
    plain, solved = _solve(section, heights, BENDING)
    give = -solved[:, :2, :2]
    relief = -plain[:2, :2] - give
    held = 2.0 * _rib(section, tuple(heights), BENDING)[:, 2, 2]  # without the joint: its nodes at rest
    return Bending(
        0.5 * (relief + np.swapaxes(relief, -1, -2)),
        -solved[:, 2, 2],
        -solved[:, 3, 3],
        -held,
        -solved[:, 2, 3],
    )


def turning(section: TSection, heights: tuple[float, ...]) -> Turning:
    """Solve Ts under twist, sideways bending, shear of the sides and a line torque on the rib.

    Parameters
    ----------
    section : TSection
    heights : tuple of float
        m.
    """
    plain, solved = _solve(section, heights, TURNING)
    more = solved - plain
    held = 2.0 * _rib(section, tuple(heights), TURNING)[:, :5, :5]  # without the joint: its nodes at rest
    return Turning(
        more[:, 0, 0],
        more[:, 0, 1],
        more[:, 1, 1],
        more[:, 2, 2],
        -more[:, 0, 2],
        -solved[:, 3, 3],
        -held[:, 3, 3],
        -held[:, 0, 3],
        -held[:, 0, 4],
    )


def rectangle_torsion(width: float, height: float, shear: tuple[float, float]) -> float:
    """Torsional stiffness of a rib alone, N m2: on a plate too limp to count.

    Parameters
    ----------
    width, height : float
        m.
    shear : pair of float
        (G_tb, G_tn), Pa.
    """
    elastic = np.diag([shear[0]] * 4 + [shear[1], shear[0]])
    rib, limp = (tuple(float(v) for v in (factor * elastic).ravel()) for factor in (1.0, 1e-9))
    return float(turning(TSection(min(width, height), width, limp, rib), (height,)).twist[0])


def _solve(section: TSection, heights: tuple[float, ...], kind: Kind) -> tuple[Floats, Floats]:
    """Shared unknowns' matrix of the plate alone (4, 4) and of the Ts (k, 4, 4); see `_plate`, `_rib`."""
    plate = _plate(section.thickness, section.width, section.plate, kind)
    rib = _rib(section, tuple(heights), kind)
    if kind == TURNING:  # what a change of height lays on is asked of the rib alone
        rib = np.delete(np.delete(rib, 4, axis=1), 4, axis=2)
    return 2.0 * condense(plate, 4), 2.0 * condense(plate + rib, 4)


def symmetric(values: tuple[float, ...]) -> Floats:
    """Elastic stiffness (6, 6) of a tuple as in `TSection`, made symmetric about the t-n plane."""
    c = np.array(values).reshape(6, 6)
    b_only = np.array([False, False, False, True, False, True])
    return np.where(b_only[:, None] == b_only, c, 0.0)


@lru_cache(maxsize=64)
def _plate(h: float, width: float, elastic: tuple[float, ...], kind: Kind) -> Floats:
    """Half the plate, condensed to the shared unknowns and the joint; the same under any rib of this width.

    Shared by bending: normal force, moment, line force on the rib, push along it, the ends sharing what holds
    them. By turning: twist, sideways bending, shear flow at the sides, torque on the rib. Forces stand in
    with the opposite sign of their loads, so that what is left of the matrix is the negative compliance.
    """
    b = line(np.concatenate([width * INSIDE, 0.5 * width + FLANGE * h * OUTSIDE[1:]]))
    n = line(h * np.stack([ROWS[:-1], ROWS[1:]], axis=-1)[::-1])  # (rows,), from the free face
    c = symmetric(elastic)
    at_end = np.zeros(len(b.x))
    at_end[-1] = 1.0
    even, linear = steady(n) / h, -12.0 / h**3 * rising(n)
    parabola = 1.5 * (even - 4.0 / h**3 * (n.mass @ (n.x**2)[..., None])[..., 0])

    def end(field: int, over_n: Floats) -> Floats:
        return spread(b, n, kind, field, at_end, over_n)

    own = np.zeros((len(n.x), 4, 4))
    if kind == BENDING:
        nodes = -np.stack(
            [end(1, even), end(1, linear), -0.5 * end(2, parabola), -0.5 * end(0, even)], axis=-2
        )
    else:
        own[:, :2, :2], strains = twisting(b, n, c)
        loads = np.stack([-end(0, even), 0.5 * end(1, linear)], axis=-2)
        nodes = np.concatenate([strains, loads], axis=-2)
    rows = bordered(grid_stiffness(b, n, c, kind), own, nodes)
    whole = from_free_edge(rows[None], 4, upwards=False)[0]
    sizes, under = count(b, kind), count(_under(width), kind)
    start = 4 + np.concatenate([[0], np.cumsum(sizes)])
    joint = np.concatenate([start[f] + np.arange(under[f]) for f in range(3)])
    rest = np.setdiff1d(np.arange(4, len(whole)), [*joint, *_pins(kind, start)])
    order = np.concatenate([np.arange(4), joint, rest])
    return condense(whole[np.ix_(order, order)], 4 + len(joint))


def _pins(kind: Kind, start: Floats) -> list[int]:
    """Unknowns held against rigid motion, at the strip's end; the loads balance, so nothing pulls there."""
    last = [int(after) - 1 for after in start[1:]]
    return [last[0], last[2]] if kind == BENDING else [last[1], last[2]]


def _rib(section: TSection, heights: tuple[float, ...], kind: Kind) -> Floats:
    """Half the ribs, condensed to the shared unknowns and the joint: (k, N, N).

    Shared by turning: those of `_plate`, then the torque that a change of height lays on the rib. Of two
    woods whose moduli differ by one factor the stiffer moves less under the same loads, and that is all.
    """
    wood = np.array(section.rib)
    factor = np.abs(wood).max()
    unit = tuple(float(v) for v in np.round(wood / factor, DIGITS))
    by_load = np.ones(_SHARED[kind])
    by_load[_STRAINS[kind] :] = 1.0 / factor
    rib = _unit_rib(section.thickness, section.width, unit, heights, kind)
    turn = np.concatenate([by_load, np.ones(rib.shape[-1] - len(by_load))])
    return factor * turn[:, None] * rib * turn


@lru_cache(maxsize=64)
def _unit_rib(
    thickness: float, width: float, wood: tuple[float, ...], heights: tuple[float, ...], kind: Kind
) -> Floats:
    """Return the same for a wood whose largest stiffness is one."""
    b = _under(width)
    depth = np.asarray(heights, dtype=float)[:, None]
    near = NEAR * np.minimum(thickness, depth)
    below = near[:, -1:] + (depth - near[:, -1:]) * BELOW
    level = -0.5 * thickness - np.concatenate([near, below], axis=1)[:, ::-1]
    n = line(np.stack([level[:, :-1], level[:, 1:]], axis=-1))  # (k, rows) lines of one element
    c = symmetric(wood)
    area, root = width * depth, -0.5 * thickness
    middle, pivot = root - 0.5 * depth, root - PIVOT * depth
    centred = rising(n) - middle[..., None] * steady(n)
    polar = area * (depth**2 + width**2) / 12.0
    rows = grid_stiffness(b, n, c, kind)

    def load(field: int, over_b: Floats, over_n: Floats) -> Floats:
        return spread(b, n, kind, field, over_b, over_n)

    shared = _SHARED[kind]
    own = np.zeros((*level[:, 1:].shape, shared, shared))
    nodes = np.zeros((*level[:, 1:].shape, shared, rows.shape[-1]))
    if kind == BENDING:
        inertia = width * depth**3 / 12.0
        turned = ((pivot - middle) / inertia)[..., None] * centred
        # as the change of a shear force lays it on the section
        down = (root - n.x) / depth[..., None]
        parabola = (n.mass @ (6.0 * down * (1.0 - down))[..., None])[..., 0]
        nodes[..., 2, :] = -load(2, steady(b), parabola / area[..., None])
        nodes[..., 3, :] = -load(0, steady(b), steady(n) / area[..., None] + turned)
    else:
        own[..., :2, :2], nodes[..., :2, :] = twisting(b, n, c)
        turn = load(1, steady(b), -centred) + load(2, rising(b), steady(n))
        nodes[..., 3, :] = -turn / polar[..., None]
        nodes[..., 4, :] = -_tapering_torque(b, n, root, fade(width, 1.0 / c[4, 4], 1.0 / c[5, 5]))
    return from_free_edge(bordered(rows, own, nodes), shared)


def _tapering_torque(b: Line, n: Line, root: float, length: float) -> Floats:
    """Make the unit torque that a change of height lays on half the ribs: loads of the nodes, (k, rows, N).

    It is the change of twist's shear stress with the height, of `blade.tapering`, with what the new strip at
    the free edge bears; the root takes what force sideways is left.
    """
    x, end = (root - n.x) / length, (root - n.x[:, :1, :1]) / length
    steep = np.tanh(end) / np.cosh(end)
    change, slope = steep * np.cosh(x) / length, -steep * np.sinh(x) / length**2
    parabola = 0.25 * float(2.0 * b.x[-1]) ** 2 * steady(b) - b.mass @ b.x**2
    down, push = (_on(n, values) for values in (change, slope))
    push[:, 0, 0] += change[:, 0, 0]
    push[:, -1, -1] -= push.sum(axis=(1, 2))
    load = spread(b, n, TURNING, 2, 2.0 * rising(b), down) + spread(b, n, TURNING, 1, parabola, push)
    # turned about the root by one, the nodes move by
    turned = spread(b, n, TURNING, 1, np.ones_like(b.x), root - n.x)
    turned = turned + spread(b, n, TURNING, 2, b.x, np.ones_like(n.x))
    return load / (2.0 * (load * turned).sum(axis=(1, 2), keepdims=True))


def _on(n: Line, values: Floats) -> Floats:
    """Load of a density on a line's nodes."""
    return (n.mass @ values[..., None])[..., 0]


def _under(width: float) -> Line:
    """Half the rib across."""
    return line(width * INSIDE)
