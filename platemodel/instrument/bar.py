"""The bass bar: where it runs and its section along the length."""

from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Polygon

from platemodel.errors import GeometryError
from platemodel.wood.orthotropic import Orthotropic

SQUARE = 0.995  # section fill above which nothing is rounded off but the arrises


@dataclass(frozen=True, eq=False)
class TrimmedFlank:
    """Outer flank of a bar cut back locally.

    Attributes
    ----------
    stations : ndarray
        (n,) x from the lower edge, m, increasing; outside them the flank is untouched.
    outer : ndarray
        (n,) distance of the outer flank from the bar's middle line, m.
    """

    stations: np.ndarray
    outer: np.ndarray


@dataclass(frozen=True, eq=False)
class Bar:
    """A bass bar glued to the inside of the top.

    The axis is the straight middle line of the glued face in plan; start is the lower-bout end.

    Attributes
    ----------
    x_start, y_start, x_end, y_end : float
        Ends of the axis, m.
    width : float
        Width at the glued face, m, square to the axis.
    stations : ndarray
        (n,) x from the lower edge, m, increasing from ``x_start`` to ``x_end``.
    heights : ndarray
        (n,) height over the plate at the stations, m; straight between stations.
    lean : float
        Tilt of the bar from the vertical about its axis, rad; positive leans the free edge to the treble
        side.
    section_fill : float
        Section area over width times height: 1 square, about 0.85 to 0.9 with a rounded top.
    trim : TrimmedFlank or None
        Outer (bass-side) flank cut back locally, for example beside the sound hole.

    Raises
    ------
    GeometryError
        If a size is not positive, or stations do not run along the bar.
    """

    x_start: float
    y_start: float
    x_end: float
    y_end: float
    width: float
    stations: np.ndarray
    heights: np.ndarray
    wood: Orthotropic
    lean: float = 0.0
    section_fill: float = 1.0
    trim: TrimmedFlank | None = None

    def __post_init__(self):
        for name in ("stations", "heights"):
            a = np.array(getattr(self, name), dtype=float)
            a.flags.writeable = False
            object.__setattr__(self, name, a)
        s, h = self.stations, self.heights
        if not self.x_end > self.x_start:
            msg = (
                f"bar ends at x = {1000 * self.x_end:.4g} mm, not above its start at "
                f"{1000 * self.x_start:.4g} mm"
            )
            raise GeometryError(msg)
        if self.width <= 0:
            msg = f"bar width {1000 * self.width:.4g} mm must be positive"
            raise GeometryError(msg)
        if s.shape != h.shape or s.ndim != 1 or s.size < 2:
            msg = f"stations {s.shape} and heights {h.shape} must be equally long lists of at least 2"
            raise GeometryError(msg)
        if (np.diff(s) <= 0).any():
            i = int(np.argmin(np.diff(s)))
            msg = f"stations must increase; {1000 * s[i]:.4g} mm is followed by {1000 * s[i + 1]:.4g} mm"
            raise GeometryError(msg)
        if abs(s[0] - self.x_start) > 1e-6 or abs(s[-1] - self.x_end) > 1e-6:
            msg = (
                f"stations run from {1000 * s[0]:.4g} to {1000 * s[-1]:.4g} mm, the bar from "
                f"{1000 * self.x_start:.4g} to {1000 * self.x_end:.4g} mm; the first and last station "
                "must be its ends"
            )
            raise GeometryError(msg)
        if h.min() <= 0:
            msg = f"bar height {1000 * h.min():.4g} mm at x = {1000 * s[h.argmin()]:.4g} mm must be positive"
            raise GeometryError(msg)
        if not 0.4 <= self.section_fill <= 1:
            msg = f"section fill {self.section_fill} is outside 0.4 to 1"
            raise GeometryError(msg)

    @property
    def is_square(self) -> bool:
        """Whether its section is left square; else its free edge is rounded."""
        return self.section_fill > SQUARE

    @property
    def footprint(self) -> tuple[float, ...]:
        """All that the bar's seat on the plate depends on: bars that share it can share a seat."""
        trim = () if self.trim is None else (*self.trim.stations, *self.trim.outer)
        return (self.x_start, self.y_start, self.x_end, self.y_end, self.width, *trim)

    @property
    def length(self) -> float:
        """Length in plan along the axis, m."""
        return float(np.hypot(self.x_end - self.x_start, self.y_end - self.y_start))

    @property
    def slope(self) -> float:
        """dy/dx of the axis."""
        return (self.y_end - self.y_start) / (self.x_end - self.x_start)

    @property
    def angle(self) -> float:
        """Angle to the instrument's axis, rad; positive when the upper end is nearer to it."""
        return float(np.arctan(self.slope))

    def x_at(self, s: np.ndarray) -> np.ndarray:
        """Place along the body, m, at a distance from the lower end along the bar, m."""
        return self.x_start + (self.x_end - self.x_start) * np.asarray(s) / self.length

    def s_at(self, x: np.ndarray) -> np.ndarray:
        """Distance from the lower end along the bar, m, at a place along the body, m."""
        return self.length * (x - self.x_start) / (self.x_end - self.x_start)

    def at(self, x: np.ndarray) -> np.ndarray:
        """Transverse place y of the axis at x, m."""
        return self.y_start + self.slope * (np.asarray(x, dtype=float) - self.x_start)

    def height(self, x: np.ndarray) -> np.ndarray:
        """Height over the plate at x, m; 0 beyond the ends."""
        return np.interp(x, self.stations, self.heights, left=0.0, right=0.0)

    def outer_at(self, x: np.ndarray) -> np.ndarray:
        """Distance of the outer (bass-side) flank from the axis at x, m."""
        x = np.asarray(x, dtype=float)
        half = self.width / 2
        if self.trim is None:
            return np.full(x.shape, half)
        return np.interp(x, self.trim.stations, self.trim.outer, left=half, right=half)

    def width_at(self, x: np.ndarray) -> np.ndarray:
        """Width of the glued face at x, m."""
        return self.width / 2 + self.outer_at(x)

    def flanks(self, x: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Places x and the y of inner and outer flank at them, m; by default about every millimetre."""
        if x is None:
            x = np.linspace(self.x_start, self.x_end, max(2, int(self.length / 1e-3) + 1))
            if self.trim is not None:
                s = self.trim.stations
                x = np.union1d(x, s[(s > self.x_start) & (s < self.x_end)])
        sec = np.hypot(1, self.slope)
        axis = self.at(x)
        return x, axis + self.width / 2 * sec, axis - self.outer_at(x) * sec

    @property
    def ring(self) -> np.ndarray:
        """Loop round the glued face in plan, m: (n, 2)."""
        x, inner, outer = self.flanks()
        return np.r_[np.c_[x, outer], np.c_[x, inner][::-1]]

    @property
    def polygon(self) -> Polygon:
        """Glued face in plan."""
        return Polygon(self.ring)

    def volume(self) -> float:
        """Volume, m3."""
        x = self.stations if self.trim is None else np.union1d(self.stations, self.flanks()[0])
        # Width and height are both straight between these places, so Simpson's rule on each piece is exact.
        mid = (x[1:] + x[:-1]) / 2
        a, m, b = (self.width_at(t) * self.height(t) for t in (x[:-1], mid, x[1:]))
        return float(self.section_fill * np.hypot(1, self.slope) * np.sum(np.diff(x) * (a + 4 * m + b) / 6))

    def mass(self) -> float:
        """Mass, kg."""
        return self.wood.density * self.volume()

    def with_height(self, heights: np.ndarray, stations: np.ndarray | None = None) -> "Bar":
        """Return the bar with other heights (m), at the same stations unless others are given."""
        return replace(self, heights=heights, stations=self.stations if stations is None else stations)

    def with_trim(self, trim: TrimmedFlank | None) -> "Bar":
        """Return the bar with its outer flank cut back."""
        return replace(self, trim=trim)
