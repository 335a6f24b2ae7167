"""Tables of a fit of the wood from numbers that are given: what a tap would add, what a flex says."""

import numpy as np
import pytest

from platemodel.instrument.flex_test import FlexReading, usual_flex_test
from platemodel.instrument.presets import preset_top
from platemodel.study.wood.flex_rows import FlexRows
from platemodel.study.wood.next_taps import next_taps
from platemodel.wood import CONSTANTS

P = len(CONSTANTS) + 1


@pytest.fixture(scope="module")
def cov():
    root = np.random.default_rng(3).normal(scale=0.05, size=(P, P))
    return root @ root.T + 1e-4 * np.eye(P)


def test_a_further_tap_narrows_as_bayes_says(cov):
    """Gaussian unknowns, one linear reading more: the precisions add up. Modes tapped already, and those
    above the eighth, are not advised; first comes what narrows the product of the three bands most.
    """
    rows = np.random.default_rng(4).normal(scale=0.3, size=(5, P))
    followed, fitted, sd = (1, 2, 3, 8, 9), {1: 90.0, 2: 160.0, 3: 200.0, 8: 410.0, 9: 450.0}, 0.01
    table = next_taps(followed, [2], rows, fitted, cov, sd).set_index("number")
    assert set(table.index) == {1, 3, 8}
    assert table["name"].to_dict() == {1: "twist", 3: "", 8: ""}
    for number, row in zip(followed, rows, strict=True):
        if number not in table.index:
            continue
        after = np.linalg.inv(np.linalg.inv(cov) + np.outer(row, row) / sd**2)
        for constant in ("E_L", "E_R", "G_LR"):
            g = CONSTANTS.index(constant)
            expected = 100 * (1 - np.sqrt(after[g, g] / cov[g, g]))
            assert table.loc[number, f"{constant}_percent"] == pytest.approx(expected, rel=1e-6)
        band = 1.645 * np.sqrt(row @ cov @ row + sd**2) * fitted[number]  # 5 to 95 % of a normal spread
        assert table.loc[number, "band_hz"] == pytest.approx(band, rel=1e-3)
        assert table.loc[number, "expected_hz"] == fitted[number]
    left = (1 - table[[f"{c}_percent" for c in ("E_L", "E_R", "G_LR")]] / 100).prod(axis=1)
    assert (np.diff(left) > 0).all()
    assert len(next_taps(followed, followed, rows, fitted, cov, sd)) == 0


def test_a_flex_beside_the_others_and_the_fit(cov):
    """Sags under 200 g and 1 kg, in mm: what is predicted is the exponential of the logarithm, times the
    weight; how far a reading is away counts in standard deviations of reading and prediction together.
    """
    test = usual_flex_test(preset_top("violin"), "along")
    readings = tuple(
        FlexReading(test, 1e-3 * g * 9.80665, s, 0.02e-3) for g, s in ((200.0, 0.30e-3), (1000.0, 1.9e-3))
    )
    rng = np.random.default_rng(5)
    logs = np.log([r.flexibility for r in readings]) + np.array([0.05, -0.4])
    rows, mean, best = rng.normal(scale=0.2, size=(2, P)), *rng.normal(scale=0.05, size=(2, P))
    flex = FlexRows(readings, np.zeros(P - 1), logs, rows, np.zeros(2))
    sd = flex.sd(0.03)
    assert sd == pytest.approx([np.sqrt(r.relative_sd**2 + 0.03**2) for r in readings])
    table = flex.table((logs, rows), (mean, cov), best, sd)
    for k, reading in enumerate(readings):
        row, newton = table.iloc[k], reading.force
        assert (row["kind"], row["weight_g"]) == (test.name, pytest.approx((200.0, 1000.0)[k]))
        others = 1e3 * newton * np.exp(logs[k] + rows[k] @ mean)
        spread = np.sqrt(rows[k] @ cov @ rows[k])
        assert row["read_mm"] == pytest.approx(1e3 * reading.sag)
        assert row["sd_mm"] == pytest.approx(1e3 * reading.sag * sd[k])
        assert row["others_mm"] == pytest.approx(others)
        assert row["others_sd_mm"] == pytest.approx(others * spread)
        assert row["fitted_mm"] == pytest.approx(1e3 * newton * np.exp(logs[k] + rows[k] @ best))
        away = np.log(1e3 * reading.sag / others) / np.sqrt(spread**2 + sd[k] ** 2)
        assert row["away"] == pytest.approx(away)
        assert row["agrees"] == (abs(away) < 2.5)
    assert flex.none().table((logs[:0], rows[:0]), (mean, cov), best, sd[:0]).empty
