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
    """Modes in ascending order, rigid motions first.

    Attributes
    ----------
    omega2 : array (m,)
        Squared circular frequencies of the elastic modes, 1/s2.
    vectors : array (n, m)
        Mass-normalised shapes in the system's full DOFs.
    rigid : array (r, )
        Squared circular frequencies found for rigid motions, near 0.
    residual : float
        Largest |K x - lambda M x| / |lambda M x| over the elastic modes.
    """

    omega2: np.ndarray
    vectors: np.ndarray
    rigid: np.ndarray
    residual: float

    @property
    def frequencies(self):
        """Natural frequencies, Hz: (m,)."""
        return np.sqrt(self.omega2) / (2.0 * np.pi)


def low_modes(stiffness, mass, shift, count, rigid=0, tolerance=1e-9):
    """Lowest elastic modes.

    Parameters
    ----------
    stiffness, mass : sparse (n, n)
        Symmetric; mass positive definite.
    shift : float
        A positive value of the order of the first elastic lambda; the operator is K + shift M.
    count : int
        Elastic modes wanted.
    rigid : int
        Rigid motions expected; they are computed, counted and dropped.
    tolerance : float
        Of Lanczos.

    Returns
    -------
    Modes

    Raises
    ------
    AccuracyError
        Fewer or more rigid motions than expected, or a residual above 1e-5.
    """
    wanted = min(count + rigid, stiffness.shape[0] - 2)
    if stiffness.shape[0] <= DENSE:
        values, vectors = eigh(stiffness.toarray(), mass.toarray(), subset_by_index=(0, wanted - 1))
        _check_rigid(values, rigid)
    else:
        values, vectors = _lanczos(stiffness, mass, shift, wanted, rigid, tolerance)
    elastic, shapes = values[rigid:], vectors[:, rigid:]
    inertia = mass @ shapes
    shapes = shapes / np.sqrt((shapes * inertia).sum(0))
    peak = shapes[np.abs(shapes).argmax(0), np.arange(shapes.shape[1])]
    shapes = shapes * np.sign(peak)
    force = (mass @ shapes) * elastic
    residual = np.linalg.norm(stiffness @ shapes - force, axis=0) / np.linalg.norm(force, axis=0)
    worst = float(residual.max())
    if not worst < 1e-5:
        msg = f"eigenvalue residual {worst:.1e}, allowed 1e-5; the mesh or the stiffness is badly conditioned"
        raise AccuracyError(msg)
    return Modes(elastic, shapes, values[:rigid], worst)


def _lanczos(stiffness, mass, shift, wanted, rigid, tolerance):
    """Shift-invert Lanczos; a second start if one of several equal eigenvalues (rigid motions) was missed."""
    n = stiffness.shape[0]
    solve = factorise(stiffness + shift * mass).solve
    inverse = LinearOperator((n, n), matvec=solve, dtype=float)
    for attempt in range(3):
        start = np.random.default_rng(attempt).standard_normal(n)  # fixed: repeated calls agree bit for bit
        size = min(n, (2 + attempt) * (wanted + 2) + 1)
        found, shapes = eigsh(
            stiffness, k=wanted + 2, M=mass, sigma=-shift, OPinv=inverse, v0=start, tol=tolerance, ncv=size
        )
        order = np.argsort(found)[:wanted]
        try:
            _check_rigid(found[order], rigid)
        except AccuracyError:
            if attempt == 2:
                raise
            continue
        return found[order], shapes[:, order]


def _check_rigid(values, rigid):
    if len(values) <= rigid:
        return
    first = values[rigid]
    if rigid and np.abs(values[:rigid]).max() > 1e-6 * first:
        msg = (
            f"expected {rigid} rigid motions, but number {rigid} has lambda {values[rigid - 1]:.3g} "
            f"against {first:.3g} for the first elastic mode; check supports and shift"
        )
        raise AccuracyError(msg)
    if first <= 0 or (len(values) > rigid + 1 and first < 1e-6 * values[rigid + 1]):
        msg = f"found a motion without stiffness beyond the {rigid} expected; check supports and shift"
        raise AccuracyError(msg)
