"""Geometry for the messages of the job reader: which rows of a line cross, which places are off the plate."""

import numpy as np
import shapely
from shapely.validation import explain_validity


def crossing_lines(points: np.ndarray, lines: np.ndarray) -> tuple[int, int] | None:
    """Return the file lines of two rows whose steps cross or touch.

    Parameters
    ----------
    points : ndarray
        (n, 2) traced closed line, first point repeated at the end or not.
    lines : ndarray
        (n,) line of the file for each point.

    Returns
    -------
    tuple of int or None
        Lines of the rows where the two crossing steps start; None for a simple line.
    """
    if len(points) > 3 and np.allclose(points[0], points[-1]):
        points, lines = points[:-1], lines[:-1]
    if len(points) < 3:
        return None
    polygon = shapely.Polygon(points)
    if polygon.is_valid:
        return None
    reason = explain_validity(polygon)
    place = reason[reason.find("[") + 1 : reason.find("]")].split()
    steps = shapely.linestrings(np.stack([points, np.roll(points, -1, axis=0)], axis=1))
    try:
        where = shapely.Point(*map(float, place))
    except (TypeError, ValueError):
        return int(lines[0]), int(lines[-1])
    near = np.sort(np.argsort(shapely.distance(steps, where), kind="stable")[:2])
    return int(lines[near[0]]), int(lines[near[1]])


def plate_places(top, inset: float = 0.04) -> tuple[np.ndarray, np.ndarray]:
    """Return places x, y (n,) all over a plate, m; ``inset``, of the body length, inside every edge."""
    length = top.outline.body_length
    pitch, inset = length / 60, inset * length
    x0, y0, x1, y1 = top.outline.box()
    half = np.arange(0.0, max(-y0, y1), pitch)
    x, y = (
        a.ravel() for a in np.meshgrid(np.arange(x0, x1, pitch), np.r_[-half[:0:-1], half], indexing="ij")
    )
    inner = top.plan.buffer(-inset)
    shapely.prepare(inner)
    keep = shapely.contains_xy(inner, x, y)
    return x[keep], y[keep]


def outside_edge(outline, places: np.ndarray, margin: float) -> np.ndarray:
    """Return (n,) bool: places (n, 2) in m farther than ``margin`` outside the outline."""
    wide = outline.polygon.buffer(margin)
    shapely.prepare(wide)
    return ~shapely.contains_xy(wide, places[:, 0], places[:, 1])
