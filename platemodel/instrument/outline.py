"""Outline of a top in plan."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator
from shapely.geometry import Polygon

from platemodel.errors import GeometryError
from platemodel.instrument import outline_preset as shape
from platemodel.instrument.dimensions import VIOLIN_BODY, dimensions
from platemodel.instrument.loops import checked_polygon, half_widths, oriented, read_only, trace_loop


@dataclass(frozen=True, eq=False)
class WidthLine:
    """A line across the body: place x and half widths to the bass and to the treble side, m."""

    x: float
    bass: float
    treble: float

    @property
    def width(self) -> float:
        """Full width, m."""
        return self.bass + self.treble


@dataclass(frozen=True, eq=False)
class Outline:
    """Outer edge of a top, x from the lower edge, y to the treble side.

    Attributes
    ----------
    points : ndarray
        (n, 2) closed loop, counter-clockwise, m.
    corners : ndarray
        (k,) indices where the tangent jumps.

    Raises
    ------
    GeometryError
        If the loop crosses itself or does not start at x = 0.
    """

    points: np.ndarray
    corners: np.ndarray
    source: str = ""

    def __post_init__(self):
        points, corners = np.array(self.points, float), np.array(self.corners, int)
        checked_polygon(points, "outline")
        points, corners = oriented(points, corners)
        lowest = points[:, 0].min()
        if abs(lowest) > 2e-3 * np.ptp(points[:, 0]):
            msg = (
                f"outline: lower edge at x = {1000 * lowest:.2f} mm; x counts from the lower edge, so it "
                "must be 0"
            )
            raise GeometryError(msg)
        object.__setattr__(self, "points", read_only(points))
        object.__setattr__(self, "corners", read_only(corners))

    @classmethod
    def preset(
        cls,
        kind: str,
        body_length: float | None = None,
        upper: float | None = None,
        middle: float | None = None,
        lower: float | None = None,
    ) -> "Outline":
        """Symmetric outline from a few dimensions; the rest follows the kind's usual proportions.

        Parameters
        ----------
        kind : str
            ``violin``, ``viola`` or ``cello``.
        body_length, upper, middle, lower : float, optional
            Length and full widths of the bouts, m.
        """
        d = dimensions(kind, body_length)
        u, m, w = (
            given or usual for given, usual in ((upper, d.upper), (middle, d.middle), (lower, d.lower))
        )
        points, corners = shape.violin_shape(d.body_length, u, m, w)
        return cls(points, corners, f"drawn from length and widths of a {kind}")

    @classmethod
    def from_half_widths(
        cls,
        stations: np.ndarray,
        bass: np.ndarray,
        treble: np.ndarray,
        body_length: float,
        kind: str = "violin",
        bass_corners: tuple[float, float] | None = None,
        treble_corners: tuple[float, float] | None = None,
    ) -> "Outline":
        """Outline from half widths at stations; bass and treble side may differ.

        The kind's usual outline is stretched along each side until it has the measured half widths, with
        corners at the measured places. At a corner's own station give the half width out to its tip.

        Parameters
        ----------
        stations : array_like
            (n,) x from the lower edge, m, increasing; both ends of the body are known and need not be given.
        bass, treble : array_like
            (n,) half widths from the instrument's axis, m.
        body_length : float
            m.
        kind : str
            Kind whose shape is stretched.
        bass_corners, treble_corners : tuple of float, optional
            x of the tips of the lower and the upper corner on that side, m.

        Raises
        ------
        GeometryError
            If stations leave the body, or a half width is far from the kind's shape.
        """
        x = np.asarray(stations, float)
        halves = [np.asarray(h, float) for h in (bass, treble)]
        if x.ndim != 1 or x.size < 3 or any(h.shape != x.shape for h in halves):
            msg = (
                f"{x.size} stations, {halves[0].size} bass and {halves[1].size} treble half widths; at "
                "least 3, equally many"
            )
            raise GeometryError(msg)
        if (np.diff(x) <= 0).any() or x[0] < 0 or x[-1] > body_length:
            msg = f"stations must increase within 0 to {1000 * body_length:.4g} mm"
            raise GeometryError(msg)
        template = cls.preset(kind, body_length)
        tips = (shape.LOWER_CORNER * body_length, shape.UPPER_CORNER * body_length)
        points = np.array(template.points)
        for side, half, at in (("bass", halves[0], bass_corners), ("treble", halves[1], treble_corners)):
            at = at or tips
            if not 0.2 * body_length < at[0] < at[1] < 0.85 * body_length:
                msg = (
                    f"{side} corners at x = {1000 * at[0]:.4g} and {1000 * at[1]:.4g} mm; lower then "
                    "upper corner"
                )
                raise GeometryError(msg)
            knots = [0, 0.2 * body_length, *tips, 0.8 * body_length, body_length]
            moved = [0, 0.2 * body_length, *at, 0.8 * body_length, body_length]
            warp, unwarp = PchipInterpolator(knots, moved), PchipInterpolator(moved, knots)
            column = 0 if side == "bass" else 1
            known = (x > 0.005 * body_length) & (x < 0.995 * body_length)
            usual = template.half_width(unwarp(x[known]))[column]
            ratio = half[known] / usual
            if (ratio < 0.6).any() or (ratio > 1.6).any():
                k = int(np.abs(np.log(ratio)).argmax())
                msg = (
                    f"{side} half width {1000 * half[known][k]:.4g} mm at x = {1000 * x[known][k]:.4g} mm is "
                    f"far from {1000 * usual[k]:.4g} mm of a {kind} of this length; check it, or whether the "
                    "station is at a corner"
                )
                raise GeometryError(msg)
            mine = points[:, 1] < 0 if side == "bass" else points[:, 1] >= 0
            new_x = warp(points[mine, 0])
            stretch = CubicSpline(x[known], ratio, bc_type="natural")(
                np.clip(new_x, x[known][0], x[known][-1])
            )
            points[mine] = np.c_[new_x, points[mine, 1] * stretch]
        return cls(
            points, template.corners, f"half widths at {x.size} stations, shape of a {kind} between them"
        )

    @classmethod
    def from_points(
        cls, points: np.ndarray, corners: np.ndarray | None = None, noise: float | None = None
    ) -> "Outline":
        """Outline from a traced closed line, in either direction, from any starting point.

        Parameters
        ----------
        points : array_like
            (n, 2) m; x from the lower edge, y from the instrument's axis to the treble side.
        corners : array_like of int, optional
            Indices of the corner points; found by their turning angle if not given.
        noise : float, optional
            Uncertainty of the tracing, m; by default 1/5000 of the body length (0.07 mm for a violin).
        """
        p = np.asarray(points, float)
        length = float(np.ptp(p[:, 0]))
        loop, at = trace_loop(
            p, corners, 0.011 * length, 0.002 * length, noise or length / 5000, "traced outline"
        )
        loop = loop - [loop[:, 0].min(), 0]
        return cls(loop, at, f"traced, {len(p)} points, {len(at)} corners")

    @property
    def scale(self) -> float:
        """Body length over that of the 355 mm violin, for limits that are known for the violin only."""
        return self.body_length / VIOLIN_BODY

    @cached_property
    def polygon(self) -> Polygon:
        """Shapely polygon."""
        return Polygon(self.points)

    @property
    def area(self) -> float:
        """Area inside the line, m2."""
        return float(self.polygon.area)

    @property
    def body_length(self) -> float:
        """Length along the axis, m."""
        return float(self.points[:, 0].max())

    def box(self, margin: float = 0.0) -> tuple[float, float, float, float]:
        """Bounding box (x0, y0, x1, y1) with a margin, m."""
        (x0, y0), (x1, y1) = self.points.min(axis=0), self.points.max(axis=0)
        return float(x0 - margin), float(y0 - margin), float(x1 + margin), float(y1 + margin)

    def half_width(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Distances from the axis to the edge at x on the bass and the treble side, m; 0 beyond the body."""
        return half_widths(self.points, x)

    def widest(self) -> tuple[WidthLine, WidthLine, WidthLine]:
        """Widest line of the upper bout, narrowest of the waist, widest of the lower bout."""
        length = self.body_length
        lines = []
        for a, b, sign in ((0.70, 0.92, 1), (0.47, 0.63, -1), (0.08, 0.32, 1)):
            x = np.linspace(a * length, b * length, 301)
            bass, treble = self.half_width(x)
            k = int((sign * (bass + treble)).argmax())
            lines.append(WidthLine(float(x[k]), float(bass[k]), float(treble[k])))
        return tuple(lines)
