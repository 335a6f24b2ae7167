"""One wood from several states of a top: the old bar on, off, another day; and a state that does not fit."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.instrument.bar_shape import scaled_wood
from platemodel.instrument.flex_test import FlexReading, usual_flex_test
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.top.flex import flexes
from platemodel.study.wood.fit_problem import MODULI, FitProblem
from platemodel.study.wood.state_gap import state_gap
from platemodel.study.wood.top_taps import Errors, TopTaps
from platemodel.study.wood.wood_fit import TapError, identify_wood
from platemodel.study.wood.wood_modes import WoodSolver
from platemodel.wood import CONSTANTS, USUAL_SPECIES, species_estimate
from tests.quick import quick_model

DAY = 0.008  # shift of all taps on the second day: two of the standard deviations that are expected
WEAK = 0.75  # the old bar is so much less stiff than was written down


@pytest.fixture(scope="module")
def bar():
    return preset_bar(preset_top("violin"))


@pytest.fixture(scope="module")
def model(bar):
    return quick_model(preset_top("violin"), bar)


@pytest.fixture(scope="module")
def truth(model):
    wood = model.top.wood
    softer = {"E_L": 0.9 * wood.E_L, "E_R": 0.88 * wood.E_R, "G_LR": 0.95 * wood.G_LR}
    return replace(wood, density=0.97 * wood.density, **softer)


@pytest.fixture(scope="module")
def solvers(model, bar, truth):
    """Of the top with and without bar; they know the shapes of the true wood before the fit."""
    return WoodSolver(model, bar, count=8), WoodSolver(model, None, count=8)


@pytest.fixture(scope="module")
def read(model, bar, truth, solvers):
    """Taps, weight and the along flex of the old bar's state, and of the bare top a day later."""
    weak = replace(bar, wood=scaled_wood(bar.wood, WEAK, 1.0))
    other = dict(zip(CONSTANTS, np.exp(np.log([getattr(truth, c) for c in CONSTANTS]) + 2 * DAY * MODULI),
                     strict=True))  # fmt: skip
    out = []
    for solver, on, wood in (
        (solvers[0], weak, truth),
        (solvers[1], None, replace(truth, **{k: float(v) for k, v in other.items()})),
    ):
        modes = solver.full(wood, np.log(WEAK))
        (flex,) = flexes(model, [usual_flex_test(model.top, "along")], on, wood)
        reading = FlexReading(flex.test, 1.0, flex.flexibility, 0.01 * flex.flexibility)
        taps = {n: float(modes.frequencies[modes.index[n]]) for n in (1, 2, 5)}
        out.append((taps, modes.mass, (reading,)))
    return out


def states(read, bar):
    on, off = read
    return (
        TopTaps(off[0], off[1], None, flexes=off[2], name="off", day="2"),
        TopTaps(on[0], on[1], bar, flexes=on[2], name="old bar on", day="1", bar_sd=0.2, bar_key="old"),
    )


@pytest.fixture(scope="module")
def fit(model, bar, read, solvers):
    return identify_wood(model, states(read, bar), solver=solvers[::-1])


@pytest.fixture(scope="module")
def problem(model, bar, read, solvers, truth):
    """Of both states, with derivatives at the truth and readings as the middle of what is known predicts."""
    taps, errors, prior = states(read, bar), Errors(), species_estimate(USUAL_SPECIES)
    start = [s.full(prior.wood) for s in solvers[::-1]]
    followed = [tuple(sorted(m.index)) for m in start]
    slips = [
        s.shape_effects(prior.wood, m, errors.shape)[:, [*(m.index[n] for n in numbers), -1]]
        for s, m, numbers in zip(solvers[::-1], start, followed, strict=True)
    ]
    found = FitProblem.of(prior, errors, taps, followed, np.hstack(slips))
    point = found.start
    point[: len(CONSTANTS)] = np.log([getattr(truth, c) for c in CONSTANTS])
    at = [s.full(found.wood_in(rows, point)) for s, rows in zip(solvers[::-1], found.states, strict=True)]
    found = found.flexed(model, point)
    logs, rows = found.expected(point, at)
    off = logs - rows @ (point - found.start) - found.heard
    return off_by(off_by(found, 0, off[:5]), 1, off[5:]), point, at


