"""A strip of slender triangles along a line where a rib may be glued.

A rib's fields change within its own width across, but slowly along. Rows of slender triangles follow it at a
quarter of the cost of small ones all over. The rib itself stays independent of the mesh: it may lie anywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from platemodel.fem.arrays import Floats, Ints

Points = Sequence[tuple[float, ...]]

# Rows on one side, in rib widths from the middle line: the edge of the glued width, where the plate kinks,
# and one beside it. No row lies within the glued width, where the rib's other lines are.
ROWS = np.array([0.5, 1.1])
ENDS = np.array([0.7])  # rows across near an end, in rib widths on both sides of it
LEAST = 0.2  # rib widths that must be free beside the middle line


@dataclass(frozen=True)
class SlenderBand:
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


def slender_rows(band: SlenderBand, size: float, loops: Sequence[Floats]) -> Floats | None:
    """Rows of points of a strip, pulled in where a hole or the edge is near.

    Parameters
    ----------
    size : float
        Largest spacing along the strip, m.
    loops : sequence of array (n, 2)
        Boundary polygons, m.

    Returns
    -------
    array (rows, n, 2) or None
        None when the strip does not fit.
    """
    start, end = np.asarray(band.start, dtype=float), np.asarray(band.end, dtype=float)
    length = np.hypot(*(end - start))
    tangent = (end - start) / length
    across = np.array([-tangent[1], tangent[0]])
    middle = start + _places(length, size, band.width)[:, None] * tangent
    n = len(middle)
    lines = shapely.MultiLineString([np.vstack([loop, loop[:1]]) for loop in loops])
    pieces = shapely.linestrings(np.stack([middle[:-1], middle[1:]], axis=1))
    count = len(ROWS)
    rows = np.empty((2 * count, n, 2))
    for side in (-1.0, 1.0):
        reach = ROWS[-1] * band.width
        ahead = side * 2.0 * reach * across
        corners = [middle[:-1], middle[1:], middle[1:] + ahead, middle[:-1] + ahead]
        near = shapely.intersection(lines, shapely.polygons(np.stack(corners, axis=1)))
        free = np.where(shapely.is_empty(near), np.inf, shapely.distance(pieces, near))
        free = np.minimum(np.append(free, np.inf), np.append(np.inf, free))
        if free.min() < LEAST * band.width:
            return None
        # where the strip is squeezed the rows keep their order, all of them within what is free
        squeezed = 0.85 * free * np.linspace(0.75, 1.0, count)[:, None]
        offsets = np.minimum(ROWS[:, None] * band.width, squeezed)
        places = middle + side * offsets[..., None] * across
        rows[count:] = places if side > 0 else rows[count:]
        if side < 0:
            rows[:count] = places[::-1]
    outline = shapely.Polygon(rim(rows))
    plate = shapely.Polygon(loops[0], [loop for loop in loops[1:]])
    return rows if plate.contains(outline) else None


def _places(length: float, size: float, width: float) -> Floats:
    """Distances of the mesh points along the strip from the rib's start: even, with rows at its two ends."""
    near = width * np.concatenate([-ENDS[::-1], [0.0], ENDS])
    inner = np.linspace(near[-1], length - near[-1], max(int(np.ceil((length - 2 * near[-1]) / size)), 1) + 1)
    return np.concatenate([near[:-1], inner, length + near[1:]])


def rim(rows: Floats) -> Floats:
    """Boundary of the strip, counter-clockwise: (m, 2)."""
    last = len(rows) - 1
    return np.concatenate([rows[0], rows[1:last, -1], rows[last][::-1], rows[1:last, 0][::-1]])


def fill(rows: Floats, boundary: Floats) -> tuple[Floats, Ints]:
    """Triangulate the strip inside a boundary that a mesher may have divided further.

    Parameters
    ----------
    rows : array (rows, n, 2)
    boundary : array (m, 2)
        Mesh points on the strip's rim; contains all points of `rim`.

    Returns
    -------
    points : array (p, 2)
        Boundary points as given, then the inner ones.
    triangles : int array (3, t)
    """
    points: list[tuple[float, ...]] = [tuple(p) for p in boundary]
    tolerance = 1e-6 * np.hypot(*(rows[0, -1] - rows[0, 0]))

    def number(point: Floats) -> int:
        distance = np.hypot(*(np.array(points) - point).T)
        best = int(np.argmin(distance))
        if distance[best] < tolerance:
            return best
        points.append(tuple(point))
        return len(points) - 1

    chains, every, last_row = [], range(len(boundary)), len(rows) - 1
    for k in range(len(rows)):
        chain = [number(p) for p in rows[k]]
        chains.append(divide(chain, every, points, tolerance) if k in (0, last_row) else chain)
    triangles = []
    for lower, upper in pairwise(chains):
        first = divide([lower[0], upper[0]], every, points, tolerance)[1:-1]
        last = divide([lower[-1], upper[-1]], every, points, tolerance)[1:-1]
        triangles += zip_chains(first[::-1] + lower + last, upper, points, (len(first), len(last)))
    return np.array(points), np.array(triangles).T


def divide(chain: Sequence[int], among: Sequence[int] | Ints, points: Points, tolerance: float) -> list[int]:
    """Insert those of some points (numbers) that lie between consecutive points of a chain."""
    out = [chain[0]]
    some = np.array([points[i] for i in among])
    for a, b in pairwise(chain):
        p, q = np.array(points[a]), np.array(points[b])
        length = np.hypot(*(q - p))
        t = (q - p) / length
        s = (some - p) @ t
        off = np.abs((some - p) @ np.array([-t[1], t[0]]))
        inside = np.flatnonzero((off < tolerance) & (s > tolerance) & (s < length - tolerance))
        out += [int(among[i]) for i in inside[np.argsort(s[inside])]] + [b]
    return out


def zip_chains(
    lower: Sequence[int], upper: Sequence[int], points: Points | Floats, caps: tuple[int, int] = (0, 0)
) -> list[tuple[int, int, int]]:
    """Triangles between two chains that run the same way.

    Parameters
    ----------
    lower, upper : list of int
        Numbers of points.
    points : sequence
    caps : pair of int
        How many points at the beginning and at the end of the lower chain lie on a straight line with the
        first and the last of the upper one: no triangle may be made of these alone.
    """
    p = np.array(points)
    i = j = 0
    out = []
    while i < len(lower) - 1 or j < len(upper) - 1:
        if i == 0 and j == 0 and caps[0]:
            step_lower = False
        elif (j == len(upper) - 2 and caps[1] and i < len(lower) - 1) or j == len(upper) - 1:
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
