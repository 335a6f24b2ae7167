"""Stiffness of an upright solid block as its two glued faces see it."""

from itertools import pairwise

import numpy as np
from scipy import linalg
from skfem import Basis, ElementTriP2, MeshTri

from platemodel.fem.arrays import Floats

LAYERS = (0.0, 0.1, 0.5, 0.9, 1.0)  # shares of the height: thin at the faces, where stress varies most
LINE = np.array([[2.0, -3.0, 1.0], [-4.0, 4.0, 0.0], [2.0, -1.0, 0.0]])  # of t^2, t, 1, at t = 0, 1/2, 1


def faces_stiffness(plan: MeshTri, lower: Floats, upper: Floats, compliance: Floats) -> Floats:
    """Stiffness of a block for forces on its two faces, all else free.

    Parameters
    ----------
    plan : MeshTri
        Of the footprint.
    lower, upper : array (n,)
        Heights of the faces at the corners and mid-sides of the plan's triangles (`plan_nodes`), m.
    compliance : array (6, 6)
        In axes x, y, z, 1/Pa.

    Returns
    -------
    array (2 * n * 3, 2 * n * 3)
        N/m: face (lower first) by node by x, y, z.

    Notes
    -----
    Wedges, quadratic in plan and upwards (isoparametric, so that rigid motions cost nothing), in `LAYERS`;
    nodes between the faces are eliminated layer by layer.
    """
    n, stiff = 3 * len(lower), np.linalg.inv(compliance)
    out, *others = (_without_middle(_layer(plan, lower, upper, stiff, *ends), n) for ends in pairwise(LAYERS))
    for other in others:
        both = np.zeros((3 * n, 3 * n))
        both[: 2 * n, : 2 * n] = out
        both[n:, n:] += other
        out = _without_middle(both, n)
    return out


def plan_nodes(plan: MeshTri) -> tuple[Floats, Floats]:
    """Corners and mid-sides of a plan's triangles, (2, n), and the area that each stands for, m2: (n,).

    The rule is that of the three mid-sides, exact for squares of linear functions: corners have no area.
    """
    basis = Basis(plan, ElementTriP2())
    area = basis.dx.sum(axis=1)
    sides = basis.element_dofs[3:]
    counted = np.bincount(sides.ravel(), np.tile(area / 3.0, 3), minlength=basis.N)
    weight = np.asarray(counted, dtype=float)
    return np.asarray(basis.doflocs), weight


def _layer(plan: MeshTri, lower: Floats, upper: Floats, stiff: Floats, start: float, stop: float) -> Floats:
    """Stiffness of one layer of wedges over its three levels of nodes: (3 * n * 3, 3 * n * 3)."""
    basis = Basis(plan, ElementTriP2(), intorder=4)
    dofs, area = basis.element_dofs, basis.dx
    shape = np.array([np.broadcast_to(basis.basis[i][0], area.shape) for i in range(6)])
    slope = np.array([basis.basis[i][0].grad for i in range(6)])
    high = (upper - lower)[dofs]
    height = np.einsum("ie,ieq->eq", high, shape)
    points, weights = np.polynomial.legendre.leggauss(3)
    gradients, volumes = [], []
    for point, weight in zip(0.5 * (1.0 + points), 0.5 * weights, strict=True):
        t = start + (stop - start) * point
        rise = np.einsum("ie,iceq->ceq", lower[dofs] + t * high, slope)
        line = LINE @ [point**2, point, 1.0]
        along = LINE @ [2.0 * point, 1.0, 0.0] / (stop - start)
        up = np.einsum("ieq,k->kieq", shape, along) / height
        flat = np.einsum("iceq,k->kiceq", slope, line) - up[:, :, None] * rise
        gradients.append(np.concatenate([flat, up[:, :, None]], axis=2))
        volumes.append(area * height * weight * (stop - start))
    g = np.concatenate(gradients, axis=-1)  # (level, node, direction, element, point)
    volume = np.concatenate(volumes, axis=-1)
    n_elements, nodes = g.shape[3], 18
    g = g.reshape(nodes * 3, n_elements, -1).transpose(1, 0, 2)
    products = ((g * volume[:, None]) @ g.transpose(0, 2, 1)).reshape(n_elements, nodes, 3, nodes, 3)
    local = np.einsum("eiajb,acdb->eicjd", products, _tensor(stiff), optimize=True)
    n, size = len(lower), 3 * nodes
    number = np.concatenate([dofs + level * n for level in range(3)])
    number = (3 * number[:, None] + np.arange(3)[None, :, None]).reshape(size, n_elements).T
    out = np.zeros((9 * n, 9 * n))
    np.add.at(out, (number[:, :, None], number[:, None, :]), local.reshape(n_elements, size, size))
    return out


def _tensor(stiff: Floats) -> Floats:
    """Stiffness (a, c, d, b): stress c along a for a gradient of displacement d along b."""
    voigt = np.array([[0, 5, 4], [5, 1, 3], [4, 3, 2]])
    return stiff[voigt[:, :, None, None], voigt[None, None]]


def _without_middle(stiff: Floats, n: int) -> Floats:
    """Eliminate the second of three groups of n unknowns."""
    inside = slice(n, 2 * n)
    ends = np.r_[0:n, 2 * n : 3 * n]
    factor = linalg.cho_factor(stiff[inside, inside], lower=True)
    return stiff[np.ix_(ends, ends)] - stiff[ends, inside] @ linalg.cho_solve(factor, stiff[inside, ends])