def off_by(problem, which, off):
    """The problem with the readings of one state off by so much, in logarithms."""
    state, rows = problem.states[which], list(problem.states)
    count, factor = len(state.numbers), np.exp(off)
    taps = {n: f * state.taps.frequencies[n] for n, f in zip(state.numbers, factor, strict=False)}
    flexes = tuple(
        replace(r, sag=r.sag * f, sd=r.sd * f)
        for r, f in zip(state.sags.readings, factor[count + 1 :], strict=True)
    )
    changed = replace(state.taps, frequencies=taps, mass=state.taps.mass * factor[count], flexes=flexes)
    rows[which] = replace(state, taps=changed, sags=replace(state.sags, readings=flexes))
    return replace(problem, states=tuple(rows))


@pytest.mark.slow
@pytest.mark.parametrize("which", [0, 1])
@pytest.mark.parametrize(
    ("fault", "off", "percent"),
    [
        ("all taps", (1, 1, 1, 0, 0), 3.8),
        ("mode 5", (0, 0, 1, 0, 0), 5.7),
        ("weight", (0, 0, 0, 1, 0), 3.9),
        ("flex along", (0, 0, 0, 0, 1), 11.3),
    ],
)
def test_the_least_fault_by_which_a_state_is_found(problem, which, fault, off, percent):
    """Of the old bar on and off, three taps, weight and a flex each: found at the size that the documents
    tell, and rightly named; nine tenths of it pass, hidden by the doubts of air, bar and plate."""
    found, point, at = problem
    gaps = []
    for size in (0.0, 0.9, 1.01):
        wrong = off_by(found, which, 1e-2 * percent * size * np.array(off))
        gaps.append(state_gap(wrong, wrong.states[which], point, at))
    assert [gap.fits for gap in gaps] == [True, True, False]
    assert gaps[0].excess == pytest.approx(0, abs=1e-12)
    assert gaps[2].fault == fault
    assert gaps[2].size == pytest.approx(0.0101 * percent, rel=1e-6)  # nothing else is off, and it is linear


@pytest.mark.slow
def test_a_state_is_seldom_named_without_cause(problem, monkeypatch):
    """At odds of 1 in 10, tops drawn as the doubts say: 400 draws, 1.5 % of sampling error. Faults overlap,
    so the share lies below the odds, but not far."""
    monkeypatch.setattr("platemodel.study.wood.state_gap.ODD", 0.9)
    found, point, at = problem
    rows = found.expected(point, at)[1]
    total = rows @ found.prior_cov @ rows.T + found.noise
    draws = np.random.default_rng(5).multivariate_normal(np.zeros(len(rows)), total, 400)
    named = 0
    for off in draws:
        drawn = off_by(off_by(found, 0, off[:5]), 1, off[5:])
        named += not state_gap(drawn, drawn.states[1], point, at).fits
    assert 0.04 < named / len(draws) < 0.12


@pytest.mark.slow
def test_a_third_state_is_judged_by_both_others(problem):
    """The old bar's readings once more, as another state: they agree; 12 % off in all taps they do not, and
    are known better than from one other state."""
    found, point, at = problem
    three, modes = replace(found, states=(*found.states, replace(found.states[1]))), [*at, at[1]]
    assert state_gap(three, three.states[2], point, modes).fits
    wrong = off_by(three, 2, np.log([1.12, 1.12, 1.12, 1, 1]))
    gap = state_gap(wrong, wrong.states[2], point, modes)
    assert not gap.fits
    assert gap.fault == "all taps"
    spread = three.left_out(three.states[2], point, modes)[1]
    assert (np.diag(spread) < np.diag(found.left_out(found.states[1], point, at)[1])).all()
    alone = state_gap(replace(found, states=found.states[:1]), found.states[0], point, at[:1])
    assert alone.fits
    assert np.isnan(alone.off)


