"""Wood of a top from its weight and taps: known answers, bands that hold what they say, slips named."""

import re
from dataclasses import replace

import numpy as np
import pytest

from platemodel.fem.shell import Shell
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.shape_errors import ShapeErrors
from platemodel.study import top_model
from platemodel.study.top.shape_scatter import error_fields
from platemodel.study.wood.reading_doubts import is_odd
from platemodel.study.wood.top_taps import Errors, TopTaps
from platemodel.study.wood.wood_fit import FITTED, WIDENING, TapError, identify_wood
from platemodel.study.wood.wood_modes import WoodSolver
from platemodel.wood import CONSTANTS, species_estimate
from tests.benchmarks.wood_coverage import basis_solver, wrong_top

PRIOR = species_estimate("tonewood spruce")
TRUE = replace(
    PRIOR.wood,
    density=390.0,
    E_L=0.87 * PRIOR.wood.E_L,
    E_R=0.95 * PRIOR.wood.E_R,
    G_LR=0.9 * PRIOR.wood.G_LR,
)
DRAWN = 200  # woods for the statistics
SHARP = Errors(1e-3, 1e-3, 1e-3, 1e-3, 1e-3, ShapeErrors(0.0, 0.0, 0.0))


@pytest.fixture(scope="module")
def model():
    return top_model(preset_top("violin"), 0.4)


@pytest.fixture(scope="module")
def truth(model):
    return WoodSolver(model).full(TRUE)


def taps_of(modes, numbers):
    return {n: float(modes.frequencies[modes.index[n]]) for n in numbers}


@pytest.mark.slow
def test_derivatives_of_the_frequencies_are_those_of_full_solves(model, truth):
    step = 2e-4
    for name in ("density", "E_R", "G_LR", "G_RT"):
        ends = [
            WoodSolver(model).full(replace(TRUE, **{name: getattr(TRUE, name) * np.exp(s)}))
            for s in (step, -step)
        ]
        slope = np.log(ends[0].frequencies / ends[1].frequencies) / (2 * step)
        # central difference of solves with eigenvalue errors of 1e-9: 1e-5; in air modes are sought in a
        # space that moves with the wood, which leaves 1e-4
        assert truth.by_logs[:6, CONSTANTS.index(name)] == pytest.approx(slope[:6], abs=1e-4), name


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


def test_error_fields_have_the_spread_and_reach_that_they_say():
    middles, height = error_fields((0.0, -0.1, 0.35, 0.1), 0.03)
    at = np.array([[0.1, 0.15, 0.13, 0.18], [0.0, 0.05, 0.02, -0.04]])
    parts = height * np.exp(-0.5 * ((at[..., None] - middles[:, None]) ** 2).sum(axis=0) / 0.03**2)
    cov = parts @ parts.T
    assert np.diag(cov) == pytest.approx(1.0, abs=0.01)  # ripple of a sum of bells, see `PITCH`
    far = ((at[:, :, None] - at[:, None]) ** 2).sum(axis=0)
    assert cov == pytest.approx(np.exp(-far / (4 * 0.03**2)), abs=0.01)


@pytest.mark.slow
def test_slips_of_shape_move_the_taps_as_full_solves_say(model, truth):
    """Tops drawn with such slips and solved anew scatter as the derivatives say."""
    rng, errors = np.random.default_rng(4), ShapeErrors(outline=0.0, thickness_reach=0.08, arching_reach=0.15)
    effects = WoodSolver(model).shape_effects(TRUE, truth, errors)
    scatter = effects.T @ effects
    reaches = {"thickness": (0.08, 0.08), "arching": (0.15, 0.15)}
    found = []
    for _ in range(12):
        other = WoodSolver(wrong_top(model, rng, reaches)).full(TRUE)
        pitch = other.frequencies[:6] / truth.frequencies[:6]
        found.append(np.log([*pitch, other.mass / truth.mass]))
    rms = np.sqrt(np.mean(np.square(found), axis=0))
    said = np.sqrt(np.diag(scatter))[[0, 1, 2, 3, 4, 5, -1]]
    # an rms of twelve draws errs by 20 % (chi-squared, one standard deviation): 2.5 of them
    assert np.all(np.abs(np.log(rms / said)) < 0.5), (rms, said)


