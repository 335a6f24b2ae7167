"""Eigenvalue solver: against a dense solver, twins, and the checks that it makes of itself."""

import numpy as np
import pytest
from scipy.linalg import eigh
from scipy.sparse import csc_matrix, diags, identity

from platemodel.errors import AccuracyError
from platemodel.fem.eigen import DENSE, low_modes, orthonormal
from platemodel.fem.factors import factorise
from platemodel.fem.supports import hold, point_spring
from platemodel.fem.system import System
from tests.published.cases.isotropic import SIDE, STEEL, THIN
from tests.published.cases.models import SPRUCE, Z, edges, immovable, plate


@pytest.fixture(scope="module")
def spruce():
    """Free plate, large enough for the sparse search."""
    return System(plate(SPRUCE, 3e-3, 0.36, 0.20, 6, 5))


def test_search_agrees_with_a_dense_solver(spruce):
    """LAPACK's dense solution of the same matrices; 1e-9 is far below any error of the model."""
    assert spruce.n_dofs > DENSE
    stiffness, mass = (m.toarray() for m in spruce.matrices)
    values = eigh(stiffness, mass, eigvals_only=True, subset_by_index=(6, 17))
    assert spruce.modes(12).omega2 == pytest.approx(values, rel=1e-9)


def test_modes_are_orthonormal_and_solve_the_problem(spruce):
    found = spruce.modes(12)
    stiffness, mass = spruce.matrices
    x = found.vectors
    assert x.T @ (mass @ x) == pytest.approx(np.eye(12), abs=1e-8)
    assert x.T @ (stiffness @ x) == pytest.approx(np.diag(found.omega2), abs=1e-7 * found.omega2[-1])
    force = (mass @ x) * found.omega2
    assert np.linalg.norm(stiffness @ x - force) < 1e-5 * np.linalg.norm(force)
    assert found.residual < 1e-5
    assert x.T @ (mass @ spruce.rigid_motions()) == pytest.approx(np.zeros((12, 6)), abs=1e-8)
    few = found.lowest(5)
    assert few.vectors.T @ (stiffness @ few.vectors) == pytest.approx(np.diag(found.omega2[:5]), abs=1e-3)
    assert np.array_equal(few.frequencies, found.frequencies[:5])
    assert found.lowest(12) is found


def test_sign_of_a_mode_is_settled(spruce):
    x = spruce.modes(6).vectors
    assert np.all(x[np.abs(x).argmax(axis=0), np.arange(6)] > 0)


def test_repeated_runs_agree_bit_for_bit():
    def run():
        return System(plate(SPRUCE, 3e-3, 0.36, 0.20, 6, 5)).modes(8)

    first, second = run(), run()
    assert np.array_equal(first.omega2, second.omega2)
    assert np.array_equal(first.vectors, second.vectors)


@pytest.fixture(scope="module")
def square():
    """Free and supported square plate, each with its lowest 24 values by the dense solver."""
    shell = plate(STEEL, THIN, SIDE, SIDE, 6, 6)
    out = {}
    for name, supports, skip in (("free", (), 6), ("supported", immovable(shell), 0)):
        system = System(shell, (), supports)
        stiffness, mass = (m.toarray() for m in system._reduced())
        assert len(mass) > DENSE
        out[name] = (
            system,
            eigh(stiffness, mass, eigvals_only=True, subset_by_index=(skip, skip + 23)),
        )
    return out


@pytest.mark.parametrize("count", range(7, 25))
@pytest.mark.parametrize("supports", ["free", "supported"])
def test_twins_are_not_passed_over(square, supports, count):
    """A square plate has modes in pairs: (m,n) and (n,m) of Navier's solution, and 4-5, 6-7, 11-12 of the
    free plate.

    A search from one vector sees the second of a pair only through rounding. The dense solver cannot miss
    it.
    """
    system, exact = square[supports]
    assert system.modes(count).omega2 == pytest.approx(exact[:count], rel=1e-6)


def test_loose_body_is_refused():
    """Held at two points only, the plate can still turn about the line through them."""
    shell = plate(SPRUCE, 3e-3, 0.36, 0.20, 6, 5)
    supports = tuple(point_spring(shell, (x, 0.1), d, 1e4) for x in (0.05, 0.31) for d in np.eye(3))
    with pytest.raises(AccuracyError, match="without stiffness"):
        System(shell, (), supports).modes(4)


def test_rigid_motion_that_a_support_resists_is_refused():
    shell = plate(SPRUCE, 3e-3, 0.36, 0.20, 6, 5)
    system = System(shell, (), (point_spring(shell, (0.1, 0.1), Z, 1e4),))
    with pytest.raises(AccuracyError, match="strains the body"):
        system.modes(4, loose=system.rigid_motions())


def test_declared_rigid_motions_are_left_out():
    """On z supports a plate keeps three motions in its plane; its first mode is then Navier's (D in SP-160,
    ch. 9).
    """
    shell = plate(SPRUCE, 3e-3, 0.36, 0.20, 6, 5)
    system = System(shell, (), (hold(shell, edges(shell), [Z]),))
    assert system.modes(3, loose=system.rigid_motions()[:, [0, 1, 5]]).frequencies[0] == pytest.approx(
        96.710, rel=1e-3
    )


def test_badly_conditioned_problem_is_refused():
    """A residual that rounding keeps large must be told, not returned.

    Values 1e4, 2e4 .. beside some of 1e16: rounding of the matrix alone, eps x 1e16 = 1, is 1e-4 of the
    lowest.
    """
    n = 120
    exact = np.concatenate([1e4 * np.arange(1, 7), np.full(n - 6, 1e16)])
    q = np.linalg.qr(np.random.default_rng(3).standard_normal((n, n)))[0]
    problem = csc_matrix(q.T * exact @ q), identity(n, format="csc")
    with pytest.raises(AccuracyError, match="residual"):
        low_modes(*problem, 1.0, 4)
    exact[6:] = 1e6
    sound = low_modes(csc_matrix(q.T * exact @ q), identity(n, format="csc"), 1.0, 4)
    assert sound.omega2 == pytest.approx(exact[:4], rel=1e-9)


def test_factors_solve():
    system = System(plate(SPRUCE, 3e-3, 0.36, 0.20, 3, 2))
    matrix = system.matrices[0] + system.shift() * system.matrices[1]
    x = np.random.default_rng(5).standard_normal(system.n_dofs)
    assert factorise(matrix).solve(matrix @ x) == pytest.approx(x, rel=1e-6, abs=1e-6 * np.abs(x).max())


def test_orthonormal_keeps_the_span():
    rng = np.random.default_rng(6)
    mass = diags(rng.uniform(1, 2, 30)).tocsc()
    v = rng.standard_normal((30, 4))
    q = orthonormal(v, mass)
    assert q.T @ (mass @ q) == pytest.approx(np.eye(4), abs=1e-12)
    assert np.linalg.matrix_rank(np.hstack([v, q])) == 4
