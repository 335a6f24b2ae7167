"""Constants from taps on a rectangular plate."""

import numpy as np
import pytest

from platemodel.errors import AccuracyError
from platemodel.study.wood.plate_constants import PlateTaps, closed_form_start, plate_fit, plate_tones
from platemodel.wood import CONSTANTS, Orthotropic, species_estimate
from tests.published.cases.models import SPRUCE

SIZE = (0.40, 0.12, 0.004)  # m
THREE = [(1, 1), (2, 0), (0, 2)]


def taps(wood, size=SIZE, lines=THREE, factor=1.0, **sd):
    tones = plate_tones(wood, *size, lines)
    mass = wood.density * np.prod(size)
    return PlateTaps(*size, mass, dict(zip(lines, factor * tones.frequencies, strict=True)), **sd)


@pytest.mark.parametrize("shear", [False, True])
def test_derivatives_against_differences(shear):
    lines = [(1, 1), (0, 2), (2, 0), (2, 1), (3, 0)]
    logs = np.log([*(getattr(SPRUCE, c) for c in CONSTANTS), 0.36, 0.20, 0.003])

    def tones(x):
        return plate_tones(Orthotropic("w", *np.exp(x[:10])), *np.exp(x[10:]), lines, shear=shear)

    rows = tones(logs).rows
    for i in [0, 1, 2, 4, 6, 7, 10, 11, 12]:
        step = 1e-3 * np.eye(13)[i]
        ends = [np.log(tones(logs + s * step).frequencies) for s in (1, -1)]
        # 1e-3: rotary inertia is left out of the derivatives
        assert rows[:, i] == pytest.approx((ends[0] - ends[1]) / 2e-3, abs=1.2e-3), i


def test_worked_example_of_the_closed_forms():
    # 400 x 120 x 4 mm, 420 kg/m3, E 11.5 and 0.85, G 0.75 GPa: 123, 134, 406 Hz by the closed forms (worked
    # by hand); half a unit of the last figure is 0.4 % in frequency, 0.8 % in a constant. The start takes the
    # closed forms with 8 % doubt against a prior of 50 %, which pulls by 2.5 % of the distance to it
    plate = PlateTaps(*SIZE, 420 * np.prod(SIZE), {(1, 1): 123.0, (2, 0): 134.0, (0, 2): 406.0})
    wood = closed_form_start(species_estimate("tonewood spruce"), plate).wood
    assert pytest.approx(11.5e9, rel=0.01) == wood.E_L
    assert pytest.approx(0.85e9, rel=0.015) == wood.E_R
    assert pytest.approx(0.75e9, rel=0.015) == wood.G_LR


def test_round_trip_with_shear_from_another_species():
    truth = Orthotropic("t", 431, 12.9e9, 0.81e9, 0.46e9, 0.66e9, 0.63e9, 0.046e9, 0.372, 0.467, 0.435)
    plate = taps(truth, sd_size=1e-7, sd_thickness=1e-8, sd_mass=1e-7, sd_frequency=1e-4, sd_even=0.0)
    prior = species_estimate("tonewood spruce", known=("nu_LR", "G_RT", "G_LT"), nu_LR=0.372, G_RT=0.046e9,
                             G_LT=0.63e9)  # fmt: skip
    fit = plate_fit(prior, plate)
    for c in ("density", "E_L", "E_R", "G_LR"):
        assert getattr(fit.estimate.wood, c) == pytest.approx(getattr(truth, c), rel=2e-3), c
    assert np.abs(fit.readings["off_percent"]).max() < 0.01
    # the closed forms alone are worse, most in the twist: they only start the search
    start = closed_form_start(prior, plate)
    assert abs(start.wood.G_LR / truth.G_LR - 1) > 0.03


def test_a_tap_that_was_left_out_leaves_its_constant_wide():
    """But no wider than the species leaves it (Bayes): only what was tapped is freed from the species."""
    truth, prior = species_estimate("tonewood spruce").wood, species_estimate("Sitka spruce")
    whole = plate_fit("Sitka spruce", taps(truth)).estimate
    for left_out, constant in (((1, 1), "G_LR"), ((2, 0), "E_L"), ((0, 2), "E_R")):
        some = plate_fit("Sitka spruce", taps(truth, lines=[p for p in THREE if p != left_out])).estimate
        assert 2 * whole.sd(constant) < some.sd(constant) < 1.001 * prior.sd(constant), constant


