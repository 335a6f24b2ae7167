"""A shell with its ribs and supports: matrices, modes and statics."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import sparse

from platemodel.fem.eigen import Modes, factorise, low_modes
from platemodel.fem.supports import Constraint, Spring, null_space


@dataclass(frozen=True)
class System:
    """What is solved.

    Attributes
    ----------
    shell : Shell
    ribs : tuple of Rib
    supports : tuple of Constraint or Spring
    """

    shell: object
    ribs: tuple = ()
    supports: tuple = ()

    @property
    def n_dofs(self):
        """Unknowns of the shell and of the ribs' own shear fields."""
        return self.shell.n_dofs + sum(rib.n_own for rib in self.ribs)

    @cached_property
    def matrices(self):
        """Stiffness and mass of everything, before constraints: two sparse (n_dofs, n_dofs)."""
        stiffness = sparse.block_diag(
            [self.shell.K] + [sparse.csc_matrix((rib.n_own, rib.n_own)) for rib in self.ribs], format="csc"
        )
        mass = sparse.block_diag(
            [self.shell.M] + [sparse.csc_matrix((rib.n_own, rib.n_own)) for rib in self.ribs], format="csc"
        )
        offset = self.shell.n_dofs
        for rib in self.ribs:
            k, m = rib.matrices(self.n_dofs, offset)
            stiffness, mass = stiffness + k, mass + m
            offset += rib.n_own
        for support in self.supports:
            if isinstance(support, Spring):
                stiffness = stiffness + self._widen(support.matrix())
        return stiffness, mass

    def _widen(self, matrix):
        matrix = matrix.tocoo()
        return sparse.csc_matrix((matrix.data, (matrix.row, matrix.col)), shape=(self.n_dofs, self.n_dofs))

    @cached_property
    def basis(self):
        """Columns that satisfy the constraints (None: no constraint)."""
        constraints = [s for s in self.supports if isinstance(s, Constraint)]
        if not constraints:
            return None
        return sparse.block_diag(
            [
                null_space(constraints, self.shell.n_dofs),
                sparse.identity(self.n_dofs - self.shell.n_dofs, format="csc"),
            ],
            format="csc",
        )

    def _reduced(self):
        stiffness, mass = self.matrices
        if self.basis is None:
            return stiffness, mass
        return (self.basis.T @ stiffness @ self.basis).tocsc(), (self.basis.T @ mass @ self.basis).tocsc()

    def modes(self, count=12, rigid=None, shift=None):
        """Lowest elastic modes.

        Parameters
        ----------
        count : int
        rigid : int, optional
            Rigid motions left by the supports; default 6 without any support, else 0.
        shift : float, optional
            See `platemodel.fem.eigen.low_modes`; default from the plate's size and stiffness.

        Returns
        -------
        Modes
            Shapes in the full DOFs (n_dofs, count).
        """
        if rigid is None:
            rigid = 0 if self.supports else 6
        stiffness, mass = self._reduced()
        found = low_modes(stiffness, mass, shift or self.shift(), count, rigid)
        if self.basis is None:
            return found
        return Modes(found.omega2, self.basis @ found.vectors, found.rigid, found.residual)

    def shift(self):
        """Return a value of the order of a free plate's first lambda: 100 D / (m A), m mass per area, A area."""
        shell = self.shell
        return 100.0 * shell.reference_stiffness / (shell.mass * shell.area)

    def solve(self, loads):
        """Static displacements.

        Parameters
        ----------
        loads : array (n_dofs,) or (n_dofs, k) or the shell's DOFs only
            Generalised forces, N per DOF.

        Returns
        -------
        array of the loads' shape
        """
        loads = np.asarray(loads, dtype=float)
        missing = self.n_dofs - loads.shape[0]
        loads = np.concatenate([loads, np.zeros((missing, *loads.shape[1:]))])
        stiffness, _ = self._reduced()
        if self.basis is None:
            return factorise(stiffness).solve(loads)
        return self.basis @ factorise(stiffness).solve(self.basis.T @ loads)
