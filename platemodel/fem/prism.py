"""Solid blocks between two plates, linear through the height, without unknowns of their own."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats
from platemodel.fem.face import UP, Face
from platemodel.fem.squares import Piece, Squares


@dataclass(frozen=True, eq=False)
class Prism:
    """An upright prism between the inner faces of two plates, over points of its footprint.

    Attributes
    ----------
    lower, upper : Face
        At the same n plan points, taken upright (`face(..., upright=True)`), or rigid motions strain it.
    areas : array (n,)
        Plan area that each point stands for, m2.
    """

    lower: Face
    upper: Face
    areas: np.ndarray

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
        Upright stretch and the two upright shears are taken from both faces, constant through the height; the
        glued faces' own strains in the plane run linearly between them. Poisson's effect between upright and
        plane is left out.
        """
        x, y = np.eye(3)[:2]
        volume, height = self.areas * self.height, self.height
        out = Squares(n_dofs)

        def row(plate: str, what: Literal["moved", "turned"], vector: Floats, factor: ArrayLike) -> Piece:
            face = getattr(self, plate)
            rows = np.broadcast_to(factor, height.shape)[:, None] * face.row(what, vector)
            return face.dofs + first[plate], rows

        def across(vector: Floats) -> list[Piece]:
            return [row("upper", "moved", vector, 1.0 / height), row("lower", "moved", vector, -1.0 / height)]

        def turned(vector: Floats, factor: float) -> list[Piece]:
            return [row(plate, "turned", vector, factor) for plate in ("lower", "upper")]

        out.add(across(UP), volume / compliance[2, 2])
        out.add(across(x) + turned(y, -0.5), volume / compliance[4, 4])
        out.add(across(y) + turned(x, 0.5), volume / compliance[3, 3])
        plane = np.linalg.inv(compliance[np.ix_([0, 1, 5], [0, 1, 5])])
        root = np.linalg.cholesky(plane).T
        for k in range(3):
            strain = {p: np.einsum("c,ncj->nj", root[k], self._plan_strain(p)) for p in ("lower", "upper")}
            dofs = {p: getattr(self, p).dofs + first[p] for p in strain}
            out.add([(dofs["upper"], strain["upper"]), (dofs["lower"], 0.5 * strain["lower"])], volume / 3.0)
            out.add([(dofs["lower"], strain["lower"])], volume / 4.0)
        return out

    def _plan_strain(self, plate: str) -> Floats:
        """Face strains xx, yy, 2 xy, the frame's first axis taken into the plan: (n, 3, columns)."""
        face = getattr(self, plate)
        c, s = face.axes[:, 0, 0], face.axes[:, 0, 1]
        length = np.hypot(c, s)
        c, s = c / length, s / length
        turn = np.empty((len(c), 3, 3))
        turn[:, 0] = np.stack([c * c, s * s, -c * s], axis=1)
        turn[:, 1] = np.stack([s * s, c * c, c * s], axis=1)
        turn[:, 2] = np.stack([2 * c * s, -2 * c * s, c * c - s * s], axis=1)
        return turn @ face.stretched

    def mass(self, n_dofs: int, first: Mapping[str, int], density: float) -> Squares:
        """Inertia, moving linearly through the height: Squares."""
        out, weight = Squares(n_dofs), density * self.areas * self.height
        for vector in np.eye(3):
            upper = (self.upper.dofs + first["upper"], self.upper.row("moved", vector))
            dofs, rows = self.lower.dofs + first["lower"], self.lower.row("moved", vector)
            out.add([upper, (dofs, 0.5 * rows)], weight / 3.0)
            out.add([(dofs, rows)], weight / 4.0)
        return out

    def mass_of(self, density: float) -> float:
        """Mass, kg."""
        return float(density * (self.areas * self.height).sum())
