"""Wood of a top from its weight and taps: known answers, bands that hold what they say, slips named."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.fem.shell import Shell
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study import top_model
from platemodel.study.wood.reading_doubts import is_odd
from platemodel.study.wood.wood_fit import FITTED, Errors, TapError, identify_wood
from platemodel.study.wood.wood_modes import WoodSolver
from platemodel.wood import CONSTANTS, species_estimate

PRIOR = species_estimate("tonewood spruce")
TRUE = replace(
    PRIOR.wood,
    density=390.0,
    E_L=0.87 * PRIOR.wood.E_L,
    E_R=1.15 * PRIOR.wood.E_R,
    G_LR=0.9 * PRIOR.wood.G_LR,
)
DRAWN = 250  # woods for the statistics
SHARP = Errors(reading=1e-3, model=1e-3, thickness=1e-3, weighing=1e-3)


@pytest.fixture(scope="module")
def model():
    return top_model(preset_top("violin"), 0.4)


@pytest.fixture(scope="module")
def truth(model):
    return WoodSolver(model).full(TRUE)


def taps_of(modes, numbers):
    return {n: float(modes.frequencies[modes.index[n]]) for n in numbers}


def test_derivatives_of_the_frequencies_are_those_of_full_solves(model, truth):
    step = 2e-4
    for name in ("density", "E_R", "G_LR", "G_RT"):
        ends = [
            WoodSolver(model).full(replace(TRUE, **{name: getattr(TRUE, name) * np.exp(s)}))
            for s in (step, -step)
        ]
        slope = np.log(ends[0].frequencies / ends[1].frequencies) / (2 * step)
        # central difference of solves with eigenvalue errors of 1e-9: 1e-5
        assert truth.by_logs[:6, CONSTANTS.index(name)] == pytest.approx(slope[:6], abs=2e-5), name


def test_thickness_derivative_is_near_that_of_a_thicker_top(model, truth):
    top, step = model.top, 0.01
    found = []
    for sign in (1, -1):

        class Scaled:
            def __init__(self, field, factor):
                self.field, self.factor = field, factor

            def __getattr__(self, name):
                return getattr(self.field, name)

            def value(self, *a):
                return self.factor * self.field.value(*a)

            def gradient(self, *a):
                return self.factor * self.field.gradient(*a)

            def derivatives(self, *a):
                return self.factor * self.field.derivatives(*a)

        thick = replace(top, thickness=Scaled(top.thickness, np.exp(sign * step)))
        found.append(WoodSolver(top_model(thick, 0.4)).full(TRUE).frequencies)
    slope = np.log(found[0] / found[1]) / (2 * step)
    # rotary inertia and the midsurface's shift are left out of the derivative: a few hundredths of it
    assert truth.by_logs[:6, -1] == pytest.approx(slope[:6], abs=0.05)


def test_sharp_taps_of_many_modes_return_the_wood(model, truth):
    fit = identify_wood(model, taps_of(truth, (1, 2, 3, 4, 5, 6, 7)), truth.mass, errors=SHARP)
    for name in FITTED:
        found, sd = getattr(fit.estimate.wood, name), fit.estimate.sd(name)
        assert abs(np.log(found / getattr(TRUE, name))) < 2.5 * sd, name
        assert sd < 0.06
    assert np.abs(fit.modes["residual_percent"]).max() < 0.2  # of taps good to 0.14 %
    assert fit.solves <= 4


def test_three_taps_and_the_weight(model, truth):
    fit = identify_wood(model, taps_of(truth, (1, 2, 5)), truth.mass)
    for name in FITTED:
        low, high = fit.estimate.band(name)
        assert low < getattr(TRUE, name) < high
        assert fit.estimate.sd(name) < PRIOR.sd(name)
    assert fit.mass[1] == pytest.approx(truth.mass, rel=0.01)
    assert list(fit.modes["name"]) == ["twist", "cross", "ring"]
    assert set(fit.next_taps["number"]).isdisjoint({1, 2, 5})


def test_two_taps_still_answer_with_a_wider_band(model, truth):
    two = identify_wood(model, taps_of(truth, (1, 5)), truth.mass)
    three = identify_wood(model, taps_of(truth, (1, 2, 5)), truth.mass)
    assert two.estimate.sd("E_R") > 1.1 * three.estimate.sd("E_R")
    assert 2 in set(two.next_taps["number"])


def test_the_next_tap_narrows_the_band_by_what_was_said(model, truth):
    before = identify_wood(model, taps_of(truth, (1, 5)), truth.mass)
    said = before.next_taps.set_index("number")
    after = identify_wood(model, taps_of(truth, (1, 2, 5)), truth.mass)
    for name in ("E_L", "E_R", "G_LR"):
        gain = 100 * (1 - after.estimate.sd(name) / before.estimate.sd(name))
        # the rows move a little with the fit
        assert gain == pytest.approx(said.loc[2, f"{name}_percent"], abs=3.0)


def test_bar_on_with_the_bar_known(model):
    bar = preset_bar(model.top)
    heard = WoodSolver(model, bar).full(TRUE)
    fit = identify_wood(model, taps_of(heard, (1, 2, 3, 4, 5)), heard.mass, bar=bar, errors=SHARP)
    for name in FITTED:
        found, sd = getattr(fit.estimate.wood, name), fit.estimate.sd(name)
        assert abs(np.log(found / getattr(TRUE, name))) < 2.5 * sd, name
    assert fit.mass[1] == pytest.approx(heard.mass, rel=3e-3)


def test_a_strip_test_beforehand_narrows_the_band(model, truth):
    known = PRIOR.measured(0.02, "strip of the old lining", E_L=TRUE.E_L)
    with_strip = identify_wood(model, taps_of(truth, (1, 2, 5)), truth.mass, prior=known)
    without = identify_wood(model, taps_of(truth, (1, 2, 5)), truth.mass)
    assert with_strip.estimate.sd("E_L") < 0.02  # two independent readings: below the better of them
    assert with_strip.estimate.sd("E_R") < without.estimate.sd("E_R")
    assert "strip of the old lining" in with_strip.estimate.source


class OnBasis(WoodSolver):
    """Solver that answers from its basis: the same mechanics in milliseconds, for statistics."""

    def full(self, wood):
        return self.reduced(wood)


@pytest.fixture(scope="module")
def quick(model):
    """Basis from woods all over the prior's spread."""
    shell = model.shell
    few = Shell(shell.mesh, shell.surface, shell.section, order=4)  # six points a triangle instead of sixteen
    solver = OnBasis(replace(model, shell=few), count=8)
    for wood in [PRIOR.wood, *PRIOR.samples(2, np.random.default_rng(11))]:
        WoodSolver.full(solver, wood)
    return solver


