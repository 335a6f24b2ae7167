"""Constants of wood from small tests on a strip, a bar blank or a wedge.

Every test refers to the piece it was made on, so that the readings of its size and weight, and their errors,
are shared by density and stiffness and by two tests of one piece.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.linalg import block_diag

from platemodel.wood.bayes import most_probable, numerical_rows
from platemodel.wood.closed_form import modulus_from_bend, shear_factor, tap_frequency
from platemodel.wood.estimate import CONSTANTS, WoodEstimate
from platemodel.wood.piece_fit import (
    CALIPER,
    FREQUENCY,
    RULER,
    PieceFit,
    Reading,
    as_prior,
    piece_fit,
    uninformed,
    weighing_sd,
)

AXES = ("L", "R", "T")
WAYS = ("flat", "edge")
LEAST_SLENDERNESS = 8.0  # length over depth and mode; the shear correction is 0.5 % off in frequency there
SHEAR_K = 5 / 6  # shear coefficient of a rectangle
# Stiffness read from a pulse over that from a slow test (Acta Acustica 2025, aacus240113, table 5, one board
# of Sitka spruce). The spread, half the correction, is a judgement.
PULSE_EXCESS = {"L": 1.07, "R": 1.27, "T": 1.21}
PULSE_DOUBT = 0.5


@dataclass(frozen=True)
class Strip:
    """A piece of wood with even section: a strip, a bar blank, a wedge by its mean thickness.

    Attributes
    ----------
    length, width, thickness : float
        m; thickness is the smaller side of the section.
    mass : float
        kg.
    along : {"L", "R", "T"}
        Direction of the wood along the length: L for a strip cut along the grain, R for one across it.
    thickness_along : {"L", "R", "T"}
        Direction of the wood along the thickness. T for a quarter-sawn strip (rings upright on its face); R
        for a bar blank lying on its side, whose rings stand along its greater side, the later height.
    sd_length, sd_caliper : float
        Standard deviation of the length and of width and thickness, m.
    sd_mass : float, optional
        kg; default 0.1 g or 0.5 %, whichever is more.

    Raises
    ------
    ValueError
        A size or weight that is not positive, or directions that are not two different axes.
    """

    length: float
    width: float
    thickness: float
    mass: float
    along: str = "L"
    thickness_along: str = "T"
    sd_length: float = RULER
    sd_caliper: float = CALIPER
    sd_mass: float | None = None

    def __post_init__(self):
        for name in ("length", "width", "thickness", "mass"):
            _positive(f"strip {name}", getattr(self, name))
        if self.along not in AXES or self.thickness_along not in AXES or self.along == self.thickness_along:
            msg = (
                f"strip along {self.along!r}, thickness along {self.thickness_along!r}: two different "
                "ones of L (along the grain), R (along the rays), T (along the rings) are needed"
            )
            raise ValueError(msg)

    @property
    def width_along(self) -> str:
        """Direction of the wood along the width."""
        return next(a for a in AXES if a not in (self.along, self.thickness_along))

    @property
    def density(self) -> float:
        """Weight over volume, kg/m3."""
        return self.mass / (self.length * self.width * self.thickness)

    def depth(self, way: str) -> float:
        """Size in the direction of bending, m: the thickness when flat, the width when on edge."""
        return self.thickness if way == "flat" else self.width

    def shear_modulus(self, way: str) -> str:
        """Name of the shear modulus that gives way when the strip bends: ``G_LT`` and so on."""
        across = self.thickness_along if way == "flat" else self.width_along
        return "G_" + "".join(sorted(self.along + across))


@dataclass(frozen=True)
class StripTap:
    """Bending tone of a strip hung or held at its nodes (0.224 of the length from each end).

    Attributes
    ----------
    frequency : float
        Hz.
    way : {"flat", "edge"}
        Flat bends the smaller side of the section, on edge the greater; a square-ish blank has both tones.
    mode : int
        1 is the lowest.
    sd : float
        Relative standard deviation of the frequency.

    Raises
    ------
    ValueError
        Unknown way, or a strip too short and thick for the formula.
    """

    strip: Strip
    frequency: float
    way: str = "flat"
    mode: int = 1
    sd: float = FREQUENCY

    def __post_init__(self):
        _positive("tap frequency", self.frequency)
        _way(self.way)
        slender = self.strip.length / (self.strip.depth(self.way) * self.mode)
        if slender < LEAST_SLENDERNESS:
            msg = (
                f"tap {self.way}, mode {self.mode}: length over depth and mode is {slender:.1f}, at least "
                f"{LEAST_SLENDERNESS:g}; use a longer strip, tap it flat, or tap its end grain"
            )
            raise ValueError(msg)

    def expected(self, wood, size, _):
        """Frequency of a strip of this size, Hz."""
        depth = size[2] if self.way == "flat" else size[1]
        E, G = wood[f"E_{self.strip.along}"], wood[self.strip.shear_modulus(self.way)]
        thin = tap_frequency(E, size[0], depth, wood["density"], self.mode)
        return thin / np.sqrt(shear_factor(size[0] / depth, E / G, self.mode, SHEAR_K))

    @property
    def reading(self) -> Reading:
        """Label, value and doubt."""
        label = f"tap {self.way}, {_direction(self.strip)}" + (f", mode {self.mode}" * (self.mode > 1))
        return Reading(label, "Hz", 1.0, self.frequency, self.sd)


@dataclass(frozen=True)
class StripBend:
    """Static bend: a strip on two supports, pressed in the middle.

    Attributes
    ----------
    strip : Strip
        Its length is not used, save for the density.
    force, deflection, span : float
        N, m, m.
    way : {"flat", "edge"}
    sd_force, sd_deflection, sd_span : float
        Relative; m; m.
    """

    strip: Strip
    force: float
    deflection: float
    span: float
    way: str = "flat"
    sd_force: float = 0.005
    sd_deflection: float = 0.01e-3
    sd_span: float = RULER

    def __post_init__(self):
        for name in ("force", "deflection", "span"):
            _positive(f"bend {name}", getattr(self, name))
        _way(self.way)
        if self.span > self.strip.length:
            msg = (
                f"span {1e3 * self.span:.4g} mm is longer than the strip, {1e3 * self.strip.length:.4g} mm; "
                "give the distance between the supports"
            )
            raise ValueError(msg)

    def expected(self, wood, size, _):
        """Deflection, m, shear included."""
        depth, width = (size[2], size[1]) if self.way == "flat" else (size[1], size[2])
        E, G = wood[f"E_{self.strip.along}"], wood[self.strip.shear_modulus(self.way)]
        thin = modulus_from_bend(self.force, 1.0, self.span, width, depth) / E  # F L^3 / (48 I), over E
        return thin * (1 + E / G * (depth / self.span) ** 2 / SHEAR_K)

    @property
    def reading(self) -> Reading:
        """Label, value and doubt; force and span count as doubt of the deflection they cause."""
        sd = np.hypot(self.sd_deflection / self.deflection, self.sd_force)
        sd = float(np.hypot(sd, 3 * self.sd_span / self.span))
        return Reading(f"static bend {self.way}, {_direction(self.strip)}", "mm", 1e3, self.deflection, sd)


@dataclass(frozen=True)
class LongitudinalTap:
    """Tone of a piece tapped on its end, f = n c / (2 L); its section need not be even across.

    Attributes
    ----------
    frequency : float
        Hz.
    sd : float
        Relative.
    """

    strip: Strip
    frequency: float
    mode: int = 1
    sd: float = FREQUENCY

    def __post_init__(self):
        _positive("lengthwise tap frequency", self.frequency)

    def expected(self, wood, size, _):
        """Frequency, Hz."""
        return self.mode * np.sqrt(wood[f"E_{self.strip.along}"] / wood["density"]) / (2 * size[0])

    @property
    def reading(self) -> Reading:
        """Label, value and doubt."""
        return Reading(f"lengthwise tap, {_direction(self.strip)}", "Hz", 1.0, self.frequency, self.sd)


@dataclass(frozen=True)
class SoundSpeed:
    """Time that a pulse takes from end to end.

    A pulse reads stiffer than a slow test, by ``PULSE_EXCESS``; it is brought down to the tap's level, and
    the doubt of that correction, common to all pulses in one direction, widens the band. A tap in the same
    direction therefore outweighs it.

    Attributes
    ----------
    time : float
        s, the delay of the instrument taken off.
    sd_time : float
        s.
    """

    strip: Strip
    time: float
    sd_time: float = 0.5e-6

    def __post_init__(self):
        _positive("pulse time", self.time)

    def expected(self, wood, size, excess):
        """Time, s."""
        return size[0] / np.sqrt(excess[self.strip.along] * wood[f"E_{self.strip.along}"] / wood["density"])

    @property
    def reading(self) -> Reading:
        """Label, value and doubt."""
        remark = f"pulse, brought to the tap's level: E / {PULSE_EXCESS[self.strip.along]:g}"
        sd = self.sd_time / self.time
        return Reading(f"pulse, {_direction(self.strip)}", "µs", 1e6, self.time, sd, remark)


Test = StripTap | StripBend | LongitudinalTap | SoundSpeed


@dataclass(frozen=True)
class _Pieces:
    """Logarithms: the wood's constants, length, width, thickness of each piece, pulse excess a direction."""

    strips: tuple[Strip, ...]
    logs: np.ndarray = field(repr=False)

    @property
    def wood(self):
        return dict(zip(CONSTANTS, np.exp(self.logs[: len(CONSTANTS)]), strict=True))

    def size(self, strip):
        first = len(CONSTANTS) + 3 * self.strips.index(strip)
        return np.exp(self.logs[first : first + 3])

    @property
    def excess(self):
        return dict(zip(AXES, np.exp(self.logs[-3:]), strict=True))


