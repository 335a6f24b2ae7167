"""Study room: the top under its strings, by laws that hold on any mesh."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.strings import USUAL_POST, Post
from platemodel.study.top.answers import Bracket, bar_response
from platemodel.study.top.edge_supports import rim_supports
from platemodel.study.top.figures import TopFigures
from platemodel.study.top.foot import bass_foot_stiffness
from platemodel.study.top.margins import Solved, strength_margins
from platemodel.study.top.model import top_model, with_wood
from platemodel.study.top.reduced_top import reduced_top
from platemodel.study.top.string_load import _Unit, string_load
from platemodel.wood.estimate import HALF_WIDTH
from tests import choosing_parts

MM = 1e-3


@pytest.fixture(scope="module")
def violin():
    return choosing_parts.model()


@pytest.fixture(scope="module")
def bar():
    return choosing_parts.bar()


@pytest.fixture(scope="module")
def strung():
    return choosing_parts.set_up()


@pytest.fixture(scope="module")
def load(violin, bar, strung):
    return string_load(violin, bar, strung)


@pytest.fixture(scope="module")
def bass_only(violin, bar, strung):
    return string_load(violin, bar, strung, load=(1.0, 0.0), compare=False)


@pytest.fixture(scope="module")
def treble_only(violin, bar, strung):
    return string_load(violin, bar, strung, load=(0.0, 1.0), compare=False)


# --- statics ------------------------------------------------------------------------------------------


def test_loads_add_up(load, bass_only, treble_only):
    """Linear: the sum of unit loads on the feet, each times its load; the post is pushed in each case."""
    parts = [(load.bass, bass_only), (load.treble, treble_only)]
    for post in (True, False):
        whole = load.state(post=post)
        shape = sum(n * one.state(post=post).lift.sliding for n, one in parts)
        if post:
            assert min(one.main.post_force.sliding for _, one in parts) > 0
            force = sum(n * one.main.post_force.held for n, one in parts)
            assert whole.post_force.held == pytest.approx(force, rel=1e-9)
        assert whole.lift.sliding == pytest.approx(shape, abs=1e-9 * np.abs(shape).max())


def test_sinking_of_one_foot_under_the_other_is_mutual(bass_only, treble_only):
    """Maxwell's reciprocal theorem, with the post and without."""
    for post in (True, False):
        one, other = bass_only.state(post=post), treble_only.state(post=post)
        for rim in ("sliding", "held"):
            assert getattr(one.sinking_treble, rim) == pytest.approx(
                getattr(other.sinking_bass, rim), rel=1e-6
            )


@pytest.mark.parametrize("with_bar", [True, False])
def test_without_post_the_foot_is_as_stiff_as_by_a_single_push(violin, bar, bass_only, load, with_bar):
    """The same statics by another road: one push on the bass foot alone."""
    one = bar if with_bar else None
    stiff = bass_foot_stiffness(violin, one, post=False)
    unit = bass_only if with_bar else string_load(violin, None, load.set_up, load=(1.0, 0.0))
    state = unit.state(bar=with_bar, post=False)
    assert 1 / state.sinking_bass.sliding == pytest.approx(stiff.sliding, rel=1e-9)
    assert 1 / state.sinking_bass.held == pytest.approx(stiff.held, rel=1e-9)


def test_band_of_the_post(violin, bar, strung, load):
    """Ends of sinking and tilt are those of the two rims with the softest and the stiffest usual post; a
    measured one leaves the rims alone.
    """
    ends = []
    for stiffness in USUAL_POST:
        known = replace(strung, post=replace(strung.post, stiffness=stiffness))
        found = string_load(violin, bar, known, compare=False).main
        assert found.tilt_ends == pytest.approx(found.tilt.ends)
        assert found.bass_ends == pytest.approx(found.sinking_bass.ends)
        ends.append(found)
    main = load.main
    assert main.treble_ends[1] == pytest.approx(ends[0].treble_ends[1])
    assert main.treble_ends[0] == pytest.approx(ends[1].treble_ends[0])
    assert main.tilt_ends == pytest.approx(
        (min(e.tilt_ends[0] for e in ends), max(e.tilt_ends[1] for e in ends))
    )
    assert main.tilt_ends[0] < 0 < main.tilt_ends[1]  # so its sign is not known with a bar


