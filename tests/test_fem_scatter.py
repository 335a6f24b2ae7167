"""Sum of the triangles' blocks against the general conversion from triplets."""

import numpy as np
import pytest
from scipy import sparse

from platemodel.fem.mesh import rectangle
from platemodel.fem.scatter import Scatter, Space


@pytest.fixture(scope="module")
def spaces():
    """Two spaces, with 3 and 2 copies, on the vertices and on the edges and vertices of a small mesh."""
    mesh = rectangle(2.0, 1.0, 4, 3)
    corners = mesh.t.T
    n = mesh.p.shape[1]
    both = np.concatenate([mesh.t2f.T + n, mesh.t.T], axis=1)
    return Space(corners, n, 3), Space(both, n + mesh.facets.shape[1], 2)


def test_the_sum_is_that_of_triplets(spaces):
    first, second = spaces
    dofs = np.concatenate(
        [first.dofs + c * first.size for c in range(3)]
        + [second.dofs + 3 * first.size + c * second.size for c in range(2)],
        axis=1,
    )
    half = np.random.default_rng(3).standard_normal((len(dofs), dofs.shape[1], 4))
    blocks = half @ np.swapaxes(half, 1, 2)
    n = 3 * first.size + 2 * second.size
    i, j = np.repeat(dofs, dofs.shape[1], axis=1).ravel(), np.tile(dofs, (1, dofs.shape[1])).ravel()
    expected = sparse.csc_matrix((blocks.ravel(), (i, j)), shape=(n, n))
    found = Scatter(spaces).sum(blocks)
    assert found.nnz == expected.nnz
    # the order of addition differs: round-off only
    assert abs(found - expected).max() < 1e-14 * abs(expected).max()


def test_indices_come_sorted_and_shared(spaces):
    scatter = Scatter(spaces)
    blocks = np.ones((len(spaces[0].dofs), 9 + 12, 9 + 12))
    one, two = scatter.sum(blocks), scatter.sum(2 * blocks)
    assert np.may_share_memory(one.indices, two.indices)
    for column in range(scatter.shape[0]):
        rows = one.indices[one.indptr[column] : one.indptr[column + 1]]
        assert (np.diff(rows) > 0).all()
