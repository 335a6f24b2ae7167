"""Solid blocks glued between two plates, without unknowns of their own."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy import linalg
from skfem import MeshTri

from platemodel.fem.arrays import Floats
from platemodel.fem.face import Face, face
from platemodel.fem.glued_face import face_stiffness
from platemodel.fem.prism_solid import faces_stiffness, plan_nodes
from platemodel.fem.shell import Shell
from platemodel.fem.squares import Squares

RIGID = 1e-10  # stiffness that counts as none, of the largest


@dataclass(frozen=True, eq=False)
class Prism:
    """An upright block between the inner faces of two plates.

    Attributes
    ----------
    plan : MeshTri
        Of its footprint.
    lower, upper : Face
        At the corners and mid-sides of the plan's triangles, taken upright (`face(..., upright=True)`), or
        rigid motions strain it.
    areas : array (n,)
        Plan area that each point stands for, m2.
    glued : tuple of array (n * 3, n * 3)
        Stiffness of the lower and the upper plate's face against its section (`face_stiffness`).
    """

    plan: MeshTri
    lower: Face
    upper: Face
    areas: np.ndarray
    glued: tuple[np.ndarray, np.ndarray]

    @property
    def height(self) -> Floats:
        """At each point, m: (n,)."""
        return (self.upper.r - self.lower.r)[:, 2]

    def stiffness(self, n_dofs: int, first: Mapping[str, int], compliance: Floats) -> Squares:
        """Energy.

        Parameters
        ----------
        first : dict
            Number of the first unknown of "lower" and "upper" plate.
        compliance : array (6, 6)
            In axes x, y, z, 1/Pa.

        Notes
        -----
        The block is solid, its inside eliminated (`faces_stiffness`): K. What each plate gives between its
        section and the glued face lies in series, C, and the energy is that of (K^-1 + C)^-1, written as
        L (1 + L' C L)^-1 L' with K = L L'.
        """
        lower, upper = self.lower, self.upper
        n = len(self.areas)
        values, vectors = np.linalg.eigh(faces_stiffness(self.plan, lower.r[:, 2], upper.r[:, 2], compliance))
        strained = values > RIGID * values[-1]
        root = vectors[:, strained] * np.sqrt(values[strained])
        halves = np.split(root, 2)
        inner = np.eye(root.shape[1])
        for half, stiff in zip(halves, self.glued, strict=True):
            inner += half.T @ linalg.cho_solve(linalg.cho_factor(stiff), half)
        rows = linalg.solve_triangular(linalg.cholesky(inner, lower=True), root.T, lower=True)
        out, rows = Squares(n_dofs), rows.reshape(-1, 2, n, 3)
        dofs, columns = [], []
        for side, plate in enumerate(("lower", "upper")):
            glued = getattr(self, plate)
            known, place = np.unique(glued.dofs, return_inverse=True)
            moved = np.zeros((n, len(known), 3))
            np.add.at(
                moved,
                (np.arange(n)[:, None], place.reshape(glued.dofs.shape)),
                np.swapaxes(glued.moved, 1, 2),
            )
            moved = np.swapaxes(moved, 1, 2)
            columns.append(rows[:, side].reshape(len(rows), -1) @ moved.reshape(3 * n, -1))
            dofs.append(known + first[plate])
        out.add_block(np.concatenate(dofs), np.concatenate(columns, axis=1))
        return out

    def mass(self, n_dofs: int, first: Mapping[str, int], density: float) -> Squares:
        """Inertia, moving linearly through the height: Squares."""
        out, weight = Squares(n_dofs), density * self.areas * self.height
        some = weight > 0
        for vector in np.eye(3):
            upper = (self.upper.dofs[some] + first["upper"], self.upper.row("moved", vector)[some])
            dofs, rows = self.lower.dofs[some] + first["lower"], self.lower.row("moved", vector)[some]
            out.add([upper, (dofs, 0.5 * rows)], weight[some] / 3.0)
            out.add([(dofs, rows)], weight[some] / 4.0)
        return out

    def mass_of(self, density: float) -> float:
        """Mass, kg."""
        return float(density * (self.areas * self.height).sum())


def prism(lower: Shell, upper: Shell, plan: MeshTri) -> Prism:
    """Put a block between two plates.

    Parameters
    ----------
    lower, upper : Shell
        Their normals upwards.
    plan : MeshTri
        Of the footprint, in the plates' parameters.

    Returns
    -------
    Prism

    Raises
    ------
    GeometryError
        The footprint is not on both plates.
    """
    points, areas = plan_nodes(plan)
    return Prism(
        plan,
        face(lower, points, 1, upright=True),
        face(upper, points, -1, upright=True),
        areas,
        (face_stiffness(lower, plan), face_stiffness(upper, plan)),
    )
