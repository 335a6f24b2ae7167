"""Strains of a few shapes at points of a shell: their energy, by parts and under another material."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats
from platemodel.fem.section import (
    SHEAR_FACTOR,
    Stiffness,
    compliance_in,
    over_thickness,
    plane_stress,
    stress_transformation,
)
from platemodel.fem.shell import Shell
from platemodel.fem.station import Station


class PointMaterial:
    """A material at a shell's quadrature points, in place of the shell's own.

    Parameters
    ----------
    shell : Shell
        Gives the points, their frames and the axes of the material.
    compliance : array (6, 6)
        Engineering compliance in material axes, 1/Pa.
    """

    def __init__(self, shell: Shell, compliance: ArrayLike) -> None:
        frames, axes = shell.quadrature.axes, shell.section.axes
        self.q, self.g, self.tilt = plane_stress(compliance_in(frames, compliance, axes))
        self._frames, self._axes, self._thickness = frames, axes, shell.thickness

    @cached_property
    def stiffness(self) -> Stiffness:
        """Stiffness per area of the shell made of it."""
        return over_thickness(self.q, self.g, self.tilt, self._thickness)

    @cached_property
    def to_material(self) -> Floats:
        """Stresses in the local frames turned into material axes: (n, 6, 6)."""
        if self._axes is None:
            return np.broadcast_to(np.eye(6), (len(self._frames), 6, 6))
        return stress_transformation(np.asarray(self._axes, dtype=float) @ np.swapaxes(self._frames, 1, 2))


@dataclass(frozen=True, eq=False)
class Strains:
    """Strains of k shapes at n points, in the local frames.

    Integrals over the shell need its quadrature points.

    Attributes
    ----------
    membrane, bending : array (n, 3, k)
        11, 22, 2*12; curvatures of bending in 1/m per unit of the shapes.
    shear : array (n, 2, k)
        Transverse shear strains 13, 23 (zero without the shear field).
    """

    shell: Shell
    membrane: np.ndarray
    bending: np.ndarray
    shear: np.ndarray

    def chosen(self, columns: Floats) -> "Strains":
        """Return the strains of some of the shapes, or of combinations of them.

        Parameters
        ----------
        columns : array (k, m)
            Each column combines the shapes.
        """
        return replace(
            self,
            membrane=self.membrane @ columns,
            bending=self.bending @ columns,
            shear=self.shear @ columns,
        )

    def stiffness(self, material: PointMaterial) -> Floats:
        """Stiffness matrix of the shapes, V' K V: (k, k)."""
        h, area = self.shell.thickness, self.shell.area_weights
        root = np.linalg.cholesky(material.q)
        out = _gram(self.membrane, root, area * h)
        out += _gram(self.bending, root, area * h**3 / 12.0)
        if self.shell.shear:
            free = self.free_shear(material.tilt)
            out += _gram(free, np.linalg.cholesky(material.g), SHEAR_FACTOR * area * h)
        return out

    def energy_by_compliance(self, material: PointMaterial, changes: Sequence[Floats]) -> Floats:
        """Differentiate twice the energy of each shape, x' K x, by parameters of the compliance.

        Parameters
        ----------
        changes : sequence of array (6, 6)
            Derivatives of the compliance, one a parameter.

        Returns
        -------
        array (number of changes, k)

        Notes
        -----
        At fixed strain the energy s'S s/2 of a stress state changes by -s'(dS)s/2, because the stress
        satisfies stationarity (the complementary energy); the transverse shear, which enters with its shear
        factor, is taken in the same way with the tilt of `plane_stress` varied too. All is linear in dS, so a
        6 x 6 sum of stress products in material axes holds every derivative.
        """
        moments = self._stress_moments(material)
        return -np.einsum("pij,kij->pk", np.asarray(changes), moments)

    def _stress_moments(self, material: PointMaterial) -> Floats:
        """Integrals of products of stresses in material axes: (k, 6, 6)."""
        q, g, tilt = material.q, material.g, material.tilt
        h, area = self.shell.thickness, self.shell.area_weights
        turn = material.to_material
        stretch, bend = (turn[:, :, _INPLANE] @ (q @ part) for part in (self.membrane, self.bending))
        out = _moments(stretch, stretch, area * h) + _moments(bend, bend, area * h**3 / 12.0)
        if self.shell.shear:
            force = g @ self.free_shear(tilt)
            # the transverse shear stresses with the tensions that tilt ties to them
            bound = turn[:, :, _ACROSS] @ force - turn[:, :, _INPLANE] @ (np.swapaxes(tilt, 1, 2) @ force)
            weight = SHEAR_FACTOR * area * h
            out += _moments(bound, bound + stretch, weight) + _moments(stretch, bound, weight)
        return 0.5 * (out + np.swapaxes(out, 1, 2))

    def free_shear(self, tilt: Floats) -> Floats:
        """Transverse shear less what a stretch causes where the grain leaves the surface: (n, 2, k)."""
        return self.shear - tilt @ self.membrane if self.shell.shear else self.shear

    def energy_density(self, stiff: Stiffness) -> Floats:
        """Twice the energy per area by stretch, bending and transverse shear: (3, n, k)."""
        return np.stack(
            [
                _square(self.membrane, stiff.membrane),
                _square(self.bending, stiff.bending),
                _square(self.free_shear(stiff.tilt), stiff.shear),
            ]
        )

    def energy_parts(self, stiff: Stiffness) -> Floats:
        """Twice the energy of each shape by stretch, bending and transverse shear: (3, k)."""
        return self.shell.area_weights @ self.energy_density(stiff)


