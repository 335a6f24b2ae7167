"""Quadratic rectangles on half a symmetric section, all three displacements: matrices, loads, elimination.

A cut across a rib that runs on for ever: nothing but the imposed stretch, twist and bending changes along it.
Axes t along (no extent), b across from the plane of symmetry, n normal. Wood may slope in the t-n plane,
which keeps the symmetry. Displacements are then of two kinds that do not mix, told apart by what is odd in b.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from platemodel.fem.arrays import Floats

Kind = tuple[bool, bool, bool]

# Which of u_t, u_b, u_n are odd in b and so have no node at b = 0.
BENDING: Kind = (False, True, False)  # stretch and bending of the section in its plane of symmetry
TURNING: Kind = (True, False, True)  # twist, sideways bending, shear of the two sides against each other


@dataclass(frozen=True)
class Line:
    """Quadratic elements on lines: nodes (..., m); integrals of N_i N_j, N_i' N_j', N_i N_j' (..., m, m)."""

    x: np.ndarray
    mass: np.ndarray
    stiff: np.ndarray
    mixed: np.ndarray


_MASS = np.array([[4.0, 2.0, -1.0], [2.0, 16.0, 2.0], [-1.0, 2.0, 4.0]]) / 30.0
_STIFF = np.array([[7.0, -8.0, 1.0], [-8.0, 16.0, -8.0], [1.0, -8.0, 7.0]]) / 3.0
_MIXED = np.array([[-3.0, 4.0, -1.0], [-4.0, 0.0, 4.0], [1.0, -4.0, 3.0]]) / 6.0


def line(points: Floats) -> Line:
    """Elements between consecutive points (..., n + 1)."""
    size = np.diff(points)
    nodes = np.repeat(points, 2, axis=-1)[..., :-1]
    nodes[..., 1::2] += 0.5 * size
    parts = [np.zeros((*nodes.shape, nodes.shape[-1])) for _ in range(3)]
    for e in range(size.shape[-1]):
        own = slice(2 * e, 2 * e + 3)
        h = size[..., e, None, None]
        for whole, part in zip(parts, (h * _MASS, _STIFF / h, _MIXED), strict=True):
            whole[..., own, own] += part
    return Line(nodes, *parts)


def count(b: Line, kind: Kind) -> list[int]:
    """Unknowns of one level, u_t then u_b then u_n: three numbers."""
    return [len(b.x) - odd for odd in kind]


def _by_fields(terms: Mapping[tuple[int, int], Floats], b: Line, kind: Kind) -> Floats:
    """Block matrix over the fields of one level from {(row field, column field): matrix over all nodes}."""
    sizes = count(b, kind)
    start = np.concatenate([[0], np.cumsum(sizes)])
    out = np.zeros((start[-1], start[-1]))
    for (i, j), part in terms.items():
        out[start[i] : start[i + 1], start[j] : start[j + 1]] += part[int(kind[i]) :, int(kind[j]) :]
    return out


def _kron(outer: Floats, inner: Floats) -> Floats:
    """Kronecker products of matrices (..., p, p) and (q, q): (..., p q, p q)."""
    size = outer.shape[-1] * inner.shape[-1]
    product = outer[..., :, None, :, None] * inner[:, None, :]
    return product.reshape(*outer.shape[:-2], size, size)


def grid_stiffness(b: Line, n: Line, c: Floats, kind: Kind) -> Floats:
    """Stiffness of rectangles b x n, per length: (..., N, N), level by level of n.

    Parameters
    ----------
    b, n : Line
        n may hold many lines at once.
    c : array (6, 6)
        Elastic stiffness, Pa, order tt, bb, nn, bn, tn, tb; symmetric about the t-n plane.
    kind : BENDING or TURNING
    """
    flat, steep, cross = b.mass, b.stiff, b.mixed.T  # cross: derivative along b in the row
    plain = {(0, 0): c[5, 5] * steep, (1, 1): c[1, 1] * steep, (2, 2): c[3, 3] * steep}
    plain |= {(0, 2): c[3, 5] * steep, (2, 0): c[3, 5] * steep}
    upward = {(0, 0): c[4, 4] * flat, (1, 1): c[3, 3] * flat, (2, 2): c[2, 2] * flat}
    upward |= {(0, 2): c[2, 4] * flat, (2, 0): c[2, 4] * flat}
    # rows without, columns with the derivative along n
    mixed = {(1, 2): c[1, 2] * cross, (2, 1): c[3, 3] * cross}
    mixed |= {(1, 0): c[1, 4] * cross, (0, 1): c[3, 5] * cross}
    half = _kron(n.mixed, _by_fields(mixed, b, kind))
    return (
        _kron(n.mass, _by_fields(plain, b, kind))
        + _kron(n.stiff, _by_fields(upward, b, kind))
        + half
        + np.swapaxes(half, -1, -2)
    )


