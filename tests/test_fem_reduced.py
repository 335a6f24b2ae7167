"""Reduced model of a shell with a rib, judged by the full model on ribs that it was not made from."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.fem import Rib, RibWood, Seat, System, hold
from platemodel.fem.greedy import compress, weak_greedy
from platemodel.fem.kept import Kept
from platemodel.fem.reductor import Reductor
from platemodel.fem.residual_norm import LUCK, PROBES, reference
from platemodel.fem.rib import ROWS
from platemodel.fem.supports import boundary_facets, point_rows
from tests.published.cases.models import SPRUCE
from tests.published.cases.ribs import ribbed_shell, rows_about

A, B, T, Y0, WIDTH = 0.36, 0.20, 3e-3, 0.07, 5e-3
HEIGHTS = (5e-3, 14e-3)
TOLERANCE = 1e-4
NAMES = (*ROWS[0], *ROWS[1])


@pytest.fixture(scope="module")
def shell():
    return ribbed_shell(SPRUCE, T, np.linspace(0, A, 7), rows_about(B, 4, Y0, WIDTH), shear=True)


@pytest.fixture(scope="module")
def seat(shell):
    return Seat(shell, (0.04, Y0), (0.32, Y0), WIDTH)


def rib(seat, height, power=2.0, end=3e-3, stiffness=1.0, density=400.0):
    wood = RibWood(SPRUCE.compliance() / stiffness, density)
    return Rib(seat, lambda s: end + (height - end) * (1 - np.abs(2 * s - 1) ** power), wood)


def ribs(seat):
    corners = [(h, p, e) for h in HEIGHTS for p in (1.0, 4.0) for e in (2e-3, 4e-3)]
    return [None, *(rib(seat, *c) for c in corners), *others(seat, 14, seed=1)]


def loads(shell):
    places = np.array([[0.18, 0.15], [0.075, 0.13]])
    return point_rows(shell, places, (0.0, 0.0, 1.0)).toarray().T


def held(shell):
    return (hold(shell, boundary_facets(shell.mesh)),)


@pytest.fixture(scope="module")
def free(shell, seat):
    reductor = Reductor(shell, rib(seat, 5e-3, 1.0, 2e-3, 0.8), count=6)
    learnt = weak_greedy(reductor, ribs(seat), 0.5 * TOLERANCE)
    return reductor, learnt, compress(learnt.rom, ribs(seat), TOLERANCE)


@pytest.fixture(scope="module")
def static(shell, seat):
    reductor = Reductor(shell, rib(seat, 5e-3, 1.0, 2e-3, 0.8), held(shell), loads(shell))
    learnt = weak_greedy(reductor, ribs(seat), 0.2 * TOLERANCE)
    return reductor, compress(learnt.rom, ribs(seat), 0.4 * TOLERANCE)


def others(seat, count=6, seed=7):
    random = np.random.default_rng(seed)
    low, high = (5e-3, 1.0, 2e-3, 0.7, 320.0), (14e-3, 4.0, 4e-3, 1.4, 500.0)
    return [rib(seat, *random.uniform(low, high)) for _ in range(count)]


def test_rows_projected_at_once_are_the_sparse_ones(shell, seat):
    """`Seat.project` against the sparse rows, and `Seat.load` its transpose, to rounding."""
    vectors = np.random.default_rng(0).standard_normal((shell.n_dofs, 3))
    found = seat.project(vectors, NAMES)
    for i, name in enumerate(NAMES):
        expected = seat.rows[name] @ vectors
        assert found[:, i] == pytest.approx(expected, rel=1e-9, abs=1e-9 * np.abs(expected).max())
    values = np.random.default_rng(1).standard_normal(found.shape[:2])
    back = seat.load(values[..., None], NAMES)[:, 0]
    assert back @ vectors == pytest.approx(np.einsum("ni,nik->k", values, found), rel=1e-9)


def test_greedy_ends_below_its_tolerance(free):
    _, learnt, rom = free
    assert learnt.error < 0.5 * TOLERANCE
    assert learnt.errors[0] > 100 * learnt.error
    assert rom.size <= learnt.rom.size


def test_modes_against_the_full_model(shell, seat, free):
    """Frequencies from above (Rayleigh-Ritz) and within the tolerance; the estimate at least the true error
    and no more than 120 times it, down to where rounding rules.
    """
    rom = free[2]
    for one in [None, *others(seat)]:
        found = rom.modes(one)
        true = System(shell, () if one is None else (one,)).modes(6).frequencies
        error = found.frequencies / true - 1.0
        assert error.min() > -1e-8
        assert error.max() < TOLERANCE
        share = found.estimate / np.maximum(error, 1e-8)
        assert share.min() > 1.0
        assert share[error > 1e-7].max(initial=1.0) < 120.0


def test_statics_against_the_full_model(shell, seat, static):
    """Work of the loads from below and within the tolerance; the estimate between one and 60 times the
    error.
    """
    _, rom = static
    for one in others(seat, 3):
        found = rom.static(one)
        u = System(shell, (one,), held(shell)).solve(loads(shell))[: shell.n_dofs]
        true = loads(shell).T @ u
        error = 1.0 - found.flexibility.diagonal() / true.diagonal()
        assert error.min() > -1e-9
        assert error.max() < TOLERANCE
        share = found.residual.diagonal() / true.diagonal() / np.maximum(error, 1e-8)
        assert share.min() > 1.0
        assert share.max() < 60.0
        work = rom.reconstruct(found.coefficients).T @ loads(shell)
        assert work == pytest.approx(found.flexibility, rel=1e-9)
    row = loads(shell)[:, 0]
    assert rom.project_rows(row[None]) @ found.coefficients == pytest.approx(found.flexibility[:1], rel=1e-9)


@pytest.mark.parametrize("strange", [(30e-3, 2.0), (2.2e-3, 1.0)])
def test_estimate_follows_outside_the_range(shell, seat, free, strange):
    """Far outside what it learnt the estimate still is above the true error."""
    rom, one = free[2], rib(seat, strange[0], strange[1], end=2e-3)
    true = System(shell, (one,)).modes(6).frequencies
    found = rom.modes(one)
    assert np.all(found.estimate > np.maximum(found.frequencies / true - 1.0, 1e-8))


def test_another_line_is_seen_through_and_can_be_learnt(shell, seat, free):
    """A rib moved by 4 mm: the estimate says so, corrections on the new seat bring it below the tolerance."""
    reductor, _, rom = free
    moved = rib(Seat(shell, (0.04, Y0 + 4e-3), (0.32, Y0 + 4e-3), WIDTH), 10e-3)
    true = System(shell, (moved,)).modes(6).frequencies
    before = rom.modes(moved)
    assert before.estimate.max() > TOLERANCE
    assert np.all(before.estimate > before.frequencies / true - 1.0)
    after = weak_greedy(reductor, [moved], TOLERANCE, rom).rom.modes(moved)
    assert after.frequencies == pytest.approx(true, rel=TOLERANCE)


def test_rib_without_shear(shell, seat, free):
    """No unknowns of its own: same interface, and stiffer, so that its frequencies are higher."""
    rom, with_shear = free[2], rib(seat, 10e-3)
    stiff = Rib(seat, with_shear.height, with_shear.wood, shear=False)
    found = rom.modes(stiff)
    assert found.own.shape == (0, 6)
    error = found.frequencies / System(shell, (stiff,)).modes(6).frequencies - 1.0
    assert np.all(error < np.maximum(found.estimate, 1e-8))
    assert np.all(found.frequencies > rom.modes(with_shear).frequencies)


def test_probes_measure_the_flexibility(shell, seat):
    """Covariance of the probes is the inverse of the matrix: the mean of (w' r)^2 over 400 of them against
    r' P^-1 r; its relative standard deviation is sqrt(2/400) = 7 %, four of them allowed.
    """
    system = System(shell, (rib(seat, 8e-3),), held(shell))
    known = reference(system, 1e4, probes=400)
    r = np.random.default_rng(5).standard_normal((shell.n_dofs, 2))
    exact = (r * known.apply(r)).sum(axis=0)
    assert ((known.norm.probes.T @ r) ** 2).mean(axis=0) == pytest.approx(exact, rel=0.28)


def test_luck_of_the_probes():
    """The allowance is the 0.1 % point of chi-square with 24 degrees of freedom over 24 (scipy.stats)."""
    from scipy.stats import chi2

    assert chi2.ppf(1e-3, PROBES) / PROBES == pytest.approx(LUCK, rel=0.1)


def test_restricted_model_is_the_projection(seat, free):
    """Half of the basis: frequencies rise (Rayleigh-Ritz) and the estimate with them."""
    rom = free[2]
    small = rom.restricted(np.eye(rom.size)[:, : rom.size // 2])
    one = others(seat, 1)[0]
    assert np.all(small.modes(one).frequencies >= rom.modes(one).frequencies * (1 - 1e-10))
    assert small.error(one) > rom.error(one)
    again = replace(small, seats=Kept()).modes(one).frequencies
    assert again == pytest.approx(small.modes(one).frequencies, rel=1e-10)


def test_mass_that_goes_along(seat, free):
    """As much again as body and rib have: every tone falls by the root of 2, with the same shapes."""
    rom, one = free[2], others(seat, 1)[0]
    alone = rom.modes(one, 4)
    heavier = rom.modes(one, 4, added=rom.assemble(one).mass)
    assert heavier.frequencies == pytest.approx(alone.frequencies / np.sqrt(2.0), rel=1e-10)
    assert len(heavier.frequencies) == 4
    shapes = heavier.coefficients * np.sign((heavier.coefficients * alone.coefficients).sum(axis=0))
    size = np.abs(alone.coefficients).max()
    assert np.sqrt(2.0) * shapes == pytest.approx(alone.coefficients, abs=1e-6 * size)


def test_model_that_was_kept_without_what_it_learns_by(free):
    """Completed, it holds the shell's forces by its vectors: their work on the vectors is the shell's own
    stiffness and mass in the reduced model.
    """
    reductor, learnt, _ = free
    again = reductor.completed(replace(learnt.rom, pushes=()))
    whole = again.assemble(None)
    for push, small in zip(again.pushes, (whole.stiffness, whole.mass), strict=True):
        assert again.basis.T @ push == pytest.approx(small, abs=1e-8 * np.abs(small).max())
    assert reductor.completed(again) is again


class Answers:
    """Stands for a model of 6 rigid motions and 8 vectors, each half as strong in the answers as the one
    before; the error is small enough with so many of them.
    """

    loads, size = np.zeros((1, 0)), 14

    def __init__(self, needed, columns=14):
        self.needed, self.columns = needed, columns

    def answer(self, _):
        own = np.diag(0.5 ** np.arange(8.0))
        own[0] = 1.0
        return (np.vstack([np.zeros((6, 8)), own]),)

    def restricted(self, turn):
        assert turn.T @ turn == pytest.approx(np.eye(turn.shape[1]), abs=1e-12)
        return Answers(self.needed, turn.shape[1])

    def error(self, _):
        return 0.5 if self.columns >= 6 + self.needed else 2.0


@pytest.mark.parametrize("needed", [4, 5, 6])
def test_compressed_to_as_few_vectors_as_do(needed):
    """The goal falls by 0.3 a time, the strength's square by 1/4 a vector, so that none is jumped over."""
    assert compress(Answers(needed), [None], 1.0).columns == 6 + needed


def test_model_that_cannot_be_smaller_stays():
    whole = Answers(9)
    assert compress(whole, [None], 1.0) is whole