_INPLANE, _ACROSS = [0, 1, 5], [4, 3]
SHEAR_DOFS = 63  # place of the shear field's unknowns among a triangle's


def strains(shell: Shell, vectors: Floats, station: Station | None = None) -> Strains:
    """Evaluate the strains of shapes.

    Parameters
    ----------
    vectors : array (n_dofs, k)
        Shapes in the shell's DOFs; further rows are left alone.
    station : Station, optional
        Where; default the shell's quadrature points.
    """
    station = shell.quadrature if station is None else station
    local = LocalVectors(shell, vectors, station)
    shear: Floats = np.zeros((len(station.elements), 2, vectors.shape[1]))
    if shell.shear:
        shear = local.times(station.shear_rows(), first=SHEAR_DOFS)
    return Strains(
        shell, local.times(station.membrane_rows()), local.times(shell.bending_rows(station)), shear
    )


class LocalVectors:
    """Shapes in the unknowns of the triangles that hold the points of a station.

    Parameters
    ----------
    vectors : array (n_dofs, k)
    """

    def __init__(self, shell: Shell, vectors: Floats, station: Station) -> None:
        triangles = np.arange(shell.mesh.t.shape[1])
        each = len(station.elements) // len(triangles)
        # with the same number of points in each triangle its unknowns are taken once for all of them
        whole = np.array_equal(station.elements, np.repeat(triangles, each))
        self._local = vectors[shell.element_dofs[triangles if whole else station.elements]]

    def times(self, rows: Floats, first: int = 0) -> Floats:
        """Rows (n, m, columns) times each point's unknowns from ``first`` on: (n, m, k)."""
        n, m, columns = rows.shape
        local = self._local[:, first : first + columns]
        return (rows.reshape(len(local), -1, columns) @ local).reshape(n, m, -1)


def _gram(strain: Floats, root: Floats, weight: Floats) -> Floats:
    """Sum over the points of weight strain' (root root') strain: (k, k)."""
    rows = (np.swapaxes(root, 1, 2) @ strain) * np.sqrt(weight)[:, None, None]
    rows = rows.reshape(-1, strain.shape[2])
    return rows.T @ rows


def _moments(first: Floats, second: Floats, weight: Floats) -> Floats:
    """Sum over the points of weight first second', for each shape: (k, 6, 6)."""
    left = np.ascontiguousarray(np.moveaxis(first * weight[:, None, None], 2, 0))
    return np.swapaxes(left, 1, 2) @ np.ascontiguousarray(np.moveaxis(second, 2, 0))


def _square(strain: Floats, matrix: Floats) -> Floats:
    """Quadratic form at each point and for each shape: (n, k)."""
    return (strain * (matrix @ strain)).sum(axis=1)