def spread(b: Line, n: Line, kind: Kind, field: int, over_b: Floats, over_n: Floats) -> Floats:
    """Vector over the nodes of a load that is a product over b and over n: (..., N).

    Parameters
    ----------
    field : {0, 1, 2}
        u_t, u_b, u_n.
    over_b, over_n : array (m,), (..., levels)
        Load on the nodes of each line.
    """
    sizes = count(b, kind)
    across = np.zeros(sum(sizes))
    start = sum(sizes[:field])
    across[start : start + sizes[field]] = over_b[int(kind[field]) :]
    out = over_n[..., :, None] * across
    return out.reshape(*out.shape[:-2], -1)


def steady(line: Line) -> Floats:
    """Load of an even density on a line's nodes."""
    return line.mass.sum(-1)


def rising(line: Line) -> Floats:
    """Load of a density that is the place itself."""
    return (line.mass @ line.x[..., None])[..., 0]


def rate(line: Line) -> Floats:
    """Load that takes the change of a field along the line, everywhere alike."""
    return line.mixed.sum(-2)


def rate_rising(line: Line) -> Floats:
    """Load of the rate of change, times the place."""
    return (np.swapaxes(line.mixed, -1, -2) @ line.x[..., None])[..., 0]


def twisting(b: Line, n: Line, c: Floats) -> tuple[Floats, Floats]:
    """Energy of unit twist and unit sideways bending, nodes at rest, and what they do at the nodes.

    Twist turns the section about (0, 0): shear strains tn = b, tb = -n. Sideways bending stretches by b.

    Returns
    -------
    own : array (..., 2, 2)
    nodes : array (..., 2, N)
    """
    kind = TURNING
    along_n, along_b = steady(n), steady(b)
    n_n, b_b = rising(n), rising(b)
    square_b = float(b.x @ b.mass @ b.x)
    square_n = (n.x * n_n).sum(-1)
    width, depth = along_b.sum(), along_n.sum(-1)
    both = c[0, 4] * square_b * depth
    own = np.empty((*np.shape(depth), 2, 2))
    own[..., 0, 0] = c[4, 4] * square_b * depth + c[5, 5] * square_n * width
    own[..., 0, 1] = own[..., 1, 0] = both
    own[..., 1, 1] = c[0, 0] * square_b * depth

    def load(field: int, over_b: Floats, over_n: Floats) -> Floats:
        return spread(b, n, kind, field, over_b, over_n)

    # strains of the nodes, each a product: tn = u_t,n; tb = u_t,b; bb = u_b,b; nn = u_n,n; bn = u_b,n + u_n,b
    tn, nn = load(0, b_b, rate(n)), load(2, b_b, rate(n))
    tb, bb = -load(0, rate(b), n_n), load(1, rate_rising(b), along_n)
    bn = -load(1, along_b, rate_rising(n)) - load(2, rate(b), n_n)
    twist = c[4, 4] * tn + c[5, 5] * tb + c[1, 4] * bb + c[2, 4] * nn + c[3, 5] * bn
    side = c[0, 4] * tn + c[0, 1] * bb + c[0, 2] * nn
    return own, np.stack([twist, side], axis=-2)


def bordered(matrix: Floats, own: Floats, nodes: Floats) -> Floats:
    """Put a few shared unknowns before the nodes: (..., a + N, a + N)."""
    a, size = own.shape[-1], matrix.shape[-1]
    out = np.empty((*matrix.shape[:-2], a + size, a + size))
    out[..., :a, :a], out[..., a:, a:] = own, matrix
    out[..., :a, a:], out[..., a:, :a] = nodes, np.swapaxes(nodes, -1, -2)
    return out


def from_free_edge(rows: Floats, shared: int, upwards: bool = True) -> Floats:
    """Condense rows of rectangles to the joint, beginning at the free edge.

    Parameters
    ----------
    rows : array (k, rows, N, N)
        Unknowns: the shared ones, then three levels upwards. The first row has the free edge.
    shared : int
    upwards : bool
        The joint lies above the free edge; else below.
    """
    level = (rows.shape[-1] - shared) // 3
    common, lower = np.arange(shared), shared + np.arange(level)
    ends = (lower + 2 * level, lower) if upwards else (lower, lower + 2 * level)
    order = np.concatenate([common, *ends, lower + level])
    rows = rows[..., order[:, None], order]
    own = np.concatenate([common, lower + level])
    rest: Floats = np.zeros(())
    for e in range(rows.shape[1]):
        rows[:, e, own[:, None], own] += rest
        rest = condense(rows[:, e], shared + level)
    return rest


def condense(matrix: Floats, kept: int) -> Floats:
    """Eliminate all unknowns but the first ones (Schur complement): (..., kept, kept)."""
    across = matrix[..., kept:, :kept]
    give = np.linalg.solve(matrix[..., kept:, kept:], across)
    return matrix[..., :kept, :kept] - np.swapaxes(across, -1, -2) @ give
