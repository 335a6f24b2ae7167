"""A shell with its ribs and supports: matrices, modes and statics."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import sparse

from platemodel.fem.eigen import Modes, factorise, low_modes, with_pattern
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
        n, offset = self.n_dofs, self.shell.n_dofs
        small = []
        for rib in self.ribs:
            k, m = rib.matrices(n, offset)
            small.append(k + 1j * m)
            offset += rib.n_own
        small += [self._widen(s.matrix()) for s in self.supports if isinstance(s, Spring)]
        stiffness, mass = self._widen(self.shell.K), self._widen(self.shell.M)
        if not small:
            return stiffness, mass
        # both sums at once as one complex one: adding to the large matrices is what costs
        small = sum(small[1:], small[0])
        small.sort_indices()
        pair = with_pattern(stiffness, stiffness.data + 1j * mass.data) + small
        pair.sort_indices()  # both parts will share the indices: no one may sort them later for one alone
        return tuple(
            with_pattern(pair, np.ascontiguousarray(part)) for part in (pair.data.real, pair.data.imag)
        )

    def _widen(self, matrix):
        if matrix.shape[0] == self.n_dofs:
            return matrix.tocsc()
        n, more = self.n_dofs, self.n_dofs - matrix.shape[0]
        matrix = matrix.tocsc()
        pointers = np.concatenate([matrix.indptr, np.full(more, matrix.indptr[-1], matrix.indptr.dtype)])
        return sparse.csc_matrix((matrix.data, matrix.indices, pointers), shape=(n, n))

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

    def rigid_motions(self):
        """Three translations and three rotations about the origin, in the full DOFs: (n_dofs, 6)."""
        one, place = self.shell.interpolated_geometry()
        out = np.zeros((self.n_dofs, 6))
        n = self.shell.n_c1
        for c in range(3):
            out[c * n : (c + 1) * n, c] = one
        middle = self.shell.centre
        arm = place - one[:, None] * middle
        for k, axis in enumerate(np.eye(3)):
            out[: 3 * n, 3 + k] = np.cross(axis, arm).T.ravel()
        return out

    def modes(self, count=12, loose=None, shift=None, solve=None):
        """Lowest elastic modes.

        Parameters
        ----------
        count : int
        loose : array (n_dofs, r), optional
            Rigid motions that the supports leave; default all six without any support, else none.
        shift : float, optional
            See `platemodel.fem.eigen.low_modes`; default from the plate's size and stiffness.
        solve : callable, optional
            See there.

        Returns
        -------
        Modes
            Shapes in the full DOFs (n_dofs, count).
        """
        if loose is None and not self.supports:
            loose = self.rigid_motions()
        stiffness, mass = self._reduced()
        if self.basis is None:
            return low_modes(stiffness, mass, shift or self.shift(), count, loose, solve=solve)
        if loose is not None:
            loose = self.basis.T @ loose
        found = low_modes(stiffness, mass, shift or self.shift(), count, loose, solve=solve)
        return Modes(found.omega2, self.basis @ found.vectors, found.rigid, found.residual)

    def shift(self):
        """Return a value of the order of a free plate's first lambda: 100 D / (mass times area)."""
        shell = self.shell
        return 100.0 * shell.reference_stiffness / (shell.mass * shell.area)

    def solve(self, loads):
        """Solve for static displacements.

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
