"""Choosing a bar: against the full model, conflicts, bands, comparison."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from platemodel.instrument.bar_shape import shaped_bar
from platemodel.study.choosing import targets as t
from platemodel.study.choosing.choose import choose_bar
from platemodel.study.choosing.freedom import Freedom
from platemodel.study.choosing.line_sensitivity import LineSensitivity
from platemodel.study.choosing.search import TIGHT, Search, _edges
from platemodel.study.choosing.targets import Target
from platemodel.study.choosing.wood_bands import WoodDoubt, by_top_wood
from platemodel.study.top.figures import TopFigures
from platemodel.study.top.foot import bass_foot_stiffness
from platemodel.study.top.model import top_model
from platemodel.wood import CONSTANTS, WoodEstimate, species_estimate
from tests.choosing_parts import FINENESS, MM, bar, bodied, effects, model, plain, reduced, reference, set_up


def choose(wishes, softness=1.0, **more):
    on = plain() if softness == 1.0 else LineSensitivity(plain().figures.softer(softness), bar())
    freedom = Freedom(**{k: more.pop(k) for k in ("free", "ranges", "goal") if k in more})
    more = {"compare": False, **more}
    return choose_bar(reduced(), bar(), wishes, freedom, effects=on, reference=reference(), **more)


@pytest.fixture(scope="module")
def stiff():
    """As stiff as 105 % of the usual, with all that is told of it."""
    doubt = species_estimate("tonewood spruce")
    blanks = {
        "stiff": replace(doubt, wood=replace(bar().wood, E_L=1.2 * bar().wood.E_L)),
        "soft": replace(doubt, wood=replace(bar().wood, E_L=0.8 * bar().wood.E_L)),
    }
    return choose(
        [t.foot_as_usual(reference(), 1.05)], doubt=WoodDoubt(doubt, doubt, blanks), compare=True
    )


# ---------------------------------------------------------------- one free figure


def test_the_height_against_the_full_model(stiff):
    """Brute force: the height at which the full model is as stiff; 0.02 mm is 1e-3 of it in stiffness."""
    goal = 1.05e3 * reference().figures["foot_n_per_mm"]

    def off(height):
        return np.log(bass_foot_stiffness(model(), shaped_bar(bar(), height=height)).middle / goal)

    height = brentq(off, 12 * MM, 15 * MM, xtol=2e-6, rtol=1e-4)
    assert stiff.met
    assert stiff.height_mm == pytest.approx(height / MM, abs=0.02)
    assert stiff.binding == stiff.targets


def test_nothing_lighter_meets_the_targets(stiff):
    """The curve is computed bar by bar: all below miss, all above weigh more."""
    curve = stiff.curve
    below = curve[curve["height_mm"] < stiff.height_mm - 1e-6]
    assert not below["all_met"].any()
    assert curve[curve["all_met"]]["bar_g"].min() == pytest.approx(stiff.figures["bar_g"], rel=1e-9)


def test_a_softer_top_wants_a_higher_bar():
    wish = [t.strip_as_usual(reference())]
    heights = [choose(wish, s).height_mm for s in (1.0, 0.8, 0.7)]
    assert heights[0] == pytest.approx(12.0, abs=0.01)  # the usual top gets its usual bar back
    # glued section, worked by hand: 8.5 instead of 11 GPa of plate asks for 12.5 instead of 12 mm
    assert 12.2 < heights[1] < heights[2] < 13.0
    foot = [choose([t.foot_as_usual(reference())], s).height_mm for s in (1.0, 0.95, 0.9)]
    assert foot[0] == pytest.approx(12.0, abs=0.02)
    assert (
        foot[1] - foot[0] > heights[1] - heights[0]
    )  # the arch carries half, the bar must make up for it all
    assert foot[2] > foot[1] + 0.5


def test_a_narrow_band_between_two_bars_is_found():
    tones = [plain().figures.of(shaped_bar(bar(), height=h))["f1_hz"] for h in (12.31 * MM, 12.33 * MM)]
    goal = t.mode(1, sum(tones) / 2, band=abs(tones[1] - tones[0]) / 4)
    found = choose([goal])
    assert found.met
    assert found.height_mm == pytest.approx(12.32, abs=0.01)


def test_limits_of_the_height_alone_give_the_lowest():
    assert choose(t.heights(11.0, 13.0)).height_mm == pytest.approx(11.0, abs=1e-3)


# ---------------------------------------------------------------- conflicts


def test_a_conflict_names_its_two_sides_and_keeps_the_limit_of_the_height():
    found = choose([t.foot_as_usual(reference()), *t.heights(most=12.5)], softness=0.9)
    assert not found.met
    (conflict,) = found.conflicts
    assert conflict.targets == (0, 1)
    assert "stiffness under the bass foot at least" in conflict.text
    assert "height of the bar at most 12.5 mm" in conflict.text
    assert found.height_mm == pytest.approx(12.5, abs=1e-3)
    assert list(found.margins["met"]) == [False, True]
    curve = found.curve
    assert set(curve.loc[curve["height_mm"] > 15, "missed"]) == {"height of the bar"}


def test_what_no_bar_can_do_is_said_with_how_near_it_comes():
    found = choose([t.mode(5, 600.0, "at least"), t.bar_mass(6.0)])
    assert not found.met
    (conflict,) = found.conflicts
    assert conflict.targets == (0,)
    assert "no nearer than" in conflict.text
    assert found.curve["f5_hz"].max() < 600


def test_a_ratio_that_fits_nothing_is_a_conflict_too():
    found = choose([t.ratio(3.5)], free=("height", "power"))
    assert not found.met
    assert found.conflicts[0].targets == (0,)
    assert np.isfinite(found.height_mm)


@pytest.mark.parametrize(
    ("wishes", "more", "message"),
    [([], {}, "no targets"), ([t.bar_mass(5)], {"free": ("colour",)}, "choose among"),
     ([t.bar_mass(5)], {"free": ()}, "nothing"), ([t.sinking(0.4)], {}, "give set_up"),
     ([t.bar_mass(5)], {"goal": "price"}, "goal"),
     ([t.bar_mass(5)], {"ranges": {"height": (14 * MM, 12 * MM)}}, "least must be below")],
)  # fmt: skip
def test_questions_that_cannot_be_are_refused(wishes, more, message):
    with pytest.raises(ValueError, match=message):
        choose(wishes, **more)


def in_body(wishes, **more):
    return choose_bar(
        reduced(), bar(), wishes, Freedom(**more), WoodDoubt(None, species_estimate("tonewood spruce")),
        effects=bodied(), reference=reference(), compare=True,
    )  # fmt: skip


def test_targets_on_the_closed_body():
    """With a body whose figures are closed formulas the height is their inverse: 2.4 mm over 0.19 mm."""
    found = in_body([t.body_sinking(0.19), t.body_mobility(0.06, "at least")])
    assert found.met
    assert found.height_mm == pytest.approx(2.4 / 0.19, abs=1e-3)
    # the wood's 1 % of stiffness is 0.5 % of the sinking, whose inverse the height is
    low, high = found.bands.set_index("figure").loc["body_sink_mm", ["low", "high"]]
    spread = 0.5 * species_estimate("tonewood spruce").sd("E_L")
    assert np.log(high / low) == pytest.approx(2 * 1.645 * spread, rel=0.1)  # 4096 draws
    assert found.height_band[1] / found.height_band[0] == pytest.approx(high / low, rel=0.02)
    others = found.comparison.set_index("bar")["body_sink_mm"]
    assert np.isfinite(others["the bar given"])
    assert np.isnan(others["the usual bar on the usual top"])
    quarrel = in_body([t.body_sinking(0.19), t.body_mobility(0.08, "at least")])
    assert [c.targets for c in quarrel.conflicts] == [(0, 1)]


def test_what_the_closed_body_cannot_tell_is_refused():
    """Another line of the bar, and a body that is not there."""
    with pytest.raises(ValueError, match="answers for one line of the bar"):
        in_body([t.body_sinking(0.19)], free=("height", "length"))
    with pytest.raises(ValueError, match="answers for one line of the bar"):
        bodied().of(bar(), {"width": 1.05 * bar().width})
    with pytest.raises(ValueError, match="closed body needs it"):
        choose([t.body_sinking(0.19)])


# ---------------------------------------------------------------- several free figures


@pytest.fixture(scope="module")
def wide():
    wishes = [t.foot_as_usual(reference(), 1.05), *t.heights(most=12.5)]
    return choose(wishes, free=("height", "width", "power"))


@pytest.mark.slow
def test_several_figures_meet_what_height_alone_cannot(wide):
    assert not choose(list(wide.targets)).met
    assert wide.met
    full = TopFigures(model()).of(wide.bar)
    # 1e-3: the bar found is solved in full and the search made to agree with it
    assert full["foot_n_per_mm"] == pytest.approx(wide.figures["foot_n_per_mm"], rel=1e-3)
    assert full["bar_g"] == pytest.approx(wide.figures["bar_g"], rel=1e-3)


def test_no_random_bar_of_the_ranges_is_lighter(wide):
    problem = Search(plain(), bar(), wide.targets, wide.free)
    random = np.random.default_rng(3)
    lighter = []
    low, high = wide.free["height"]
    for x in random.random((120, 3)):
        x[0] = ((11.5 + x[0]) * MM - low) / (high - low)  # where the height begins to be enough
        if problem.shares(x).min() >= 0:
            lighter.append(problem.figures(x)["bar_g"] < wide.figures["bar_g"] * (1 - 3e-3))
    assert len(lighter) > 5
    assert not any(lighter)


# ---------------------------------------------------------------- what is told


@pytest.mark.slow
def test_derivatives_by_the_wood_of_the_top_against_the_full_model():
    """Central differences of the full model over 4 %, whose own error is about (2 %)^2 of the slope."""
    found = by_top_wood(plain().figures, bar())
    logs = {}
    for sign in (1, -1):
        wood = replace(model().top.wood, E_L=model().top.wood.E_L * np.exp(0.02 * sign))
        logs[sign] = TopFigures(top_model(replace(model().top, wood=wood), FINENESS)).of(bar())
    for name in ("foot_n_per_mm", "f1_hz", "f2_hz", "f5_hz", "strip_n_m2"):
        slope = np.log(logs[1][name] / logs[-1][name]) / 0.04
        assert found.loc[name, "E_L"] == pytest.approx(slope, abs=2e-3), name
    # of first degree in the moduli: with the bar's share they add up to one half for tones, one for stiffness
    moduli = [c for c in CONSTANTS if c[0] in "EG"]
    assert 0.3 < found.loc["f5_hz", moduli].sum() < 0.5
    assert 0.5 < found.loc["foot_n_per_mm", moduli].sum() < 1.0


def test_derivatives_by_the_wood_of_a_bare_top_add_up():
    """Of degree: tones of a plate alone go with the root of all moduli together (Euler, homogeneous
    functions; 1e-3: the reduced model), and against that of the density but for the air that goes along, some
    hundredths of the mass; so does the stiffness under the foot, but for what the edge's springs hold.
    """
    found = by_top_wood(plain().figures, None)
    moduli = [c for c in CONSTANTS if c[:2] in ("E_", "G_")]
    for name in ("f1_hz", "f2_hz", "f5_hz"):
        assert found.loc[name, moduli].sum() == pytest.approx(0.5, rel=1e-3), name
        assert -0.5 < found.loc[name, "density"] < -0.46
    assert found.loc["foot_n_per_mm", "density"] == 0.0
    assert found.loc["foot_n_per_mm", moduli].sum() == pytest.approx(1.0, rel=0.15)
    assert found.loc["ratio_5_2"].to_numpy() == pytest.approx(
        (found.loc["f5_hz"] - found.loc["f2_hz"]).to_numpy()
    )


def test_bands_hold_the_value_and_follow_the_doubt(stiff):
    bands = stiff.bands.set_index("figure")
    assert (bands["low"] <= bands["value"]).all()
    assert (bands["high"] >= bands["value"]).all()
    assert bands.loc["height_mm", "low"] == bands.loc["height_mm", "high"]
    sure = choose(stiff.targets, doubt=WoodDoubt(certain(), certain()))
    assert sure.bands["low"].to_numpy() == pytest.approx(sure.bands["value"].to_numpy(), rel=1e-6)
    assert sure.height_band == pytest.approx((sure.height_mm, sure.height_mm), rel=1e-6)
    low, high = stiff.height_band
    assert low < stiff.height_mm < high
    assert (
        0.35 < stiff.margins["chance"][0] < 0.65
    )  # the limit itself is met by half of what the woods may be


def certain():
    return WoodEstimate(bar().wood, np.zeros((10, 10)))


def test_half_a_millimetre(stiff):
    row = stiff.steps.set_index("step_mm").loc[0.5]
    assert row["height_mm"] == pytest.approx(stiff.height_mm + 0.5)
    true = plain().figures.of(shaped_bar(bar(), height=MM * row["height_mm"]))
    assert row["foot_n_per_mm"] == pytest.approx(true["foot_n_per_mm"], rel=1e-9)
    assert row["d_foot_n_per_mm"] == pytest.approx(row["foot_n_per_mm"] - stiff.figures["foot_n_per_mm"])


def test_other_bars_beside_it(stiff):
    rows = stiff.comparison.set_index("bar")
    assert rows.loc["the usual bar on the usual top", "foot_n_per_mm"] == reference().figures["foot_n_per_mm"]
    # the top is the usual one, so its usual bar is the reference, by the full model on the same mesh
    usual = rows.loc["the usual bar on this top"]
    assert usual["f5_hz"] == pytest.approx(reference().figures["f5_hz"], rel=1e-9)
    needed = rows["needed_height_mm"]
    assert needed["this bar from stiff"] < stiff.height_mm < needed["this bar from soft"]


def test_heights_are_read_from_the_curve(stiff):
    goal = stiff.targets[0].value
    assert stiff.height_for("foot_n_per_mm", goal) == pytest.approx(stiff.height_mm, abs=0.01)
    assert np.isnan(stiff.height_for("foot_n_per_mm", 1000.0))


def test_sinking_as_a_target():
    goal = 0.97 * effects().figures.of(bar())["sink_mm"]
    found = choose_bar(
        reduced(),
        bar(),
        [t.sinking(goal)],
        set_up=set_up(),
        effects=effects(),
        reference=reference(),
        compare=False,
    )
    assert found.met
    assert found.figures["sink_mm"] == pytest.approx(goal, rel=1e-4)
    assert found.height_mm > 12.0


def test_both_ends_of_what_an_equal_target_allows_are_tried():
    """Met within 0.3 of the place where it is met exactly."""

    class Problem:
        targets = (Target("f5_hz", "equal to", 300.0, 2.0),)

        def shares(self, places, _):
            return [0.3 - abs(places[0] - 1.0)]

    found = np.array(_edges(Problem(), 0, 1.0, 0.5, 1.6))
    for edge in (0.7, 1.3):
        for side in (-2 * TIGHT, 0, 2 * TIGHT):
            assert np.abs(found - (edge + side)).min() < 1.1 * TIGHT