def test_a_softer_top_on_the_same_post(violin, bar, strung):
    """All moduli of the top times 0.8, bar and post as they are: the figures with that softness, which scale
    the post, are those of the top with that wood (exact for a linear model; 1e-6 for the solvers).
    """
    s = 0.8
    moduli = ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")
    soft = with_wood(violin.top, **{name: s * getattr(violin.top.wood, name) for name in moduli})
    direct = TopFigures(top_model(soft, choosing_parts.FINENESS), strung).of(bar)["sink_mm"]
    assert TopFigures(violin, strung, s).of(bar)["sink_mm"] == pytest.approx(direct, rel=1e-6)


def test_a_spring_lies_between_a_pin_and_no_post(violin, bar, strung, load):
    stone = replace(strung, post=replace(strung.post, stiffness=np.inf))
    pin, none = string_load(violin, bar, stone, compare=False).main, load.state(post=False)
    forces, sinks = [], []
    for stiffness in (1e3, 1e5):
        soft = replace(strung, post=replace(strung.post, stiffness=stiffness))
        found = string_load(violin, bar, soft, compare=False).main
        forces.append(found.post_force.held)
        sinks.append(found.sinking_treble.held)
        if stiffness == 1e5:
            # what the spring carries is its stiffness times the sinking of the post's end, which lies
            # close to that of the treble foot
            assert found.post_force.held / stiffness == pytest.approx(found.sinking_treble.held, rel=0.35)
    assert 0 < forces[0] < forces[1] < pin.post_force.held
    assert sinks[0] > sinks[1] > pin.sinking_treble.held
    assert sinks[0] == pytest.approx(none.sinking_treble.held, rel=0.02)


def test_a_post_only_pushes():
    """Three springs side by side, worked by hand: where the top would lift off the post, the post lets go.

    Sinking is negative; 1 N on the bass foot lifts the post's place by 0.1, on the treble foot presses it
    down by 0.5, on the post itself by 1.
    """
    moved = np.array([[-2.0, 0.1, 0.1], [0.1, -1.0, -0.5], [0.1, -0.5, -1.0]])
    unit = _Unit(moved, np.array([0.0, 0.0, 1.0]))
    u, force = unit.under(1.0, 0.0, np.inf, True)
    assert force == 0.0
    assert u == pytest.approx(moved[:, 0])
    u, force = unit.under(0.0, 1.0, np.inf, True)
    assert force == pytest.approx(0.5)
    assert u == pytest.approx([0.05, -0.75, 0.0])
    u, force = unit.under(0.0, 1.0, 1.0, True)  # a spring as soft as the top halves what it takes
    assert force == pytest.approx(0.25)
    assert unit.under(0.0, 1.0, 1.0, False)[1] == 0.0


def test_what_bar_and_post_are_for(load):
    """With the bar the bass foot sinks less, with the post the treble foot. Without the bar the bridge
    leans to the bass side, with the post out to the treble side; with both that is open.
    """
    with_bar, without = load.main, load.state(bar=False)
    post_out = load.state(post=False)
    assert with_bar.sinking_bass.middle < 0.7 * without.sinking_bass.middle
    assert with_bar.sinking_treble.middle < 0.4 * post_out.sinking_treble.middle
    assert without.tilt_ends[0] > 0 > post_out.tilt_ends[1]
    assert without.tilt.middle > with_bar.tilt.middle
    for state in load.states:
        assert state.sinking_bass.held < state.sinking_bass.sliding
    # the post gives with the back, so that the arch takes a part
    assert 0.4 * load.treble < with_bar.post_force.held < load.treble


def test_tilt_is_the_difference_of_the_feet_over_their_distance(load):
    bridge = load.model.top.bridge
    apart = bridge.treble_foot[1] - bridge.bass_foot[1]
    state = load.main
    gap = state.sinking_bass.held - state.sinking_treble.held
    assert np.tan(state.tilt.held) == pytest.approx(gap / apart, rel=1e-12)


