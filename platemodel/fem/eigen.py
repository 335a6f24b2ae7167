"""Low modes of K x = lambda M x by a shift-invert block search, with the checks that catch a wrong shift."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.linalg import eigh, solve_triangular

from platemodel.errors import AccuracyError
from platemodel.fem.arrays import Floats, Sparse
from platemodel.fem.factors import factorise

DENSE = 700  # unknowns up to which a dense solve is as fast and cannot miss a repeated eigenvalue

BLOCK = 4  # vectors searched with at once

# Vectors after which the search gives up: so many times the modes wanted, and so many more. A top's 12 modes
# settle after 60.
LIMIT = (6, 160)

# What round-off in a matrix's entries, sums of some hundred products that cancel in a rigid motion, may leave
# of it, over what their moduli make of it. On tops with a bar it leaves twice the unit of round-off.
ROUNDING = 16.0 * np.finfo(float).eps

LEFT = 1e-5  # relative residual that is allowed a mode, besides round-off that does less to its value

SOUND = 1e-3  # relative residual of a solution up to which factors are taken to be sound; a top's is 1e-8


def with_pattern(matrix: Sparse, data: Floats) -> Sparse:
    """Sparse matrix with the pattern of another and its own entries."""
    return sparse.csc_matrix((data, matrix.indices, matrix.indptr), shape=matrix.shape)


def shifted(stiffness: Sparse, mass: Sparse, shift: float) -> Sparse:
    """K + shift M, entry by entry where the two share one pattern."""
    if stiffness.nnz == mass.nnz and np.may_share_memory(stiffness.indices, mass.indices):
        return with_pattern(stiffness, stiffness.data + shift * mass.data)
    return stiffness + shift * mass


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

    def __repr__(self) -> str:
        shown = ", ".join(f"{f:.4g}" for f in self.frequencies[:6])
        more = ", ..." if len(self.omega2) > 6 else ""
        return f"Modes({len(self.omega2)} of {len(self.vectors)} unknowns, {shown}{more} Hz)"

    @property
    def frequencies(self) -> Floats:
        """Natural frequencies, Hz: (m,)."""
        return np.sqrt(self.omega2) / (2.0 * np.pi)

    def lowest(self, count: int) -> "Modes":
        """Return the lowest of them."""
        if count >= len(self.omega2):
            return self
        return Modes(self.omega2[:count], self.vectors[:, :count], self.rigid, self.residual)


def low_modes(
    stiffness: Sparse,
    mass: Sparse,
    shift: float,
    count: int,
    rigid: Floats | None = None,
    tolerance: float = 1e-9,
    solve: Callable[[Floats], Floats] | None = None,
) -> Modes:
    """Lowest elastic modes of (11.1), with the checks (11.4) of the theory.

    Parameters
    ----------
    stiffness, mass : sparse (n, n)
        Symmetric; mass positive definite. With ``solve`` the mass may be anything that multiplies arrays.
    shift : float
        A positive value of the order of the first elastic lambda; the operator is K + shift M. 0 with a
        ``solve`` that answers loads which balance on the rigid motions.
    count : int
        Elastic modes wanted.
    rigid : array (n, r), optional
        Rigid motions, any independent set. They are taken out of the search, so that their repeated zero
        can neither be missed nor spoil the rest.
    tolerance : float
        Relative change of an eigenvalue from one step of the search to the next at which it ends; the last
        inverse step brings the error well below it.
    solve : callable, optional
        Solution of K + shift M, where it is factorised already; in it rigid motions do not matter.

    Raises
    ------
    AccuracyError
        A rigid motion that strains the body, a motion without stiffness left over, a search that does not
        settle, or a residual above `LEFT` and what round-off leaves.
    ValueError
        No mode is wanted, or more than there are.
    """
    n = stiffness.shape[0]
    most = n - 2 - (0 if rigid is None else rigid.shape[1])
    if not 1 <= count <= most:
        msg = f"{count} modes are wanted; allowed 1 to {most} (the model has {n} unknowns)"
        raise ValueError(msg)
    rigid = np.zeros((n, 0)) if rigid is None else orthonormal(rigid, mass)
    rigid_values = np.einsum("ij,ij->j", rigid, stiffness @ rigid)
    if n <= DENSE and sparse.issparse(mass):
        values, shapes = eigh(
            stiffness.toarray(), mass.toarray(), subset_by_index=(0, count + rigid.shape[1] - 1)
        )
        values, shapes = values[rigid.shape[1] :], shapes[:, rigid.shape[1] :]
    else:
        solve = solve or factorise(shifted(stiffness, mass, shift)).solve
        if shift == 0.0 and rigid.shape[1]:
            solve = _without_rigid(solve, stiffness, mass, rigid)
        try:
            values, shapes = _block_krylov(stiffness, mass, solve, count, rigid, tolerance)
        except _Unsettled as error:
            msg = f"{error}; {_why_unsettled(stiffness, mass, shift, rigid, solve)}"
            raise AccuracyError(msg) from None
    _check_rigid(values, rigid_values, stiffness, rigid)
    shapes = shapes / np.sqrt((shapes * (mass @ shapes)).sum(0))
    peak = shapes[np.abs(shapes).argmax(0), np.arange(shapes.shape[1])]
    shapes = shapes * np.sign(peak)
    force = (mass @ shapes) * values
    size = np.linalg.norm(force, axis=0)
    residual = np.linalg.norm(stiffness @ shapes - force, axis=0) / size
    if not residual.max() < LEFT:
        rounding = _round_off(stiffness, shapes)
        moved = (np.abs(shapes) * rounding).sum(axis=0) / values  # what it may do to the value itself
        allowed = LEFT + np.where(moved < LEFT, np.linalg.norm(rounding, axis=0) / size, 0.0)
        k = int(np.argmax(residual / allowed))
        if not residual[k] < allowed[k]:
            msg = f"eigenvalue residual {residual[k]:.1e}, allowed {allowed[k]:.1e}"
            msg += "; the mesh or the stiffness is badly conditioned"
            raise AccuracyError(msg)
    return Modes(values, shapes, rigid_values, float(residual.max()))


def _round_off(stiffness: Sparse, shapes: Floats) -> Floats:
    """Bound the forces that round-off leaves of K x; see `ROUNDING`."""
    return ROUNDING * (abs(stiffness) @ np.abs(shapes))


def _without_rigid(
    solve: Callable[[Floats], Floats], stiffness: Sparse, mass: Sparse, rigid: Floats
) -> Callable[[Floats], Floats]:
    """Rid solutions of their rigid motion, and of what K makes of it: in exact arithmetic nothing.

    On fine meshes with a bar the round-off in K times a rigid motion is 1e-3 of a mode's own forces; what it
    does to the body is solved for once.
    """
    inertia = mass @ rigid
    answer = solve(np.asfortranarray(stiffness @ rigid))
    taken = rigid - answer + rigid @ (inertia.T @ answer)

    def solved(loads: Floats) -> Floats:
        found = solve(loads)
        return found - taken @ (inertia.T @ found)

    return solved


def orthonormal(vectors: Floats, mass: Sparse) -> Floats:
    """Independent vectors made orthonormal in a mass matrix, from their small Gram matrix: (n, r)."""
    gram = vectors.T @ (mass @ vectors)
    return solve_triangular(np.linalg.cholesky(gram), vectors.T, lower=True, check_finite=False).T


def _block_krylov(
    stiffness: Sparse,
    mass: Sparse,
    solve: Callable[[Floats], Floats],
    count: int,
    rigid: Floats,
    tolerance: float,
) -> tuple[Floats, Floats]:
    """Shift-invert block Krylov search (11.3), mass-orthogonal to the rigid motions: values, and shapes.

    A block finds modes of equal pitch, which a search from a single vector passes over, and the
    factors are applied to several vectors at once: on a top twice as fast as the library's Lanczos iteration.
    """
    n, r = rigid.shape
    basis, inertia, image = (_Columns(n) for _ in range(3))  # mass-orthonormal, M basis, A^-1 M basis
    basis.add(rigid)
    inertia.add(mass @ rigid)
    # fixed: repeated calls agree bit for bit
    block: Floats = np.random.default_rng(1).standard_normal((n, BLOCK))
    before: Floats = np.zeros(0)
    change: Floats = np.full(count, np.inf)
    while basis.count < n:
        if basis.count > LIMIT[0] * count + LIMIT[1]:
            worst = int(change.argmax())
            msg = (
                f"the search for {count} modes did not settle within {basis.count} vectors: the square of "
                f"frequency {worst + 1} still moves by {change[worst]:.1e} of itself, allowed {tolerance:.0e}"
            )
            raise _Unsettled(msg)
        for _ in range(2):
            block = block - basis.all @ (inertia.all.T @ block)
        weighted = mass @ block
        gram = block.T @ weighted
        size, turn = np.linalg.eigh(gram)
        keep = size > 1e-14 * size[-1]
        turn = turn[:, keep] / np.sqrt(size[keep])
        block, weighted = block @ turn, weighted @ turn
        basis.add(block)
        inertia.add(weighted)
        block = solve(np.asfortranarray(weighted))
        image.add(block)
        if image.count < count + BLOCK:
            continue
        projected = inertia.all[:, r:].T @ image.all
        ritz, vectors = np.linalg.eigh(0.5 * (projected + projected.T))
        ritz, vectors = ritz[::-1][:count], vectors[:, ::-1][:, :count]
        if len(before):
            change = np.abs(ritz / before - 1.0)
            if change.max() < tolerance:
                break
        before = ritz
    # an inverse step, had for nothing, rids the shapes of the high motions that the projection leaves in them
    shapes = image.all @ vectors
    shapes = orthonormal(shapes - rigid @ (inertia.all[:, :r].T @ shapes), mass)
    values, turn = np.linalg.eigh(shapes.T @ (stiffness @ shapes))
    return values, shapes @ turn


class _Unsettled(Exception):
    """The search has come to its limit."""


def _why_unsettled(
    stiffness: Sparse, mass: Sparse, shift: float, rigid: Floats, solve: Callable[[Floats], Floats]
) -> str:
    """Say whether the factors are to blame: they are if a solution multiplied back misses its load."""
    load = np.random.default_rng(2).standard_normal((stiffness.shape[0], 1))
    load = load - mass @ (rigid @ (rigid.T @ load))  # balanced
    found = solve(load)
    found = found - rigid @ (rigid.T @ (mass @ found))
    lost = float(np.linalg.norm(stiffness @ found + shift * (mass @ found) - load) / np.linalg.norm(load))
    if lost < SOUND:
        return "ask for fewer modes, or give a shift nearer to the first of them"
    return (
        f"solving loses {lost:.1e} of a load, so the stiffness is badly conditioned: look for needle-shaped "
        "triangles, or for springs or ribs many orders of magnitude stiffer than the plate"
    )


class _Columns:
    """Columns that come a few at a time."""

    def __init__(self, n: int, room: int = 64) -> None:
        self._array = np.empty((n, min(room, n)), order="F")
        self.count = 0

    def add(self, columns: Floats) -> None:
        after = self.count + columns.shape[1]
        if after > self._array.shape[1]:
            wider = np.empty((self._array.shape[0], 2 * after), order="F")
            wider[:, : self.count] = self.all
            self._array = wider
        self._array[:, self.count : after] = columns
        self.count = after

    @property
    def all(self) -> Floats:
        return self._array[:, : self.count]


def _check_rigid(values: Floats, rigid_values: Floats, stiffness: Sparse, rigid: Floats) -> None:
    first = values[0]
    strained = np.abs(rigid_values) > 1e-6 * first
    if strained.any():
        rounding = (np.abs(rigid) * _round_off(stiffness, rigid)).sum(axis=0)
        strained = np.abs(rigid_values) > 1e-6 * first + rounding
    if strained.any():
        most = np.abs(rigid_values)[strained].max()
        msg = (
            f"a rigid motion strains the body: lambda {most:.3g} against {first:.3g} for the first elastic "
            "mode; check the supports"
        )
        raise AccuracyError(msg)
    if first <= 0 or (len(values) > 1 and first < 1e-6 * values[1]):
        msg = f"a motion without stiffness is left (lambda {first:.3g}); the supports leave the body loose"
        raise AccuracyError(msg)