def test_the_basis_answers_like_the_full_model(quick):
    for wood in PRIOR.samples(3, np.random.default_rng(3)):
        full, fast = WoodSolver(quick.model).full(wood), quick.reduced(wood)
        # three woods do not span ten constants; the statistics need the same mechanics, not the same digits
        assert fast.frequencies[:7] == pytest.approx(full.frequencies[:7], rel=3e-2)
        assert np.all(fast.frequencies[:7] >= full.frequencies[:7] * (1 - 1e-8))  # Rayleigh and Ritz


@pytest.fixture(scope="module")
def drawn(model, quick):
    """Fits to readings with noise as stated, of woods drawn from the species' spread: (wood, heard, fit).

    Heard are the modes tapped, 1, 2 and 5, and those that are not, with noise of their own.
    """
    rng = np.random.default_rng(7)
    errors, numbers = Errors(), (1, 2, 5)
    out = []
    for wood in PRIOR.samples(DRAWN, rng):
        modes = quick.reduced(wood)
        thick = errors.thickness * rng.standard_normal()
        heard = {}
        for number, place in modes.index.items():
            noise = np.hypot(errors.reading, errors.model) * rng.standard_normal()
            heard[number] = modes.frequencies[place] * np.exp(modes.by_logs[place, -1] * thick + noise)
        mass = modes.mass * np.exp(thick + errors.weighing * rng.standard_normal())
        try:
            fit = identify_wood(model, {n: heard[n] for n in numbers}, mass, solver=quick)
        except TapError:
            continue
        out.append((wood, heard, fit))
    assert len(out) >= 0.98 * DRAWN
    return out


