"""The air in the body: its cavity, the sound holes, and how the plates pump it."""

from dataclasses import dataclass

import numpy as np
import shapely

from platemodel.fem.cavity import Cavity, Hole, slot_inertance
from platemodel.fem.mesh import Fineness, Loop, mesh_plan
from platemodel.study.body.model import BodyModel

AIR_MODES = 40  # of the cavity with rigid walls, up to some 3.5 kHz on a violin


@dataclass(frozen=True, eq=False)
class BodyAir:
    """Air in a body.

    Attributes
    ----------
    cavity : Cavity
    holes : tuple of Hole
    pumped : array (n, modes of the cavity)
        Integral of each shape times the outward displacement of the walls, for every unknown of the body
        without bar.
    swept : array (n,)
        Volume that the outer faces of top and back sweep, m3 per unit.
    """

    cavity: Cavity
    holes: tuple[Hole, ...]
    pumped: np.ndarray
    swept: np.ndarray


def body_air(model: BodyModel, hole_area: float = 1.0) -> BodyAir:
    """Fill a body with air.

    Parameters
    ----------
    model : BodyModel
    hole_area : float
        Factor on the holes' area, as a heard air tone may ask for.

    Notes
    -----
    Pressure is even over the depth, which holds where half a wave is longer than the body is deep. Ribs do
    not move in the air. Blocks are left out of the plan, and what the linings displace is taken off the depth
    everywhere alike. A hole is the ellipse of its own area and of the length of its middle line (half its
    perimeter less its width).
    """
    body, top = model.body, model.top
    back = body.back_as_top(top.kind)
    upper, lower, length = top.midsurface(), back.midsurface(), body.outline.body_length

    inside = airy(body)
    ribs = body.ribs
    linings = 2.0 * ribs.lining_width * ribs.lining_height * inside.exterior.length

    def bare(x, y):
        between = upper.value(x, y) + lower.value(x, y) + body.ribs.height(x, length)
        return between - 0.5 * (top.thickness.value(x, y) + back.thickness.value(x, y))

    points, areas = points_over(inside, 0.01 * length)
    share = 1.0 - linings / float(bare(*points) @ areas)

    def depth(x, y):
        return share * bare(x, y)

    ring = shapely.get_coordinates(inside.exterior)[:-1]
    ring = ring if inside.exterior.is_ccw else ring[::-1]
    size = length / 25.0
    mesh = mesh_plan(Loop(_even(ring, 0.008 * length), np.array([], dtype=int)), [],
                     Fineness(size, 0.5 * size, turn=0.3, grading=0.6))  # fmt: skip
    cavity = Cavity(mesh, depth, AIR_MODES)
    holes = []
    for hole in top.sound_holes:
        points, _ = points_over(hole.polygon, 0.006 * length)
        wide = hole.area / (0.5 * hole.polygon.length)
        long = 0.5 * hole.polygon.length - wide
        thick = float(np.mean(top.thickness.value(*points)))
        holes.append(Hole(points, slot_inertance(hole_area * hole.area, long, thick)))
    pumped = np.zeros((model.joined.n_bare, len(cavity.omega)))
    swept = np.zeros(model.joined.n_bare)
    shapely.prepare(inside)
    for shell, first, sign in zip(model.joined.shells, model.joined.first[:-1], (1.0, -1.0), strict=True):
        _pump(shell, first, sign, inside, cavity, pumped, swept)
    return BodyAir(cavity, tuple(holes), pumped, swept)


def _pump(shell, first, sign, inside, cavity, pumped, swept):
    station, weights = shell.quadrature, shell.area_weights
    rows = sign * np.einsum("nc,ncj->nj", station.axes[:, 2], station.displacement_rows())
    within = shapely.contains_xy(inside, *station.points)
    pressure = np.where(within[:, None], cavity.at(station.points), 0.0)
    dofs = shell.element_dofs[:, : rows.shape[1]] + first
    nt, columns = len(shell.element_dofs), rows.shape[1]
    split = (rows * weights[:, None]).reshape(nt, -1, columns)
    local = np.swapaxes(split, 1, 2) @ pressure.reshape(nt, -1, pressure.shape[1])
    np.add.at(pumped, dofs.ravel(), local.reshape(-1, pressure.shape[1]))
    np.add.at(swept, dofs.ravel(), split.sum(axis=1).ravel())


def airy(body) -> shapely.Polygon:
    """Plan of the air: inside the ribs, blocks left out, without slivers."""
    open_ = body.inside.difference(shapely.union_all(list(body.footprints.values())))
    sliver = 0.01 * body.outline.body_length
    open_ = open_.buffer(-sliver).buffer(sliver)
    parts = getattr(open_, "geoms", [open_])
    return max(parts, key=lambda part: part.area)


def _even(ring, pitch):
    line = shapely.LinearRing(ring)
    count = int(np.ceil(line.length / pitch))
    at = np.linspace(0.0, line.length, count, endpoint=False)
    return shapely.get_coordinates(shapely.line_interpolate_point(line, at))


def points_over(shape: shapely.Polygon, pitch: float) -> tuple[np.ndarray, np.ndarray]:
    """Points over a plan shape, (2, n), and the area each stands for, (n,)."""
    x0, y0, x1, y1 = shape.bounds
    x, y = (np.arange(a + 0.5 * pitch, b, pitch) for a, b in ((x0, x1), (y0, y1)))
    x, y = (v.ravel() for v in np.meshgrid(x, y))
    inside = shapely.contains_xy(shape, x, y)
    points = np.stack([x[inside], y[inside]])
    return points, np.full(points.shape[1], shape.area / points.shape[1])
