"""Sound holes."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import Polygon

from platemodel.errors import GeometryError
from platemodel.instrument.dimensions import Dimensions
from platemodel.instrument.f_shape import f_shape
from platemodel.instrument.loops import checked_polygon, oriented, read_only, resampled, trace_loop


@dataclass(frozen=True, eq=False)
class Eye:
    """Round eye of a sound hole: centre and diameter, m."""

    x: float
    y: float
    diameter: float


@dataclass(frozen=True, eq=False)
class SoundHole:
    """One sound hole.

    Attributes
    ----------
    points : ndarray
        (n, 2) closed loop, counter-clockwise, m.
    corners : ndarray
        (k,) indices where the tangent jumps (tips of the wings, and where they meet the eyes).
    side : str
        ``bass`` (y < 0) or ``treble``.

    Raises
    ------
    GeometryError
        If the loop crosses itself or lies on the wrong side.
    """

    points: np.ndarray
    corners: np.ndarray
    side: str
    upper_eye: Eye
    lower_eye: Eye
    source: str = ""

    def __post_init__(self):
        points, corners = np.array(self.points, float), np.array(self.corners, int)
        if self.side not in ("bass", "treble"):
            msg = f"sound hole: side {self.side!r}; allowed are 'bass' and 'treble'"
            raise GeometryError(msg)
        polygon = checked_polygon(points, f"{self.side} sound hole")
        if (polygon.centroid.y < 0) != (self.side == "bass"):
            msg = (
                f"sound hole: its middle lies at y = {1000 * polygon.centroid.y:.4g} mm, but its side is "
                f"{self.side!r} (bass is y < 0)"
            )
            raise GeometryError(msg)
        points, corners = oriented(points, corners)
        object.__setattr__(self, "points", read_only(points))
        object.__setattr__(self, "corners", read_only(corners))

    @classmethod
    def preset(
        cls,
        dims: Dimensions,
        side: str,
        *,
        x_bridge: float | None = None,
        x_upper_eye: float | None = None,
        eye_spacing: float | None = None,
        length: float | None = None,
        lean: float | None = None,
        stem_width: float | None = None,
        upper_eye: float | None = None,
        lower_eye: float | None = None,
    ) -> "SoundHole":
        """Draw an f-shaped hole.

        Parameters
        ----------
        dims : Dimensions
            Usual dimensions; whatever is not given below follows them.
        side : str
            ``bass`` or ``treble``.
        x_bridge : float, optional
            Notch line, x in m; the upper eye moves with it unless ``x_upper_eye`` is given.
        x_upper_eye : float, optional
            Middle of the upper eye, x in m.
        eye_spacing : float, optional
            Distance between the inner edges of both upper eyes, m.
        length : float, optional
            Over all along the body, m.
        lean : float, optional
            Angle between the line through both eyes and the axis, rad.
        stem_width : float, optional
            Width of the stem at the notch line, m.
        upper_eye, lower_eye : float, optional
            Diameters, m.
        """
        x_bridge = x_bridge or dims.x_bridge
        x_eye = x_upper_eye or x_bridge + (dims.stop - dims.eye_line)
        d_up, d_low = upper_eye or dims.upper_eye, lower_eye or dims.lower_eye
        y_eye = ((eye_spacing or dims.eye_spacing) + d_up) / 2
        points, corners, low = f_shape(
            x_eye, y_eye, d_up, d_low,
            length or dims.hole_length, np.deg2rad(27) if lean is None else lean,
            stem_width or dims.stem_width, spacing=0.0015 * dims.body_length,
        )  # fmt: skip
        s = -1 if side == "bass" else 1
        return cls(
            points * [1, s], corners, side,
            Eye(x_eye, s * y_eye, d_up), Eye(float(low[0]), float(s * low[1]), d_low), f"drawn, {dims.kind}",
        )  # fmt: skip

    @classmethod
    def from_points(
        cls,
        points: np.ndarray,
        side: str,
        upper_eye: Eye | None = None,
        lower_eye: Eye | None = None,
        corners: np.ndarray | None = None,
        noise: float | None = None,
    ) -> "SoundHole":
        """Hole from a traced closed line in either direction.

        Parameters
        ----------
        points : array_like
            (n, 2) m.
        side : str
            ``bass`` or ``treble``.
        upper_eye, lower_eye : Eye, optional
            Measured eyes; otherwise circles fitted to the edge at both ends of the hole.
        corners : array_like of int, optional
            Indices of corner points; found by their turning angle if not given, which is sure only if the
            tracing is good to about 1/2500 of the length (0.03 mm for a violin).
        noise : float, optional
            Uncertainty of the tracing, m; by default 1/1500 of the hole's length.
        """
        p = np.asarray(points, float)
        length = float(np.ptp(p[:, 0]))
        loop, at = trace_loop(
            p, corners, 0.019 * length, 0.006 * length, noise or length / 1500, f"traced {side} sound hole"
        )
        polygon = checked_polygon(loop, f"smoothed {side} sound hole")
        upper_eye = upper_eye or _eye(polygon, upper=True)
        lower_eye = lower_eye or _eye(polygon, upper=False)
        return cls(loop, at, side, upper_eye, lower_eye, f"traced, {len(p)} points, {len(at)} corners")

    @cached_property
    def polygon(self) -> Polygon:
        """Shapely polygon."""
        return Polygon(self.points)

    @property
    def area(self) -> float:
        """Area, m2."""
        return float(self.polygon.area)

    @property
    def length(self) -> float:
        """Over all along the body, m."""
        return float(np.ptp(self.points[:, 0]))

    def mirrored(self) -> "SoundHole":
        """Mirror the hole to the other side of the axis."""
        flip = [Eye(e.x, -e.y, e.diameter) for e in (self.upper_eye, self.lower_eye)]
        side = "treble" if self.side == "bass" else "bass"
        return SoundHole(self.points * [1, -1], self.corners, side, *flip, self.source)


def eye_spacing(a: SoundHole, b: SoundHole) -> float:
    """Distance between the inner edges of the upper eyes of two holes, m."""
    gap = np.hypot(a.upper_eye.x - b.upper_eye.x, a.upper_eye.y - b.upper_eye.y)
    return float(gap - (a.upper_eye.diameter + b.upper_eye.diameter) / 2)


def _eye(polygon: Polygon, upper: bool) -> Eye:
    """Round eye at one end of a traced hole: circle fitted to the edge round its widest place."""
    x0, y0, x1, y1 = polygon.bounds
    part = (x1 - x0) / 4
    ends = (x1 - part, x1) if upper else (x0, x0 + part)
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(*ends, 60), np.linspace(y0, y1, 120)))
    d = np.where(
        shapely.contains_xy(polygon, x, y), shapely.distance(polygon.exterior, shapely.points(x, y)), 0
    )
    k = int(d.argmax())
    if d[k] == 0:
        msg = "no place for an eye inside the traced sound hole; give the eye's centre and diameter"
        raise GeometryError(msg)
    centre, radius = np.array([x[k], y[k]]), d[k]
    edge = resampled(np.array(polygon.exterior.coords), 0.1 * radius)
    for _ in range(4):
        near = edge[np.abs(np.hypot(*(edge - centre).T) - radius) < 0.12 * radius]
        # x^2 + y^2 = 2 a x + 2 b y + c is linear in centre (a, b).
        q = near - centre
        a, b, c = np.linalg.lstsq(np.c_[2 * q, np.ones(len(q))], (q**2).sum(axis=1), rcond=None)[0]
        centre, radius = centre + np.array([a, b]), np.sqrt(c + a**2 + b**2)
    return Eye(float(centre[0]), float(centre[1]), float(2 * radius))
