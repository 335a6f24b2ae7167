"""Height of the outer surface over the gluing plane."""

import numpy as np
import shapely
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter1d

from platemodel.errors import GeometryError
from platemodel.instrument.field import SmoothField
from platemodel.instrument.loops import half_widths
from platemodel.instrument.outline import Outline
from platemodel.instrument.rim import RimGrid, rim_not_read

CREST = 0.48  # of the body length: where the long arch is highest
FULLNESS = 3.0  # exponent of the long arch; 2 would be a parabola
CHANNEL_WIDTH = 0.021  # of the body length from the rim to the bottom of the channel, 7.5 mm for a violin
CHANNEL_DEPTH = 0.0014  # of the body length below the edge, 0.5 mm for a violin


def preset(
    outline: Outline,
    height: float,
    edge: float,
    lines: tuple[tuple[float, float], ...] | None = None,
    channel_width: float | None = None,
    channel_depth: float | None = None,
) -> SmoothField:
    """Usual arching: a full long arch, cross arches of curtate cycloids down to a channel inside the edge.

    Parameters
    ----------
    height : float
        Greatest height of the outer surface over the gluing plane, m.
    edge : float
        Height of the outer surface at the rim, m: the edge thickness.
    lines : sequence of (x, z), optional
        Heights of the long arch on the axis at lines across the body (usually five), m; they replace
        ``height``.
    channel_width, channel_depth : float, optional
        Distance of the channel's bottom from the rim, and its depth below the edge, m.

    Returns
    -------
    SmoothField
        Over the outline's box and a margin.

    Raises
    ------
    GeometryError
        If a height is not above the edge.
    """
    length = outline.body_length
    width = channel_width or CHANNEL_WIDTH * length
    bottom = edge - (CHANNEL_DEPTH * length if channel_depth is None else channel_depth)
    lines = np.array([(CREST * length, height)] if lines is None else sorted(map(tuple, lines)), float)
    if lines[:, 1].min() <= edge:
        k = int(lines[:, 1].argmin())
        msg = (
            f"arching: height {1000 * lines[k, 1]:.4g} mm at x = {1000 * lines[k, 0]:.4g} mm is not above "
            f"the edge of {1000 * edge:.4g} mm; heights count from the gluing plane to the outer surface"
        )
        raise GeometryError(msg)
    if lines[0, 0] < 2 * width or lines[-1, 0] > length - 2 * width:
        msg = (
            f"arching: lines at {1000 * lines[0, 0]:.4g} to {1000 * lines[-1, 0]:.4g} mm come closer than "
            f"{2000 * width:.3g} mm to an end of the body, where the channel is"
        )
        raise GeometryError(msg)
    grid = RimGrid(outline)
    rise = _long_arch(grid.x, lines, width, length, bottom)
    half = _guide(outline, grid.x, width)
    # Bass and treble half may differ; the change over the axis is gradual, or the curvature would jump there.
    mean, differ = (half[1] + half[0]) / 2, (half[1] - half[0]) / 2
    t = np.clip(grid.Y / mean[:, None], -1, 1)
    b = mean[:, None] + differ[:, None] * t * (15 - 10 * t**2 + 3 * t**4) / 8
    ratio = np.clip(np.pi * rise[:, None] / (2 * b), 0, 0.8)
    values = bottom + rise[:, None] * curtate_cycloid(grid.Y / b, ratio)
    sigma = 0.8 * width
    for _ in range(4):
        values = values + grid.spread_from_rim(edge - grid.at_rim(values), sigma)
    return SmoothField(
        grid.x, grid.y, values, "drawn: long arch and curtate cycloids (common practice, no source)"
    )


def from_points(
    outline: Outline, x: np.ndarray, y: np.ndarray, z: np.ndarray, edge: float, noise: float | None = None
) -> SmoothField:
    """Arching through measured heights, on a grid or scattered; between them it follows a usual arching.

    At the rim the readings rule where there are some, elsewhere the height given for it.

    Parameters
    ----------
    x, y, z : array_like
        (n,) places and heights of the outer surface over the gluing plane, m.
    edge : float
        Height at the rim, m.
    noise : float, optional
        Standard uncertainty of a height, m; without it the readings' own scatter is found.
    """
    x, y, z = (np.ravel(np.asarray(a, float)) for a in (x, y, z))
    base = preset(outline, float(np.max(z)), edge)
    pitch = base.x[1] - base.x[0]
    rim = rim_not_read(outline, x, y)
    held, source = np.c_[rim, np.full(len(rim), edge)], f"{x.size} measured heights"
    return SmoothField.from_points(x, y, z, base.box, pitch, noise, (base,), source, held)


