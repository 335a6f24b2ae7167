"""How a workshop flexes a top: three pegs, a weight, a dial gauge."""

from dataclasses import dataclass, replace

import numpy as np

from platemodel.errors import GeometryError
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.strings import KGF
from platemodel.instrument.top import Top

KINDS = {
    "along": "three-point bending over the length",
    "across": "three-point bending over the width",
    "twist": "three corners held, the fourth pressed",
    "foot": "pressed at the bass foot's place",
}
SUPPORTS = {
    "pegs": "on three pegs under its edge",
    "rim": "on its rim all round: on its ribs, a frame or a ring of blocks",
}
RIM_KIND = "foot"  # what is pressed with the rim resting all round
WEIGHT = 10e-3  # m, across: a coin or a disc of hard wood under the weight; common practice, no source
PEG = 6e-3  # m, across the round head of a peg; common practice, no source
INSET = 8e-3  # m, of the usual places from a violin's edge, in proportion on others: clear of the purfling
DIAL_SD = 0.01e-3  # m: half a division of a dial, the weight set down again; common practice, no source
WEIGHT_SD = 0.02  # relative: pegs and weight a few mm off their marks; common practice, no source
HAND_SD = 0.2  # relative: thumbs on a kitchen scale, the sag judged by eye; common practice, no source


@dataclass(frozen=True)
class FlexTest:
    """Where a top is held, pressed and read; positions in plan, m.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    pegs : array (3, 2)
        Under the plate; it lies with the arch upwards. On its rim: none, (0, 2).
    load : array (2,)
    read : array (2,)
        Where the gauge reads; mostly where the weight stands.
    held : bool
        The pegs hold the plate down as well. Without it the weight must stand inside their triangle.
    weight, peg : float
        Diameters of the discs that weight and pegs press on, m.
    support : str
        One of `SUPPORTS`.
    """

    kind: str
    pegs: np.ndarray
    load: np.ndarray
    read: np.ndarray
    held: bool = False
    weight: float = WEIGHT
    peg: float = PEG
    support: str = "pegs"

    def __post_init__(self):
        if self.support not in SUPPORTS:
            msg = f"support {self.support!r} of a flex test; allowed: {', '.join(SUPPORTS)}"
            raise ValueError(msg)
        for name, shape in (("pegs", (3 * (self.support == "pegs"), 2)), ("load", (2,)), ("read", (2,))):
            value = np.asarray(getattr(self, name), dtype=float)
            if value.shape != shape or not np.isfinite(value).all():
                msg = f"{name} of a flex test: needed are finite numbers in m, shaped {shape}"
                raise ValueError(msg)
            object.__setattr__(self, name, value)

    @property
    def name(self) -> str:
        """Kind, and where it rests if not on pegs."""
        return self.kind if self.support == "pegs" else f"{self.kind} on the {self.support}"

    def shares(self, place: np.ndarray) -> np.ndarray:
        """Shares of an upright force at a place that the pegs carry: (3,), their sum 1.

        The same weights give the height there of the plane through three heights at the pegs.

        Raises
        ------
        GeometryError
            The pegs lie on one line.
        """
        matrix = np.vstack([self.pegs.T, np.ones(3)])
        if abs(np.linalg.det(matrix)) < 1e-3 * np.ptp(self.pegs, axis=0).max() ** 2:
            msg = "the three pegs lie nearly on one line; set them out as a triangle"
            raise GeometryError(msg)
        return np.linalg.solve(matrix, np.append(place, 1.0))

    def check_rests(self) -> None:
        """Refuse pegs on one line, and a weight that would tip the plate.

        Raises
        ------
        GeometryError
        """
        if self.support != "pegs":
            return
        shares = self.shares(self.load)
        if not self.held and shares.min() < -1e-9:
            (lx, ly), (x, y) = 1e3 * self.load, 1e3 * self.pegs[shares.argmin()]
            msg = (
                f"the plate would tip: the weight at ({lx:.0f}, {ly:.0f}) mm stands outside the triangle of "
                f"the pegs and lifts the plate off the one at ({x:.0f}, {y:.0f}) mm; move it inside, or "
                "hold the plate down at the pegs and say so"
            )
            raise GeometryError(msg)


@dataclass(frozen=True)
class FlexReading:
    """What the gauge said.

    Attributes
    ----------
    force : float
        Weight set on, N.
    sag : float
        Reading with the weight less that without, m.
    sd : float
        Its standard deviation, m.
    state : str
        Of the top; empty where none was named.
    """

    test: FlexTest
    force: float
    sag: float
    sd: float
    bar_on: bool = False
    note: str = ""
    state: str = ""

    @property
    def flexibility(self) -> float:
        """Sag per force, m/N."""
        return self.sag / self.force

    @property
    def weight_g(self) -> float:
        """Weight set on, g."""
        return 1e3 * self.force / KGF

    @property
    def relative_sd(self) -> float:
        """Standard deviation over the sag."""
        return self.sd / self.sag


def reading_sd(sag: float, by_hand: bool = False) -> float:
    """Return the standard deviation taken for a reading whose doubt was not given, m."""
    return HAND_SD * sag if by_hand else float(np.hypot(DIAL_SD, WEIGHT_SD * sag))


def usual_flex_test(top: Top, kind: str) -> FlexTest:
    """Usual places for a kind of flex test on a top; common practice, no source.

    Parameters
    ----------
    kind : str
        One of `KINDS`.

    Raises
    ------
    ValueError
        Unknown kind.
    """
    if kind not in KINDS:
        msg = f"flex test {kind!r}; allowed: {', '.join(KINDS)}"
        raise ValueError(msg)
    length = top.outline.body_length
    inset = INSET * dimensions(top.kind, length).scale
    upper, waist, lower = top.outline.widest()
    middle = np.array([top.bridge.x, 0.0])
    if kind == "along":
        x = 0.95 * length
        bass, treble = (float(np.squeeze(side)) - inset for side in top.outline.half_width(x))
        return FlexTest(kind, np.array([(inset, 0.0), (x, -bass), (x, treble)]), middle, middle)
    low_bass, low_treble = (lower.x, inset - lower.bass), (lower.x, lower.treble - inset)
    up_bass, up_treble = (upper.x, inset - upper.bass), (upper.x, upper.treble - inset)
    if kind == "twist":
        return FlexTest(kind, np.array([low_bass, low_treble, up_treble]), up_bass, up_bass, held=True)
    place = middle if kind == "across" else top.bridge.bass_foot
    return FlexTest(kind, np.array([low_bass, up_bass, (waist.x, waist.treble - inset)]), place, place)


def on_its_rim(test: FlexTest) -> FlexTest:
    """Return the same test with the rim resting all round instead of on pegs."""
    return replace(test, support="rim", pegs=np.zeros((0, 2)), held=False)
