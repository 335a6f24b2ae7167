"""What a plate does at points of one of its faces, for parts that are glued on there."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats
from platemodel.fem.shell import Shell

UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, eq=False)
class Face:
    """Displacement and rotation of n points of a plate's face, as rows over each point's own triangle.

    Attributes
    ----------
    dofs : int array (n, columns)
        Unknowns of each point's triangle.
    moved : array (n, 3, columns)
        Displacement in space.
    turned : array (n, 3, columns)
        Rotation vector: that of the normal with the plate's transverse shear, and that of the surface about
        its normal.
    r : array (n, 3)
        Place of the points, m.
    stretched : array (n, 3, columns)
        Strains 11, 22, 2*12 of the face in the local frame, bending included.
    axes : array (n, 3, 3)
        Local frame, rows e1, e2, normal.
    """

    dofs: np.ndarray
    moved: np.ndarray
    turned: np.ndarray
    r: np.ndarray
    stretched: np.ndarray
    axes: np.ndarray

    def row(self, what: Literal["moved", "turned"], vector: ArrayLike) -> Floats:
        """Rows of what is "moved" or "turned" along one vector a point: (n, columns)."""
        return np.einsum("nc,ncj->nj", np.broadcast_to(vector, self.r.shape), getattr(self, what))


def face(shell: Shell, points: ArrayLike, side: int, upright: bool = False) -> Face:
    """Evaluate a face of a plate.

    Parameters
    ----------
    points : array (2, n)
        Parameters.
    side : {-1, 1}
        The face along the normal (1) or against it (-1).
    upright : bool
        Take the point of the face that lies straight over or under the midsurface's point, not that along the
        normal: parts that stand upright between two plates need both ends over one place.

    Raises
    ------
    GeometryError
        A point lies outside the plate.

    Notes
    -----
    With the director d the face is at r + d, moves by u + W x d and turns by
    W = phi_2 e_1 - phi_1 e_2 + w n, where phi_i = n . D_i u - s_i and w = (e_2 . D_1 u - e_1 . D_2 u) / 2.
    Such rows are exact in rigid motion.
    """
    station = shell.locate(points)
    columns = shell.element_dofs.shape[1]
    thickness = np.asarray(shell.section.thickness(*station.points), dtype=float)

    def wide(rows: Floats) -> Floats:
        return np.concatenate([rows, np.zeros((*rows.shape[:-1], columns - rows.shape[-1]))], axis=-1)

    tilt = wide(shell.director_rows(station))
    gradient = station.gradient_rows()
    e1, e2, normal = (station.axes[:, i] for i in range(3))
    drill = 0.5 * (np.einsum("nc,ncj->nj", e2, gradient[:, 0]) - np.einsum("nc,ncj->nj", e1, gradient[:, 1]))
    turned = (
        e1[:, :, None] * tilt[:, None, 1]
        - e2[:, :, None] * tilt[:, None, 0]
        + normal[:, :, None] * wide(drill)[:, None]
    )
    director = UP / normal[:, 2:] if upright else normal
    director = 0.5 * side * thickness[:, None] * director
    moved = wide(station.displacement_rows()) + np.cross(
        turned, director[:, :, None], axisa=1, axisb=1, axisc=1
    )
    bend = 0.5 * side * thickness[:, None, None] * wide(shell.bending_rows(station))
    return Face(
        shell.element_dofs[station.elements],
        moved,
        turned,
        station.surface.r + director,
        wide(station.membrane_rows()) - bend,
        station.axes,
    )


def mean_rows(
    face: Face | Sequence[tuple[Face, int]],
    n_dofs: int,
    first: int = 0,
    weights: ArrayLike | None = None,
) -> tuple[Floats, Floats]:
    """Six rows of the rigid motion that comes nearest to what points of a face do.

    Parameters
    ----------
    face : Face or sequence of (Face, int)
        Points, with the number of the first unknown of their shell.
    first : int
        Of a single face.
    weights : array, optional
        Of all points; default equal.

    Returns
    -------
    rows : array (6, n_dofs)
        Displacement of the middle and rotation, in space.
    middle : array (3,)
        m.
    """
    parts = [(face, first)] if isinstance(face, Face) else list(face)
    r = np.concatenate([f.r for f, _ in parts])
    weights = np.ones(len(r)) if weights is None else np.asarray(weights, dtype=float)
    middle = weights @ r / weights.sum()
    design = np.zeros((len(r), 3, 6))
    design[:, :, :3] = np.eye(3)
    design[:, :, 3:] = -cross_matrix(r - middle)
    root = np.sqrt(weights)[:, None, None]
    fit = np.linalg.pinv((root * design).reshape(-1, 6)).reshape(6, len(r), 3) * root[None, :, :, 0]
    rows, at = np.zeros((6, n_dofs)), 0
    for f, start in parts:
        n = len(f.r)
        values = np.einsum("knc,ncj->knj", fit[:, at : at + n], f.moved)
        for k in range(6):
            np.add.at(rows[k], (f.dofs + start).ravel(), values[k].ravel())
        at += n
    return rows, middle


def cross_matrix(a: ArrayLike) -> Floats:
    """Matrices [a] with [a] b = a x b: (n, 3, 3)."""
    a = np.atleast_2d(a)
    out = np.zeros((len(a), 3, 3))
    out[:, 0, 1], out[:, 0, 2] = -a[:, 2], a[:, 1]
    out[:, 1, 0], out[:, 1, 2] = a[:, 2], -a[:, 0]
    out[:, 2, 0], out[:, 2, 1] = -a[:, 1], a[:, 0]
    return out


def rigid_at(rows: Floats, middle: Floats, place: ArrayLike) -> Floats:
    """Displacement of a point that moves with `mean_rows`: (3, n_dofs)."""
    return rows[:3] - cross_matrix(np.asarray(place, dtype=float) - middle)[0] @ rows[3:]