@pytest.mark.parametrize("count", [7, 8])
def test_every_mode_has_a_number(solvers, truth, count):
    modes = solvers[1].full(truth)
    index = solvers[1]._index(modes.shapes[:, :count])
    assert sorted(index.values()) == list(range(count))
    others = [n for n in sorted(index) if n not in (1, 2, 5)]
    assert [index[n] for n in others] == sorted(index[n] for n in others)  # in the order of pitch


@pytest.mark.slow
def test_what_the_model_is_off_by_is_in_part_the_plates(problem):
    """The same mode, the weight and the same kind of flex err together in both states, nothing else does."""
    found = problem[0]
    noise, errors = found.noise, found.errors
    both = np.array([errors.model] * 3 + [errors.weighing, errors.flexing])
    assert noise[:5, 5:] == pytest.approx(np.diag(errors.shared * both**2))
    assert np.sqrt(np.diag(noise)) == pytest.approx(found.sd)


def test_what_the_bar_does_is_told_by_its_share_of_the_energy(solvers, truth, bar):
    """Against a bar of other stiffness, solved anew: central differences of 1 %."""
    low, high = (solvers[0].full(truth, s) for s in (-0.01, 0.01))
    middle = solvers[0].full(truth)
    for number in (1, 2, 5):
        by = np.log(high.frequencies[high.index[number]] / low.frequencies[low.index[number]]) / 0.02
        assert middle.by_bar[middle.index[number]] == pytest.approx(by, abs=1e-4)
    assert middle.by_bar[middle.index[1]] > 0.05
    assert (solvers[1].full(truth).by_bar == 0).all()


@pytest.mark.slow
def test_one_wood_is_found_with_the_bar_and_the_day(fit, truth, model, bar, read, solvers):
    """Each constant within one standard deviation of the truth; the weak bar is seen; the bands are narrower
    than without the old bar's readings."""
    alone = identify_wood(model, states(read, bar)[0], solver=solvers[1])
    for name in ("E_L", "E_R", "G_LR"):
        # the wood is told in the air of the first state, which is DAY stiffer
        away = np.log(getattr(fit.estimate.wood, name) / getattr(truth, name)) - 2 * DAY
        assert abs(away) < fit.estimate.sd(name)
        assert fit.estimate.sd(name) < alone.estimate.sd(name)
    old = fit.states.set_index("state").loc["old bar on"]
    assert old["bar_percent"] == pytest.approx(100 * (WEAK - 1), abs=1.7 * old["bar_sd_percent"])
    assert old["bar_sd_percent"] < 15  # 20 was put in
    assert old["shift_percent"] < 0  # the day before was the softer one
    assert fit.states["fits"].all()
    assert set(fit.modes["state"]) == {"off", "old bar on"}


@pytest.mark.slow
def test_a_state_that_does_not_fit_is_named(model, bar, read, solvers):
    """The old bar's taps all 6 % high: each is possible by itself, not with the bare top's."""
    off, on = states(read, bar)
    wrong = replace(on, frequencies={n: 1.06 * f for n, f in on.frequencies.items()})
    with pytest.raises(TapError, match="old bar on") as caught:
        identify_wood(model, (off, wrong), solver=solvers[::-1])
    assert caught.value.doubts[0].kind == "state"
    assert "likeliest all taps" in str(caught.value)


@pytest.mark.slow
def test_patches_are_left_out_of_the_weight_and_widen_the_doubt(model, bar, read, solvers, fit):
    off, on = states(read, bar)
    patched = replace(off, mass=off.mass + 1e-3, added=1e-3)
    found = identify_wood(model, (patched, on), solver=solvers[::-1])
    assert found.states["weighed_g"].iloc[0] == pytest.approx(1e3 * off.mass)
    assert found.estimate.wood.density == pytest.approx(fit.estimate.wood.density, rel=2e-3)
    assert found.estimate.sd("E_R") > fit.estimate.sd("E_R")
