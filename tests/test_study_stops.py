"""Where to stop cutting: stages of tones, sags and sizes on a top with formulas for answers."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from platemodel.instrument.bar_cuts import PLACES, bridge_height, cut, with_bridge_height
from platemodel.study.trimming import size_guides as guides
from platemodel.study.trimming.flex_stops import flex_sd, flex_stops, light_weight
from platemodel.study.trimming.size_guides import SizeGoal, goal_of, size_verdict
from platemodel.study.trimming.stop_points import stop_points
from platemodel.wood import CONSTANTS, WoodEstimate
from tests.trim_model import BAR, FormulaTop, X

MM, LEAST_END = 1e-3, 2e-3
TALL = with_bridge_height(BAR, 14.5 * MM, X)
TOP_MASS = 0.070


# ---------------------------------------------------------------- tones from stage to stage


@pytest.fixture(scope="module")
def stages():
    return stop_points(FormulaTop(), BAR, 1.5 * MM, steps=3)


def test_stages_go_from_the_even_bar_to_the_final_one(stages):
    """Glued with 1.5 mm to spare all along, of even height at first; then profiled and down by thirds."""
    most = 1e3 * BAR.heights.max()
    assert stages["stage"].tolist() == ["even height"] + 4 * ["profiled"]
    assert stages["left_mm"].to_numpy() == pytest.approx([1.5, 1.5, 1.0, 0.5, 0.0], abs=1e-12)
    assert stages["height_mm"].to_numpy() == pytest.approx(most + stages["left_mm"])
    flat = BAR.with_height(np.full(len(BAR.heights), BAR.heights.max() + 1.5 * MM))
    bars = [flat, *(BAR.with_height(BAR.heights + left * MM) for left in (1.5, 1.0, 0.5, 0.0))]
    assert stages["bar_g"].to_numpy() == pytest.approx([1e3 * b.mass() for b in bars])
    for k, one in enumerate(bars):
        tones = FormulaTop().tones(one)
        for n in (1, 2, 5):
            assert stages.loc[k, f"f{n}_hz"] == pytest.approx(tones[n])
            # 8 % before any tap, by our judgement; 90 % of a normal spread lie within 1.645 of them
            assert stages.loc[k, f"f{n}_band_hz"] == pytest.approx(1.645 * 0.08 * tones[n], rel=1e-3)
        foot = FormulaTop().response(one).foot.middle
        assert stages.loc[k, "foot_n_per_mm"] == pytest.approx(1e-3 * foot)


def test_a_finer_mesh_gives_the_end_and_the_stages_only_the_change(stages):
    """Mode 5 of the fine mesh 3 % lower: all its stages are. A mode that it does not know is told at all
    stages but the last.
    """
    fine = {1: 90.0, 5: 0.97 * stages["f5_hz"].iloc[-1]}
    doubt = {5: 0.02}
    found = stop_points(FormulaTop(), BAR, 1.5 * MM, 3, ({**fine, 2: np.nan}, 2e5), doubt)
    assert found["f5_hz"].to_numpy() == pytest.approx(0.97 * stages["f5_hz"])
    assert found["f1_hz"].to_numpy() == pytest.approx(stages["f1_hz"] * 90.0 / stages["f1_hz"].iloc[-1])
    assert found["f2_hz"].to_numpy()[:-1] == pytest.approx(stages["f2_hz"].to_numpy()[:-1])
    assert np.isnan(found["f2_hz"].iloc[-1])
    assert (found["f5_band_hz"] / found["f5_hz"]).to_numpy() == pytest.approx(1.645 * 0.02, rel=1e-3)
    assert (found["f1_band_hz"] / found["f1_hz"]).to_numpy() == pytest.approx(1.645 * 0.08, rel=1e-3)
    assert found["foot_n_per_mm"].iloc[-1] == pytest.approx(200.0)
    change = found["foot_n_per_mm"] / stages["foot_n_per_mm"]
    assert np.ptp(change) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("allowance", "steps"), [(-1e-4, 3), (1e-3, 0)])
def test_stages_that_cannot_be(allowance, steps):
    with pytest.raises(ValueError, match="at least 0 mm and 1 step"):
        stop_points(FormulaTop(), BAR, allowance, steps)
    assert len(stop_points(FormulaTop(), BAR, 0.0, 1)) == 2


# ---------------------------------------------------------------- by ruler, scale and weight


class Weighed(FormulaTop):
    """Has a mass, and a sag that goes with the cube of the height at the bridge."""

    mass, full = TOP_MASS, None


def sag(bar):
    return 2e-5 * (0.012 / bridge_height(bar, X)) ** 3


@pytest.fixture
def model(monkeypatch):
    monkeypatch.setattr(guides, "usual_flex_test", lambda top, kind: kind)
    monkeypatch.setattr(guides, "flexibilities", lambda full, kinds, bar: np.array([sag(bar)]))
    return Weighed()


def test_cut_as_deep_as_is_said_a_bar_meets_each_goal(model):
    """Height and weight to round-off, for both go down in a straight line; the sag to 2 %, which is what a
    cube read off five depths is off by.
    """
    now = TOP_MASS + TALL.mass()
    goal = SizeGoal(height=13 * MM, mass=now - 0.3e-3, flex={"along": 1.3 * sag(TALL)})
    table = guides.size_guides(model, TALL, goal, 10 * MM, LEAST_END).set_index("guide")
    assert table["unit"].tolist() == ["mm", "g", "mm per 100 g"]
    row = table.loc["height under the bridge"]
    assert row[["now", "goal", "left_mm"]].to_list() == pytest.approx([14.5, 13.0, 1.5])
    row = table.loc["weight of top and bar"]
    assert row[["now", "goal"]].to_list() == pytest.approx([1e3 * now, 1e3 * now - 0.3])
    lighter = cut(TALL, PLACES[0], MM * row["left_mm"], X, LEAST_END)
    assert TALL.mass() - lighter.mass() == pytest.approx(0.3e-3, rel=1e-6)
    row = table.loc["flex along"]
    # 100 g are 0.980665 N
    assert row[["now", "goal"]].to_list() == pytest.approx([980.665 * sag(TALL), 1.3 * 980.665 * sag(TALL)])
    softer = cut(TALL, PLACES[0], MM * row["left_mm"], X, LEAST_END)
    assert sag(softer) == pytest.approx(1.3 * sag(TALL), rel=0.02)


def test_what_was_weighed_and_felt_counts_for_now(model):
    """A top 0.1 g heavier than the model's has 0.1 g more to lose; a sag read 5 % larger has less to grow."""
    now = TOP_MASS + TALL.mass()
    plain, weighed = (
        guides.size_guides(model, TALL, SizeGoal(mass=now - 0.2e-3, weighed=w), 10 * MM, LEAST_END).iloc[0]
        for w in (None, now + 0.1e-3)
    )
    assert weighed["left_mm"] == pytest.approx(1.5 * plain["left_mm"], rel=1e-6)
    assert weighed["now"] == pytest.approx(1e3 * now + 0.1)
    felt = SizeGoal(flex={"along": 1.3 * sag(TALL)}, felt={"along": 1.05 * sag(TALL)})
    same = SizeGoal(flex={"along": 1.3 / 1.05 * sag(TALL)})
    a, b = (guides.size_guides(model, TALL, g, 10 * MM, LEAST_END).iloc[0] for g in (felt, same))
    assert a["left_mm"] == pytest.approx(b["left_mm"], rel=1e-9)
    assert a["now"] == pytest.approx(1.05 * b["now"])


