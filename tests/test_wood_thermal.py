"""Thermal properties of wood and glue; tables of the Wood Handbook are in the cases."""

import pytest

from platemodel.wood.thermal import (
    Thermal,
    conductivity,
    glue_thermal,
    specific_heat,
    thermal_table,
    wood_thermal,
)


def test_every_constant_names_its_source_and_unit():
    table = thermal_table()
    assert table["source"].str.len().min() > 10
    assert table["unit"].notna().all()


def test_diffusivity_of_wood_is_the_handbooks():
    """About 0.161e-6 m2/s for wood, Wood Handbook, 2010, chapter 4 (from memory); spruce within a tenth."""
    assert wood_thermal(420, 0.12).diffusivity == pytest.approx(0.161e-6, rel=0.1)


def test_conductivity_worked_by_hand():
    """G (0.1941 + 0.004064 M) + 0.01864 (Wood Handbook, 2010, equation 4-7, from memory): 400 kg/m3 at 12 %
    is 0.35714 of water's weight, dry; four digits of the constants."""
    assert conductivity(400, 0.12) == pytest.approx(0.35714 * (0.1941 + 0.004064 * 12) + 0.01864, rel=1e-4)


def test_specific_heat_worked_by_hand():
    """Oven-dry 0.1031 + 0.003867 T, water 4.18, bond M (-0.06191 + 2.36e-4 T - 1.33e-4 M), kJ/(kg K) (Wood
    Handbook, 2010, equations 4-16 to 4-18, from memory): at 30 degrees 1.2754 dry and, at 12 %, 1.683."""
    assert specific_heat(30.0, 0.0) == pytest.approx(1275.4, abs=0.1)
    assert specific_heat(30.0, 0.12) == pytest.approx(1683, abs=1)
    assert specific_heat(-20.0, 0.0) < specific_heat(147.0, 0.0)  # both ends are taken


def test_moist_and_heavy_wood_leads_and_holds_more_heat():
    assert conductivity(400, 0.06) < conductivity(400, 0.18) < conductivity(500, 0.18)
    assert specific_heat(20, 0.06) < specific_heat(20, 0.18) < specific_heat(60, 0.18)


def test_water_of_hot_glue_makes_it_lead_and_hold_between_protein_and_water():
    """Water at 60 degrees C: 0.65 W/(m K), 4180 J/(kg K), 983 kg/m3 (Incropera & DeWitt, from memory)."""
    glue = glue_thermal()
    assert 0.2 < glue.conductivity < 0.65
    assert 1500 < glue.specific_heat < 4180
    assert 983 < glue.density < 1300


def test_derived_quantities():
    """Water at 20 degrees C: 0.60, 998, 4182 give 0.144e-6 m2/s and 1580 (handbooks, from memory)."""
    water = Thermal(0.60, 998.0, 4182.0)
    assert water.diffusivity == pytest.approx(0.144e-6, rel=5e-3)
    assert water.effusivity == pytest.approx(1583, rel=5e-3)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: conductivity(400, 12), "a fraction from 0 to 0.25"),
        (lambda: conductivity(0.0), "density"),
        (lambda: specific_heat(200), "allowed -20 to 147"),
        (lambda: Thermal(0.0, 1.0, 1.0), "conductivity = 0.0 must be positive"),
    ],
)
def test_what_cannot_be_is_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()
