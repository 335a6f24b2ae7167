"""Strengths of wood: scaling with density, spread, duration and creep; worked values are in the cases."""

from dataclasses import replace

import pytest

from platemodel.wood import from_species, species_table
from platemodel.wood.strength import (
    DENSITY_POWERS,
    KINDS,
    MPA,
    duration_of_load,
    k_def,
    k_mod,
    strength,
    strength_table,
)


def test_every_species_with_stiffness_has_strengths():
    assert set(species_table().index) <= set(strength_table().index)


def test_every_row_names_its_source():
    assert strength_table()["source"].str.len().min() > 20


def test_at_the_density_of_the_table_strengths_are_those_of_the_table():
    row = strength_table().loc["Engelmann spruce"]
    found = strength(from_species("Engelmann spruce", density=row["density_kg_m3"]))
    for kind in KINDS:
        assert getattr(found, kind) == pytest.approx(MPA * row[f"{kind}_mpa"], rel=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_strengths_follow_the_density_by_the_handbook_power(kind):
    light, heavy = (strength(from_species("Sitka spruce", density=d)) for d in (380.0, 418.0))
    assert getattr(heavy, kind) / getattr(light, kind) == pytest.approx(1.1 ** DENSITY_POWERS[kind], rel=1e-9)


def test_wood_is_weakest_across_the_grain():
    found = strength(from_species("tonewood spruce", density=400.0))
    assert found.tension_across < found.compression_across < found.shear < found.compression_along
    assert found.compression_along < found.bending


def test_spread_gives_the_fractiles_of_a_normal_distribution():
    found = strength(from_species("Sitka spruce"))
    low, high = found.bounds("tension_across")
    mean, cov = found.tension_across, 0.25  # Wood Handbook, 2010, table 5-6 (from memory)
    assert (low + high) / 2 == pytest.approx(mean, rel=1e-12)
    assert (high - mean) / mean == pytest.approx(1.645 * cov, rel=1e-12)
    assert low > 0


def test_longer_loads_leave_less():
    left = [k_mod(d) for d in ("instantaneous", "short", "medium", "long", "permanent")]
    assert left == sorted(left, reverse=True)
    assert k_mod("permanent", 3) < k_mod("permanent", 1)
    assert k_def(1) < k_def(2) < k_def(3)
    years = [duration_of_load(t) for t in (1.0, 3600.0, 1e6, 1e9)]
    assert years == sorted(years, reverse=True)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: strength(replace(from_species("Sitka spruce"), name="beech")), "no strengths for 'beech'"),
        (lambda: k_mod("a while"), "permanent, long"),
        (lambda: k_mod("permanent", 4), "service class 4"),
        (lambda: k_def(0), "service class 0"),
        (lambda: duration_of_load(0.0), "must be positive"),
    ],
)
def test_what_cannot_be_is_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()
