"""Low modes of K x = lambda M x by a shift-invert block search, with the checks that catch a wrong shift."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import eigh
from scipy.sparse.linalg import splu

from platemodel.errors import AccuracyError

DENSE = 700  # unknowns up to which a dense solve is as fast and cannot miss a repeated eigenvalue

BLOCK = 4  # vectors searched with at once


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


def low_modes(stiffness, mass, shift, count, rigid=None, tolerance=1e-9):
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
        Relative change of an eigenvalue from one step of the search to the next at which it ends; the last
        inverse step brings the error well below it.

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
        values, shapes = _block_krylov(stiffness, mass, shift, count, rigid, tolerance)
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


def _block_krylov(stiffness, mass, shift, count, rigid, tolerance):
    """Shift-invert block Krylov search, mass-orthogonal to the rigid motions: values ascending, and shapes.

    A block finds modes of equal pitch, which a search from a single vector passes over, and the
    factors are applied to several vectors at once: on a top twice as fast as the library's Lanczos iteration.
    """
    n = stiffness.shape[0]
    solve = factorise(stiffness + shift * mass).solve
    basis, inertia = rigid, mass @ rigid  # mass-orthonormal throughout
    image = np.zeros((n, 0))
    r = rigid.shape[1]
    block = np.random.default_rng(1).standard_normal((n, BLOCK))  # fixed: repeated calls agree bit for bit
    before = np.zeros(0)
    while basis.shape[1] < n:
        for _ in range(2):
            block = block - basis @ (inertia.T @ block)
        weighted = mass @ block
        gram = block.T @ weighted
        size, turn = np.linalg.eigh(gram)
        keep = size > 1e-14 * size[-1]
        turn = turn[:, keep] / np.sqrt(size[keep])
        block, weighted = block @ turn, weighted @ turn
        basis, inertia = np.concatenate([basis, block], axis=1), np.concatenate([inertia, weighted], axis=1)
        block = solve(np.asfortranarray(weighted))
        image = np.concatenate([image, block], axis=1)
        if image.shape[1] < count + BLOCK:
            continue
        projected = inertia[:, r:].T @ image
        ritz, vectors = np.linalg.eigh(0.5 * (projected + projected.T))
        ritz, vectors = ritz[::-1][:count], vectors[:, ::-1][:, :count]
        if len(before) and np.abs(ritz / before - 1.0).max() < tolerance:
            break
        before = ritz
    # one more inverse step rids the shapes of the high motions that the projection leaves in them
    shapes = solve(np.asfortranarray(inertia[:, r:] @ vectors))
    shapes = orthonormal(shapes - rigid @ (inertia[:, :r].T @ shapes), mass)
    values, turn = np.linalg.eigh(shapes.T @ (stiffness @ shapes))
    return values, shapes @ turn


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