def test_the_picture_shows_what_the_feet_do(load):
    """Displacement on the grid near the bass foot is the sinking of the foot, down is negative."""
    foot = load.model.top.bridge.bass_foot
    near = np.hypot(*(load.grid.points - foot[:, None])) < 6 * MM
    assert near.sum() >= 3
    for state in load.states:
        # 10 %: the grid's points lie up to 6 mm from the foot's middle
        assert state.shape[near].mean() == pytest.approx(-state.sinking_bass.middle, rel=0.1)


def test_with_a_post_that_does_not_give_part_of_the_top_is_raised(violin, bar, strung):
    """Against a pin the plate levers; and the post then carries more than the treble foot presses."""
    stone = replace(strung, post=replace(strung.post, stiffness=np.inf))
    found = string_load(violin, bar, stone, compare=False)
    assert found.main.shape.max() > 0.05 * -found.main.shape.min()
    assert found.treble < found.main.post_force.held < found.downforce


# --- loads put in -------------------------------------------------------------------------------------


def test_a_direct_load_is_shared_out_like_the_strings(violin, strung, load):
    found = string_load(violin, None, strung, load=100.0)
    assert found.downforce == pytest.approx(100.0)
    assert found.bass / 100.0 == pytest.approx(load.bass / load.downforce)
    same, usual = found.main.sinking_bass.held, load.state(bar=False).sinking_bass.held
    assert same / usual == pytest.approx(100.0 / load.downforce, rel=1e-9)


@pytest.mark.parametrize("wrong", [-1.0, 0.0, (5.0, -1.0), np.nan, np.inf])
def test_loads_that_cannot_be(violin, strung, wrong):
    with pytest.raises(ValueError, match="loads on the feet"):
        string_load(violin, None, strung, load=wrong)


def test_unknown_class_rim_and_state(violin, strung, load):
    with pytest.raises(ValueError, match="service class"):
        string_load(violin, None, strung, service_class=7)
    with pytest.raises(ValueError, match="sliding, held"):
        rim_supports(violin, "glued")
    with pytest.raises(KeyError, match="there are with bar"):
        replace(load, states=load.states[:1]).state(bar=False)


def test_states_follow_bar_and_post(violin, strung, load):
    labels = ["with bar", "with bar, post out", "without bar", "without bar, post out"]
    assert [s.label for s in load.states] == labels
    out = replace(strung, post=Post(present=False))
    alone = string_load(violin, None, out)
    assert [s.label for s in alone.states] == ["without bar, post out"]
    assert "post" not in " ".join(alone.main.margins["what"])


# --- bands and margins --------------------------------------------------------------------------------


def test_bands_of_the_sinking(load):
    state = load.main
    low, mid, high = load.day_one(state)
    spread = HALF_WIDTH * load.wood_spread
    assert mid == pytest.approx(0.5 * (state.sinking_bass.sliding + state.sinking_bass.held))
    assert low == pytest.approx(state.bass_ends[0] / (1 + spread))
    assert high == pytest.approx(state.bass_ends[1] / (1 - spread))
    assert state.bass_ends[0] < state.sinking_bass.held < state.sinking_bass.sliding < state.bass_ends[1]
    # creep factors of EN 1995-1-1, table 3.2: 0.6 indoors, 2.0 in class 3
    assert load.long_term(state) == pytest.approx((1.6 * low, 1.6 * mid, 3.0 * high))
    assert load.table.loc[0, "years_high_mm"] == pytest.approx(3000 * high)


def test_margins_are_strength_over_stress(load):
    table = load.main.margins
    assert np.allclose(table["long_term_mpa"], 0.60 * table["strength_mpa"])
    mean = 0.5 * (table["stress_low_mpa"] + table["stress_high_mpa"])
    assert np.allclose((table["margin"] * mean / table["long_term_mpa"])[mean > 0], 1.0)
    assert (table["margin_low"] <= table["margin"]).all()
    assert (table["margin"] <= table["margin_high"]).all()
    parts = ["top", "top by the post", "bar", "glue line"]
    assert list(dict.fromkeys(table["part"])) == parts


def test_margins_without_bar_have_no_bar(load):
    assert set(load.state(bar=False).margins["part"]) == {"top", "top by the post"}
    assert load.state(bar=False).bar_forces is None


