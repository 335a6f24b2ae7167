"""Strings over the bridge: what they pull, what of it presses on the top, and on which foot."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pandas as pd

from platemodel.instrument.bridge import Bridge
from platemodel.instrument.dimensions import dimensions
from platemodel.resources import data_path

KGF = 9.80665  # N, standard gravity (ISO 80000-4)
USUAL_SET = {"violin": "synthetic", "viola": "medium", "cello": "medium"}
# N/m, post and back together, soft to stiff. A post of spruce between its two ends comes to 1400 to 2300
# N/mm; with the usual back on its ribs under it (`study.body`) the two together come to 109 (violin), 103
# (viola) and 108 N/mm (cello). Thin and thick backs spread that by 1.5 either way, a judgement.
USUAL_POST = (60e3, 150e3)


def tension_of(mass_per_length: float, length: float, frequency: float) -> float:
    """Tension of a string, N: T = mu (2 L f)^2 (Mersenne's law).

    Parameters
    ----------
    mass_per_length : float
        kg/m.
    length : float
        Sounding length, nut to bridge, m.
    frequency : float
        Hz.

    Raises
    ------
    ValueError
        A value is not positive.
    """
    for name, value in (("mass", mass_per_length), ("length", length), ("frequency", frequency)):
        if not value > 0:
            msg = f"string {name} {value} must be positive"
            raise ValueError(msg)
    return mass_per_length * (2.0 * length * frequency) ** 2


@dataclass(frozen=True)
class StringSet:
    """Strings from the bass side to the treble side.

    Attributes
    ----------
    tensions : tuple of float
        N.
    source : str
        Where the figures come from.
    """

    names: tuple[str, ...]
    tensions: tuple[float, ...]
    source: str

    def __post_init__(self):
        if len(self.names) != len(self.tensions) or len(self.names) < 2:
            msg = f"{len(self.names)} names for {len(self.tensions)} tensions; give one each, two at least"
            raise ValueError(msg)
        if not all(np.isfinite(t) and t > 0 for t in self.tensions):
            msg = f"tensions {self.tensions} N must be positive"
            raise ValueError(msg)

    @property
    def total(self) -> float:
        """Sum of the tensions, N: what pulls at neck and saddle. It is not the load on the top."""
        return float(sum(self.tensions))

    @classmethod
    def usual(cls, kind: str, name: str | None = None) -> "StringSet":
        """Usual set of a kind of instrument, see `string_table`.

        Raises
        ------
        ValueError
            Unknown kind or set.
        """
        table = _tensions()
        name = name or USUAL_SET.get(kind, "")
        rows = table[(table["kind"] == kind) & (table["set"] == name)].sort_values("string", ascending=False)
        if rows.empty:
            known = ", ".join(sorted({f"{k} {s}" for k, s in zip(table["kind"], table["set"], strict=True)}))
            msg = f"no usual strings {kind!r} {name!r}; the table has {known}"
            raise ValueError(msg)
        source = f"usual {kind} set, {name}; {rows['status'].iloc[0]}"
        return cls(tuple(rows["name"]), tuple(map(float, rows["tension_n"])), source)


@cache
def _tensions() -> pd.DataFrame:
    return pd.read_csv(data_path("strings", "tensions.csv"))


@cache
def _angles() -> pd.DataFrame:
    return pd.read_csv(data_path("strings", "angles.csv"), index_col="kind")


def string_table() -> pd.DataFrame:
    """Usual tensions, N, one row a string, with their range and status; string 1 is the highest."""
    return _tensions().copy()


def usual_angle(kind: str) -> tuple[float, str]:
    """Usual included angle of the strings over the bridge, rad, and its status.

    Raises
    ------
    ValueError
        Unknown kind.
    """
    table = _angles()
    if kind not in table.index:
        msg = f"no usual string angle for {kind!r}; the table has {', '.join(table.index)}"
        raise ValueError(msg)
    return float(np.radians(table.loc[kind, "included_deg"])), str(table.loc[kind, "status"])


def downforce(tension: float, included: float) -> float:
    """Push of the strings on the bridge from the included angle A: D = 2 T cos(A / 2).

    Parameters
    ----------
    tension : float
        Sum of the tensions, N.
    included : float
        Angle of the strings over the bridge, rad; pi is a straight string.

    Returns
    -------
    float
        N, along the line that halves the angle.

    Raises
    ------
    ValueError
        Angle outside 90 to 180 degrees.
    """
    if not np.pi / 2 < included <= np.pi:
        msg = (
            f"string angle {np.degrees(included):.4g} degrees: the included angle lies above 90, at most "
            "180; a break angle of a instead is an included angle of 180 - a"
        )
        raise ValueError(msg)
    return float(2.0 * tension * np.cos(included / 2.0))


def downforce_of_sides(tension: float, front: float, back: float) -> tuple[float, float]:
    """Push square to the body from the angles of the two sides: D = T (sin front + sin back).

    Parameters
    ----------
    tension : float
        N.
    front, back : float
        Fall of the strings from the bridge towards the fingerboard and towards the tailpiece, rad.

    Returns
    -------
    push : float
        N, square to the body.
    tilt : float
        Of the resultant from that square, rad; positive leans towards the fingerboard.

    Raises
    ------
    ValueError
        An angle outside -20 to 45 degrees, or no push left.
    """
    for name, angle in (("front", front), ("back", back)):
        if not -0.35 < angle < 0.79:
            msg = f"{name} angle {np.degrees(angle):.4g} degrees: allowed -20 to 45"
            raise ValueError(msg)
    push = tension * (np.sin(front) + np.sin(back))
    if not push > 0:
        msg = f"front {np.degrees(front):.4g} and back {np.degrees(back):.4g} degrees leave no push"
        raise ValueError(msg)
    along = tension * (np.cos(front) - np.cos(back))
    return float(push), float(np.arctan2(along, push))


@dataclass(frozen=True)
class Post:
    """The sound post under the top.

    Attributes
    ----------
    behind : float
        Its middle behind the middle of the treble foot, towards the lower edge, m.
    inward : float
        Its middle nearer to the axis than the middle of the treble foot, m.
    diameter : float
        m.
    stiffness : float or None
        N/m, post and back together, where it was measured; infinity is a pin. None is the usual band,
        `USUAL_POST`.
    """

    present: bool = True
    behind: float = 0.0
    inward: float = 0.0
    diameter: float = 6e-3
    stiffness: float | None = None

    def __post_init__(self):
        if not (self.diameter > 0 and (self.stiffness is None or self.stiffness > 0)):
            msg = f"post diameter {self.diameter} m and stiffness {self.stiffness} N/m must be positive"
            raise ValueError(msg)

    @property
    def spring(self) -> float:
        """Stiffness used, N/m: as measured, or the geometric mean of the ends of the usual band."""
        return float(np.sqrt(np.prod(USUAL_POST))) if self.stiffness is None else self.stiffness

    @property
    def spring_ends(self) -> tuple[float, float]:
        """Softest and stiffest, N/m; twice the same where it was measured."""
        return USUAL_POST if self.stiffness is None else (self.stiffness, self.stiffness)

    def scaled(self, factor: float) -> "Post":
        """Return a post whose stiffness, measured or usual, is a multiple."""
        return replace(self, stiffness=factor * self.spring)

    def place(self, bridge: Bridge) -> np.ndarray:
        """Middle of the post in plan, m: (2,)."""
        return bridge.treble_foot - np.array([self.behind, self.inward])


@dataclass(frozen=True)
class SetUp:
    """Strings, their angle over the bridge, and the sound post.

    Attributes
    ----------
    front, back : float
        Fall of the strings on the fingerboard side and on the tailpiece side, rad.
    spacing : float
        Between the two outer strings on the bridge, m.
    given : float or None
        A downforce put in directly, N; it then stands instead of the one from tensions and angle.
    """

    strings: StringSet
    front: float
    back: float
    spacing: float
    post: Post
    given: float | None = None

    def __post_init__(self):
        downforce_of_sides(1.0, self.front, self.back)
        if not self.spacing > 0:
            msg = f"string spacing {1e3 * self.spacing:.4g} mm must be positive"
            raise ValueError(msg)
        if self.given is not None and not self.given > 0:
            msg = f"downforce {self.given} N must be positive"
            raise ValueError(msg)

    @property
    def included(self) -> float:
        """Included angle of the strings over the bridge, rad."""
        return np.pi - self.front - self.back

    @property
    def downforce(self) -> float:
        """Push on the top, N: as put in, or from tensions and angle."""
        return self.downforce_of_strings if self.given is None else self.given

    @property
    def downforce_of_strings(self) -> float:
        """Push from tensions and angle, N."""
        return downforce_of_sides(self.strings.total, self.front, self.back)[0]

    @property
    def tilt(self) -> float:
        """Lean of the strings' push along the body, rad; positive towards the fingerboard."""
        return downforce_of_sides(1.0, self.front, self.back)[1]

    @classmethod
    def usual(cls, kind: str, body_length: float | None = None) -> "SetUp":
        """Usual set-up of a kind, the lengths scaled to a body length (m), both sides falling alike.

        Raises
        ------
        ValueError
            Unknown kind.
        """
        dims = dimensions(kind, body_length)
        side = 0.5 * (np.pi - usual_angle(kind)[0])
        post = Post(behind=dims.post_behind, diameter=dims.post_diameter)
        return cls(StringSet.usual(kind), side, side, dims.string_spacing, post)


def string_places(count: int, spacing: float) -> np.ndarray:
    """Places of evenly spaced strings across the bridge, from its middle, bass first, m: (count,)."""
    return np.linspace(-0.5, 0.5, count) * spacing


def foot_loads(set_up: SetUp, bridge: Bridge) -> tuple[float, float]:
    """Share out the downforce on the feet by the rule of the lever.

    Returns
    -------
    bass, treble : float
        N. Each string presses in proportion to its tension at its place; the feet press in their middles.
        The order of size is 0.41 to 0.59.
    """
    pull = np.array(set_up.strings.tensions)
    middle = pull @ string_places(len(pull), set_up.spacing) / pull.sum()
    apart = bridge.treble_foot[1] - bridge.bass_foot[1]
    treble = 0.5 + middle / apart
    return float((1.0 - treble) * set_up.downforce), float(treble * set_up.downforce)
