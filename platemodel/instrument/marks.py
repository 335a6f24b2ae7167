"""What a top carries besides its wood: cracks, cleats, patches, worm, the scar of an old bar."""

from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from platemodel.errors import GeometryError

CRACK, CLEAT, PATCH, WORM, POST_PATCH, OLD_BAR = "crack", "cleat", "patch", "worm", "post patch", "old bar"
LINES = (CRACK, OLD_BAR)  # drawn along their points; the others are places
KINDS = (CRACK, CLEAT, PATCH, WORM, POST_PATCH, OLD_BAR)


@dataclass(frozen=True, eq=False)
class Mark:
    """One mark, seen in plan.

    Attributes
    ----------
    kind : str
        One of ``KINDS``.
    points : ndarray
        (n, 2) x and y, m: along a crack or the middle of an old bar, else the corners of a place.
    width : float
        Of an old bar, m; else 0.

    Raises
    ------
    GeometryError
        Too few points, or corners that make no place.
    """

    kind: str
    points: np.ndarray
    width: float = 0.0
    note: str = ""

    def __post_init__(self):
        points = np.array(self.points, dtype=float)
        points.flags.writeable = False
        object.__setattr__(self, "points", points)
        if self.kind not in KINDS:
            msg = f"mark {self.kind!r}; allowed are {', '.join(KINDS)}"
            raise GeometryError(msg)
        least = 2 if self.kind in LINES else 3
        if len(points) < least:
            msg = f"{self.kind}: {len(points)} points; at least {least} are needed"
            raise GeometryError(msg)
        if self.kind in LINES and np.hypot(*np.diff(points, axis=0).T).min() < 1e-4:
            msg = f"{self.kind}: two of its points are the same"
            raise GeometryError(msg)
        if self.kind not in LINES and not Polygon(points).is_valid:
            msg = f"{self.kind}: its corners cross; give them in order round it"
            raise GeometryError(msg)

    @property
    def shape(self) -> BaseGeometry:
        """Line of a crack; area of every other mark."""
        if self.kind == CRACK:
            return LineString(self.points)
        if self.kind == OLD_BAR:
            return LineString(self.points).buffer(self.width / 2, cap_style="flat")
        return Polygon(self.points)

    @property
    def where(self) -> str:
        """Where it lies, in words."""
        (x0, y0), (x1, y1) = 1e3 * self.points.min(axis=0), 1e3 * self.points.max(axis=0)
        across = f"y {y0:.0f} mm" if y1 - y0 < 1 else f"y {y0:.0f} to {y1:.0f} mm"
        return f"x {x0:.0f} to {x1:.0f}, {across}"


def place(kind: str, middle: np.ndarray, along: float, across: float, note: str = "") -> Mark:
    """Rectangular mark about its middle (m), its sides along and across the body."""
    half = np.array([[-along, -across], [along, -across], [along, across], [-along, across]]) / 2
    return Mark(kind, np.asarray(middle, float) + half, note=note)