def strip_fit(species: str | WoodEstimate, tests: Sequence[Test]) -> PieceFit:
    """Find the constants of a wood from tests on strips of it.

    Parameters
    ----------
    species : str or WoodEstimate
        What is known beforehand: a row of `platemodel.wood.species_table`, or an estimate.
    tests : sequence of StripTap, StripBend, LongitudinalTap, SoundSpeed, Strip
        Tests on one wood. A bare `Strip` counts by its weight alone. Tests that carry equal strips share that
        strip's size, weight and their errors.

    Raises
    ------
    ValueError
        No test.
    AccuracyError
        A reading far from anything the wood can do.

    Notes
    -----
    Unknowns are the logarithms of the ten constants, of each piece's true length, width and thickness, and of
    the excess of pulses; weight and tests are readings of them. So an error of the caliper moves density and
    stiffness together, as it does in truth. The species does not pull on what was measured; what was not
    follows it by the species' correlations.
    """
    tests = tuple(tests)
    if not tests:
        msg = "no test given; at least a Strip (size and weight) is needed"
        raise ValueError(msg)
    prior = as_prior(species)
    strips = tuple(dict.fromkeys(t if isinstance(t, Strip) else t.strip for t in tests))
    tests = tuple(t for t in tests if not isinstance(t, Strip))
    sizes = np.log([[s.length, s.width, s.thickness] for s in strips]).ravel()
    size_sd = [x for s in strips for x in (s.sd_length / s.length, *_caliper(s))]
    excess = np.log([PULSE_EXCESS[a] for a in AXES])
    mean = np.concatenate([prior.logs, sizes, excess])
    wood_cov, directions = uninformed(prior, ["density", *(f"E_{t.strip.along}" for t in tests)])
    cov = block_diag(wood_cov, np.diag(np.square(size_sd)), np.diag((PULSE_DOUBT * excess) ** 2))
    readings = [
        Reading(f"weight, strip {_direction(s)}", "g", 1e3, s.mass, weighing_sd(s.mass, s.sd_mass))
        for s in strips
    ] + [t.reading for t in tests]

    def values(logs):
        x = _Pieces(strips, logs)
        weights = [x.wood["density"] * np.prod(x.size(s)) for s in strips]
        return np.log(weights + [t.expected(x.wood, x.size(t.strip), x.excess) for t in tests])

    fit = most_probable(
        mean,
        cov,
        lambda logs: numerical_rows(values, logs),
        np.log([r.value for r in readings]),
        np.array([r.sd for r in readings]),
        np.concatenate([directions, np.zeros((len(mean) - len(CONSTANTS), directions.shape[1]))]),
    )
    return piece_fit(prior, fit, readings, "; ".join(r.label for r in readings))


def strip_estimate(species: str | WoodEstimate, tests: Sequence[Test]) -> WoodEstimate:
    """Return the estimate of `strip_fit` alone."""
    return strip_fit(species, tests).estimate


def _caliper(strip):
    return strip.sd_caliper / strip.width, strip.sd_caliper / strip.thickness


def _direction(strip):
    return "along the grain" if strip.along == "L" else f"across the grain ({strip.along})"


def _positive(what, value):
    if not (np.isfinite(value) and value > 0):
        msg = f"{what} {value}: must be a positive number in SI units"
        raise ValueError(msg)


def _way(way):
    if way not in WAYS:
        msg = f"way {way!r}: allowed are {' (smaller side bends), '.join(WAYS)} (greater side bends)"
        raise ValueError(msg)
