"""A row of slender triangles along a boundary, for the edge layer of twist.

Where a plate twists along a free edge its twisting moment turns into a shear force over about one thickness
(Kirchhoff's edge layer; Reissner 1945). Larger triangles cannot follow that, however many there are
elsewhere, and make the plate 0.2 to 0.6 % too stiff.
"""

from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np
import shapely

from platemodel.fem.arrays import Bools, Floats, Ints
from platemodel.fem.slender_band import divide, zip_chains

NARROWEST = 0.35  # of the wanted width: where no more fits, the row is left out
SIDE = 0.4  # of a neighbouring side that a row may take away at a corner
TRIALS = 12  # times that more of a row is left out where it does not fit
LEAST_ANGLE = 0.07  # rad, of the row's triangles; flatter ones lose digits
ROOM_SHARE = 0.3  # of the way to the next boundary that a row may take


def edge_row(
    polygon: Floats, inward: int, width: float, others: Sequence[Floats], without: Bools | None = None
) -> Floats | None:
    """Inner line of a row along a closed boundary, point for point.

    Parameters
    ----------
    polygon : array (n, 2)
        Boundary, counter-clockwise.
    inward : {1, -1}
        1: the plate lies inside the boundary; -1: outside of it (a hole).
    width : float
        m; less is taken at sharp corners and in narrow places.
    others : sequence of array (m, 2)
        All boundaries and what else the row must keep clear of.
    without : bool array (n,), optional
        Points that get no row.

    Returns
    -------
    array (n, 2) or None
        Equal to the boundary's point where no row fits; None where it fits nowhere.
    """
    after, before = np.roll(polygon, -1, axis=0) - polygon, polygon - np.roll(polygon, 1, axis=0)
    sides = [np.hypot(*v.T) for v in (before, after)]
    units = [v / s[:, None] for v, s in zip((before, after), sides, strict=True)]
    normals = [inward * np.stack([-u[:, 1], u[:, 0]], axis=1) for u in units]
    bisector = normals[0] + normals[1]
    half = 0.5 * np.hypot(*bisector.T)  # sine of half the plate's angle at the corner
    bisector /= np.maximum(2.0 * half, 1e-9)[:, None]
    turning = inward * (units[0][:, 0] * units[1][:, 1] - units[0][:, 1] * units[1][:, 0])
    # at a corner of less than 180 degrees the inner sides are shorter than the outer ones
    tangent = half / np.sqrt(np.maximum(1.0 - half**2, 1e-12))
    allowed = np.where(turning > 1e-6, SIDE * np.minimum(*sides) * tangent, np.inf)
    far = 4.0 * width
    rays = shapely.linestrings(
        np.stack([polygon + 1e-3 * width * bisector, polygon + far * bisector], axis=1)
    )
    edges = shapely.MultiLineString([np.vstack([p, p[:1]]) for p in others])
    hits = shapely.intersection(rays, edges)
    free = np.where(shapely.is_empty(hits), np.inf, shapely.distance(shapely.points(polygon), hits))
    allowed = np.minimum(allowed, ROOM_SHARE * free * half)
    beside = np.minimum(np.roll(allowed, 1), np.roll(allowed, -1)) + 0.5 * width  # no sudden steps
    depth = np.minimum(np.minimum(allowed, beside), width)
    depth[depth < NARROWEST * width] = 0.0
    if without is not None:
        depth[without] = 0.0
    outward = bisector / np.maximum(half, 0.3)[:, None]
    clear = [shapely.LinearRing(p) for p in others if p is not polygon]
    for _ in range(TRIALS):
        inner = polygon + depth[:, None] * outward
        bad = _trouble(polygon, inner, depth > 0.0, clear)
        if not bad.any():
            return inner if np.any(depth > 0.0) else None
        depth[bad] = 0.0
    return None


def _trouble(outer: Floats, inner: Floats, moved: Bools, clear: Iterable[shapely.LinearRing]) -> Bools:
    """Points of an inner line at which it turns back, crosses itself or a boundary: (n,) bool."""
    after = np.roll(inner, -1, axis=0) - inner
    before = np.roll(outer, -1, axis=0) - outer
    bad = (after * before).sum(axis=1) <= 0.15 * (before**2).sum(axis=1)
    sides = shapely.linestrings(np.stack([inner, np.roll(inner, -1, axis=0)], axis=1))
    edges = shapely.linestrings(np.stack([outer, np.roll(outer, -1, axis=0)], axis=1))
    tree = shapely.STRtree(np.concatenate([sides, edges]))
    one, other = tree.query(sides, predicate="intersects")
    apart = np.abs(one - other % len(inner))
    bad[one[np.minimum(apart, len(inner) - apart) > 1]] = True
    for ring in clear:
        bad |= shapely.intersects(sides, ring)
    ahead_outer, ahead_inner = np.roll(outer, -1, axis=0), np.roll(inner, -1, axis=0)
    bad |= _flattest(outer, ahead_outer, inner) < LEAST_ANGLE
    bad |= _flattest(ahead_outer, ahead_inner, inner) < LEAST_ANGLE
    return (bad | np.roll(bad, 1)) & moved


def _flattest(a: Floats, b: Floats, c: Floats) -> Floats:
    """Smallest angle of triangles, rad; of those without a side a right one: (n,)."""
    out = np.full(len(a), np.pi / 2)
    for p, q, r in ((a, b, c), (b, c, a), (c, a, b)):
        u, v = q - p, r - p
        size = np.hypot(*u.T) * np.hypot(*v.T)
        cosine = (u * v).sum(axis=1) / np.maximum(size, 1e-300)
        angle = np.where(size > 1e-15, np.arccos(np.clip(cosine, -1.0, 1.0)), np.pi / 2)
        out = np.minimum(out, angle)
    whole = np.min([np.hypot(*(q - p).T) for p, q in ((a, b), (b, c), (c, a))], axis=0) > 1e-9
    return np.where(whole, out, np.pi / 2)


def fill_row(outer: Floats, inner: Floats, p: Floats) -> tuple[Floats, Ints]:
    """Triangulate a row between a boundary and its inner line, which a mesher may have divided further.

    Parameters
    ----------
    outer, inner : array (n, 2)
        Points that belong together.
    p : array (2, m)
        Mesh points, among them those of the inner line.

    Returns
    -------
    points : array (k, 2)
        Those of the boundary that are new; numbered from m on.
    triangles : int array (3, t)
    """
    points = [tuple(q) for q in p.T]
    tolerance = 1e-6 * float(np.ptp(outer, axis=0).max())
    ring = shapely.LinearRing(inner)
    near = np.flatnonzero(shapely.distance(shapely.points(p.T), ring) < tolerance)
    corner = near[np.argmin(np.hypot(*(p[:, near, None] - inner.T[:, None])), axis=0)]
    m, n = len(points), len(outer)
    apart = np.hypot(*(outer - inner).T) > tolerance
    number = np.where(apart, m + np.cumsum(apart) - 1, corner)
    points += [tuple(q) for q in outer[apart]]
    triangles = []
    for k in range(n):
        nxt = (k + 1) % n
        if not (apart[k] or apart[nxt]):
            continue
        chain = divide([int(corner[k]), int(corner[nxt])], near, points, tolerance)
        # a row that begins or ends at a point of the boundary
        lower = [int(number[i]) for i in (k, nxt) if apart[i]]
        if len(lower) == 2:
            triangles += zip_chains(lower, chain, points)
        else:
            triangles += [(lower[0], a, b) for a, b in pairwise(chain)]
    return outer[apart], np.array(triangles).T
