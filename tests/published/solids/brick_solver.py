"""20-node bricks put together here and solved with a direct solver; for meshes that would take `ccx` an hour.

Needs `pypardiso` (PyPI). The elements are the general solver's own, C3D20R: stiffness by 2 x 2 x 2 points,
mass by 3 x 3 x 3; both programs give the same figures to five digits on the same mesh (README.md).
"""

import numpy as np
from pypardiso import PyPardisoSolver
from scipy import sparse
from scipy.sparse.linalg import LinearOperator, eigsh

CHUNK = 1000
CORNERS = np.array([(-1, -1, -1), (1, -1, -1), (1, 1, -1), (-1, 1, -1),
                    (-1, -1, 1), (1, -1, 1), (1, 1, 1), (-1, 1, 1)], dtype=float)  # fmt: skip
SIDES = np.array([(0, -1, -1), (1, 0, -1), (0, 1, -1), (-1, 0, -1), (0, -1, 1), (1, 0, 1), (0, 1, 1),
                  (-1, 0, 1), (-1, -1, 0), (1, -1, 0), (1, 1, 0), (-1, 1, 0)], dtype=float)  # fmt: skip


def shapes(at):
    """Shape functions (20,) and derivatives (3, 20) of the brick at a point of its cube."""
    value, slope = np.empty(20), np.empty((3, 20))
    f = 1 + CORNERS * at
    g = CORNERS @ at - 2
    value[:8] = f.prod(1) * g / 8
    for c in range(3):
        others = np.delete(f, c, axis=1).prod(1)
        slope[c, :8] = CORNERS[:, c] * others * (g + f[:, c]) / 8
    for k, side in enumerate(SIDES, start=8):
        factors = np.where(side == 0, 1 - at**2, 1 + side * at)
        slopes = np.where(side == 0, -2 * at, side)
        value[k] = factors.prod() / 4
        for c in range(3):
            slope[c, k] = slopes[c] * np.delete(factors, c).prod() / 4
    return value, slope


def points(count):
    """Gauss points of the cube and their weights."""
    x, w = np.polynomial.legendre.leggauss(count)
    grid = np.stack([v.ravel() for v in np.meshgrid(x, x, x, indexing="ij")], axis=1)
    return grid, np.einsum("i,j,k->ijk", w, w, w).ravel()


def elastic(wood, first, second):
    """Stiffness (6, 6) in space, order xx, yy, zz, yz, xz, xy, of wood with L along first, R along second."""
    e, nu = [wood[f"E_{a}"] for a in "LRT"], (wood["nu_LR"], wood["nu_LT"], wood["nu_RT"])
    give = np.diag([*(1 / v for v in e), 1 / wood["G_RT"], 1 / wood["G_LT"], 1 / wood["G_LR"]])
    for (i, j), value in zip(((0, 1), (0, 2), (1, 2)), nu, strict=True):
        give[i, j] = give[j, i] = -value / e[i]
    axes = np.array([first, second, np.cross(first, second)], dtype=float)  # wood's axes in rows
    pairs = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))
    turn = np.empty((6, 6))  # strain in the wood's axes from strain in space, shears doubled
    for r, (i, j) in enumerate(pairs):
        for c, (k, m) in enumerate(pairs):
            turn[r, c] = axes[i, k] * axes[j, m]
            if i != j:
                turn[r, c] += axes[i, m] * axes[j, k]
    return turn.T @ np.linalg.inv(give) @ turn


def matrices(place, parts):
    """Upper triangles of stiffness and mass, csr, from {name: (bricks, stiffness (6, 6), density)}."""
    n = 3 * len(place)
    reduced, full = [(shapes(p), w) for p, w in zip(*points(2), strict=True)], \
        [(shapes(p), w) for p, w in zip(*points(3), strict=True)]  # fmt: skip
    upper = np.triu_indices(60)
    stiff, mass = sparse.csr_matrix((n, n)), sparse.csr_matrix((n, n))
    for bricks, c, density in parts.values():
        for at in range(0, len(bricks), 20 * CHUNK):
            entries = []
            for nodes in np.array_split(
                bricks[at : at + 20 * CHUNK], max(1, len(bricks[at : at + 20 * CHUNK]) // CHUNK)
            ):
                x, k, m = place[nodes], np.zeros((len(nodes), 60, 60)), np.zeros((len(nodes), 20, 20))
                for (_, slope), w in reduced:
                    jacobian = slope @ x
                    d = np.linalg.solve(jacobian, np.broadcast_to(slope, (len(x), 3, 20)))
                    b = np.zeros((len(x), 6, 20, 3))
                    for axis in range(3):
                        b[:, axis, :, axis] = d[:, axis]
                    for row, (i, j) in enumerate(((1, 2), (0, 2), (0, 1)), start=3):
                        b[:, row, :, i], b[:, row, :, j] = d[:, j], d[:, i]
                    b = b.reshape(len(x), 6, 60)
                    k += np.swapaxes(b, 1, 2) @ ((w * np.linalg.det(jacobian))[:, None, None] * (c @ b))
                for (value, slope), w in full:
                    m += (density * w * np.linalg.det(slope @ x))[:, None, None] * np.outer(value, value)
                m = (m[:, :, None, :, None] * np.eye(3)[None, None, :, None, :]).reshape(k.shape)
                dofs = (3 * nodes[:, :, None] + np.arange(3)).reshape(len(nodes), 60).astype(np.int32)
                i, j = dofs[:, upper[0]], dofs[:, upper[1]]
                entries.append((np.minimum(i, j), np.maximum(i, j), k[:, upper[0], upper[1]],
                                m[:, upper[0], upper[1]]))  # fmt: skip
            i, j, k, m = (np.concatenate([e[q].ravel() for e in entries]) for q in range(4))
            stiff = stiff + sparse.csr_matrix((k, (i, j)), shape=(n, n))
            keep = m != 0
            mass = mass + sparse.csr_matrix((m[keep], (i[keep], j[keep])), shape=(n, n))
    return stiff, mass


def whole(upper):
    """Symmetric matrix from its upper triangle."""
    return (upper + sparse.triu(upper, 1).T).tocsr()


class Factored:
    """A symmetric positive matrix given by its upper triangle, factored once."""

    def __init__(self, upper):
        self.matrix = upper.tocsr()
        self.matrix.sort_indices()
        self.solver = PyPardisoSolver(mtype=2)
        self.solver.factorize(self.matrix)

    def solve(self, load):
        """Solve for one load or for columns of loads."""
        self.solver.set_phase(33)
        return self.solver._call_pardiso(self.matrix, np.asfortranarray(load))

    def free(self):
        """Give the memory back."""
        self.solver.free_memory(everything=True)


def modes(stiff, mass, count, shift):
    """Lowest `count` eigenvalues of upper triangles with vectors, the rigid ones first."""
    factored = Factored(stiff + shift * mass)
    n = stiff.shape[0]
    inverse = LinearOperator((n, n), matvec=factored.solve, dtype=float)
    start = np.random.default_rng(1).standard_normal(n)
    values, vectors = eigsh(whole(stiff), count, whole(mass), sigma=-shift, OPinv=inverse, v0=start, tol=1e-9)
    factored.free()
    order = np.argsort(values)
    return values[order], vectors[:, order]
