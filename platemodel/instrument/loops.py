"""Closed loops of points with corners: the common ground of outlines and sound holes."""

from itertools import pairwise

import numpy as np
from scipy.interpolate import BPoly, make_splprep
from shapely.geometry import Polygon
from shapely.validation import explain_validity

from platemodel.errors import GeometryError

CORNER = np.deg2rad(42)  # least turn of a corner; real ones turn by 60 and more


def arc_length(p: np.ndarray) -> np.ndarray:
    """Cumulative length along an open chain of points (n, 2), from 0."""
    return np.r_[0.0, np.cumsum(np.hypot(*np.diff(p, axis=0).T))]


def hermite_curve(nodes, spacing: float) -> np.ndarray:
    """Dense points of a curve through nodes with given tangents and curvatures (G2: curvature is continuous).

    Parameters
    ----------
    nodes : sequence of (x, y, angle, curvature)
        Place in m, tangent angle in rad, signed curvature in 1/m (positive turns left).
    spacing : float
        About the distance between points, m.

    Returns
    -------
    ndarray
        (n, 2) including both ends.
    """
    nodes = np.asarray(nodes, float)
    tangent = np.c_[np.cos(nodes[:, 2]), np.sin(nodes[:, 2])]
    normal = np.c_[-tangent[:, 1], tangent[:, 0]]
    pieces = []
    for a, b in pairwise(range(len(nodes))):
        chord = np.hypot(*(nodes[b, :2] - nodes[a, :2]))
        turn = abs(nodes[b, 2] - nodes[a, 2])
        # An arc that turns by the angle t is longer than its chord by (t/2)/sin(t/2).
        speed = chord * (1.0 if turn < 1e-6 else (turn / 2) / np.sin(min(turn, 3.0) / 2))
        ends = [
            np.array([nodes[i, :2], speed * tangent[i], speed**2 * nodes[i, 3] * normal[i]]) for i in (a, b)
        ]
        curve = BPoly.from_derivatives([0, 1], ends)
        fine = curve(np.linspace(0, 1, 200))
        pieces.append(resampled(fine, spacing)[:-1])
    return np.vstack([*pieces, nodes[-1:, :2]])


def resampled(p: np.ndarray, spacing: float) -> np.ndarray:
    """Open chain (n, 2) at even steps of about ``spacing`` along it, both ends kept."""
    s = arc_length(p)
    t = np.linspace(0, s[-1], max(2, round(s[-1] / spacing) + 1))
    return np.c_[np.interp(t, s, p[:, 0]), np.interp(t, s, p[:, 1])]


def joined(segments) -> tuple[np.ndarray, np.ndarray]:
    """Loop and corner indices from open chains, each starting where the one before it ended."""
    segments = [np.asarray(s) for s in segments]
    starts = np.cumsum([0] + [len(s) - 1 for s in segments])
    return np.vstack([s[:-1] for s in segments]), starts[:-1]


