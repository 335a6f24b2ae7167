"""A strip of slender triangles along a line where a rib may be glued.

A rib's fields change within its own width across, but slowly along. Rows of slender triangles follow it at a
quarter of the cost of small ones all over. The rib itself stays independent of the mesh: it may lie anywhere.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

ROWS = np.array([-1.6, -0.5, 0.5, 1.6])  # in rib widths from the middle line
LEAST = 0.2  # rib widths that must be free beside the middle line


@dataclass(frozen=True)
class Band:
    """Where the strip runs.

    Attributes
    ----------
    start, end : array (2,)
        Middle line, m.
    width : float
        Width of the rib it is meant for, m.
    """

    start: np.ndarray
    end: np.ndarray
    width: float


def band_rows(band, size, loops):
    """Rows of points of a strip, pulled in where a hole or the edge is near.

    Parameters
    ----------
    band : Band
    size : float
        Largest spacing along the strip, m.
    loops : sequence of array (n, 2)
        Boundary polygons, m.

    Returns
    -------
    array (4, n, 2) or None
        None when the strip does not fit.
    """
    start, end = np.asarray(band.start, dtype=float), np.asarray(band.end, dtype=float)
    length = np.hypot(*(end - start))
    n = max(int(np.ceil(length / size)), 2) + 1
    tangent = (end - start) / length
    across = np.array([-tangent[1], tangent[0]])
    middle = start + np.linspace(0.0, length, n)[:, None] * tangent
    lines = shapely.MultiLineString([np.vstack([loop, loop[:1]]) for loop in loops])
    pieces = shapely.linestrings(np.stack([middle[:-1], middle[1:]], axis=1))
    rows = np.empty((4, n, 2))
    for outer, inner, side in ((0, 1, -1.0), (3, 2, 1.0)):
        reach = abs(ROWS[outer]) * band.width
        ahead = side * 2.0 * reach * across
        corners = [middle[:-1], middle[1:], middle[1:] + ahead, middle[:-1] + ahead]
        near = shapely.intersection(lines, shapely.polygons(np.stack(corners, axis=1)))
        free = np.where(shapely.is_empty(near), np.inf, shapely.distance(pieces, near))
        free = np.minimum(np.append(free, np.inf), np.append(np.inf, free))
        if free.min() < LEAST * band.width:
            return None
        rows[outer] = middle + side * np.minimum(reach, 0.85 * free)[:, None] * across
        # A row between the two lines that a rib is joined on would let the strip kink there: keep it outside.
        rows[inner] = middle + side * np.minimum(abs(ROWS[inner]) * band.width, 0.65 * free)[:, None] * across
    outline = shapely.Polygon(np.concatenate([rows[0], rows[3][::-1]]))
    plate = shapely.Polygon(loops[0], [loop for loop in loops[1:]])
    return rows if plate.contains(outline) else None


def rim(rows):
    """Boundary of the strip, counter-clockwise: (m, 2)."""
    return np.concatenate([rows[0], rows[1:3, -1], rows[3][::-1], rows[1:3, 0][::-1]])


def fill(rows, boundary):
    """Triangulate the strip inside a boundary that a mesher may have divided further.

    Parameters
    ----------
    rows : array (4, n, 2)
    boundary : array (m, 2)
        Mesh points on the strip's rim; contains all points of `rim`.

    Returns
    -------
    points : array (p, 2)
        Boundary points as given, then the inner ones.
    triangles : int array (3, t)
    """
    points = [tuple(p) for p in boundary]
    tolerance = 1e-6 * np.hypot(*(rows[0, -1] - rows[0, 0]))

    def number(point):
        distance = np.hypot(*(np.array(points) - point).T)
        best = int(np.argmin(distance))
        if distance[best] < tolerance:
            return best
        points.append(tuple(point))
        return len(points) - 1

    chains = []
    for k in range(4):
        chain = [number(p) for p in rows[k]]
        chains.append(_divide(chain, boundary, points, tolerance) if k in (0, 3) else chain)
    triangles = []
    for lower, upper in pairwise(chains):
        first = _divide([lower[0], upper[0]], boundary, points, tolerance)[1:-1]
        last = _divide([lower[-1], upper[-1]], boundary, points, tolerance)[1:-1]
        triangles += _zip(first[::-1] + lower + last, upper, points)
    return np.array(points), np.array(triangles).T


def _divide(chain, boundary, points, tolerance):
    """Insert the boundary points that lie between consecutive points of a chain."""
    out = [chain[0]]
    for a, b in pairwise(chain):
        p, q = np.array(points[a]), np.array(points[b])
        length = np.hypot(*(q - p))
        t = (q - p) / length
        s = (boundary - p) @ t
        off = np.abs((boundary - p) @ np.array([-t[1], t[0]]))
        inside = np.flatnonzero((off < tolerance) & (s > tolerance) & (s < length - tolerance))
        out += [int(i) for i in inside[np.argsort(s[inside])]] + [b]
    return out


def _zip(lower, upper, points):
    """Triangles between two chains that run the same way."""
    p = np.array(points)
    i = j = 0
    out = []
    while i < len(lower) - 1 or j < len(upper) - 1:
        if j == len(upper) - 1:
            step_lower = True
        elif i == len(lower) - 1:
            step_lower = False
        else:
            step_lower = np.hypot(*(p[lower[i + 1]] - p[upper[j]])) <= np.hypot(
                *(p[lower[i]] - p[upper[j + 1]])
            )
        if step_lower:
            out.append((lower[i], lower[i + 1], upper[j]))
            i += 1
        else:
            out.append((lower[i], upper[j + 1], upper[j]))
            j += 1
    return out
