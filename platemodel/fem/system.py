"""A shell with its ribs and supports: matrices, modes and statics."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse

from platemodel.errors import AccuracyError
from platemodel.fem.arrays import Floats, Sparse
from platemodel.fem.eigen import Modes, low_modes, with_pattern
from platemodel.fem.factors import Factors, factorise
from platemodel.fem.kept import kept_property
from platemodel.fem.loose import loose_motions, name_motions
from platemodel.fem.shell import Shell
from platemodel.fem.supports import Constraint, Spring, ground, null_space


class Stiffener(Protocol):
    """What a system needs of a rib, or of anything else that stiffens the shell along a line."""

    @property
    def n_own(self) -> int:
        """Unknowns of its own."""
        ...

    def matrices(self, n_dofs: int, offset: int) -> tuple[Sparse, Sparse]:
        """Stiffness and mass in the system's DOFs; its own unknowns begin at ``offset``."""
        ...

    def stiffness(self, n_dofs: int, offset: int) -> Sparse:
        """Stiffness alone."""
        ...


@dataclass(frozen=True)
class System:
    """What is solved.

    Attributes
    ----------
    ribs : tuple of Rib
    supports : tuple of Constraint or Spring
    bare : System or None
        The same shell and supports without ribs, whose work is shared; made by `with_ribs`.
    """

    shell: Shell
    ribs: tuple[Stiffener, ...] = ()
    supports: tuple[Constraint | Spring, ...] = ()
    bare: "System | None" = field(default=None, repr=False, compare=False)

    def with_ribs(self, ribs: tuple[Stiffener, ...]) -> "System":
        """Return the system with ribs in place of none; what was worked out without them is shared.

        Raises
        ------
        ValueError
            There are ribs already.
        """
        if self.ribs:
            msg = "this system has ribs already; begin with the one without"
            raise ValueError(msg)
        return System(self.shell, ribs, self.supports, self) if ribs else self

    def __repr__(self) -> str:
        ribs = {0: "no rib", 1: "1 rib"}.get(len(self.ribs), f"{len(self.ribs)} ribs")
        count = len(self.supports)
        supports = {0: "free", 1: "1 support"}.get(count, f"{count} supports")
        return f"System({self.n_dofs} unknowns, {ribs}, {supports}, {self.shell!r})"

    @property
    def n_dofs(self) -> int:
        """Unknowns of the shell and of the ribs' own shear fields."""
        return self.shell.n_dofs + sum(rib.n_own for rib in self.ribs)

    @kept_property
    def matrices(self) -> tuple[Sparse, Sparse]:
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
        total = sum(small[1:], small[0])
        total.sort_indices()
        pair = with_pattern(stiffness, stiffness.data + 1j * mass.data) + total
        pair.sort_indices()  # both parts will share the indices: no one may sort them later for one alone
        real, imaginary = (np.ascontiguousarray(part) for part in (pair.data.real, pair.data.imag))
        return with_pattern(pair, real), with_pattern(pair, imaginary)

    @kept_property
    def _held(self) -> Sparse:
        """Stiffness on the basis of the constraints; the mass is not needed at rest."""
        n, offset = self.n_dofs, self.shell.n_dofs
        small = []
        for rib in self.ribs:
            small.append(rib.stiffness(n, offset))
            offset += rib.n_own
        if self.bare is None:
            small += [self._widen(s.matrix()) for s in self.supports if isinstance(s, Spring)]
            small.append(self._widen(self.shell.K))
        total = sum(small[1:], small[0])
        if self.basis is not None:
            total = self.basis.T @ total @ self.basis
        if self.bare is not None:
            total = total + self._widen(self.bare._held, total.shape[0])
        return total.tocsc()

    def _widen(self, matrix: Sparse, n: int | None = None) -> Sparse:
        n = n or self.n_dofs
        if matrix.shape[0] == n:
            return matrix.tocsc()
        more = n - matrix.shape[0]
        matrix = matrix.tocsc()
        pointers = np.concatenate([matrix.indptr, np.full(more, matrix.indptr[-1], matrix.indptr.dtype)])
        return sparse.csc_matrix((matrix.data, matrix.indices, pointers), shape=(n, n))

    @kept_property
    def basis(self) -> Sparse | None:
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

    def _reduced(self) -> tuple[Sparse, Sparse]:
        stiffness, mass = self.matrices
        if self.basis is None:
            return stiffness, mass
        return (self.basis.T @ stiffness @ self.basis).tocsc(), (self.basis.T @ mass @ self.basis).tocsc()

    def rigid_motions(self) -> Floats:
        """Three translations and three rotations about the middle, in the full DOFs: (n_dofs, 6)."""
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

    @kept_property
    def _loose(self) -> Floats:
        """Rigid motions that the supports leave, see `platemodel.fem.loose.loose_motions`: (6, r)."""
        if not self.supports:
            return np.eye(6)
        rows = [s.rows if isinstance(s, Constraint) else s.acting_rows() for s in self.supports]
        return loose_motions(self.rigid_motions()[: self.shell.n_dofs], rows, self.shell.half_size)

    def loose_motions(self) -> Floats:
        """Rigid motions that the supports leave, in the full DOFs: (n_dofs, r); none if all is held."""
        scale = np.array([1.0] * 3 + [1.0 / self.shell.half_size] * 3)
        return self.rigid_motions() @ (scale[:, None] * self._loose)

    def _loose_names(self) -> str:
        shell = self.shell
        return name_motions(self._loose, shell.half_size, shell.centre, shell.is_flat)

    def modes(
        self,
        count: int = 12,
        loose: Floats | None = None,
        shift: float | None = None,
        solve: Callable[[Floats], Floats] | None = None,
    ) -> Modes:
        """Lowest elastic modes.

        Parameters
        ----------
        loose : array (n_dofs, r), optional
            Rigid motions that the supports leave; default all six without any support, else none.
        shift : float, optional
            See `platemodel.fem.eigen.low_modes`; default from the plate's size and stiffness, and none where
            there are no supports (see `solve_balanced`).
        solve : callable, optional
            See there.

        Returns
        -------
        Modes
            Shapes in the full DOFs (n_dofs, count).

        Raises
        ------
        AccuracyError
            The supports leave motions that are not in ``loose``; or see `platemodel.fem.eigen.low_modes`.
        ValueError
            No mode is wanted, or more than the model has.
        """
        if loose is None and not self.supports:
            loose = self.rigid_motions()
            if solve is None and shift is None:
                shift, solve = 0.0, self.solve_balanced
        if self._loose.shape[1] > (0 if loose is None else loose.shape[1]):
            what = self._loose_names()
            msg = f"{what}, or leave them out of the modes with `loose=system.loose_motions()`"
            raise AccuracyError(msg)
        stiffness, mass = self._reduced()
        shift = self.shift() if shift is None else shift
        if self.basis is None:
            return low_modes(stiffness, mass, shift, count, loose, solve=solve)
        if loose is not None:
            loose = self.basis.T @ loose
        found = low_modes(stiffness, mass, shift, count, loose, solve=solve)
        return Modes(found.omega2, self.basis @ found.vectors, found.rigid, found.residual)

    def shift(self) -> float:
        """Return a value of the order of a free plate's first lambda: 100 D / (mass times area); (11.2)."""
        shell = self.shell
        return 100.0 * shell.reference_stiffness / (shell.mass * shell.area)

    @kept_property
    def _grounded(self) -> Factors:
        return factorise(self.matrices[0] + self._widen(ground(self.shell).matrix()))

    def solve_balanced(self, loads: Floats) -> Floats:
        """Displacements of a body without supports under loads that balance, up to a rigid motion.

        Parameters
        ----------
        loads : array (n_dofs,) or (n_dofs, k)
            N per DOF; whether they balance is not checked, see `platemodel.fem.free_statics.solve_free`.

        Raises
        ------
        ValueError
            There are supports.

        Notes
        -----
        Six springs, just enough to hold a rigid body (`platemodel.fem.supports.ground`), take no force from
        loads that balance, so their stiffness does not matter. The factors are kept: modes and statics of the
        free body share them.
        """
        if self.supports:
            msg = "this body is held; loads on it need not balance, use `solve`"
            raise ValueError(msg)
        return self._grounded.solve(loads)

    def solve(self, loads: ArrayLike) -> Floats:
        """Solve for static displacements.

        Parameters
        ----------
        loads : array (n_dofs,) or (n_dofs, k) or the shell's DOFs only
            Generalised forces, N per DOF; see `platemodel.fem.pressure_load`, `platemodel.fem.point_load`.

        Returns
        -------
        array (n_dofs,) or (n_dofs, k)

        Raises
        ------
        AccuracyError
            The supports leave the body loose.
        ValueError
            Loads of another length, or not finite.
        """
        force = np.asarray(loads, dtype=float)
        own = self.n_dofs - self.shell.n_dofs
        if force.ndim not in (1, 2) or force.shape[0] not in (self.n_dofs, self.shell.n_dofs):
            allowed = f"{self.shell.n_dofs} (the shell's unknowns)"
            if own:
                allowed += f" or {self.n_dofs} (with the ribs' own)"
            msg = f"the load vector has the shape {force.shape}; its length must be {allowed}"
            raise ValueError(msg)
        if not np.all(np.isfinite(force)):
            msg = "the load vector has entries that are not finite numbers; they are forces in N per unknown"
            raise ValueError(msg)
        if self._loose.shape[1]:
            msg = f"no state of rest: {self._loose_names()}"
            raise AccuracyError(msg)
        missing = self.n_dofs - force.shape[0]
        force = np.concatenate([force, np.zeros((missing, *force.shape[1:]))])
        if self.basis is None:
            return factorise(self._held).solve(force)
        return self.basis @ factorise(self._held).solve(self.basis.T @ force)
