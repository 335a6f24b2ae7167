"""Where the bar runs: the one-seventh rule, the bridge-foot rule, length rules."""

from dataclasses import dataclass, replace

import numpy as np

from platemodel.errors import GeometryError
from platemodel.instrument.bar import Bar
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.outline import Outline
from platemodel.instrument.profile import height_profile
from platemodel.wood.orthotropic import Orthotropic

REFERENCES = ("inner", "middle", "outer")
SEVENTH = 1 / 7


@dataclass(frozen=True)
class BarLine:
    """A straight line for one edge, or the middle, of the bar.

    Attributes
    ----------
    x_lower, y_lower, x_upper, y_upper : float
        Two points of it, m; y is negative on the bass side.
    reference : str
        What lies on it: ``inner`` edge (towards the axis), ``middle`` or ``outer`` edge of the bar.
    """

    x_lower: float
    y_lower: float
    x_upper: float
    y_upper: float
    reference: str = "inner"

    def __post_init__(self):
        if self.reference not in REFERENCES:
            msg = f"reference {self.reference!r}; say which edge is meant: {', '.join(REFERENCES)}"
            raise ValueError(msg)
        if not self.x_upper > self.x_lower:
            msg = (
                f"bar line: upper point at x = {1000 * self.x_upper:.4g} mm is not above "
                f"{1000 * self.x_lower:.4g} mm"
            )
            raise GeometryError(msg)

    @property
    def slope(self) -> float:
        """dy/dx."""
        return (self.y_upper - self.y_lower) / (self.x_upper - self.x_lower)

    @property
    def angle(self) -> float:
        """Angle to the instrument's axis, rad; positive when the upper end is nearer the axis."""
        return float(np.arctan(self.slope))

    def at(self, x: np.ndarray) -> np.ndarray:
        """Transverse place y of the line at x, m."""
        return self.y_lower + self.slope * (np.asarray(x, dtype=float) - self.x_lower)

    def moved_to(self, reference: str, width: float) -> "BarLine":
        """Line of another edge, or the middle, of a bar of that width (m) on this line."""
        # In half widths from the inner edge, away from the axis, square to the bar.
        place = {"inner": 0, "middle": 1, "outer": 2}
        if reference not in place:
            msg = f"reference {reference!r}; allowed are {', '.join(REFERENCES)}"
            raise ValueError(msg)
        dy = -(place[reference] - place[self.reference]) * width / 2 * np.hypot(1, self.slope)
        return replace(self, y_lower=self.y_lower + dy, y_upper=self.y_upper + dy, reference=reference)

    def shifted(self, dy: float) -> "BarLine":
        """Parallel line, moved by dy (m); negative moves away from the axis."""
        return replace(self, y_lower=self.y_lower + dy, y_upper=self.y_upper + dy)


def one_seventh(outline: Outline, reference: str = "inner") -> BarLine:
    """Line at one seventh of the bass half width, from the axis, at the widest line of either bout.

    The rule is commonly taught (common practice, no source), for the inner edge by some and for the middle of
    the bar by others, so ``reference`` says which is meant.
    """
    upper, _, lower = outline.widest()
    return BarLine(lower.x, -SEVENTH * lower.bass, upper.x, -SEVENTH * upper.bass, reference)


def foot_inset(line: BarLine, bridge: Bridge, width: float) -> float:
    """How far the bar's outer edge lies inside the outer edge of the bass foot on the bridge line, m."""
    return float(line.moved_to("outer", width).at(bridge.x) - bridge.bass_edge)


def bridge_foot_rule(line: BarLine, bridge: Bridge, width: float, inset: float = 1e-3) -> BarLine:
    """Parallel line whose bar has its outer edge ``inset`` (m) inside the bass foot's outer edge.

    Where this and the proportional rule conflict, the foot wins (common practice, no source).
    """
    return line.shifted(inset - foot_inset(line, bridge, width))


def bar_ends(
    outline: Outline, length: float | None = None, rule: str = "margins", slope: float = 0.0
) -> tuple[float, float]:
    """Lower and upper end of the bar, x in m, with equal margins to both edges of the body.

    Parameters
    ----------
    length : float, optional
        Length along the bar, m; replaces the rule.
    rule : str
        ``seven_ninths`` or ``three_quarters`` of the body length, or ``margins``: 40 mm at either end of a
        violin, scaled with body length. All three are common practice, no source; they differ by 10 mm on a
        violin.
    slope : float
        dy/dx of the bar's line; 0 takes the length along the body.
    """
    body = outline.body_length
    shares = {"seven_ninths": 7 / 9, "three_quarters": 3 / 4, "margins": 1 - 80 / 355}
    if length is None:
        if rule not in shares:
            msg = f"length rule {rule!r}; allowed are {', '.join(shares)}"
            raise ValueError(msg)
        length = shares[rule] * body
    if not 0.3 * body < length < 0.98 * body:
        msg = f"bar length {1000 * length:.4g} mm on a body of {1000 * body:.4g} mm; allowed 30 to 98 %"
        raise GeometryError(msg)
    along = length / np.hypot(1, slope)
    return (body - along) / 2, (body + along) / 2


def bar_on_line(
    line: BarLine,
    ends: tuple[float, float],
    width: float,
    bridge: Bridge,
    h_bridge: float,
    h_ends: tuple[float, float],
    wood: Orthotropic,
    power: float | str = "medium",
    section_fill: float = 1.0,
    pitch: float = 5e-3,
) -> Bar:
    """Bar on a line with a height profile.

    Parameters
    ----------
    ends : tuple of float
        x of the lower and the upper end, m.
    width : float
        m.
    h_bridge : float
        Height at the bridge line, m.
    h_ends : tuple of float
        Heights at the lower and the upper end, m.
    power : float or str
        Profile, see :func:`platemodel.instrument.profile.height_profile`.
    pitch : float
        About the distance of stations, m; the bridge line is always one.
    """
    a, b = ends
    if not a < bridge.x < b:
        msg = (
            f"bar from {1000 * a:.4g} to {1000 * b:.4g} mm does not pass the bridge line at "
            f"{1000 * bridge.x:.4g} mm"
        )
        raise GeometryError(msg)
    stations = np.r_[
        np.linspace(a, bridge.x, max(2, round((bridge.x - a) / pitch) + 1))[:-1],
        np.linspace(bridge.x, b, max(2, round((b - bridge.x) / pitch) + 1)),
    ]
    heights = height_profile(stations, bridge.x, a, b, h_bridge, *h_ends, power)
    middle = line.moved_to("middle", width)
    return Bar(
        a,
        float(middle.at(a)),
        b,
        float(middle.at(b)),
        width,
        stations,
        heights,
        wood,
        section_fill=section_fill,
    )