@pytest.mark.slow
def test_sharp_taps_of_many_modes_return_the_wood(model, truth):
    fit = identify_wood(model, TopTaps(taps_of(truth, (1, 2, 3, 4, 5, 6, 7)), truth.mass), errors=SHARP)
    for name in FITTED:
        found, sd = getattr(fit.estimate.wood, name), fit.estimate.sd(name)
        assert abs(np.log(found / getattr(TRUE, name))) < 2.5 * sd, name
        assert sd < 0.06
    assert np.abs(fit.modes["residual_percent"]).max() < 0.2  # of taps good to 0.14 %
    assert fit.solves <= 4


@pytest.fixture(scope="module")
def three(model, truth):
    """Fit to modes 1, 2 and 5 and the weight."""
    return identify_wood(model, TopTaps(taps_of(truth, (1, 2, 5)), truth.mass))


def test_three_taps_and_the_weight(three, truth):
    fit = three
    for name in FITTED:
        low, high = fit.estimate.band(name)
        assert low < getattr(TRUE, name) < high
        assert fit.estimate.sd(name) < PRIOR.sd(name)
    assert fit.mass[1] == pytest.approx(truth.mass, rel=0.01)
    assert list(fit.modes["name"]) == ["twist", "cross", "ring"]
    assert set(fit.next_taps["number"]).isdisjoint({1, 2, 5})


@pytest.mark.slow
def test_two_taps_still_answer_with_a_wider_band(model, truth, three):
    two = identify_wood(model, TopTaps(taps_of(truth, (1, 5)), truth.mass))
    # slips of the arching blur what mode 2 adds to the species' tie between E_R and E_L
    assert two.estimate.sd("E_R") > 1.04 * three.estimate.sd("E_R")
    assert 2 in set(two.next_taps["number"])


@pytest.mark.slow
def test_the_next_tap_narrows_the_band_by_what_was_said(model, truth, three):
    before = identify_wood(model, TopTaps(taps_of(truth, (1, 5)), truth.mass))
    said = before.next_taps.set_index("number")
    for name in ("E_L", "E_R", "G_LR"):
        gain = 100 * (1 - three.estimate.sd(name) / before.estimate.sd(name))
        # the rows move a little with the fit
        assert gain == pytest.approx(said.loc[2, f"{name}_percent"], abs=3.0)


@pytest.mark.slow
def test_bar_on_with_the_bar_known(model):
    bar = preset_bar(model.top)
    heard = WoodSolver(model, bar).full(TRUE)
    fit = identify_wood(model, TopTaps(taps_of(heard, (1, 2, 3, 4, 5)), heard.mass, bar), errors=SHARP)
    for name in FITTED:
        found, sd = getattr(fit.estimate.wood, name), fit.estimate.sd(name)
        assert abs(np.log(found / getattr(TRUE, name))) < 2.5 * sd, name
    assert fit.mass[1] == pytest.approx(heard.mass, rel=3e-3)


def test_a_strip_test_beforehand_narrows_the_band(model, truth, three):
    known = PRIOR.measured(0.02, "strip of the old lining", E_L=TRUE.E_L)
    with_strip = identify_wood(model, TopTaps(taps_of(truth, (1, 2, 5)), truth.mass), prior=known)
    # two independent readings: below the better of them, but for what bands are widened by
    assert with_strip.estimate.sd("E_L") < 0.02 * WIDENING
    assert with_strip.estimate.sd("E_R") < three.estimate.sd("E_R")
    assert "strip of the old lining" in with_strip.estimate.source


@pytest.fixture(scope="module")
def quick(model):
    """Basis from woods all over the prior's spread, six points a triangle instead of sixteen."""
    shell = model.shell
    few = Shell(shell.mesh, shell.surface, shell.section, order=4)
    return basis_solver(model.with_shell(few), PRIOR, woods=2, count=8)


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
    effects = quick.shape_effects(PRIOR.wood, quick.full(PRIOR.wood), errors.shape)
    scatter = effects.T @ effects
    root = np.linalg.cholesky(scatter + 1e-12 * np.eye(len(scatter)))
    out = []
    for wood in PRIOR.samples(DRAWN, rng):
        modes = quick.reduced(wood)
        thick, slips = errors.thickness * rng.standard_normal(), root @ rng.standard_normal(len(root))
        heard = {}
        for number, place in modes.index.items():
            noise = np.hypot(errors.reading, errors.model) * rng.standard_normal()
            off = modes.by_logs[place, -1] * thick + slips[place] + noise
            heard[number] = modes.frequencies[place] * np.exp(off)
        mass = modes.mass * np.exp(thick + slips[-1] + errors.weighing * rng.standard_normal())
        try:
            fit = identify_wood(model, TopTaps({n: heard[n] for n in numbers}, mass), solver=quick)
        except TapError:
            continue
        out.append((wood, heard, fit))
    assert len(out) >= 0.98 * DRAWN
    return out