# Shares below: 90 % bands, and the sampling error of a share of 0.9 in 250 draws is 0.019.


@pytest.mark.slow
def test_the_band_holds_the_truth_as_often_as_it_says(drawn):
    for name in FITTED:
        bands = [(fit.estimate.band(name, 0.9), getattr(wood, name)) for wood, _, fit in drawn]
        share = np.mean([low < true < high for (low, high), true in bands])
        assert 0.85 <= share <= 0.95, name


@pytest.mark.slow
@pytest.mark.parametrize("number", [3, 4])
def test_a_further_tap_falls_into_its_band_as_often_as_it_says(drawn, number):
    inside = []
    for _, heard, fit in drawn:
        row = fit.next_taps.set_index("number").loc[number]
        inside.append(abs(heard[number] - row["expected_hz"]) < row["band_hz"])
    assert 0.85 <= np.mean(inside) <= 0.95


@pytest.mark.parametrize(
    ("change", "kind", "modes", "words"),
    [
        (lambda t: t | {5: 2 * t[5]}, "octave", (5,), "an octave too high"),
        (lambda t: t | {1: t[1] / 2}, "octave", (1,), "an octave too low"),
        (lambda t: t | {2: t[2] / 1000}, "unit", (2,), "kHz"),
        (lambda t: {n: 2 * np.pi * f for n, f in t.items()}, "unit", (1, 2, 5), "radians per second"),
        (lambda t: t | {1: t[2], 2: t[1]}, "swap", (1, 2), "swapped"),
    ],
)
def test_slips_are_named(model, truth, quick, change, kind, modes, words):
    with pytest.raises(TapError, match=words) as caught:
        identify_wood(model, change(taps_of(truth, (1, 2, 5))), truth.mass, solver=quick)
    assert (kind, modes) in {(d.kind, d.modes) for d in caught.value.doubts}


def test_a_wrong_mode_is_named(model, truth, quick):
    taps = taps_of(truth, (1, 2, 3, 5))
    wrong = {1: taps[1], 2: taps[2], 5: taps[3]}
    with pytest.raises(TapError, match="looks like mode 3"):
        identify_wood(model, wrong, truth.mass, solver=quick)
    fit = identify_wood(model, wrong, truth.mass, solver=quick, despite_doubts=True)
    assert fit.doubts


def test_a_weight_in_the_wrong_unit_is_named(model, truth, quick):
    with pytest.raises(TapError, match="weight"):
        identify_wood(model, taps_of(truth, (1, 2, 5)), 1000 * truth.mass, solver=quick)


def test_taps_that_no_slip_explains(model, truth, quick):
    with pytest.raises(TapError, match="fit no wood of the kind"):
        identify_wood(model, {1: 50.0, 2: 61.0, 5: 73.0}, truth.mass, solver=quick)


def test_odd_is_the_tail_of_the_chi_square_distribution():
    # 99.9 % points of chi-square, any table: 10.83 for 1, 16.27 for 3 degrees of freedom
    assert not is_odd(10.82, 1)
    assert is_odd(10.84, 1)
    assert not is_odd(16.26, 3)
    assert is_odd(16.28, 3)


@pytest.mark.parametrize(
    ("taps", "mass", "words"),
    [
        ({}, None, "no taps"),
        ({1: -3.0}, None, "positive"),
        ({1: float("nan")}, None, "positive"),
        ({0: 80.0}, None, "numbered from 1"),
        ({1: 80.0}, 0.0, "mass"),
    ],
)
def test_bad_input_is_refused(model, taps, mass, words):
    with pytest.raises(ValueError, match=words):
        identify_wood(model, taps, mass)