def curtate_cycloid(eta: np.ndarray, ratio: np.ndarray) -> np.ndarray:
    """Height, 1 on the crest (eta = 0) and 0 in the trough (|eta| = 1), of a curtate cycloid.

    Traced by a point at ``ratio`` of the radius inside a rolling circle: eta = (t + ratio sin t)/pi, height
    (1 + cos t)/2. Beyond the trough it rises again, levelling off so that it stays bounded.
    """
    eta, ratio = np.broadcast_arrays(np.abs(eta), ratio)
    u = np.pi * np.minimum(eta, 1.0)
    t = u / (1 + ratio * (1 - u / np.pi))
    for _ in range(8):
        t = np.clip(t - (t + ratio * np.sin(t) - u) / (1 + ratio * np.cos(t)), 0, np.pi)
    inner = (1 + np.cos(t)) / 2
    past = np.maximum(eta - 1, 0)
    bend = np.pi**2 / (2 * (1 - ratio) ** 2)  # second derivative at the trough
    return inner + bend / 2 * past**2 / (1 + (past / 0.15) ** 2)


def _long_arch(x, lines, width, length, bottom):
    """Rise over the channel along the axis at x: the usual arch, stretched through the lines (n, 2)."""
    crest = CREST * length

    def usual(t):
        xi = np.abs(t - crest) / np.where(t < crest, crest - width, length - width - crest)
        r = 1 - xi**FULLNESS
        return (
            r + np.sqrt(r**2 + 0.06**2)
        ) / 2  # runs out level into the channel instead of cutting below it

    ratio = (lines[:, 1] - bottom) / usual(lines[:, 0])
    if len(lines) == 1:
        return ratio[0] * usual(x)
    if len(lines) == 2:
        stretch = np.interp(x, lines[:, 0], ratio)
    else:
        ends = np.clip(x, lines[0, 0], lines[-1, 0])
        stretch = CubicSpline(lines[:, 0], ratio, bc_type="natural")(ends)
    return stretch * usual(x)


def _guide(outline, x, width):
    """Half widths of the channel (bass, treble) at x, corners rounded off, smooth, with a floor."""
    length = outline.body_length
    r = 0.07 * length
    rounded = outline.polygon.buffer(-r, quad_segs=24).buffer(r, quad_segs=24)
    if not isinstance(rounded, shapely.Polygon) or rounded.is_empty:
        msg = (
            f"the outline is narrower than {2000 * r:.0f} mm in one or more places, too narrow for an arch "
            f"between channels on a body of {1000 * length:.0f} mm; look at bouts, waist and half widths"
        )
        raise GeometryError(msg)
    fine = np.linspace(0.001 * length, 0.999 * length, 500)
    step = fine[1] - fine[0]
    n = int(0.12 * length / step)
    at = np.r_[fine[0] - step * np.arange(n, 0, -1), fine, fine[-1] + step * np.arange(1, n + 1)]
    least, soft = (0.08 * length) ** 2, (0.05 * length) ** 2
    halves = []
    for h in half_widths(np.array(rounded.exterior.coords)[:-1], fine):
        # The square of the half width runs straight through the ends of the body, so it is what gets
        # smoothed.
        square = np.maximum(h - width, 0.2 * h) ** 2
        slopes = (square[8] - square[0]) / 8, (square[-1] - square[-9]) / 8
        before = square[0] - slopes[0] * np.arange(n, 0, -1)
        after = square[-1] + slopes[1] * np.arange(1, n + 1)
        smooth = gaussian_filter1d(np.r_[before, square, after], 0.03 * length / step)
        halves.append(np.sqrt(CubicSpline(at, soft * np.logaddexp(smooth / soft, least / soft))(x)))
    return halves