# Shares below: 90 % bands, and the sampling error of a share of 0.9 in 200 draws is 0.021.


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
        pytest.param(
            lambda t: t | {1: t[1] / 2}, "octave", (1,), "an octave too low", marks=pytest.mark.slow
        ),
        (lambda t: t | {2: t[2] / 1000}, "unit", (2,), "kHz"),
        (lambda t: {n: 2 * np.pi * f for n, f in t.items()}, "unit", (1, 2, 5), "radians per second"),
        (lambda t: t | {1: t[2], 2: t[1]}, "swap", (1, 2), "swapped"),
    ],
)
def test_slips_are_named(model, truth, quick, change, kind, modes, words):
    with pytest.raises(TapError, match=words) as caught:
        identify_wood(model, TopTaps(change(taps_of(truth, (1, 2, 5))), truth.mass), solver=quick)
    assert (kind, modes) in {(d.kind, d.modes) for d in caught.value.doubts}


def test_a_wrong_mode_is_named(model, truth, quick):
    taps = taps_of(truth, (1, 2, 3, 5))
    wrong = {1: taps[1], 2: taps[2], 5: taps[3]}
    with pytest.raises(TapError, match="looks like mode 3"):
        identify_wood(model, TopTaps(wrong, truth.mass), solver=quick)
    fit = identify_wood(model, TopTaps(wrong, truth.mass), solver=quick, despite_doubts=True)
    assert fit.doubts


def test_a_weight_in_the_wrong_unit_is_named(model, truth, quick):
    with pytest.raises(TapError, match="weight"):
        identify_wood(model, TopTaps(taps_of(truth, (1, 2, 5)), 1000 * truth.mass), solver=quick)


@pytest.mark.slow
def test_taps_that_no_slip_explains(model, truth, quick):
    with pytest.raises(TapError, match="fit no wood of the kind"):
        identify_wood(model, TopTaps({1: 50.0, 2: 61.0, 5: 73.0}, truth.mass), solver=quick)


def test_the_reading_that_is_named_lies_outside_the_range_that_is_printed(model, truth, quick):
    heard = taps_of(truth, (1, 2, 5))
    wrong = {1: 1.33 * heard[1], 2: 1.42 * heard[2], 5: 1.1 * heard[5]}
    with pytest.raises(TapError) as caught:
        identify_wood(model, TopTaps(wrong, truth.mass), solver=quick)
    for doubt in caught.value.doubts:
        assert doubt.kind == "unexplained"
        for number in doubt.modes:
            told = re.search(rf"mode {number} at .*?(\d+) to (\d+) Hz", doubt.message)
            assert not float(told[1]) <= wrong[number] <= float(told[2]), doubt.message


def test_taps_off_together_are_told_as_such(model, truth, quick):
    heard = {n: 1.45 * f for n, f in taps_of(truth, (1, 2, 5)).items()}
    with pytest.raises(TapError, match=r"all taps lie about 4\d % above") as caught:
        identify_wood(model, TopTaps(heard, truth.mass), solver=quick)
    assert [d.kind for d in caught.value.doubts] == ["together"]


def test_no_reading_is_believed_beyond_what_holds_and_strikes_allow():
    taps = TopTaps({1: 80.0, 2: 150.0}, sd={1: 2e-5, 2: 8e-3})
    # 0.4 % is the floor, 0.8 % stays; the model's own 0.3 % is added
    assert Errors(model=0.003).tap_sd(taps) == pytest.approx([0.005, np.hypot(0.008, 0.003)])


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
def test_bad_input_is_refused(taps, mass, words):
    with pytest.raises(ValueError, match=words):
        TopTaps(taps, mass)
