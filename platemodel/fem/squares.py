"""Energies as sums of squares of sparse rows, put together piece by piece."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse

from platemodel.fem.arrays import Floats, Ints, Sparse

Piece = tuple[Ints, Floats]  # unknowns, (n, columns) or alike for all rows, and rows (n, columns)


class Squares:
    """Twice an energy: the sum of weight * (row . u)^2.

    Parameters
    ----------
    n_dofs : int
        Unknowns of the whole system.
    """

    def __init__(self, n_dofs: int) -> None:
        self.n_dofs = n_dofs
        self._parts: list[tuple[Ints, Ints, Floats]] = []
        self._weights: list[Floats] = []
        self._blocks: list[tuple[Ints, Floats]] = []
        self._count = 0

    def add(self, pieces: Iterable[Piece], weight: ArrayLike) -> None:
        """Add n squares.

        Parameters
        ----------
        pieces : sequence of (dofs, rows)
            Arrays (n, columns); the pieces of a row are added up.
        weight : array (n,)
            Not negative.
        """
        weight = np.asarray(weight, dtype=float)
        number = self._count + np.arange(len(weight))
        for dofs, rows in pieces:
            dofs = np.broadcast_to(dofs, rows.shape)
            self._parts.append((np.repeat(number, rows.shape[1]), dofs.ravel(), rows.ravel()))
        self._weights.append(weight)
        self._count += len(weight)

    def add_dense(self, rows: ArrayLike, weight: ArrayLike) -> None:
        """Add squares of rows over all unknowns, array (n, n_dofs)."""
        entries = sparse.coo_matrix(np.atleast_2d(rows))
        self._parts.append((self._count + entries.row, entries.col, entries.data))
        self._weights.append(np.broadcast_to(np.asarray(weight, dtype=float), entries.shape[:1]))
        self._count += entries.shape[0]

    def add_block(self, dofs: Ints, rows: Floats) -> None:
        """Add squares, of weight 1, of many rows over the same few unknowns.

        Parameters
        ----------
        dofs : int array (columns,)
            Each once.
        rows : array (n, columns)
        """
        self._blocks.append((dofs, rows))

    def joined(self, other: "Squares") -> "Squares":
        """Return the sum of two energies."""
        out = Squares(self.n_dofs)
        for one in (self, other):
            out._parts += [(out._count + i, j, v) for i, j, v in one._parts]
            out._weights += one._weights
            out._blocks += one._blocks
            out._count += one._count
        return out

    def scaled(self, factor: float) -> "Squares":
        """Return a multiple of the energy."""
        out = Squares(self.n_dofs)
        out._parts, out._count = self._parts, self._count
        out._weights = [factor * weight for weight in self._weights]
        out._blocks = [(dofs, np.sqrt(factor) * rows) for dofs, rows in self._blocks]
        return out

    @property
    def rows(self) -> Sparse:
        """Rows times the root of their weights: sparse (m, n_dofs)."""
        found = [self._sparse_rows()]
        for dofs, rows in self._blocks:
            pointers = len(dofs) * np.arange(len(rows) + 1)
            found.append(
                sparse.csr_matrix(
                    (rows.ravel(), np.tile(dofs, len(rows)), pointers), (len(rows), self.n_dofs)
                )
            )
        return sparse.vstack(found, format="csr")

    def _sparse_rows(self) -> Sparse:
        if not self._parts:
            return sparse.csr_matrix((0, self.n_dofs))
        i, j, v = (np.concatenate([part[k] for part in self._parts]) for k in range(3))
        rows = sparse.csr_matrix((v, (i, j)), shape=(self._count, self.n_dofs))
        return (sparse.diags(np.sqrt(np.concatenate(self._weights))) @ rows).tocsr()

    def matrix(self) -> Sparse:
        """Sparse (n_dofs, n_dofs)."""
        rows = self._sparse_rows()
        out = (rows.T @ rows).tocsc()
        for dofs, block in self._blocks:
            i, j = np.repeat(dofs, len(dofs)), np.tile(dofs, len(dofs))
            out = out + sparse.csc_matrix(((block.T @ block).ravel(), (i, j)), shape=(self.n_dofs,) * 2)
        return out


def scaled(pieces: Iterable[Piece], factor: ArrayLike) -> list[Piece]:
    """Return pieces of rows times a number, or one number a row."""
    factor = np.asarray(factor, dtype=float)
    return [(dofs, (factor[:, None] if factor.ndim else factor) * rows) for dofs, rows in pieces]
