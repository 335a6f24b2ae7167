"""Several shells and parts between them in one system: matrices, rigid motions, modes, free statics."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse

from platemodel.errors import AccuracyError
from platemodel.fem.arrays import Floats, Ints, Sparse
from platemodel.fem.eigen import Modes, low_modes, orthonormal, shifted, with_pattern
from platemodel.fem.factors import Factors, factorise
from platemodel.fem.kept import Kept, kept_property
from platemodel.fem.shell import Shell
from platemodel.fem.squares import Squares
from platemodel.fem.system import Stiffener

STATIC_TOLERANCE = 1e-8  # of a static solution, relative, in the norm of the energy
MOST_STEPS = 60


@dataclass(frozen=True, eq=False)
class Joined:
    """What is solved: shells one after another, then unknowns of other parts, then those of ribs.

    Attributes
    ----------
    shells : tuple of Shell
        Ribs may be put on the first.
    own : int
        Unknowns of parts that are no shells (beams).
    rigid_own : array (own, 6)
        What those unknowns do in the six rigid motions about the first shell's centre.
    stiffness, mass : tuple of Squares
        Of the parts that join, over the unknowns without ribs.
    ribs : tuple of Rib
        On the first shell.
    """

    shells: tuple[Shell, ...]
    own: int = 0
    rigid_own: np.ndarray | None = None
    stiffness: tuple[Squares, ...] = ()
    mass: tuple[Squares, ...] = ()
    ribs: tuple[Stiffener, ...] = ()
    # what does not depend on the ribs, shared between copies
    known: Kept = field(default_factory=Kept)

    @cached_property
    def first(self) -> Ints:
        """Number of the first unknown of each shell, and after the last that of the other parts."""
        return np.concatenate([[0], np.cumsum([shell.n_dofs for shell in self.shells])])

    @property
    def n_bare(self) -> int:
        """Unknowns without those of ribs."""
        return int(self.first[-1]) + self.own

    @property
    def n_dofs(self) -> int:
        """Unknowns with those of ribs."""
        return self.n_bare + sum(rib.n_own for rib in self.ribs)

    def with_ribs(self, ribs: Iterable[Stiffener]) -> "Joined":
        """Return the same with other ribs; all that does not depend on them is kept."""
        return Joined(
            self.shells, self.own, self.rigid_own, self.stiffness, self.mass, tuple(ribs), self.known
        )

    def with_parts(self, shells: Sequence[Shell], stiffness: Iterable[Squares] | None = None) -> "Joined":
        """Return the same meshes with other woods: other shells, and other squares of the parts that join."""
        parts = self.stiffness if stiffness is None else tuple(stiffness)
        return replace(self, shells=tuple(shells), stiffness=parts, known=Kept())

    def _bare(self) -> tuple[Sparse, Sparse]:
        def made() -> tuple[Sparse, Sparse]:
            none = sparse.csc_matrix((self.own, self.own))
            stiff, mass = (
                _diagonal([*(getattr(shell, name) for shell in self.shells), none]) for name in ("K", "M")
            )
            small = sum((part.matrix() for part in self.stiffness), sparse.csc_matrix(stiff.shape))
            inertia = sum((part.matrix() for part in self.mass), sparse.csc_matrix(stiff.shape))
            # both sums at once as one complex one: adding to the large matrices is what costs
            pair = with_pattern(stiff, stiff.data + 1j * mass.data)
            return _two(pair + (small + 1j * inertia))

        return self.known.get("bare", made)

    @kept_property
    def matrices(self) -> tuple[Sparse, Sparse]:
        """Stiffness and mass: two sparse (n_dofs, n_dofs) of one pattern."""
        if not self.ribs:
            return self._bare()
        n, offset = self.n_dofs, self.n_bare
        stiff, mass = self._bare()
        pair = _diagonal(
            [with_pattern(stiff, stiff.data + 1j * mass.data), sparse.csc_matrix((n - offset,) * 2)]
        )
        for rib in self.ribs:
            small, inertia = rib.matrices(n, offset)
            pair = pair + (small + 1j * inertia)
            offset += rib.n_own
        return _two(pair)

    def rigid_motions(self) -> Floats:
        """Three translations and three rotations about the first shell's centre: (n_dofs, 6)."""
        out, middle = np.zeros((self.n_dofs, 6)), self.shells[0].centre
        for shell, first in zip(self.shells, self.first[:-1], strict=True):
            one, place = shell.interpolated_geometry()
            n, arm = shell.n_c1, place - one[:, None] * middle
            for c in range(3):
                out[first + c * n : first + (c + 1) * n, c] = one
            for k, axis in enumerate(np.eye(3)):
                out[first : first + 3 * n, 3 + k] = np.cross(axis, arm).T.ravel()
        if self.own:
            out[self.first[-1] : self.n_bare] = self.rigid_own
        return out

    def shift(self) -> float:
        """Return a value of the order of the first elastic lambda; see `System.shift`."""
        shell = self.shells[0]
        return 300.0 * shell.reference_stiffness / (shell.mass * shell.area)

    @kept_property
    def factors(self) -> Factors:
        """Factors of K + shift M, that modes and statics share."""
        return factorise(shifted(*self.matrices, self.shift()))

    def modes(self, count: int = 20) -> Modes:
        """Lowest elastic modes of the free body; see `platemodel.fem.eigen.low_modes`."""
        stiffness, mass = self.matrices
        return low_modes(stiffness, mass, self.shift(), count, self.rigid_motions(), solve=self.factors.solve)

    def solve(self, loads: ArrayLike) -> Floats:
        """Displacements of the free body under loads that balance.

        Parameters
        ----------
        loads : array (n,) or (n, k)
            Generalised forces; n may leave out the unknowns of ribs. What does not balance is carried by
            inertia, as in a body that floats.

        Returns
        -------
        array (n_dofs, k) or (n_dofs,)
            Without rigid motion, in the sense of the mass matrix.

        Raises
        ------
        AccuracyError
            The solution does not settle.

        Notes
        -----
        Conjugate gradients with the factors of K + shift M, which differ from K in few motions only.
        """
        loads = np.asarray(loads, dtype=float)
        columns = loads.reshape(len(loads), -1)
        columns = np.concatenate([columns, np.zeros((self.n_dofs - len(columns), columns.shape[1]))])
        stiffness, mass = self.matrices
        rigid = orthonormal(self.rigid_motions(), mass)
        inertia = mass @ rigid
        columns = columns - inertia @ (rigid.T @ columns)

        def precondition(x: Floats) -> Floats:
            y = self.factors.solve(x)
            return y - rigid @ (inertia.T @ y)

        out = _conjugate_gradients(stiffness, columns, precondition)
        out -= rigid @ (inertia.T @ out)
        return out if loads.ndim > 1 else out[:, 0]