def oriented(points: np.ndarray, corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Loop turned counter-clockwise, corner indices moved with it."""
    x, y = points.T
    area = np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))
    if area > 0:
        return points, np.sort(corners)
    return points[::-1], np.sort(len(points) - 1 - np.asarray(corners, int))


def checked_polygon(points: np.ndarray, what: str) -> Polygon:
    """Polygon of a loop.

    Raises
    ------
    GeometryError
        If the loop has fewer than 3 points or crosses itself; the message says where.
    """
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < 3:
        msg = f"{what}: needs at least 3 points (n, 2), found an array of shape {points.shape}"
        raise GeometryError(msg)
    if not np.isfinite(points).all():
        msg = f"{what}: point {int(np.flatnonzero(~np.isfinite(points).all(axis=1))[0]) + 1} is not a number"
        raise GeometryError(msg)
    polygon = Polygon(points)
    if not polygon.is_valid:
        reason = explain_validity(polygon)
        where = reason[reason.find("[") + 1 : reason.find("]")].split()
        place = (
            f" near x = {1000 * float(where[0]):.1f}, y = {1000 * float(where[1]):.1f} mm"
            if len(where) == 2
            else ""
        )
        msg = (
            f"{what}: the line is not a simple closed curve ({reason.split('[')[0].lower()}){place}; "
            "correct the points there"
        )
        raise GeometryError(msg)
    return polygon


def find_corners(points: np.ndarray, reach: float, turning: float) -> np.ndarray:
    """Find where a closed loop turns by more than an angle within ``reach`` to either side.

    Parameters
    ----------
    points : ndarray
        (n, 2) closed loop without repeated first point.
    reach : float
        Distance along the loop over which directions before and after are taken, m.
    turning : float
        Least turning angle of a corner, rad.
    """
    n = len(points)
    chain = np.vstack([points, points, points, points[:1]])
    s = arc_length(chain)
    mine = s[n : 2 * n]
    before, after = (
        np.c_[np.interp(mine + d, s, chain[:, 0]), np.interp(mine + d, s, chain[:, 1])]
        for d in (-reach, reach)
    )
    a, b = points - before, after - points
    angle = np.abs(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)))
    found = []
    perimeter = s[n] - s[0]
    for i in np.argsort(-angle):
        if angle[i] < turning:
            break
        gap = [abs((mine[i] - mine[j] + perimeter / 2) % perimeter - perimeter / 2) for j in found]
        if all(g > 0.8 * reach for g in gap):
            found.append(int(i))
    return np.sort(np.array(found, dtype=int))


def smoothed_loop(
    points: np.ndarray, corners: np.ndarray, spacing: float, noise: float
) -> tuple[np.ndarray, np.ndarray]:
    """Loop through traced points, smoothed between its corners, at even spacing.

    Each run from corner to corner becomes a cubic smoothing spline whose misfit is about ``noise`` (m) in
    either coordinate; the corners themselves stay.

    Returns
    -------
    points : ndarray
        (m, 2).
    corners : ndarray
        Indices into them.
    """
    n = len(points)
    if len(corners) == 0:
        # A closed smooth loop: fit one turn and a bit, so that the seam has neighbours on both sides, keep
        # one turn.
        wrap = min(n - 1, max(8, n // 6))
        chain = np.vstack([points[-wrap:], points, points[: wrap + 1]])
        s = arc_length(chain)
        curve = _spline(chain, s, noise)
        t = np.linspace(
            s[wrap], s[wrap + n], max(12, round((s[wrap + n] - s[wrap]) / spacing)), endpoint=False
        )
        return np.asarray(curve(t)).T, np.array([], dtype=int)
    segments = []
    for a, b in zip(corners, np.r_[corners[1:], corners[0] + n], strict=True):
        chain = points[np.arange(a, b + 1) % n]
        s = arc_length(chain)
        if len(chain) < 5:
            segments.append(resampled(chain, spacing))
            continue
        curve = _spline(chain, s, noise)
        t = np.linspace(0, s[-1], max(3, round(s[-1] / spacing) + 1))
        dense = np.asarray(curve(t)).T
        dense[0], dense[-1] = chain[0], chain[-1]
        segments.append(dense)
    return joined(segments)


def _spline(chain, s, noise):
    weights = np.ones(len(chain))
    weights[[0, -1]] = 1e3  # holds the ends, which neighbouring runs share
    return make_splprep(chain.T, u=s, w=weights, k=3, s=2 * len(chain) * noise**2)[0]


def thinned(points: np.ndarray, least: float, keep: np.ndarray = ()) -> tuple[np.ndarray, np.ndarray]:
    """Loop whose points are at least a distance apart, in order, some of them kept whatever their distance.

    Parameters
    ----------
    points : ndarray
        (n, 2) closed loop.
    least : float
        Distance, m.
    keep : ndarray of int
        Indices of points to keep, such as corners.

    Returns
    -------
    points : ndarray
        (m, 2).
    kept : ndarray
        Indices of the kept points in it.
    """
    keep = set(np.asarray(keep, int).tolist())
    # Starting at a kept point, so that none is lost at the seam.
    start = min(keep, default=0)
    chosen = []
    for i in np.roll(np.arange(len(points)), -start).tolist():
        if i in keep:
            while chosen and chosen[-1] not in keep and np.hypot(*(points[i] - points[chosen[-1]])) < least:
                chosen.pop()
            chosen.append(i)
        elif not chosen or np.hypot(*(points[i] - points[chosen[-1]])) >= least:
            chosen.append(i)
    while (
        len(chosen) > 3
        and chosen[-1] not in keep
        and np.hypot(*(points[chosen[-1]] - points[chosen[0]])) < least
    ):
        chosen.pop()
    return points[chosen], np.flatnonzero([i in keep for i in chosen])


def trace_loop(
    points: np.ndarray, corners: np.ndarray | None, reach: float, spacing: float, noise: float, what: str
) -> tuple[np.ndarray, np.ndarray]:
    """Clean loop and corner indices from a traced line.

    Parameters
    ----------
    points : ndarray
        (n, 2) m, either direction, with or without the first point repeated at the end.
    corners : ndarray or None
        Indices of corners, if known.
    reach : float
        Length over which a corner is looked for, m.
    spacing : float
        Wanted spacing, m; points traced closer than a pen can place them are thinned out.
    noise : float
        Uncertainty of the tracing, m.
    what : str
        Name for messages.
    """
    p = np.asarray(points, float)
    if p.ndim != 2 or p.shape[1] != 2 or len(p) < 8:
        msg = f"{what}: found an array of shape {p.shape}; needs at least 8 points with x and y"
        raise GeometryError(msg)
    p = p[:-1] if np.hypot(*(p[0] - p[-1])) < 1e-3 * spacing else p
    if corners is None:
        coarse, _ = thinned(p, spacing)
        steps = np.hypot(*(np.roll(coarse, -1, axis=0) - coarse).T)
        # Shaking makes a densely traced line longer than it is; the reach follows along it.
        stretch = np.hypot(*(np.roll(p, -1, axis=0) - p).T).sum() / steps.sum()
        corners = find_corners(p, stretch * max(reach, 1.2 * float(np.median(steps))), CORNER)
    p, corners = thinned(p, spacing, corners)
    checked_polygon(p, what)
    return smoothed_loop(p, corners, spacing, noise)


def half_widths(points: np.ndarray, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distances from y = 0 out to a closed loop at x, towards -y and +y, m; 0 beyond the loop."""
    x = np.atleast_1d(np.asarray(x, float))
    a, b = points, np.roll(points, -1, axis=0)
    lo, hi = np.minimum(a[:, 0], b[:, 0]), np.maximum(a[:, 0], b[:, 0])
    hit = (x[:, None] >= lo) & (x[:, None] <= hi)
    run = np.where(b[:, 0] == a[:, 0], 1.0, b[:, 0] - a[:, 0])
    y = np.where(hit, a[:, 1] + (x[:, None] - a[:, 0]) * ((b[:, 1] - a[:, 1]) / run), 0.0)
    return -y.min(axis=1), y.max(axis=1)


def read_only(values: np.ndarray) -> np.ndarray:
    """Return a copy of the values that cannot be written to."""
    out = np.array(values, order="C")
    out.flags.writeable = False
    return out
