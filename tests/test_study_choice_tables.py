"""Tables of a choice from figures and draws that are given: margins, chances, bands, heights, steps."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from platemodel.instrument.bar_shape import shaped_bar
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.choosing import targets as t
from platemodel.study.choosing.tables import band_table, height_band, height_curve, step_table, target_margins
from platemodel.study.choosing.wood_bands import WoodDoubt, band, log_draws, wood_samples
from platemodel.wood import CONSTANTS, WoodEstimate

POWER = {"foot_n_per_mm": 2.2, "f5_hz": 0.4, "sink_mm": -1.9, "bar_g": 0.8}
AT_12 = {"foot_n_per_mm": 100.0, "f5_hz": 340.0, "sink_mm": 0.3, "bar_g": 20.0}


@pytest.fixture(scope="module")
def bar():
    return shaped_bar(preset_bar(preset_top("violin")), height=12e-3)


def ask(one):
    """Figures that go with powers of the height."""
    h = 1e3 * float(one.heights.max())
    return {"height_mm": h} | {name: AT_12[name] * (h / 12.0) ** p for name, p in POWER.items()}


@pytest.fixture(scope="module")
def logs():
    rng = np.random.default_rng(1)
    return pd.DataFrame({name: rng.normal(scale=0.05, size=4096) for name in POWER if name != "bar_g"})


def test_margins_and_chances(logs):
    """Signed, in the target's unit; what is missed by less than a hundred-thousandth is met and has none to
    spare, what has less than two thousandths to spare binds. The chance is the share of draws that meet it.
    """
    wishes = (
        t.foot_target(98.0),
        t.foot_target(100.0005),
        t.foot_target(99.9),
        t.foot_target(101.0),
        t.mode(5, 343.0, band=4.0),
        t.sinking(0.31),
        t.bar_mass(19.0),
        t.bar_mass(21.0),
    )
    table = target_margins(wishes, AT_12, logs)
    assert table["margin"].to_numpy() == pytest.approx([2.0, 0.0, 0.1, -1.0, 1.0, 0.01, -1.0, 1.0])
    assert table["met"].tolist() == [True, True, True, False, True, True, False, True]
    assert table["binds"].tolist() == [False, True, True, True, False, False, True, False]
    assert table["unit"].tolist() == 4 * ["N/mm"] + ["Hz", "mm", "g", "g"]
    assert table["value"].to_numpy() == pytest.approx([w.value for w in wishes])
    drawn = {name: AT_12[name] * np.exp(logs[name][:512]) for name in logs}
    chances = [(drawn["foot_n_per_mm"] >= v * (1 - 1e-5)).mean() for v in (98.0, 100.0005, 99.9, 101.0)]
    chances += [(np.abs(drawn["f5_hz"] - 343.0) <= 4.0).mean(), (drawn["sink_mm"] <= 0.31).mean(), 0.0, 1.0]
    assert table["chance"].to_numpy() == pytest.approx(chances, abs=1 / 512)


def test_bands_are_quantiles_of_the_draws(logs):
    """5 to 95 %, about the figure itself; what was not drawn has no band."""
    table = band_table(AT_12, logs).set_index("figure")
    for name, row in table.iterrows():
        ends = np.quantile(logs[name], [0.05, 0.95]) if name in logs else np.zeros(2)
        assert row[["low", "high"]].to_list() == pytest.approx(list(AT_12[name] * np.exp(ends)))
    assert table.loc["f5_hz", ["what", "unit"]].to_list() == ["mode 5", "Hz"]
    low, high = band(np.array([0.0, np.nan, 1.0]), 2.0)
    assert (low, high) == (pytest.approx(2 * np.exp(0.05)), pytest.approx(2 * np.exp(0.95)))


@pytest.mark.parametrize(
    ("wishes", "figure"),
    [
        ((t.foot_target(100.0),), "foot_n_per_mm"),
        ((t.sinking(0.3),), "sink_mm"),
        ((t.mode(5, 341.0, band=10.0),), None),  # there is room to both sides
        ((t.mode(5, 342.0, band=2.0),), "f5_hz"),
        ((t.bar_mass(20.0), t.foot_target(99.5)), "foot_n_per_mm"),
        ((t.mode(5, 340.0, "at most"),), None),  # a lower bar meets it better
        ((t.foot_target(98.0),), None),
    ],
)
def test_heights_that_the_draws_need(bar, logs, wishes, figure):
    """A figure that goes with a power of the height and is e^d too small wants a bar e^(-d/power) as high."""
    curve = pd.DataFrame([ask(shaped_bar(bar, height=h)) for h in np.linspace(9e-3, 15e-3, 17)])
    found = height_band(wishes, ask(bar), curve, logs)
    if figure is None:
        assert np.isnan(found).all()
    else:
        ends = np.quantile(-logs[figure] / POWER[figure], [0.05, 0.95])
        assert found == pytest.approx(tuple(12.0 * np.exp(ends)), rel=1e-6)


def test_half_millimetres_up_and_down(bar):
    table = step_table(ask, bar)
    assert table["step_mm"].to_numpy() == pytest.approx([-1.0, -0.5, 0.0, 0.5, 1.0])
    assert table["height_mm"].to_numpy() == pytest.approx(12.0 + table["step_mm"])
    for name, power in POWER.items():
        changed = AT_12[name] * (table["height_mm"] / 12.0) ** power
        assert table[name].to_numpy() == pytest.approx(changed)
        assert table[f"d_{name}"].to_numpy() == pytest.approx(changed - AT_12[name])
    assert "d_height_mm" not in table
    low = shaped_bar(bar, height=1e3 * bar.heights[0] * 1e-3 + 0.7e-3)
    assert step_table(ask, low)["step_mm"].tolist() == [-0.5, 0.0, 0.5, 1.0]  # it cannot fall below its ends


def test_the_curve_runs_over_the_range_and_says_what_is_missed(bar):
    """17 heights, the chosen one and the limits that lie within; every figure is that of its height."""
    wishes = (t.foot_target(100.0), t.bar_mass(21.0), *t.heights(most=13.3))
    problem = SimpleNamespace(ranges={"height": (10e-3, 14e-3)}, targets=wishes)
    table = height_curve(problem, ask, lambda one: {"shared": 1.0}, bar)
    heights = np.union1d(np.linspace(10.0, 14.0, 17), [12.0, 13.3])
    assert table["height_mm"].to_numpy() == pytest.approx(heights)
    assert (table["shared"] == 1.0).all()
    for _, row in table.iterrows():
        h = row["height_mm"]
        missed = [
            w.name
            for w, ok in zip(wishes, (h > 12 - 1e-6, h <= 12 * 1.05**1.25, h < 13.301), strict=True)
            if not ok
        ]
        assert row["missed"] == ", ".join(missed)
        assert row["all_met"] == (not missed)
    free = height_curve(SimpleNamespace(ranges={}, targets=()), ask, lambda one: {}, bar)["height_mm"]
    assert (free.min(), free.max()) == (pytest.approx(0.75 * 12.0), pytest.approx(1.3 * 12.0))


def test_draws_of_bar_and_top_add_up(bar):
    """A figure E_L^0.5 of the bar's wood and linear in the top's: its logarithm has the variance of both, as
    they are independent. 32 Sobol points know a spread to some 3 %, 4096 draws to 1 %.
    """

    def cov(**sd):
        return np.diag([sd.get(c, 0.0) ** 2 for c in CONSTANTS])

    def of(one):
        return {"foot_n_per_mm": 100.0 * (one.wood.E_L / 1e10) ** 0.5, "bar_g": one.wood.density}

    doubt = WoodDoubt(
        WoodEstimate(bar.wood, cov(E_L=0.1, density=0.05)), WoodEstimate(bar.wood, cov(E_R=0.2))
    )
    rows = pd.DataFrame([[0.0, 0.0, 0.3, *[0.0] * 7]], index=["foot_n_per_mm"], columns=CONSTANTS)
    found = log_draws(of, bar, rows, doubt, ["foot_n_per_mm", "bar_g"])
    assert found.std(axis=0) == pytest.approx([np.hypot(0.05, 0.06), 0.05], rel=0.05)
    assert np.abs(found.mean(axis=0)).max() < 0.005
    alone = log_draws(of, bar, rows, WoodDoubt(top=doubt.top), ["foot_n_per_mm", "bar_g"])
    assert alone.std(axis=0) == pytest.approx([0.06, 0.0], rel=0.04)
    assert (log_draws(of, bar, None, WoodDoubt(), ["bar_g"]) == 0.0).all()


@pytest.mark.parametrize("method", ["sobol", "latin hypercube"])
def test_woods_fill_an_estimate(bar, method):
    """128 evenly laid points: means to a hundredth of the spread, spreads and correlation to 5 %."""
    root = np.zeros((10, 10))
    root[1, 0], root[1, 1], root[2, 1] = 0.03, 0.08, 0.1
    made = wood_samples(WoodEstimate(bar.wood, root @ root.T), 128, method=method)
    logs = np.array([[np.log(getattr(w, c)) for c in CONSTANTS] for w in made])
    logs -= [np.log(getattr(bar.wood, c)) for c in CONSTANTS]
    cov, expected = logs.T @ logs / 128, root @ root.T
    assert np.abs(logs.mean(axis=0)).max() < 0.02 * 0.1
    assert cov[:3, :3] == pytest.approx(expected[:3, :3], abs=0.1 * 0.1**2)
    assert np.abs(np.delete(logs, [1, 2], axis=1)).max() < 1e-9
    assert len(wood_samples(WoodEstimate(bar.wood, root @ root.T), 5, method=method)) == 5