def test_goals_that_are_met_or_out_of_reach(model):
    goal = SizeGoal(height=15 * MM, mass=TOP_MASS + TALL.mass() + 1e-3, flex={"along": 50 * sag(TALL)})
    left = guides.size_guides(model, TALL, goal, 10 * MM, LEAST_END)["left_mm"].to_list()
    assert left == [0.0, 0.0, np.inf]


def test_a_goal_is_something_positive():
    assert not SizeGoal(felt={"along": 1e-5}, weighed=0.07)
    assert SizeGoal(height=1e-2)
    assert SizeGoal(mass=0.07)
    assert SizeGoal(flex={"along": 1e-5})
    for wrong in ({"height": 0.0}, {"mass": np.nan}, {"flex": {"along": -1.0}}, {"felt": {"along": 0.0}}):
        with pytest.raises(ValueError, match="positive figures"):
            SizeGoal(**wrong)


def test_the_goal_of_a_planned_bar_is_what_it_measures(model):
    goal = goal_of(model, BAR)
    assert goal.height == pytest.approx(bridge_height(BAR, X))
    assert goal.mass == pytest.approx(TOP_MASS + BAR.mass())
    assert goal.flex == {"along": pytest.approx(sag(BAR))}


def lefts(*left):
    names = ["height under the bridge", "weight of top and bar"]
    rows = [(name, 14.0, 12.5, "mm", v) for name, v in zip(names, left, strict=False)]
    return pd.DataFrame(rows, columns=["guide", "now", "goal", "unit", "left_mm"])


