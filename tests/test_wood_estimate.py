"""Wood with a band: species spread, conditioning, draws."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.wood import CONSTANTS, WoodEstimate, from_species, species_estimate, species_table
from platemodel.wood.estimate import correlations, doubt_of
from tests.published.cases.measured_plates import PLATES


def test_every_species_has_a_sound_estimate_with_its_table_spread():
    for name, row in species_table().iterrows():
        estimate = species_estimate(name)
        assert np.linalg.eigvalsh(estimate.log_cov)[0] >= 0
        assert estimate.sd("E_L") == pytest.approx(row["cov_E_L"])
        assert estimate.sd("E_T") > estimate.sd("E_R")  # follows E_R with a spread of its own


def test_conditioning_is_the_textbook_update_of_one_normal_variable():
    # prior variance p, measurement variance r: variance p r/(p + r), mean weighted by the inverse variances
    # (Bishop 2006, section 2.3; any textbook of statistics)
    prior = species_estimate("tonewood spruce")
    p, r = prior.sd("E_L") ** 2, 0.05**2
    after = prior.measured(0.05, "strip", E_L=12.5e9)
    assert after.sd("E_L") ** 2 == pytest.approx(p * r / (p + r), rel=1e-12)
    expected = (np.log(prior.wood.E_L) / p + np.log(12.5e9) / r) / (1 / p + 1 / r)
    assert np.log(after.wood.E_L) == pytest.approx(expected, rel=1e-12)
    assert after.source.endswith("strip")


def test_order_of_measurements_does_not_matter():
    prior = species_estimate("Sitka spruce")
    both = prior.measured(0.03, "a", E_L=11e9).measured(0.06, "b", G_LR=0.8e9)
    swapped = prior.measured(0.06, "b", G_LR=0.8e9).measured(0.03, "a", E_L=11e9)
    assert both.logs == pytest.approx(swapped.logs, abs=1e-12)
    assert both.log_cov == pytest.approx(swapped.log_cov, abs=1e-14)


def test_an_unmeasured_constant_follows_the_measured_one_and_keeps_a_wide_band():
    prior = species_estimate("tonewood spruce")
    after = prior.measured(0.01, "strip", E_L=1.2 * prior.wood.E_L)
    assert 1.0 < after.wood.E_R / prior.wood.E_R < 1.25
    # E_L known to 1 % leaves sqrt(1 - r^2) of it, r = 0.87
    assert after.sd("E_R") == pytest.approx(prior.sd("E_R") * np.sqrt(1 - 0.868**2), rel=0.02)
    assert after.sd("E_L") < 0.011


def test_draws_have_the_spread_and_correlation_of_the_estimate():
    estimate = species_estimate("tonewood spruce")
    logs = np.log(
        [[getattr(w, c) for c in CONSTANTS] for w in estimate.samples(4000, np.random.default_rng(5))]
    )
    # 4000 draws: standard error of a standard deviation 1.1 %, of a correlation about 0.01; five of them
    for c in ("density", "E_L", "E_R", "G_LR"):
        assert logs[:, CONSTANTS.index(c)].std() == pytest.approx(estimate.sd(c), rel=0.06)
    r = np.corrcoef(logs.T)[CONSTANTS.index("E_L"), CONSTANTS.index("E_R")]
    assert r == pytest.approx(estimate.correlation("E_L", "E_R"), abs=0.05)


def test_band_holds_its_share():
    estimate = species_estimate("tonewood spruce")
    low, high = estimate.band("E_L", 0.9)
    # 1.645 standard deviations on each side hold 90 % of a normal distribution (any table)
    assert np.log(high / low) == pytest.approx(2 * 1.6449 * estimate.sd("E_L"), rel=1e-4)


def test_derived_figures_and_their_band():
    estimate = species_estimate("tonewood spruce", known=("density",), density=400.0)
    table = estimate.table().set_index("quantity")
    assert table.loc["c_L", "value"] == pytest.approx(estimate.wood.c_L)
    assert table.loc["impedance", "value"] == pytest.approx(estimate.wood.impedance)
    assert table.loc["radiation_ratio", "value"] == pytest.approx(estimate.wood.radiation_ratio)
    # at exact density the relative spread of c_L is half that of E_L
    assert np.log(table.loc["c_L", "high"] / table.loc["c_L", "value"]) == pytest.approx(
        0.5 * 1.6449 * estimate.sd("E_L"), rel=1e-4
    )
    assert table.loc["density", "low"] == pytest.approx(400.0)
    assert estimate.correlation("density", "E_L") == 0  # what is exact goes with nothing
    wood = estimate.wood
    ratios = {
        "c_R": np.sqrt(wood.E_R / wood.density),
        "E_L/E_R": wood.E_L / wood.E_R,
        "E_L/G_LR": wood.E_L / wood.G_LR,
    }
    for name, value in ratios.items():
        assert table.loc[name, "value"] == pytest.approx(value)
    i, j = CONSTANTS.index("E_L"), CONSTANTS.index("E_R")
    cov = estimate.log_cov  # of a ratio: both variances less twice what they have in common
    sd = np.sqrt(cov[i, i] + cov[j, j] - 2 * cov[i, j])
    row = table.loc["E_L/E_R"]
    assert np.log(row["high"] / row["low"]) == pytest.approx(2 * 1.6449 * sd, rel=1e-4)
    units = {"density": ("kg/m3", 1.0), "E_L": ("GPa", 1e-9), "G_RT": ("GPa", 1e-9), "nu_LT": ("", 1.0)}
    for name, (unit, scale) in units.items():
        assert table.loc[name, "unit"] == unit
        assert table.loc[name, "value"] == pytest.approx(scale * getattr(estimate.wood, name))


def test_bad_covariance_is_refused():
    estimate = species_estimate("tonewood spruce")
    with pytest.raises(ValueError, match="symmetric"):
        WoodEstimate(estimate.wood, np.eye(3))
    with pytest.raises(ValueError, match="semi-definite"):
        WoodEstimate(estimate.wood, -np.eye(10))


def test_correlations_are_drawn_towards_zero_by_what_chance_does_to_few_plates():
    """Schaefer & Strimmer 2005: one share for all, the sampling variances over the squares."""
    r = np.array([0.81, 0.96, 0.49, 0.78, 0.40, 0.47])  # data/wood/correlations.csv
    n = np.array([10, 9, 9, 9, 9, 9])
    share = ((1 - r**2) ** 2 / (n - 1)).sum() / (r**2).sum()
    assert 0.05 < share < 0.15
    assert list(correlations().values()) == pytest.approx((1 - share) * r)


def test_rolling_shear_goes_with_stiffness_across_and_density():
    prior = species_estimate("tonewood spruce")
    assert prior.sd("G_RT") == pytest.approx(0.38, abs=0.02)  # as wide as before it was tied
    denser = prior.measured(1e-3, "scale", density=1.1 * prior.wood.density, E_R=1.1 * prior.wood.E_R)
    ratio = denser.wood.G_RT / prior.wood.G_RT
    assert ratio == pytest.approx(1.1**2.0, rel=0.01)  # powers 1/2 and 3/2
    assert denser.sd("G_RT") == pytest.approx(0.34, abs=0.01)


def test_plates_kept_here_lie_where_the_prior_expects_them():
    """Four plates of Badiane et al. 2023 (read): no constant beyond two and a half standard deviations, and
    E_R beside E_L, E_L beside the density within as much of what the correlations leave."""
    prior = species_estimate("tonewood spruce")
    for _, _, _, _, e_l, e_r, g, _ in PLATES.values():
        off = np.log(np.array([e_l, e_r, g]) * 1e9 / [getattr(prior.wood, c) for c in ("E_L", "E_R", "G_LR")])
        assert np.all(np.abs(off) < 2.5 * np.array([prior.sd(c) for c in ("E_L", "E_R", "G_LR")]))
        known = prior.measured(0.03, "plate", E_L=1e9 * e_l)
        assert abs(np.log(1e9 * e_r / known.wood.E_R)) < 2.5 * known.sd("E_R")


def test_a_stated_constant_is_known_to_five_per_cent_beside_its_species():
    species = species_estimate("tonewood spruce")
    assert doubt_of(species.wood).log_cov == pytest.approx(species.log_cov)  # nothing was measured
    wood = from_species("tonewood spruce", E_L=14e9)
    found = doubt_of(wood)
    assert found.wood == wood  # the middle is what was stated, not what the species pulls it to
    spread = species.sd("E_L")
    both = 1 / np.sqrt(1 / spread**2 + 1 / 0.05**2)  # a normal reading of 5 % on a normal prior
    assert found.sd("E_L") == pytest.approx(both, rel=1e-9)
    tie = species.correlation("E_L", "E_R")  # and what goes with it is known better by as much as they share
    assert found.sd("E_R") == pytest.approx(
        species.sd("E_R") * np.sqrt(1 - tie**2 * (1 - (both / spread) ** 2)), rel=1e-9
    )
    assert doubt_of(replace(wood, name="my own")).sd("E_L") == pytest.approx(both, rel=1e-9)