def test_thickness_is_shared_by_all_constants():
    # 0.05 mm in 4 mm is 1.25 %: E and G go as the square at fixed weight (m f^2 / h^3 and density m/h)
    plate = taps(
        species_estimate("tonewood spruce").wood, sd_frequency=1e-4, sd_even=0.0, sd_mass=1e-7, sd_size=1e-7
    )
    estimate = plate_fit("Sitka spruce", plate).estimate
    assert estimate.sd("density") == pytest.approx(0.0125, rel=0.02)
    assert estimate.sd("E_L") == pytest.approx(3 * 0.0125, rel=0.05)
    assert estimate.correlation("E_L", "density") > 0.95


def test_mixed_modes_are_named_as_such():
    # a/b near (E_L/E_R)^(1/4) = 1.89: bending along and across share two modes
    length = SIZE[1] * (SPRUCE.E_L / SPRUCE.E_R) ** 0.25
    fit = plate_fit("Sitka spruce", taps(SPRUCE, (length, *SIZE[1:])))
    remarks = fit.readings.set_index("reading")["remark"]
    assert remarks["tap (2, 0), bends along"].startswith("mixes")
    assert remarks["tap (1, 1), twist"] == ""


def test_four_taps_can_contradict_each_other():
    wood = species_estimate("tonewood spruce").wood
    four = [*THREE, (3, 0)]
    good = taps(wood, lines=four)
    assert plate_fit("Sitka spruce", good).agreement > 0.3
    # (3, 0) is 2.757 times (2, 0) for any wood (free beam); 6 % off is four times the 1.6 % of two readings
    wrong = PlateTaps(*SIZE, good.mass, good.taps | {(3, 0): 1.06 * good.taps[3, 0]})
    assert plate_fit("Sitka spruce", wrong).doubtful


@pytest.mark.slow
def test_the_band_holds_the_truth():
    """12 woods, plates measured with noise: 90 % of 48 constants, sd 4.3 % if independent; but four of them
    each time share one caliper error, so twice as much is allowed."""
    rng = np.random.default_rng(3)
    prior = species_estimate("tonewood spruce")
    inside = 0
    woods = prior.samples(12, rng)
    for wood in woods:
        true = taps(wood)
        read = np.array(SIZE) + rng.standard_normal(3) * [0.5e-3, 0.5e-3, 0.05e-3]
        noise = {p: f * (1 + 0.0112 * rng.standard_normal()) for p, f in true.taps.items()}
        plate = PlateTaps(*read, true.mass * (1 + 0.005 * rng.standard_normal()), noise)
        estimate = plate_fit(prior, plate).estimate
        for c in ("density", "E_L", "E_R", "G_LR"):
            low, high = estimate.band(c)
            inside += low < getattr(wood, c) < high
    assert 0.81 <= inside / (4 * len(woods)) < 0.99


def test_what_is_refused():
    with pytest.raises(ValueError, match="no taps"):
        PlateTaps(*SIZE, 0.08, {})
    with pytest.raises(ValueError, match="rigid"):
        PlateTaps(*SIZE, 0.08, {(1, 0): 100.0})
    with pytest.raises(ValueError, match="positive"):
        PlateTaps(*SIZE, 0.08, {(1, 1): -1.0})
    with pytest.raises(ValueError, match="thickness"):
        PlateTaps(0.4, 0.12, 0.0, 0.08, {(1, 1): 100.0})


def test_modes_that_no_plate_has_are_named():
    with pytest.raises(AccuracyError, match=r"nodal lines|come to rest"):
        plate_fit(
            "Sitka spruce", PlateTaps(0.4, 0.12, 0.004, 0.08, {(1, 1): 4000.0, (2, 0): 20.0, (0, 2): 60.0})
        )