@pytest.mark.parametrize(
    ("left", "most", "free", "depth", "words"),
    [
        ((0.87, 1.2), 2.0, 3.0, 0.8, "take off 0.8 mm, all along.*0.9 mm all along are left to height under"),
        ((1.9, 0.7), 0.5, 3.0, 0.5, "take off 0.5 mm.*0.7 mm all along are left to weight of top and bar"),
        ((1.9,), 2.0, 0.6, 0.6, "take off 0.6 mm.*1.9 mm"),
        ((np.inf,), 2.0, 0.6, 0.6, "the limits come first to height under the bridge 12.5 mm"),
        ((0.049,), 2.0, 3.0, 0.0, "stop: height under the bridge 12.5 mm is reached"),
        ((0.051,), 2.0, 3.0, 0.0, "less than 0.1 mm is left before the height"),
        ((0.9,), 2.0, 0.09, 0.0, "a limit is reached before the height"),
        ((0.1,), 2.0, 0.1, 0.1, "take off 0.1 mm"),
    ],
)
def test_the_verdict_follows_the_goal_that_comes_first(left, most, free, depth, words):
    """Down to the tenth of a millimetre below the least of goal, most at once, and what the limits leave."""
    found, verdict, text = size_verdict(lefts(*left), MM * most, MM * free)
    assert found == pytest.approx(MM * depth, abs=1e-12)
    assert verdict == ("cut" if depth else "stop")
    assert pd.Series([text]).str.contains(words).all(), text


# ---------------------------------------------------------------- sags from stage to stage


def flex(kind, flexibility, most):
    by_logs = np.arange(11.0) / 50
    return SimpleNamespace(
        test=SimpleNamespace(kind=kind),
        flexibility=flexibility,
        most_force=most,
        by_logs=by_logs,
        by_bar=-0.6,
    )


def test_readings_of_the_dial_gauge_at_each_stage():
    """The finest mesh gives the last sag, the quick one the change from bar to bar. The weight is the
    heaviest usual one under the safe force: 2.2 N are 224 g, 12 N are 1224 g.
    """
    final = (flex("along", 2e-5, 2.2), flex("foot", 1e-5, 12.0))
    by_bar = {"tall": {"along": 1.0e-5, "foot": 0.6e-5}, "low": {"along": 1.6e-5, "foot": 0.9e-5}}
    flexes = SimpleNamespace(flexibility=by_bar.__getitem__)
    found = flex_stops(["tall", "low"], flexes, final, {"along": 0.05, "foot": 0.1})
    for kind, grams, last, doubt in (("along", 200, 2e-5, 0.05), ("foot", 1000, 1e-5, 0.1)):
        newton = 1e-3 * grams * 9.80665
        sags = [1e3 * newton * last * by_bar[b][kind] / by_bar["low"][kind] for b in ("tall", "low")]
        assert found[f"flex_{kind}_g"].to_list() == [grams, grams]
        assert found[f"flex_{kind}_mm"].to_numpy() == pytest.approx(sags)
        assert found[f"flex_{kind}_band_mm"].to_numpy() == pytest.approx(
            1.645 * doubt * np.array(sags), rel=1e-3
        )
    assert np.isnan(light_weight(flex("along", 1e-5, 0.19)))
    assert light_weight(flex("along", 1e-5, 0.0201 * 9.80665)) == 20.0


def test_doubt_of_a_sag_is_that_of_both_woods_and_3_per_cent():
    """Independent causes add in squares: the top's constants, the bar's E_L, and the model itself."""
    n = len(CONSTANTS)
    root = np.random.default_rng(1).normal(scale=0.05, size=(n, n))
    top, bar = (
        WoodEstimate(BAR.wood, cov) for cov in (root @ root.T, np.diag(np.linspace(0.01, 0.1, n) ** 2))
    )
    one = flex("along", 1e-5, 2.0)
    by_top = np.random.default_rng(2).multivariate_normal(np.zeros(n), top.log_cov, 400_000) @ one.by_logs[:n]
    e_l = np.linspace(0.01, 0.1, n)[CONSTANTS.index("E_L")]
    # the spread of 400,000 draws is known to 0.11 %: four times that
    assert flex_sd(one, top, bar) == pytest.approx(
        np.sqrt(by_top.var() + (0.6 * e_l) ** 2 + 0.03**2), rel=5e-3
    )
