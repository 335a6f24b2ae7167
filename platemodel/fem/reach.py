"""How far from its middle line a rib is read where an opening cuts into its glued width."""

import numpy as np
from skfem import MeshTri

from platemodel.errors import GeometryError
from platemodel.fem.arrays import Floats

# The edges of the glued width lie `WHOLE` widths from the middle. Where a rim is nearer they are read `CLEAR`
# inside it, along the whole rib: read further in beside the opening alone, the rib would hinge there. Nearer
# than `LEAST` they would meet the inner lines.
WHOLE, CLEAR, LEAST = 0.5, 0.02, 0.28
CELLS = 64  # of the line, in each of which the width counts as even
SLIVER = 1e-6  # of a cell: a side that runs no further along it touches the line's end only


def clear_reach(mesh: MeshTri, start: Floats, step: Floats, width: Floats) -> float:
    """Distance of the edges from the middle line, in widths, that keeps them on the plate.

    It follows the gap to the nearest rim, so that a rib moved across an opening finds no jump.

    Parameters
    ----------
    start, step : array (2,)
        Where the middle line begins, and from there to its end.
    width : array (n,)
        Glued width, across the line in the parameter plane, at n even steps from end to end, m.

    Raises
    ------
    GeometryError
        An opening leaves the rib too little to stand on.
    """
    across = np.array([-step[1], step[0]]) / np.hypot(*step)
    sides = mesh.p[:, mesh.facets[:, mesh.boundary_facets()]] - start[:, None, None]
    s, v = (np.tensordot(a, sides, 1) for a in (step / (step @ step), across))
    order = np.argsort(s, axis=0)
    s, v = np.take_along_axis(s, order, 0), np.take_along_axis(v, order, 0)
    # the stretch of every side that lies beside every cell: (2, cells, sides)
    knots = np.linspace(0.0, 1.0, len(width))[:, None]
    beside = np.stack([np.maximum(s[0], knots[:-1]), np.minimum(s[1], knots[1:])])
    seen = beside[1] - beside[0] > SLIVER * knots[1]
    at = v[0] + (v[1] - v[0]) * (beside - s[0]) / np.where(s[1] > s[0], s[1] - s[0], 1.0)
    distance = np.where(at[0] * at[1] > 0.0, np.abs(at).min(axis=0), 0.0)
    gap = np.where(seen, distance, np.inf).min(axis=1) / np.maximum(width[:-1], width[1:])
    reach = min(float(gap.min()) - CLEAR, WHOLE)
    if reach < LEAST:
        x, y = 1e3 * (start + knots[gap.argmin()] * step)
        msg = (
            f"near ({x:.1f}, {y:.1f}) mm the rib lies outside the plate, or an opening or the edge leaves it "
            f"less than {LEAST + CLEAR:g} of its width on one side of its middle"
        )
        raise GeometryError(msg)
    return reach
