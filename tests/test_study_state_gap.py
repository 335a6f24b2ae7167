"""How far one state of a top lies from the others: tests of a shift in normal readings."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import chi2, norm

from platemodel.study.wood.state_gap import state_gap

NAMES = ("mode 1", "mode 2", "mode 5", "flex along", "flex foot")


def gap(off, spread, names=NAMES):
    state = SimpleNamespace(
        taps=SimpleNamespace(name="bar 13 mm"), model_sd=lambda errors: [(n, 0.0) for n in names]
    )
    problem = SimpleNamespace(
        states=[state, None], errors=None, left_out=lambda *_: (np.array(off), np.array(spread))
    )
    return state_gap(problem, state, None, ())


def independent(*off, sd=0.02):
    return gap(off, sd**2 * np.eye(len(off)), NAMES[: len(off)])


@pytest.mark.parametrize(
    ("off", "fault", "size"),
    [
        ((0.05, 0.05, 0.05, 0.0, 0.0), "all taps", 0.05),
        ((0.0, 0.0, 0.0, -0.08, -0.06), "all flexes", -0.07),
        ((0.01, 0.0, 0.2, 0.0, 0.01), "mode 5", 0.2),
        ((0.0, 0.01, 0.0, 0.0, -0.1), "flex foot", -0.1),
    ],
)
def test_the_fault_that_explains_a_state_best(off, fault, size):
    """Of independent readings alike in doubt a common fault is their mean, a single one itself."""
    found = independent(*off)
    assert (found.fault, found.size) == (fault, pytest.approx(size))
    assert found.readings == tuple(zip(NAMES, off, strict=True))
    assert found.off == pytest.approx((np.array(off) ** 2).sum() / 0.02**2)


def test_a_state_is_named_in_one_of_1000_tops():
    """Half of these odds for all readings together, chi-squared of as many degrees; the other half shared by
    the single faults, 5 readings, all taps and all flexes, each a normal deviate.
    """
    one = independent(0.08, 0.0, 0.0, 0.0, 0.0)
    together = 4.0**2 / chi2.isf(0.0005, 5)
    single = (4.0 / norm.isf(0.0005 / 7 / 2)) ** 2
    assert single > together
    assert one.excess == pytest.approx(single, rel=1e-6)
    # a pattern that no single fault explains: all readings together see it first
    mixed = independent(0.06, -0.06, 0.06, 0.06, -0.06)
    assert mixed.excess == pytest.approx(5 * 3.0**2 / chi2.isf(0.0005, 5), rel=1e-6)
    limit = 0.02 * norm.isf(0.0005 / 7 / 2)
    assert independent(0.999 * limit, 0, 0, 0, 0).fits
    assert not independent(1.001 * limit, 0, 0, 0, 0).fits


def test_readings_that_err_together_are_weighed_as_such():
    """Generalised least squares (Aitken): a common shift v is estimated by v W off / v W v, W the inverse
    covariance; taps that share most of their error tell a common shift hardly better than one of them.
    """
    spread = 0.02**2 * (0.9 * np.ones((3, 3)) + 0.1 * np.eye(3))
    off, ones, weight = np.array([0.06, 0.07, 0.065]), np.ones(3), np.linalg.inv(spread)
    found = gap(off, spread, NAMES[:3])
    assert found.fault == "all taps"
    assert found.size == pytest.approx(ones @ weight @ off / (ones @ weight @ ones))
    assert found.off == pytest.approx(off @ weight @ off)
    deviate = found.size * np.sqrt(ones @ weight @ ones)
    expected = max((deviate / norm.isf(0.0005 / 4 / 2)) ** 2, found.off / chi2.isf(0.0005, 3))
    assert found.excess == pytest.approx(expected, rel=1e-6)


def test_a_single_state_has_no_others():
    state = SimpleNamespace(taps=SimpleNamespace(name="white"))
    found = state_gap(SimpleNamespace(states=[state]), state, None, ())
    assert (found.name, found.readings, found.excess, found.fits) == ("white", (), 0.0, True)
    assert np.isnan(found.off)
