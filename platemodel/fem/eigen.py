"""Low modes of K x = lambda M x by shift-invert Lanczos, with the checks that catch a wrong shift."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import eigh
from scipy.sparse.linalg import LinearOperator, eigsh, splu

from platemodel.errors import AccuracyError

DENSE = 700  # unknowns up to which a dense solve is as fast and cannot miss a repeated eigenvalue


def factorise(matrix):
    """Sparse LU of a symmetric definite matrix, ordered for symmetric fill.

    Parameters
    ----------
    matrix : sparse (n, n)

    Returns
    -------
    scipy.sparse.linalg.SuperLU
        Has ``solve``.
    """
    return splu(
        matrix.tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )


@dataclass(frozen=True)
class Modes:
    """Elastic modes in ascending order.

    Attributes
    ----------
    omega2 : array (m,)
        Squared circular frequencies, 1/s2.
    vectors : array (n, m)
        Mass-normalised shapes in the system's full DOFs, the largest entry positive.
    rigid : array (r,)
        Squared circular frequencies of the rigid motions by their Rayleigh quotients, near 0.
    residual : float
        Largest |K x - lambda M x| / |lambda M x|.
    """

    omega2: np.ndarray
    vectors: np.ndarray
    rigid: np.ndarray
    residual: float

    @property
    def frequencies(self):
        """Natural frequencies, Hz: (m,)."""
        return np.sqrt(self.omega2) / (2.0 * np.pi)


def low_modes(stiffness, mass, shift, count, rigid=None, tolerance=1e-6):
    """Lowest elastic modes.

    Parameters
    ----------
    stiffness, mass : sparse (n, n)
        Symmetric; mass positive definite.
    shift : float
        A positive value of the order of the first elastic lambda; the operator is K + shift M.
    count : int
        Elastic modes wanted.
    rigid : array (n, r), optional
        Rigid motions, any independent set. They are taken out of the search, so that their repeated zero
        can neither be missed nor spoil the rest.
    tolerance : float
        Of Lanczos, for the vectors; the eigenvalues' own error is of the order of its square.

    Returns
    -------
    Modes

    Raises
    ------
    AccuracyError
        A rigid motion that strains the body, a motion without stiffness left over, or a residual above 1e-5.
    """
    n = stiffness.shape[0]
    rigid = np.zeros((n, 0)) if rigid is None else orthonormal(rigid, mass)
    rigid_values = np.einsum("ij,ij->j", rigid, stiffness @ rigid)
    count = min(count, n - rigid.shape[1] - 2)
    if n <= DENSE:
        values, shapes = eigh(
            stiffness.toarray(), mass.toarray(), subset_by_index=(0, count + rigid.shape[1] - 1)
        )
        values, shapes = values[rigid.shape[1] :], shapes[:, rigid.shape[1] :]
    else:
        values, shapes = _lanczos(stiffness, mass, shift, count, rigid, tolerance)
    _check_rigid(values, rigid_values)
    shapes = shapes / np.sqrt((shapes * (mass @ shapes)).sum(0))
    peak = shapes[np.abs(shapes).argmax(0), np.arange(shapes.shape[1])]
    shapes = shapes * np.sign(peak)
    force = (mass @ shapes) * values
    residual = np.linalg.norm(stiffness @ shapes - force, axis=0) / np.linalg.norm(force, axis=0)
    worst = float(residual.max())
    if not worst < 1e-5:
        msg = f"eigenvalue residual {worst:.1e}, allowed 1e-5; the mesh or the stiffness is badly conditioned"
        raise AccuracyError(msg)
    return Modes(values, shapes, rigid_values, worst)


def orthonormal(vectors, mass):
    """Independent vectors made orthonormal in a mass matrix, from their small Gram matrix: (n, r)."""
    gram = vectors.T @ (mass @ vectors)
    return np.linalg.solve(np.linalg.cholesky(gram), vectors.T).T


def _lanczos(stiffness, mass, shift, count, rigid, tolerance):
    """Shift-invert Lanczos in the space that is mass-orthogonal to the rigid motions.

    One start vector sees the second of two equal modes only through rounding, so a short second search, kept
    away from all that was found, looks for modes passed over until it finds none.
    """
    factors = factorise(stiffness + shift * mass)
    values, shapes = _search(stiffness, mass, shift, factors, rigid, count, tolerance)
    for _ in range(count):
        away = np.concatenate([rigid, shapes], axis=1)
        more, extra = _search(stiffness, mass, shift, factors, away, 1, tolerance)
        if more[0] >= values[-1]:
            break
        values, shapes = np.append(values, more), np.concatenate([shapes, extra], axis=1)
        order = np.argsort(values)[:count]
        values, shapes = values[order], shapes[:, order]
    return values, shapes


def _search(stiffness, mass, shift, factors, away, count, tolerance):
    """Lowest modes mass-orthogonal to given orthonormal vectors: values ascending, and shapes."""
    n = stiffness.shape[0]
    inertia = mass @ away

    def solve(x):
        y = factors.solve(x - inertia @ (away.T @ x))
        return y - away @ (inertia.T @ y)

    # Fixed, so that repeated calls agree bit for bit; another for each search, because of two equal modes a
    # search finds just the part of its start, and the same start holds nothing of the other.
    start = np.random.default_rng(1 + away.shape[1]).standard_normal(n)
    values, shapes = eigsh(
        stiffness,
        k=count,
        M=mass,
        sigma=-shift,
        OPinv=LinearOperator((n, n), matvec=solve, dtype=float),
        v0=start - away @ (inertia.T @ start),
        tol=tolerance,
        ncv=min(n - 1, max(2 * count + 2, 12)),
    )
    order = np.argsort(values)
    return values[order], shapes[:, order]


def _check_rigid(values, rigid_values):
    first = values[0]
    if len(rigid_values) and np.abs(rigid_values).max() > 1e-6 * first:
        msg = (
            f"a rigid motion strains the body: lambda {rigid_values.max():.3g} against {first:.3g} for the "
            "first elastic mode; check the supports"
        )
        raise AccuracyError(msg)
    if first <= 0 or (len(values) > 1 and first < 1e-6 * values[1]):
        msg = f"a motion without stiffness is left (lambda {first:.3g}); the supports leave the body loose"
        raise AccuracyError(msg)
