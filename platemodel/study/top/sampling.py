"""Plate modes sampled on a grid in plan, for recognising, matching and drawing them."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from platemodel.instrument.top import Top
from platemodel.study.top.meshed_top import MeshedTop

INSET = 0.005  # of the body length; polygons of the coarsest mesh cut the true curves by less


@dataclass(frozen=True, eq=False)
class PlanGrid:
    """Points of a top in plan.

    Attributes
    ----------
    x, y : array (nx,), (ny,)
        Grid lines, m.
    inside : bool array (nx, ny)
        On the plate: inside the outline, outside the sound holes.
    edge_distance : array (m,)
        Distance of the inside points from the outline, m.
    rim_distance : array (m,)
        Distance of the inside points from the nearest edge, sound holes included, m.
    area : float
        Plan area each point stands for, m2.
    """

    x: np.ndarray
    y: np.ndarray
    inside: np.ndarray
    edge_distance: np.ndarray
    rim_distance: np.ndarray
    area: float

    @property
    def points(self) -> np.ndarray:
        """Inside points: (2, m)."""
        grid = np.meshgrid(self.x, self.y, indexing="ij")
        return np.stack([g[self.inside] for g in grid])

    def spread(self, values: np.ndarray) -> np.ndarray:
        """Put values at inside points (m,) on the grid, NaN elsewhere: (nx, ny)."""
        out = np.full(self.inside.shape, np.nan)
        out[self.inside] = values
        return out


@lru_cache(maxsize=8)
def plan_grid(top: Top) -> PlanGrid:
    """Lay a grid over a top, just inside its edges so that any mesh of it holds all points."""
    length = top.outline.body_length
    pitch = length / 70
    low, high = top.outline.points.min(axis=0), top.outline.points.max(axis=0)
    x, y = (np.arange(a + 0.3 * pitch, b, pitch) for a, b in zip(low, high, strict=True))
    grid = np.stack([g.ravel() for g in np.meshgrid(x, y, indexing="ij")])
    polygon = top.plan.buffer(-INSET * length)
    shapely.prepare(polygon)
    inside = shapely.contains_xy(polygon, *grid)
    points = shapely.points(grid[:, inside].T)
    edge = shapely.distance(points, shapely.LinearRing(top.outline.points))
    rim = edge
    for hole in top.sound_holes:
        rim = np.minimum(rim, shapely.distance(points, shapely.LinearRing(hole.points)))
    return PlanGrid(x, y, inside.reshape(len(x), len(y)), edge, rim, pitch**2)


def normal_displacement(model: MeshedTop, points: np.ndarray, vectors: np.ndarray) -> np.ndarray:
    """Displacement along the surface normal at points in plan.

    Parameters
    ----------
    points : array (2, m)
        On the meshed plate, m.
    vectors : array (n_dofs, k)
        Shapes in the system's DOFs (a rib's own unknowns at the end are not needed).

    Returns
    -------
    array (m, k)
    """
    return normal_rows(model, points) @ vectors[: model.shell.n_dofs]


def normal_rows(model: MeshedTop, points: np.ndarray):
    """Rows giving the displacement along the normal at points in plan (2, m): sparse (m, n_dofs)."""
    station = model.shell.locate(points)
    return model.shell.operator(station, station.axes[:, 2:3] @ station.displacement_rows())
