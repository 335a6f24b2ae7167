"""Moisture: what air does to wood, and what that does to stiffness, size and tone."""

import numpy as np
import pytest

from platemodel.wood import CONSTANTS, species_estimate
from platemodel.wood.moisture import (
    SLOPE_DOUBT,
    SLOPES,
    at_moisture,
    at_moisture_content,
    density_factor,
    equilibrium_moisture,
    swelling,
    tap_factor,
)
from platemodel.wood.strip import Strip, StripTap


def test_norway_spruce_data_sheet():
    # a public timber data sheet: 7.0 % at 37 % RH, 16.4 % at 83 % RH, 20 degrees; the handbook's model is for
    # all woods together, its spread between woods about 1 percentage point (judgement)
    assert 100 * equilibrium_moisture(0.37) == pytest.approx(7.0, abs=1.0)
    assert 100 * equilibrium_moisture(0.83) == pytest.approx(16.4, abs=1.0)


def test_moisture_rises_with_humidity_and_falls_with_heat():
    humid = [equilibrium_moisture(h) for h in np.linspace(0, 0.95, 20)]
    assert humid[0] == 0
    assert np.all(np.diff(humid) > 0)
    assert equilibrium_moisture(0.5, 35) < equilibrium_moisture(0.5, 20) < equilibrium_moisture(0.5, 5)


@pytest.mark.parametrize(
    ("fahrenheit", "percent"),
    [
        (40, (2.6, 4.6, 6.3, 7.9, 9.5, 11.3, 13.5, 16.5, 21.0)),
        (70, (2.5, 4.5, 6.2, 7.7, 9.2, 11.0, 13.1, 16.0, 20.5)),
        (130, (2.0, 3.7, 5.2, 6.6, 7.9, 9.4, 11.3, 14.0, 18.2)),
    ],
)
def test_the_handbooks_own_table_of_moisture(fahrenheit, percent):
    """Wood Handbook, 2010, table 4-2 (from memory), at 10 to 90 % of humidity; it has one decimal."""
    celsius = (fahrenheit - 32) / 1.8
    found = [100 * equilibrium_moisture(h / 100, celsius) for h in range(10, 100, 10)]
    assert found == pytest.approx(percent, abs=0.06)


def test_slopes_are_the_means_of_what_the_handbook_gives_both_ways():
    """From 12 to 6 % and to 20 %: +9 and -13 % along, +20 and -23 % across, +20 and -20 % in shear (Wood
    Handbook, 2010, table 5-15, from memory); means rounded to a tenth."""
    for names, dry, moist in (("E_L", 9, 13), ("E_R E_T", 20, 23), ("G_LR G_LT G_RT", 20, 20)):
        mean = (np.log(1 + dry / 100) / -0.06 + np.log(1 - moist / 100) / 0.08) / 2
        assert [SLOPES[n] for n in names.split()] == pytest.approx([mean] * len(names.split()), abs=0.06)


def test_the_formula_meets_its_two_ends():
    assert at_moisture_content(1.57, 1.23, 0.12) == pytest.approx(1.57)
    assert at_moisture_content(1.57, 1.23, 0.27) == pytest.approx(1.23)
    assert at_moisture_content(1.57, 1.23, 0.30) == pytest.approx(1.23)  # no change above it


def test_slope_of_stiffness_against_the_handbook_formula_for_sitka_spruce():
    # (1.57/1.23)^(1/15) a per cent: 1.63 % (Wood Handbook, ch. 5, from memory)
    assert -SLOPES["E_L"] / 100 == pytest.approx(np.log(1.57 / 1.23) / 15, rel=0.05)


def test_tones_fall_by_half_to_one_per_cent_a_per_cent():
    # common practice, no source: -0.5 to -1 % in frequency per 1 % of moisture
    assert -0.01 < tap_factor(0.08, 0.09) - 1 < -0.005
    assert tap_factor(0.12, 0.08) * tap_factor(0.08, 0.12) == pytest.approx(1)


def test_tone_of_a_strip_that_took_up_water():
    """The factor must be what stiffness, weight and size give when the strip is measured again."""
    dry, moist = 0.07, 0.10
    estimate = species_estimate("tonewood spruce")
    before = {c: getattr(estimate.wood, c) for c in CONSTANTS}
    wet = at_moisture(estimate, dry, moist)
    after = {c: getattr(wet.wood, c) for c in CONSTANTS}
    size = np.array([0.4, 0.02, 0.003])  # slender, so that the shear modulus' own slope does not matter
    grown = size * [swelling(dry, moist, axis) for axis in "LRT"]
    test = StripTap(Strip(*size, 10e-3), 1.0)
    ratio = test.expected(after, grown, None) / test.expected(before, size, None)
    assert ratio == pytest.approx(tap_factor(dry, moist), rel=2e-4)
    # across the grain 3.6 % of swelling counts, with its square: f goes as h/L^2 sqrt(E/density)
    across = StripTap(Strip(*size, 10e-3, along="R", thickness_along="T"), 1.0)
    grown = size * [swelling(dry, moist, axis) for axis in "RLT"]
    ratio = across.expected(after, grown, None) / across.expected(before, size, None)
    assert ratio == pytest.approx(tap_factor(dry, moist, "R", "T"), rel=2e-4)


def test_water_weighs_what_it_weighs():
    volume = np.prod([swelling(0.06, 0.12, axis) for axis in "LRT"])
    assert density_factor(0.06, 0.12) * volume == pytest.approx(1.12 / 1.06)
    assert 1 < density_factor(0.06, 0.12) < 1.12 / 1.06
    # Norway spruce data sheet: 3.6 % along the rays, 7.8 % along the rings, saturated to dry
    assert swelling(0.30, 0.0, "T") == pytest.approx(1 - 0.078)
    assert swelling(0.30, 0.0, "R") == pytest.approx(1 - 0.036)


def test_estimate_at_another_moisture_moves_and_widens():
    estimate = species_estimate("tonewood spruce").measured(0.02, "strip", E_L=11e9)
    moved = at_moisture(estimate, 0.12, 0.08)
    # Wood Handbook table 5-15: + 9 % along at 6 % moisture, so some 6 to 7 % at 8 %
    assert pytest.approx(1.066, abs=0.01) == moved.wood.E_L / estimate.wood.E_L
    assert moved.wood.E_R / estimate.wood.E_R > moved.wood.E_L / estimate.wood.E_L
    assert moved.wood.nu_LR == estimate.wood.nu_LR
    extra = SLOPE_DOUBT * 1.6 * 0.04
    assert moved.sd("E_L") ** 2 == pytest.approx(estimate.sd("E_L") ** 2 + extra**2)
    back = at_moisture(moved, 0.08, 0.12)
    assert pytest.approx(estimate.wood.E_L) == back.wood.E_L
    assert moved.source.endswith("; from 12.0 to 8.0 % moisture")
    same = at_moisture(estimate, 0.10, 0.10)
    assert same.log_cov == pytest.approx(estimate.log_cov)


def test_what_is_refused():
    with pytest.raises(ValueError, match=r"0\.12 for 12"):
        at_moisture(species_estimate("tonewood spruce"), 12, 8)
    with pytest.raises(ValueError, match=r"0\.5 for 50"):
        equilibrium_moisture(50)
    with pytest.raises(ValueError, match="degrees C"):
        equilibrium_moisture(0.5, 293)
