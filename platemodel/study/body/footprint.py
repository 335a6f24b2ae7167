"""Plan meshes of blocks."""

import numpy as np
import shapely
from skfem import MeshTri

from platemodel.fem.mesh import Fineness, Loop, mesh_plan

BLOCK_SIZE = 7e-3  # m on a violin, of a block's wedges; plates' edges on them are 0.5 % too stiff
CORNER = 0.5  # rad: where a footprint's edge turns by more it has a corner


def footprint_mesh(shape: shapely.Polygon | shapely.MultiPolygon, size: float) -> MeshTri:
    """Triangles over a block's footprint, `size` in m."""
    pieces = []
    for piece in getattr(shape, "geoms", [shape]):
        points = shapely.get_coordinates(piece.exterior)[:-1]
        step = np.roll(points, -1, axis=0) - points
        heading = np.arctan2(step[:, 1], step[:, 0])
        turn = (heading - np.roll(heading, 1) + np.pi) % (2.0 * np.pi) - np.pi
        corners = np.flatnonzero(np.abs(turn) > CORNER)
        pieces.append(mesh_plan(Loop(points, corners), (), Fineness(size, size, turn=0.5 * np.pi)))
    return sum(pieces[1:], pieces[0])
