"""Sum of the triangles' blocks into sparse matrices of one pattern, found once a mesh."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from platemodel.fem.arrays import Floats, Ints, Sparse


@dataclass(frozen=True)
class Space:
    """A scalar space of which the unknowns are one or more copies, one after another.

    Attributes
    ----------
    dofs : int array (nt, m)
        Numbers of each triangle's unknowns in one copy.
    size : int
        Unknowns of one copy.
    """

    dofs: np.ndarray
    size: int
    copies: int


class Scatter:
    """Places of the triangles' entries in the sum.

    All copies of a space have one pattern. It is therefore found for one copy and repeated, an eighth of the
    entries on a shell, and only added up afterwards: with a general conversion from triplets the summing of
    two matrices took as long as all the rest of the assembly.

    Parameters
    ----------
    spaces : sequence of Space
        In the order of the unknowns.

    Attributes
    ----------
    shape : (n, n)
    """

    def __init__(self, spaces: Sequence[Space]) -> None:
        sizes = [s.size for s in spaces]
        first = np.concatenate([[0], np.cumsum(sizes)])
        nodes = np.concatenate([s.dofs + at for s, at in zip(spaces, first[:-1], strict=True)], axis=1)
        scalar, place = _pattern(nodes, int(first[-1]))
        column = np.repeat(np.arange(first[-1]), np.diff(scalar.indptr))
        row_space = np.searchsorted(first, scalar.indices, side="right") - 1
        # entries of a scalar column in each row space, and in the whole column before that space begins
        count = np.stack(
            [np.bincount(column[row_space == s], minlength=first[-1]) for s in range(len(spaces))]
        )
        copies = np.array([s.copies for s in spaces])[:, None]
        before = np.cumsum(count * copies, axis=0) - count * copies
        height = (count * copies).sum(axis=0)
        top = np.concatenate([[0], np.cumsum(height)])
        rank = np.arange(scalar.nnz) - scalar.indptr[column]
        rank -= (np.cumsum(count, axis=0) - count)[row_space, column]
        within = before[row_space, column] + rank
        offset = np.concatenate([[0], np.cumsum(copies[:, 0] * sizes)])
        template = np.empty(top[-1], dtype=np.int32)
        for s, space in enumerate(spaces):
            mine = row_space == s
            for a in range(space.copies):
                at = top[column[mine]] + within[mine] + a * count[s, column[mine]]
                template[at] = scalar.indices[mine] + (offset[s] - first[s] + a * space.size)
        parts, heights = [], []
        for s, space in enumerate(spaces):
            parts += [template[top[first[s]] : top[first[s + 1]]]] * space.copies
            heights += [height[first[s] : first[s + 1]]] * space.copies
        self._indices = np.concatenate(parts)
        self._indptr = np.concatenate([[0], np.cumsum(np.concatenate(heights))]).astype(np.int32)
        self.shape = (int(offset[-1]),) * 2
        self._place = self._places(spaces, nodes, within[place], count, offset, first)

    def _places(
        self, spaces: Sequence[Space], nodes: Ints, within: Ints, count: Ints, offset: Ints, first: Ints
    ) -> Ints:
        """Place of each entry of a triangle's block, columns of the block first: (nt, columns, columns)."""
        splits = np.cumsum([s.dofs.shape[1] for s in spaces])[:-1]
        local = np.split(np.arange(nodes.shape[1]), splits)
        rows = []
        for s, space in enumerate(spaces):
            for c in range(space.copies):
                start = self._indptr[offset[s] + c * space.size + (nodes[:, local[s]] - first[s])][:, :, None]
                parts = [
                    start + within[:, local[s]][:, :, local[r]] + a * count[r, nodes[:, local[s]]][:, :, None]
                    for r, other in enumerate(spaces)
                    for a in range(other.copies)
                ]
                rows.append(np.concatenate(parts, axis=2))
        return np.concatenate(rows, axis=1).ravel()

    def sum(self, blocks: Floats) -> Sparse:
        """Sum of symmetric blocks.

        Parameters
        ----------
        blocks : array (nt, columns, columns)
            One for each triangle; unknowns in the order of the spaces, copy by copy.

        Returns
        -------
        sparse.csc_matrix (n, n)
        """
        data = np.bincount(self._place, weights=blocks.ravel(), minlength=len(self._indices))
        out = sparse.csc_matrix((data, self._indices, self._indptr), shape=self.shape)
        out.has_canonical_format = True
        return out


def _pattern(nodes: Ints, size: int) -> tuple[Sparse, Ints]:
    """Scalar pattern, and the place in it of each pair of a triangle's nodes, (nt, column, row)."""
    columns = nodes.shape[1]
    i, j = np.tile(nodes, (1, columns)).ravel(), np.repeat(nodes, columns, axis=1).ravel()
    pattern = sparse.csc_matrix((np.ones(len(i), dtype=np.int8), (i, j)), shape=(size, size))
    pattern.sort_indices()
    numbered = sparse.csc_matrix(
        (np.arange(pattern.nnz), pattern.indices, pattern.indptr), shape=pattern.shape
    )
    numbered.has_canonical_format = True
    return pattern, np.asarray(numbered[i, j]).reshape(len(nodes), columns, columns)
