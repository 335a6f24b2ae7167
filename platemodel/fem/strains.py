"""Strains of a few shapes at a shell's quadrature points: energy under another material, and its derivatives."""

from dataclasses import dataclass, replace

import numpy as np

from platemodel.fem.section import SHEAR_FACTOR, compliance_in, plane_stress


@dataclass(frozen=True, eq=False)
class Strains:
    """Strains of k shapes at the n quadrature points, in the local frames.

    Attributes
    ----------
    shell : Shell
    membrane, bending : array (n, 3, k)
        11, 22, 2*12; curvatures of bending in 1/m per unit of the shapes.
    shear : array (n, 2, k)
        Transverse shear strains 13, 23 (zero without the shear field).
    """

    shell: object
    membrane: np.ndarray
    bending: np.ndarray
    shear: np.ndarray

    def chosen(self, columns):
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

    def stiffness(self, compliance):
        """Stiffness matrix of the shapes, V' K V, for a material with these axes: (k, k).

        Parameters
        ----------
        compliance : array (6, 6)
            Engineering compliance in material axes, 1/Pa.
        """
        q, g, tilt = plane_stress(self._local(compliance))
        h, area = self.shell.thickness, self.shell.area_weights
        out = _gram(self.membrane, np.linalg.cholesky(q), area * h)
        out += _gram(self.bending, np.linalg.cholesky(q), area * h**3 / 12.0)
        if self.shell.shear:
            free = self.shear - tilt @ self.membrane
            out += _gram(free, np.linalg.cholesky(g), SHEAR_FACTOR * area * h)
        return out

    def energy_by_compliance(self, compliance, changes):
        """Derivatives of twice the energy of each shape, x' K x, by parameters of the compliance.

        Parameters
        ----------
        compliance : array (6, 6)
            In material axes, 1/Pa.
        changes : sequence of array (6, 6)
            Derivatives of the compliance, one a parameter.

        Returns
        -------
        array (number of changes, k)

        Notes
        -----
        At fixed strain the energy s'S s/2 of a stress state changes by -s'(dS)s/2, because the stress
        satisfies stationarity (the complementary energy); the transverse shear, which enters with its shear
        factor, is taken in the same way with the tilt of `plane_stress` varied too.
        """
        local = self._local(compliance)
        q, g, tilt = plane_stress(local)
        h, area = self.shell.thickness, self.shell.area_weights
        stretch, bend = q @ self.membrane, q @ self.bending
        shear = g @ (self.shear - tilt @ self.membrane) if self.shell.shear else None
        out = np.empty((len(changes), self.membrane.shape[2]))
        for row, change in enumerate(changes):
            d = self._local(change)
            inplane = d[:, _INPLANE][:, :, _INPLANE]
            density = -h[:, None] * _square(stretch, inplane) - (h**3 / 12.0)[:, None] * _square(bend, inplane)
            if shear is not None:
                coupling = d[:, _ACROSS][:, :, _INPLANE]
                cross = tilt @ np.swapaxes(coupling, 1, 2)
                inner = (
                    d[:, _ACROSS][:, :, _ACROSS]
                    - cross
                    - np.swapaxes(cross, 1, 2)
                    + tilt @ inplane @ np.swapaxes(tilt, 1, 2)
                )
                turned = (coupling - tilt @ inplane) @ stretch
                density -= SHEAR_FACTOR * h[:, None] * (_square(shear, inner) + 2.0 * (shear * turned).sum(1))
            out[row] = area @ density
        return out

    def energy_parts(self, compliance):
        """Twice the energy of each shape by stretch, bending and transverse shear: (3, k)."""
        q, g, tilt = plane_stress(self._local(compliance))
        h, area = self.shell.thickness, self.shell.area_weights
        free = self.shear - tilt @ self.membrane if self.shell.shear else self.shear
        return np.stack(
            [
                (area * h) @ _square(self.membrane, q),
                (area * h**3 / 12.0) @ _square(self.bending, q),
                (SHEAR_FACTOR * area * h) @ _square(free, g),
            ]
        )

    def _local(self, compliance):
        return compliance_in(self.shell.quadrature.axes, compliance, self.shell.section.axes)


_INPLANE, _ACROSS = [0, 1, 5], [4, 3]


def strains(shell, vectors):
    """Evaluate the strains of shapes at a shell's quadrature points.

    Parameters
    ----------
    shell : Shell
    vectors : array (n_dofs, k)
        Shapes in the shell's DOFs; further rows are left alone.

    Returns
    -------
    Strains
    """
    station = shell.quadrature
    nt, k = shell.mesh.t.shape[1], vectors.shape[1]
    local = vectors[shell.element_dofs]  # (nt, columns, k)

    def apply(rows):
        m, columns = rows.shape[1:]
        out = rows.reshape(nt, -1, columns) @ local[:, :columns]
        return out.reshape(-1, m, k)

    shear = np.zeros((len(shell.area_weights), 2, k))
    if shell.shear:
        rows = np.zeros((len(shear), 2, 75))
        rows[:, :, 63:] = station.shear_rows()
        shear = apply(rows)
    return Strains(shell, apply(station.membrane_rows()), apply(shell.bending_rows(station)), shear)


def _gram(strain, root, weight):
    """Sum over the points of weight strain' (root root') strain: (k, k)."""
    rows = (np.swapaxes(root, 1, 2) @ strain) * np.sqrt(weight)[:, None, None]
    rows = rows.reshape(-1, strain.shape[2])
    return rows.T @ rows


def _square(strain, matrix):
    """Quadratic form at each point and for each shape: (n, k)."""
    return (strain * (matrix @ strain)).sum(axis=1)