def _conjugate_gradients(matrix: Sparse, loads: Floats, precondition: Callable[[Floats], Floats]) -> Floats:
    """Solve for several loads at once, until what is left is small in the energy's norm."""
    out, rest = np.zeros_like(loads), loads.copy()
    better = precondition(rest)
    along, size = better.copy(), (rest * better).sum(axis=0)
    goal = STATIC_TOLERANCE**2 * size
    for _ in range(MOST_STEPS):
        if np.all(size <= goal):
            return out
        pushed = matrix @ along
        step = size / np.maximum((along * pushed).sum(axis=0), 1e-300)
        out += step * along
        rest -= step * pushed
        better = precondition(rest)
        before, size = size, (rest * better).sum(axis=0)
        along = better + size / np.maximum(before, 1e-300) * along
    msg = "the static solution did not settle; a part is loose or the mesh is bad"
    raise AccuracyError(msg)


def _two(pair: Sparse) -> tuple[Sparse, Sparse]:
    """Real and imaginary part on one pattern, index arrays shared and sorted."""
    pair = pair.tocsc()
    pair.sort_indices()
    real, imaginary = (np.ascontiguousarray(part) for part in (pair.data.real, pair.data.imag))
    return with_pattern(pair, real), with_pattern(pair, imaginary)


def _diagonal(blocks: Sequence[Sparse]) -> Sparse:
    """Square sparse blocks down the diagonal (the library's own goes through triplets, which is slow)."""
    first = np.concatenate([[0], np.cumsum([b.shape[0] for b in blocks])])
    entries = np.concatenate([[0], np.cumsum([b.nnz for b in blocks])])
    data = np.concatenate([b.data for b in blocks])
    indices = np.concatenate([b.indices + at for b, at in zip(blocks, first[:-1], strict=True)])
    pointers = np.concatenate([[0], *(b.indptr[1:] + at for b, at in zip(blocks, entries[:-1], strict=True))])
    return sparse.csc_matrix(
        (data, indices.astype(np.int32), pointers.astype(np.int32)), shape=(first[-1],) * 2
    )
