"""Triangle meshes of a plan with holes, the straight sides keeping the true curves' area."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from threading import Lock

import numpy as np
import shapely
from skfem import MeshTri

from platemodel.errors import GeometryError
from platemodel.fem.arrays import Bools, Floats, Ints
from platemodel.fem.edge_row import edge_row, fill_row
from platemodel.fem.slender_band import SlenderBand, fill, rim, slender_rows

TRIALS = 6  # meshes made before the row along the boundaries is left out altogether
LEAST_ANGLE = 0.05  # rad: flatter triangles lose the digits of a quintic's second derivatives

_MESHER = Lock()  # it keeps global state


@dataclass(frozen=True)
class Loop:
    """A closed boundary curve, traced densely.

    Attributes
    ----------
    points : array (n, 2)
        m, without repeating the first point; spacing well below the wanted triangle size.
    corners : int array (k,)
        Indices of points where the tangent jumps. May be empty.
    """

    points: np.ndarray
    corners: np.ndarray


@dataclass(frozen=True)
class Fineness:
    """How fine the mesh is.

    Attributes
    ----------
    size : float
        Largest triangle side inside, m.
    hole_size : float
        Largest side along holes, m.
    turn : float
        Largest change of direction from one side of a boundary polygon to the next, rad.
    grading : float
        0 to 1: how fast triangles may grow away from small ones.
    edge : float
        Width of the row of slender triangles along all boundaries, m; 0 for none.
    """

    size: float
    hole_size: float
    turn: float = 0.5
    grading: float = 0.5
    edge: float = 0.0


def area_true_polygon(loop: Loop, size: float, turn: float, shortest: float = 0.0) -> Floats:
    """Polygon along a loop, its sides shifted so that each keeps the area under its arc.

    Parameters
    ----------
    loop : Loop
        Counter-clockwise.
    size : float
        Longest side, m.
    turn : float
        Largest turning of the curve along a side, rad.
    shortest : float
        Sides are not made shorter than this for the sake of ``turn``, m.

    Returns
    -------
    array (m, 2)
        Vertices, counter-clockwise. True corners keep to the crossing of their two shifted sides.
    """
    points = loop.points
    n = len(points)
    starts = np.sort(np.asarray(loop.corners, dtype=int))
    smooth = len(starts) == 0
    if smooth:
        starts = np.array([0])
    chosen = []
    for k, start in enumerate(starts):
        stop = starts[(k + 1) % len(starts)]
        count = (stop - start) % n or n
        index = (start + np.arange(count + 1)) % n
        arc = points[index]
        step = np.hypot(*np.diff(arc, axis=0).T)
        heading = np.unwrap(np.arctan2(*np.diff(arc, axis=0).T[::-1]))
        turning = np.abs(np.diff(heading, prepend=heading[0]))
        by_turning = np.minimum(turning / turn, step / shortest if shortest else np.inf)
        density = np.maximum(step / size, by_turning)  # a side ends by length or by turning
        along = np.concatenate([[0.0], np.cumsum(density)])
        sides = max(int(np.ceil(along[-1] - 1e-9)), 3 if smooth else 1)
        cut = np.searchsorted(along, np.linspace(0.0, along[-1], sides + 1)[:-1] - 1e-12)
        cut = np.unique(np.minimum(cut, count - 1))
        chosen.append(index[cut])
    return _shift_sides(points, np.concatenate(chosen))


def _shift_sides(points: Floats, chosen: Ints) -> Floats:
    """Move each side outwards by (area between arc and chord) / length, and cross neighbours."""
    vertices = points[chosen]
    n = len(points)
    following = np.roll(chosen, -1)
    shift = np.empty(len(chosen))
    for k, (i, j) in enumerate(zip(chosen, following, strict=True)):
        arc = points[(i + np.arange((j - i) % n + 1)) % n]
        x, y = (arc - arc[0]).T
        area = 0.5 * np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])  # left of the chord is positive
        shift[k] = area / np.hypot(*(arc[-1] - arc[0]))
    side = np.roll(vertices, -1, axis=0) - vertices
    length = np.hypot(*side.T)
    normal = np.stack([side[:, 1], -side[:, 0]], axis=1) / length[:, None]  # outward of a ccw polygon
    before = np.roll(normal, 1, axis=0)
    d_before = np.roll(shift, 1)
    # smallest move v with v.n1 = d1 and v.n2 = d2; nearly parallel neighbours take the mean
    cosine = (normal * before).sum(1)
    parallel = cosine > 0.999
    det = np.where(parallel, 1.0, 1.0 - cosine**2)
    a = np.where(parallel, 0.25 * (shift + d_before), (d_before - cosine * shift) / det)
    b = np.where(parallel, 0.25 * (shift + d_before), (shift - cosine * d_before) / det)
    move = a[:, None] * before + b[:, None] * normal
    limit = 0.5 * np.minimum(length, np.roll(length, 1))
    far = np.hypot(*move.T)
    move *= np.minimum(1.0, limit / np.maximum(far, 1e-300))[:, None]
    return vertices + move


def check_loops(outer: Floats, holes: Iterable[Floats], clearance: float) -> None:
    """Refuse boundaries that a mesher would hang on.

    Raises
    ------
    GeometryError
        A curve crosses itself, a hole is not strictly inside, or two curves are closer than ``clearance``.
    """
    polygon = shapely.Polygon(outer)
    if not polygon.is_valid:
        msg = f"the outline crosses itself: {shapely.is_valid_reason(polygon)} (coordinates in m)"
        raise GeometryError(msg)
    shapes: list[shapely.Polygon] = []
    for number, hole in enumerate(holes, start=1):
        shape = shapely.Polygon(hole)
        if not shape.is_valid:
            msg = f"hole {number} crosses itself: {shapely.is_valid_reason(shape)} (coordinates in m)"
            raise GeometryError(msg)
        gap = polygon.exterior.distance(shape)
        if not polygon.contains(shape) or gap < clearance:
            msg = f"hole {number} must lie inside the outline with {clearance * 1e3:.2f} mm to spare"
            raise GeometryError(msg)
        for other_number, other in enumerate(shapes, start=1):
            if shape.distance(other) < clearance:
                msg = f"holes {other_number} and {number} are closer than {clearance * 1e3:.2f} mm"
                raise GeometryError(msg)
        shapes.append(shape)


def mesh_plan(
    outer: Loop, holes: Sequence[Loop] = (), fineness: Fineness | None = None, band: SlenderBand | None = None
) -> MeshTri:
    """Mesh a plan bounded by one outer loop and any holes.

    Parameters
    ----------
    fineness : Fineness, optional
        Default: about a twentieth of the larger side of the plan.
    band : SlenderBand, optional
        Strip of slender triangles where a rib may be glued; left out where it does not fit.

    Raises
    ------
    GeometryError
        See `check_loops`.
    """
    extent = np.ptp(outer.points, axis=0).max()
    fineness = fineness or Fineness(extent / 20, extent / 60)
    loops = [_counter_clockwise(outer), *(_counter_clockwise(h) for h in holes)]
    check_loops(loops[0].points, [h.points for h in loops[1:]], 1e-4 * extent)
    polygons = [area_true_polygon(loops[0], fineness.size, fineness.turn, fineness.size / 3)]
    polygons += [
        area_true_polygon(h, fineness.hole_size, fineness.turn, fineness.hole_size / 4) for h in loops[1:]
    ]
    check_loops(polygons[0], polygons[1:], 1e-5 * extent)
    rows = None if band is None else slender_rows(band, fineness.size, polygons)
    strip = [] if rows is None else [rim(rows)]
    without = [np.zeros(len(polygon), dtype=bool) for polygon in polygons]
    for _ in range(TRIALS if fineness.edge else 0):
        p, t = _with_edge_rows(polygons, strip, rows, fineness, without)
        flat = p[:, t[:, _smallest_angles(p, t) < LEAST_ANGLE]].mean(axis=1).T
        before = sum(left_out.sum() for left_out in without)
        # where the row forces the mesher to a splinter there is no row
        for polygon, left_out in zip(polygons, without, strict=True) if len(flat) else ():
            near = np.hypot(*(polygon[:, None] - flat).transpose(2, 0, 1)).min(axis=1)
            left_out |= near < 2.0 * fineness.edge
        if sum(left_out.sum() for left_out in without) == before:
            return _mesh(p, t)  # sound, or what is left is the strip's where a hole squeezes it
    return _mesh(*_with_edge_rows(polygons, strip, rows, replace(fineness, edge=0.0), without))


def _with_edge_rows(
    polygons: Sequence[Floats],
    strip: Sequence[Floats],
    rows: Floats | None,
    fineness: Fineness,
    without: Sequence[Bools],
) -> tuple[Floats, Ints]:
    """Points and triangles of the whole plan."""
    inner: list[Floats | None] = [None] * len(polygons)
    for i, polygon in enumerate(polygons if fineness.edge else ()):
        clear = [*polygons, *strip, *(line for line in inner if line is not None)]
        inner[i] = edge_row(polygon, 1 if i == 0 else -1, fineness.edge, clear, without[i])
    seen = [polygon if line is None else line for polygon, line in zip(polygons, inner, strict=True)]
    p, t = _triangulate([*seen, *strip], fineness)
    if rows is not None:
        p, t = _join(p, t, rows)
    for polygon, line in zip(polygons, inner, strict=True):
        if line is not None:
            points, row = fill_row(polygon, line, p)
            p, t = np.concatenate([p, points.T], axis=1), np.concatenate([t, row], axis=1)
    return p, t


def _smallest_angles(p: Floats, t: Ints) -> Floats:
    """Smallest angle of each triangle, rad."""
    corners = p[:, t]
    out = []
    for k in range(3):
        u, v = corners[:, (k + 1) % 3] - corners[:, k], corners[:, (k + 2) % 3] - corners[:, k]
        out.append(np.arccos(np.clip((u * v).sum(axis=0) / np.hypot(*u) / np.hypot(*v), -1.0, 1.0)))
    return np.min(out, axis=0)


def _join(p: Floats, t: Ints, rows: Floats) -> tuple[Floats, Ints]:
    """Fill the hole that the mesher left for the strip."""
    corners = np.sort(np.concatenate([t[[0, 1]], t[[1, 2]], t[[0, 2]]], axis=1), axis=0)
    edges, count = np.unique(corners, axis=1, return_counts=True)
    border = np.unique(edges[:, count == 1])
    ring = shapely.LinearRing(rim(rows))
    border = border[shapely.distance(shapely.points(p[:, border].T), ring) < 1e-6 * ring.length]
    points, triangles = fill(rows, p[:, border].T)
    numbers = np.concatenate([border, p.shape[1] + np.arange(len(points) - len(border))])
    return np.concatenate([p, points[len(border) :].T], axis=1), np.concatenate(
        [t, numbers[triangles]], axis=1
    )


def _mesh(p: Floats, t: Ints) -> MeshTri:
    return MeshTri(np.ascontiguousarray(p), np.ascontiguousarray(np.sort(t, axis=0)))


def _counter_clockwise(loop: Loop) -> Loop:
    x, y = loop.points.T
    if np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) > 0:
        return loop
    n = len(loop.points)
    return Loop(loop.points[::-1], np.sort(n - 1 - np.asarray(loop.corners, dtype=int)))


def _triangulate(polygons: Sequence[Floats], fineness: Fineness) -> tuple[Floats, Ints]:
    from netgen.geom2d import SplineGeometry  # loads a large library: only when a mesh is made
    from netgen.libngpy._meshing import NgException

    geometry = SplineGeometry()
    scale = np.ptp(polygons[0], axis=0).max()  # the mesher works on a body about 1 long
    for number, polygon in enumerate(polygons):
        ids = [geometry.AppendPoint(*point) for point in polygon / scale]
        inside, outside = (1, 0) if number == 0 else (0, 1)
        for k, first in enumerate(ids):
            geometry.Append(
                ["line", first, ids[(k + 1) % len(ids)]],
                leftdomain=inside,
                rightdomain=outside,
                bc=number + 1,
            )
    try:
        with _MESHER:
            made = geometry.GenerateMesh(
                maxh=fineness.size / scale, grading=fineness.grading, quad_dominated=False
            )
    except NgException as error:
        msg = (
            "no triangles fill the outline about its holes and the rib; somewhere a line doubles back, or "
            "all but meets another: draw the plan, and look for it"
        )
        raise GeometryError(msg) from error
    p = np.array([point.p[:2] for point in made.Points()]).T * scale
    t = np.array([[v.nr - 1 for v in element.vertices] for element in made.Elements2D()]).T
    used = np.unique(t)
    renumber = np.full(p.shape[1], -1)
    renumber[used] = np.arange(len(used))
    return p[:, used], renumber[t]


def rectangle(
    length: float,
    width: float,
    nx: int,
    ny: int,
    origin: tuple[float, float] = (0.0, 0.0),
    diagonals: str = "alternating",
) -> MeshTri:
    """Return a structured mesh of a rectangle, for plates whose answer is known.

    Parameters
    ----------
    length, width : float
        m.
    nx, ny : int
        Cells in each direction; each becomes two triangles.
    origin : pair of float
        Lower left corner, m.
    diagonals : {"alternating", "same"}
    """
    if not (length > 0 and width > 0 and nx >= 1 and ny >= 1):
        msg = f"a rectangle of {length} x {width} m in {nx} x {ny} cells: all four must be positive"
        raise GeometryError(msg)
    x = origin[0] + np.linspace(0.0, length, nx + 1)
    y = origin[1] + np.linspace(0.0, width, ny + 1)
    p = np.stack([g.ravel() for g in np.meshgrid(x, y, indexing="ij")])
    triangles = []
    for i in range(nx):
        for j in range(ny):
            a, b = i * (ny + 1) + j, (i + 1) * (ny + 1) + j
            if diagonals == "same" or (i + j) % 2 == 0:
                triangles += [(a, b, b + 1), (a, b + 1, a + 1)]
            else:
                triangles += [(a, b, a + 1), (b, b + 1, a + 1)]
    return MeshTri(p, np.sort(np.array(triangles).T, axis=0))
