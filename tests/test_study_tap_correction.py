"""The correction of the model by taps, stage after stage."""

import numpy as np
import pytest

from platemodel.instrument.bar_cuts import (
    with_bridge_height,
)
from platemodel.study.trimming.tap_correction import (
    DRIFT,
    FIRST_DOUBT,
    ODD,
    READING,
    SLOPE_DOUBT,
    Stage,
    correct,
)
from platemodel.wood.bayes import linear_update
from tests.trim_model import BAR, FormulaTop, X

MM = 1e-3
TALL = with_bridge_height(BAR, 14.5 * MM, X)

# ---------------------------------------------------------------- the correction


class Deaf(FormulaTop):
    """Its tones do not mind the bar, so that only the offset is left to follow."""

    def tones(self, bar):
        return dict(self.factor)


def test_filter_settles_where_the_local_level_model_does():
    """Steady state of a level that drifts, read with noise.

    Durbin & Koopman, Time Series Analysis by State Space Methods, 2001, section 2.11 (from memory): with
    q = drift variance / noise variance the variance before a reading settles at
    noise * (q + sqrt(q^2 + 4 q)) / 2, and after it at that times noise / (that + noise).
    """
    model = Deaf({1: 90.0, 2: 150.0, 5: 350.0})
    table = correct(model, [Stage(TALL, {5: 350.0})] * 60).table
    last = table[table["number"] == 5].iloc[-1]
    q = DRIFT**2 / READING**2
    before = READING**2 * (q + np.sqrt(q**2 + 4 * q)) / 2
    after = before * READING**2 / (before + READING**2)
    assert last["sd_hz"] / last["corrected_hz"] == pytest.approx(np.sqrt(after), rel=1e-6)
    reading = np.sqrt(before + READING**2)
    assert last["expected_sd_hz"] / last["expected_hz"] == pytest.approx(reading, rel=1e-6)


def test_filter_without_drift_is_the_regression_of_the_textbook(monkeypatch):
    """Recursive and batch estimate of a linear regression with Gaussian prior agree.

    Batch: posterior precision = prior precision + H'H / r, mean = posterior covariance times H'y / r
    (Sarkka, Bayesian Filtering and Smoothing, 2013, section 3.1 to 3.2, from memory).
    """
    monkeypatch.setattr("platemodel.study.trimming.tap_correction.DRIFT", 0.0)
    model = FormulaTop()
    bars = [with_bridge_height(BAR, h * MM, X) for h in (14.5, 14.0, 13.0, 11.5)]
    heard = [365.0, 361.5, 356.0, 345.5]
    known = correct(model, [Stage(b, {5: f}) for b, f in zip(bars, heard, strict=True)]).modes[5]
    computed = np.array([model.tones(b)[5] for b in bars])
    h = np.c_[np.ones(4), np.log(computed / computed[0])]
    y = np.log(np.array(heard) / computed)
    precision = np.diag([FIRST_DOUBT**-2, SLOPE_DOUBT**-2]) + h.T @ h / READING**2
    covariance = np.linalg.inv(precision)
    assert known.mean == pytest.approx(covariance @ h.T @ y / READING**2, rel=1e-8)
    assert known.covariance == pytest.approx(covariance, rel=1e-8, abs=1e-15)


def test_one_reading_weighs_by_precision():
    gain, cov = linear_update(np.array([[4.0]]), np.ones((1, 1)), np.ones(1))
    mean = 3.0 * gain[0]
    # prior variance 4, noise 1: (0/4 + 3/1) / (1/4 + 1) and 1 / (1/4 + 1)
    assert (mean[0], cov[0, 0]) == (pytest.approx(2.4), pytest.approx(0.8))


def test_a_mode_not_heard_keeps_its_doubt():
    model = FormulaTop()
    computed = model.tones(TALL)[5]
    f, sd = correct(model, [Stage(TALL, {1: 95.0})]).apply(5, computed)
    assert (f, sd / f) == (pytest.approx(computed), pytest.approx(FIRST_DOUBT))
    f, sd = correct(model, [Stage(TALL, {1: 95.0})], {5: 0.05}).apply(5, computed)
    assert (f, sd / f) == (pytest.approx(computed), pytest.approx(0.05))


def test_a_wrong_peak_is_not_believed_unless_it_comes_again():
    model = FormulaTop()
    f = model.tones(TALL)[5]
    slip = f * (1 - 2 * ODD * FIRST_DOUBT * 0.5)  # another mode: far off, but not beyond the first doubt
    good = [Stage(TALL, {5: f})] * 2
    once = correct(model, [*good, Stage(TALL, {5: slip})])
    assert once.odd(5)
    assert once.apply(5, f)[0] == pytest.approx(f, rel=1e-3)
    twice = correct(model, [*good, *[Stage(TALL, {5: slip})] * 2])
    assert not twice.odd(5)
    assert twice.apply(5, f)[0] == pytest.approx(slip, rel=0.01)
