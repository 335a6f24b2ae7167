"""Energies as sums of squares of sparse rows, put together piece by piece."""

import numpy as np
from scipy import sparse


class Squares:
    """Twice an energy: the sum of weight * (row . u)^2.

    Parameters
    ----------
    n_dofs : int
        Unknowns of the whole system.
    """

    def __init__(self, n_dofs):
        self.n_dofs = n_dofs
        self._parts, self._weights, self._count = [], [], 0

    def add(self, pieces, weight):
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

    def add_dense(self, rows, weight):
        """Add squares of rows over all unknowns, array (n, n_dofs)."""
        rows = sparse.coo_matrix(np.atleast_2d(rows))
        self._parts.append((self._count + rows.row, rows.col, rows.data))
        self._weights.append(np.broadcast_to(np.asarray(weight, dtype=float), rows.shape[:1]))
        self._count += rows.shape[0]

    def joined(self, other):
        """Return the sum of two energies."""
        out = Squares(self.n_dofs)
        for one in (self, other):
            out._parts += [(out._count + i, j, v) for i, j, v in one._parts]
            out._weights += one._weights
            out._count += one._count
        return out

    @property
    def rows(self):
        """Rows times the root of their weights: sparse (m, n_dofs)."""
        if not self._parts:
            return sparse.csr_matrix((0, self.n_dofs))
        i, j, v = (np.concatenate([part[k] for part in self._parts]) for k in range(3))
        rows = sparse.csr_matrix((v, (i, j)), shape=(self._count, self.n_dofs))
        return (sparse.diags(np.sqrt(np.concatenate(self._weights))) @ rows).tocsr()

    def matrix(self):
        """Sparse (n_dofs, n_dofs)."""
        rows = self.rows
        return (rows.T @ rows).tocsc()


def scaled(pieces, factor):
    """Return pieces of rows times a number, or one number a row."""
    factor = np.asarray(factor, dtype=float)
    return [(dofs, (factor[:, None] if factor.ndim else factor) * rows) for dofs, rows in pieces]
