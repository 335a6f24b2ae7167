"""Basis functions and geometry of a shell at points: rows of strains, slopes and displacements there."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats
from platemodel.fem.surface import SurfacePoints


@dataclass(frozen=True)
class Station:
    """Basis functions and geometry at n points of the shell, each with its own triangle's DOFs.

    Attributes
    ----------
    points : array (2, n)
        Parameters.
    elements : int array (n,)
    c1 : array (6, n, 21)
        Argyris basis: value, _1, _2, _11, _12, _22.
    p2 : array (3, n, 6)
        Quadratic basis: value, _1, _2.
    axes : array (n, 3, 3)
        Local frame, rows e1, e2, normal.
    contravariant : array (n, 2, 2)
    """

    points: np.ndarray
    elements: np.ndarray
    c1: np.ndarray
    p2: np.ndarray
    surface: SurfacePoints
    axes: np.ndarray
    contravariant: np.ndarray

    def on(self, surface: SurfacePoints, direction: ArrayLike) -> "Station":
        """Return the station on another surface, its first axis along a direction in space."""
        axes, contravariant = surface.frame(direction)
        return replace(self, surface=surface, axes=axes, contravariant=contravariant)

    @cached_property
    def _first(self) -> Floats:
        """Derivatives of the scalar basis along e1, e2: (2, n, 21)."""
        e = self.contravariant
        return np.stack([e[:, i, 0, None] * self.c1[1] + e[:, i, 1, None] * self.c1[2] for i in range(2)])

    @cached_property
    def _second(self) -> Floats:
        """Covariant second derivatives of the scalar basis, 11, 22, 12 in the local frame: (3, n, 21)."""
        gamma = self.surface.christoffel()
        hess = [
            self.c1[3 + p] - gamma[:, p, 0, None] * self.c1[1] - gamma[:, p, 1, None] * self.c1[2]
            for p in range(3)
        ]
        e = self.contravariant
        return np.stack([_to_frame(e, i, j, hess) for i, j in ((0, 0), (1, 1), (0, 1))])

    def second_form(self) -> Floats:
        """Curvature of the midsurface in the local frame, 11, 22, 12, 1/m: (n, 3)."""
        s, e, normal = self.surface, self.contravariant, self.axes[:, 2]
        form = [(normal * r).sum(1)[:, None] for r in (s.r_11, s.r_12, s.r_22)]
        return np.concatenate([_to_frame(e, i, j, form) for i, j in ((0, 0), (1, 1), (0, 1))], axis=1)

    def displacement_rows(self) -> Floats:
        """Rows giving u: (n, 3, 63)."""
        n = self.points.shape[1]
        out = np.zeros((n, 3, 3, 21))
        for c in range(3):
            out[:, c, c] = self.c1[0]
        return out.reshape(n, 3, 63)

    def gradient_rows(self) -> Floats:
        """Rows giving D_i u_c, derivative along e_i of component c: (n, 2, 3, 63)."""
        n = self.points.shape[1]
        out = np.zeros((n, 2, 3, 3, 21))
        for i in range(2):
            for c in range(3):
                out[:, i, c, c] = self._first[i]
        return out.reshape(n, 2, 3, 63)

    def membrane_rows(self) -> Floats:
        """Rows giving e11, e22, 2 e12, theory (3.1): (n, 3, 63)."""
        e1, e2 = self.axes[:, 0, :, None], self.axes[:, 1, :, None]
        d1, d2 = self._first[0][:, None], self._first[1][:, None]
        rows = np.stack([e1 * d1, e2 * d2, e1 * d2 + e2 * d1], axis=1)
        return rows.reshape(len(rows), 3, 63)

    def sideways_rows(self) -> Floats:
        """Change of how a line along e1 curves within the surface, 1/m: (n, 63).

        -e2.D11 u, less what turning about e1 does where the surface is curved along e1.
        """
        bent = -np.einsum("nc,nj->ncj", self.axes[:, 1], self._second[0]).reshape(len(self.elements), -1)
        return bent - self.second_form()[:, :1] * self.slope_rows()[:, 1]

    def slope_rows(self) -> Floats:
        """Rows giving n . D_i u: (n, 2, 63)."""
        rows = np.stack([self.axes[:, 2, :, None] * self._first[i][:, None] for i in range(2)], axis=1)
        return rows.reshape(len(rows), 2, 63)

    def curvature_rows(self) -> Floats:
        """Rows giving k11, k22, 2 k12 of the thin shell, theory (3.2): (n, 3, 63)."""
        normal = self.axes[:, 2, :, None]
        factor = (1.0, 1.0, 2.0)
        rows = np.stack([factor[p] * normal * self._second[p][:, None] for p in range(3)], axis=1)
        return rows.reshape(len(rows), 3, 63)

    def shear_rows(self) -> Floats:
        """Rows giving s_1, s_2 in the local frame: (n, 2, 12)."""
        rows = self.contravariant[:, :, :, None] * self.p2[0][:, None, None]
        return rows.reshape(len(rows), 2, 12)

    def shear_gradient_rows(self) -> Floats:
        """Rows giving sym(grad s), theory (3.3): 11, 22, 2*12 in the local frame: (n, 3, 12)."""
        gamma = self.surface.christoffel()
        n = self.points.shape[1]
        grad = np.zeros((3, n, 2, 6))  # covariant, symmetrised: 11, 12, 22
        grad[0, :, 0] = self.p2[1]
        grad[1, :, 0] = 0.5 * self.p2[2]
        grad[1, :, 1] = 0.5 * self.p2[1]
        grad[2, :, 1] = self.p2[2]
        for p in range(3):
            grad[p] -= gamma[:, p, :, None] * self.p2[0][:, None]
        rows = grad.reshape(3, n, 12)
        e = self.contravariant
        return np.stack(
            [_to_frame(e, 0, 0, rows), _to_frame(e, 1, 1, rows), 2.0 * _to_frame(e, 0, 1, rows)], axis=1
        )


def _to_frame(e: Floats, i: int, j: int, tensor: Any) -> Floats:
    """Component ij in the local frame of a symmetric covariant tensor given as (11, 12, 22)."""
    return (
        (e[:, i, 0] * e[:, j, 0])[:, None] * tensor[0]
        + (e[:, i, 0] * e[:, j, 1] + e[:, i, 1] * e[:, j, 0])[:, None] * tensor[1]
        + (e[:, i, 1] * e[:, j, 1])[:, None] * tensor[2]
    )
