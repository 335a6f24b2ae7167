"""A plate strip with a bar, everything harmonic along the bar: solid elements on the section, no ends.

Displacements are u(b, n) exp(i k t): the problem of one half-wave of an endless bar, exact along it, and on
the section rectangles of polynomial order 4 that close in on the joint, its corners and the free edges. It
shares no code and no theory with the shell and the rib.
"""

from functools import lru_cache

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import eigsh

ORDER = 4


@lru_cache
def _lobatto(order):
    """Gauss weights, values of Gauss-Lobatto polynomials and slopes of the polynomials there."""
    legendre = np.polynomial.legendre
    inner = np.sort(np.real(legendre.legroots(legendre.legder([0] * order + [1]))))
    nodes = np.concatenate([[-1.0], inner, [1.0]])
    x, weight = legendre.leggauss(order + 1)
    inverse = np.linalg.inv(np.vander(nodes, increasing=True))
    power = np.arange(order + 1)
    slopes = power * x[:, None] ** np.maximum(power - 1, 0)
    return weight, np.vander(x, order + 1, increasing=True) @ inverse, slopes @ inverse


def _graded(width, height, thickness, left, right):
    """Lines across and upwards: close at the joint's corners and at the free edges."""
    near = thickness * np.array([0.0, 0.04, 0.12, 0.3, 0.7, 1.4, 2.6])
    rim = thickness * np.array([1.6, 0.7, 0.25, 0.0])

    def beside(free):
        end = free - 0.5 * width
        return 0.5 * width + np.concatenate([near, np.linspace(near[-1], end - rim[0], 10)[1:-1], end - rim])

    under = width * np.array([-0.5, -0.42, -0.25, 0.0, 0.25, 0.42, 0.5])
    b = np.concatenate([-beside(left)[::-1][:-1], under, beside(right)[1:]])
    plate = thickness * np.array([-0.5, -0.42, -0.2, 0.1, 0.5])
    if not height:
        return b, plate, 0
    first = np.array([0.0, 0.04, 0.12, 0.3, 0.7]) * min(thickness, height)
    below = np.concatenate([first, np.linspace(first[-1], height, 5)[1:]])
    return b, np.concatenate([-0.5 * thickness - below[::-1][:-1], plate]), len(below) - 1


def frequencies(stiffness, density, width, height, thickness, left, right, k, count=8, bar=None):
    """Lowest frequencies, Hz: (count,).

    Parameters
    ----------
    stiffness : array (6, 6)
        Elastic stiffness of the plate, Pa, order tt, bb, nn, bn, tn, tb.
    density : float
        kg/m3.
    width, height, thickness : float
        Of bar, bar and plate, m; a bar without height is none.
    left, right : float
        From the bar's middle to the free edges, m.
    k : float
        Wave number along the bar, rad/m.
    bar : array (6, 6), optional
        Stiffness of the bar, where it is not the plate's.
    """
    bar = stiffness if bar is None else bar
    b, n, of_bar = _graded(width, height, thickness, left, right)
    weight, value, slope = _lobatto(ORDER)
    size = ORDER + 1
    columns, levels = len(b) - 1, len(n) - 1
    cells = [
        (i, j)
        for j in range(levels)
        for i in range(columns)
        if j >= of_bar or (b[i] > -0.51 * width and b[i + 1] < 0.51 * width)
    ]
    used = np.zeros((ORDER * columns + 1, ORDER * levels + 1), dtype=bool)
    for i, j in cells:
        used[ORDER * i : ORDER * i + size, ORDER * j : ORDER * j + size] = True
    number = np.full(used.shape, -1)
    number[used] = np.arange(used.sum())
    total = int(used.sum())
    flat, over_b, over_n = np.kron(value, value), np.kron(slope, value), np.kron(value, slope)
    gauss = np.kron(weight, weight)
    zero = np.zeros_like(flat)
    out = [[], [], [], []]
    for i, j in cells:
        wide, high = b[i + 1] - b[i], n[j + 1] - n[j]
        area = 0.25 * wide * high * gauss
        d_b, d_n, along = 2.0 / wide * over_b, 2.0 / high * over_n, 1j * k * flat
        rows = (
            (along, zero, zero),
            (zero, d_b, zero),
            (zero, zero, d_n),
            (zero, d_n, d_b),
            (d_n, zero, along),
            (d_b, along, zero),
        )
        strain = np.stack([np.hstack(row) for row in rows], axis=1)
        stress = np.einsum("g,ab,gbj->gaj", area, stiffness if j >= of_bar else bar, strain)
        stiff = strain.conj().reshape(-1, 3 * size**2).T @ stress.reshape(-1, 3 * size**2)
        mass = np.kron(np.eye(3), density * (flat.T * area) @ flat)
        own = number[ORDER * i : ORDER * i + size, ORDER * j : ORDER * j + size].ravel()
        own = np.concatenate([own, own + total, own + 2 * total])
        for part, values in zip(
            out, (np.repeat(own, len(own)), np.tile(own, len(own)), stiff.ravel(), mass.ravel()), strict=True
        ):
            part.append(values)
    i, j, stiff, mass = (np.concatenate(part) for part in out)
    shape = (3 * total, 3 * total)
    # real where the wood does not slope: the displacement along in quadrature with the others
    turn = np.repeat([1j, 1.0, 1.0], total)
    stiff = sparse.csc_matrix((stiff * turn[i].conj() * turn[j], (i, j)), shape=shape)
    if np.abs(stiff.imag.data).max() < 1e-9 * np.abs(stiff.data).max():
        stiff = stiff.real
    mass = sparse.csc_matrix((mass, (i, j)), shape=shape)
    values = eigsh(
        stiff, count, mass, sigma=-((2 * np.pi * 30.0) ** 2), which="LM", return_eigenvectors=False
    )
    return np.sqrt(np.abs(np.sort(values))) / (2.0 * np.pi)