def test_damp_takes_a_sixth_off_the_margins(load):
    """k_mod 0.50 instead of 0.60 (EN 1995-1-1, table 3.1, permanent load)."""
    main, feet = load.main, (load.bass, load.treble)
    solved = Solved(
        load.model, load.bar, load.set_up, feet, main.top_stress, main.bar_forces, main.post_force
    )
    damp = strength_margins(solved, service_class=3)
    finite = np.isfinite(damp["margin"])
    assert np.allclose((damp["margin"] / main.margins["margin"])[finite], 0.5 / 0.6)


def test_pressure_of_the_feet_is_load_over_area(load):
    bridge = load.model.top.bridge
    row = load.main.margins.set_index("what").loc["pressure under the treble foot"]
    area = bridge.foot_along * bridge.foot_length_across
    assert row["stress_high_mpa"] == pytest.approx(1e-6 * load.treble / area)


def test_the_bar_bends_like_a_bar_under_the_foot(load):
    """Greatest pull at its free edge near the bridge line; nothing at its free ends' free edge."""
    for forces in (load.main.bar_forces.sliding, load.main.bar_forces.held):
        x = load.bar.x_start + forces.s / forces.s[-1] * (load.bar.x_end - load.bar.x_start)
        assert abs(x[forces.free.argmax()] - load.model.top.bridge.x) < 15 * MM
        assert np.abs(forces.free[[0, -1]]).max() < 0.4 * forces.free.max()
    worst = load.main.margins.query("part == 'bar' and what == 'along the grain, tension'").iloc[0]
    assert worst["where"] == "free edge"


def test_stresses_of_the_top_stay_below_what_breaks_new_wood(load):
    """Short-term means along the grain: a usual violin does not break on the day it is strung."""
    along = load.main.margins[load.main.margins["what"].str.startswith("along")]
    assert (along["stress_high_mpa"] < along["strength_mpa"]).all()


def test_bracket():
    pair = Bracket(3.0, 1.0)
    assert pair.middle == 2.0
    assert pair.ends == (1.0, 3.0)


# --- on a reduced model -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def quick(violin, bar, strung):
    return reduced_top(violin, bar, set_up=strung, learn=False)


@pytest.mark.slow
def test_reduced_model_answers_as_the_full_one(violin, bar, strung, quick):
    """Sinking within 1e-4; stresses within 1 % of the greatest of their part (top, bar, glue line), since a
    field errs by the root of what the sinking errs by; the full model is not asked.
    """
    lower = bar_of_height(bar, 0.0105)
    full, fast = string_load(violin, lower, strung), string_load(quick, lower, strung)
    for name in ("sink_bass_mid_mm", "sink_treble_mm", "tilt_deg"):
        here, there = fast.table[name].to_numpy(), full.table[name].to_numpy()
        assert here == pytest.approx(there, rel=1e-4, abs=1e-4 * np.abs(there).max())
    for name in ("stress_low_mpa", "stress_high_mpa"):
        greatest = full.main.margins.groupby("part")[name].transform("max")
        assert ((fast.main.margins[name] - full.main.margins[name]).abs() / greatest).max() < 0.01


@pytest.mark.slow
def test_sinking_of_either_model_is_that_of_the_string_load(violin, bar, strung, quick):
    lower = bar_of_height(bar, 0.0105)
    found = string_load(violin, lower, strung, compare=False).main.sinking_bass
    for model, allowed in ((violin, 1e-9), (quick, 1e-4)):
        one = bar_response(model, lower, strung)
        assert one.source == ("full" if model is violin else "reduced")
        for rim in ("sliding", "held"):
            assert getattr(one.sinking, rim) == pytest.approx(getattr(found, rim), rel=allowed)


@pytest.mark.slow
def test_another_place_of_the_post_is_answered_in_full(violin, bar, strung, quick):
    moved = replace(strung, post=replace(strung.post, behind=strung.post.behind + 3e-3))
    fast, full = (string_load(m, bar, moved, compare=False) for m in (quick, violin))
    assert fast.main.sinking_bass.held == pytest.approx(full.main.sinking_bass.held, rel=1e-9)
    assert bar_response(quick, bar, moved).source == "full"
