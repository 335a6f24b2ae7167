"""Wood room: constants, species, closed formulas."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.wood import Orthotropic, closed_form, from_species, species_table


@pytest.fixture
def w1():
    """Sitka spruce by the ratios of the Wood Handbook (from memory), E_L 11.88 GPa, 400 kg/m3."""
    return from_species("Sitka spruce", density=400, E_L=11.88e9)


# --- constants ------------------------------------------------------------------------------------


def test_isotropic_compliance_gives_bulk_and_shear_modulus():
    """K = E/(3(1 - 2 nu)), G = E/(2(1 + nu)): any textbook of elasticity, e.g. Timoshenko & Goodier."""
    s = Orthotropic.isotropic(E=70e9, nu=0.33, density=2700).compliance()
    pressure = s @ [1, 1, 1, 0, 0, 0]
    assert 1 / pressure[:3].sum() == pytest.approx(70e9 / (3 * (1 - 0.66)), rel=1e-12)
    assert 1 / s[5, 5] == pytest.approx(70e9 / 2.66, rel=1e-12)


def test_minor_poisson_ratios_are_reciprocal(w1):
    """Wood Handbook (from memory): Sitka nu_LR E_R/E_L = 0.029, where the printed nu_RL is 0.040."""
    assert w1.nu_RL == pytest.approx(0.372 * 0.078, rel=1e-12)
    assert w1.nu_RL / w1.E_R == pytest.approx(w1.nu_LR / w1.E_L, rel=1e-12)
    s = w1.compliance()
    assert np.allclose(s, s.T, rtol=0, atol=0)


def test_poisson_ratios_act_where_they_are_defined(w1):
    """Definition: nu_ij is the contraction along j per stretch along i under tension along i alone."""
    strain = w1.compliance()[:3, :3]  # column: tension along L, R, T
    assert -strain[1, 0] / strain[0, 0] == pytest.approx(0.372)
    assert -strain[2, 0] / strain[0, 0] == pytest.approx(0.467)
    assert -strain[2, 1] / strain[1, 1] == pytest.approx(0.435)


def test_wood_that_would_make_energy_is_refused():
    # Isotropic nu = 0.6 is beyond the thermodynamic limit of 1/2.
    with pytest.raises(ValueError, match="positive"):
        Orthotropic.isotropic(E=10e9, nu=0.6, density=400)
    with pytest.raises(ValueError, match="density = -1"):
        Orthotropic.isotropic(E=10e9, nu=0.3, density=-1)


def test_derivatives_of_the_compliance_are_differences_of_it(w1):
    """By the logarithm of each of the nine constants, one after the other."""
    step = 1e-4
    for name, found in w1.compliance_by_logs().items():
        ends = [
            replace(w1, **{name: getattr(w1, name) * np.exp(sign * step)}).compliance() for sign in (1, -1)
        ]
        # a compliance goes as a constant or as its inverse: the central difference errs by step^2 / 6
        difference = (ends[0] - ends[1]) / (2 * step)
        assert np.abs(found - difference).max() < 1e-8 * np.abs(difference).max(), name
    assert len(w1.compliance_by_logs()) == 9


def test_speeds_of_sound_are_roots_of_stiffness_over_density(w1):
    """By hand: 11.88 GPa over 400 kg/m3 is 29.7e6 m2/s2; across, 0.078 of it (Wood Handbook, from memory)."""
    assert w1.c_L == pytest.approx(5449.8, abs=0.1)
    assert w1.c_R == pytest.approx(1522.0, abs=0.1)


# --- species --------------------------------------------------------------------------------------


def test_handbook_modulus_is_raised_for_shear():
    """Wood Handbook ch. 5 (from memory): E_L = 1.10 MOE; Sitka 10.8 GPa, ratios 0.078, 0.043, 0.064,
    0.003.
    """
    sitka = from_species("Sitka spruce")
    assert pytest.approx(11.88e9, rel=1e-9) == sitka.E_L
    assert pytest.approx([0.927e9, 0.511e9, 0.760e9, 0.0356e9], rel=2e-3) == [
        sitka.E_R,
        sitka.E_T,
        sitka.G_LR,
        sitka.G_RT,
    ]


def test_every_row_is_a_sound_material_with_a_source():
    table = species_table()
    assert table["source"].str.len().min() > 20
    for name in table.index:
        wood = from_species(name)
        # Sanity band of published spruce data: E_L 9 to 16, E_R 0.5 to 1.3 GPa, density 350 to 480.
        assert 9e9 < wood.E_L < 16e9
        assert 0.5e9 < wood.E_R < 1.3e9
        assert 350 < wood.density < 480


def test_woods_of_the_body_are_kept_apart():
    """Maple 550 to 700 kg/m3 and 8 to 13 GPa, willow lighter, ebony sinks (handbooks, from memory)."""
    body = species_table("body")
    assert set(body.index) == {"maple", "willow", "ebony"}
    assert not set(body.index) & set(species_table().index)
    assert len(species_table(None)) == len(body) + len(species_table())
    assert body["source"].str.len().min() > 20
    maple, willow, ebony = (from_species(name) for name in ("maple", "willow", "ebony"))
    assert 550 < maple.density < 700
    assert 8e9 < maple.E_L < 13e9
    assert willow.density < 460
    assert ebony.density > 1000


def test_measured_constants_replace_ratios_and_lead_their_neighbours():
    plain = from_species("Sitka spruce", density=400, E_L=12e9)
    wood = from_species("Sitka spruce", density=400, E_L=12e9, E_R=1.1 * plain.E_R, G_LR=None)
    assert pytest.approx(1.1 * plain.E_T) == wood.E_T
    assert wood.G_LR == plain.G_LR
    assert "measured: density, E_L, E_R" in wood.source


def test_density_alone_keeps_the_speed_of_sound():
    assert from_species("Norway spruce", density=400).c_L == pytest.approx(from_species("Norway spruce").c_L)


def test_unknown_names_are_refused_with_the_choice():
    with pytest.raises(ValueError, match="Sitka spruce"):
        from_species("cardboard")
    with pytest.raises(ValueError, match="G_TL"):
        from_species("Sitka spruce", G_TL=1e9)


# --- strips ---------------------------------------------------------------------------------------


def test_free_beam_roots():
    """Blevins, Formulas for Natural Frequency and Mode Shape, 1979, table 8-1 (from memory)."""
    roots = [closed_form.free_beam_root(n) for n in range(1, 6)]
    assert roots == pytest.approx([4.730041, 7.853205, 10.995608, 14.137165, 17.278760], abs=5e-7)


def test_any_free_beam():
    """Coefficient 22.373 of a free-free beam, omega = 22.373 sqrt(EI/m)/L^2.

    Rao, Mechanical Vibrations, table of beam frequencies: 4.730041^2 (from memory); second mode 61.673.
    """
    tone = closed_form.free_beam_frequency
    assert 2 * np.pi * tone(1.0, 1.0, 1.0) == pytest.approx(22.3733, rel=1e-5)
    assert 2 * np.pi * tone(9.0, 4.0, 0.5, 2) == pytest.approx(61.6728 * 1.5 * 4, rel=1e-5)
    # a rectangular strip, by hand: EI = E w h^3/12, m = density w h
    strip = tone(11e9 * 0.02 * 0.006**3 / 12, 400 * 0.02 * 0.006, 0.3)
    assert strip == pytest.approx(closed_form.tap_frequency(11e9, 0.3, 0.006, 400), rel=1e-12)


def test_glued_stiffness_against_a_textbook():
    """Wood beam 4 x 6 in, 1500 ksi, on a steel plate 4 x 0.5 in, 30 000 ksi.

    Gere & Timoshenko, Mechanics of Materials, example on composite beams (from memory): moments of inertia
    about the neutral axis 171.0 in4 of wood and 3.01 in4 of steel; two and three figures are given.
    """
    in4 = closed_form.glued_stiffness(1500.0, 4.0, 6.0, 30000.0, 4.0, 0.5) / 1500.0
    assert in4 == pytest.approx(171.0 + 20 * 3.01, rel=1e-3)


def test_tap_of_a_strip():
    """E = 0.9464 rho L^4 f^2/h^2 (McIntyre & Woodhouse 1988, from memory): 300 x 20 x 6 mm, 14.8 g, 345
    Hz.
    """
    rho = 14.8e-3 / (0.3 * 0.02 * 0.006)
    E = closed_form.modulus_from_tap(345, 0.3, 0.006, rho)
    assert pytest.approx(0.9464 * rho * 0.3**4 * 345**2 / 0.006**2, rel=1e-4) == E
    assert closed_form.tap_frequency(E, 0.3, 0.006, rho) == pytest.approx(345, rel=1e-12)
    assert closed_form.tap_frequency(12e9, 0.3, 0.006, rho) == pytest.approx(370, abs=0.5)
    wood = from_species("Sitka spruce", density=rho, E_L=E)
    # Worked example in whole numbers: 10.4 GPa, 5034 m/s, 12.2 m4/(kg s); half a unit of the last digit.
    assert wood.c_L == pytest.approx(5034, abs=2)
    assert wood.radiation_ratio == pytest.approx(12.2, abs=0.05)


def test_shear_factor_against_the_standard_for_isotropic_bars():
    """ASTM E1876 (from memory): T1 = 1 + 6.585 (h/L)^2 at nu = 0 in first order; E/G = 2."""
    assert (closed_form.shear_factor(20, 2.0) - 1) * 20**2 == pytest.approx(6.585, rel=1e-3)


def test_static_bend():
    """delta = F L^3/(48 E I): 200 g on a 280 mm span of a 12 x 6 mm strip, 12 GPa, gives 0.35 mm flat."""
    I = 0.012 * 0.006**3 / 12  # noqa: E741
    delta = 0.2 * 9.81 * 0.28**3 / (48 * 12e9 * I)
    assert delta == pytest.approx(0.35e-3, abs=0.005e-3)
    assert closed_form.modulus_from_bend(0.2 * 9.81, delta, 0.28, 0.012, 0.006) == pytest.approx(12e9)


def test_glued_bar_grows_slower_than_height_cubed():
    """Transformed section (any text on strength of materials), bar 5.5 x h on a 30 x 2.6 strip, E 12/11 GPa.

    Hand-worked table, two decimals: half a unit of the last.
    """
    ei = {
        h: closed_form.glued_stiffness(12e9, 5.5e-3, h * 1e-3, 11e9, 0.03, 2.6e-3)
        for h in (10, 11, 12, 13, 14)
    }
    relative = [ei[h] / ei[12] for h in ei]
    assert relative == pytest.approx([0.65, 0.81, 1.0, 1.21, 1.45], abs=0.005)


# --- plates ---------------------------------------------------------------------------------------


def test_supported_orthotropic_plate(w1):
    """Leissa, Vibration of Plates, SP-160, ch. 9, evaluated by hand for 360 x 200 x 3 mm."""
    cases = {
        (1, 1): 96.710,
        (1, 2): 244.956,
        (2, 1): 262.637,
        (2, 2): 386.841,
        (1, 3): 502.800,
        (3, 1): 548.336,
    }
    wood = Orthotropic("W1", 400, 11.88e9, 0.927e9, 0.511e9, 0.760e9, 0.725e9, 0.0356e9, 0.372, 0.467, 0.435)
    for (m, n), f in cases.items():
        assert closed_form.supported_plate_frequency(wood, 0.36, 0.20, 0.003, m, n) == pytest.approx(
            f, rel=1e-5
        )


def test_corner_lift_is_the_energy_of_pure_twist(w1):
    """Clapeyron: P lift/2 = (1/2) 4 D66 w_xy^2 a b with w_xy = lift/(a b)."""
    a, b, h, P = 0.36, 0.20, 0.003, 2.0
    lift = closed_form.corner_lift(P, a, b, h, w1.G_LR)
    d66 = closed_form.plate_stiffness(w1, h)[3]
    assert P * lift / 2 == pytest.approx(0.5 * 4 * d66 * (lift / (a * b)) ** 2 * a * b, rel=1e-12)


def test_off_axis_modulus(w1):
    """Jones, Mechanics of Composite Materials: W1 at 10 degrees, 8.561 GPa worked by hand; four digits."""
    wood = Orthotropic("W1", 400, 11.88e9, 0.927e9, 0.511e9, 0.760e9, 0.725e9, 0.0356e9, 0.372, 0.467, 0.435)
    assert closed_form.off_axis_modulus(wood, np.deg2rad(10)) == pytest.approx(8.561e9, rel=1e-4)
    # And back: the strip at 45 degrees gives the shear modulus again, to rounding.
    slanted = closed_form.off_axis_modulus(wood, np.pi / 4)
    back = closed_form.shear_modulus_from_slant(wood.E_L, slanted, wood.E_R, wood.nu_LR)
    assert back == pytest.approx(wood.G_LR, rel=1e-12)


def test_a_slanted_strip_that_is_too_stiff_is_refused():
    with pytest.raises(ValueError, match=r"at 45 degrees 9\.00.*look again"):
        closed_form.shear_modulus_from_slant(11e9, 9e9, 1e9, 0.37)


# Badiane, Malvermi, Gonzalez, Antonacci & Sarti, JASA 2023: sizes, masses and fitted constants of free
# rectangular spruce plates; f11 and f20 were read from their published impulse records to half a hertz.
PLATES = [
    # L, W, T in mm, mass g, E_L, G_LR GPa, f11, f20 Hz
    (579.8, 213.4, 4.8, 236.0, 9.65, 0.513, 47.2, 70.5),
    (580.0, 217.2, 4.9, 256.0, 10.7, 0.682, 51.5, 75.8),
    (576.0, 216.2, 4.6, 225.6, 11.9, 0.816, 54.2, 79.5),
    (581.4, 217.6, 5.0, 272.8, 12.1, 0.798, 56.8, 80.8),
]


@pytest.mark.parametrize("plate", PLATES, ids=["1L", "2L", "4L", "5L"])
def test_measured_plates(plate):
    L, W, T, mass, E_L, G, f11, f20 = plate
    a, b, h = L / 1000, W / 1000, T / 1000
    rho = mass / 1000 / (a * b * h)
    # 3.5 %: a tenth of a millimetre in thickness is 2 %, the constants carry 2 to 4 %.
    assert closed_form.tap_frequency(E_L * 1e9, a, h, rho) == pytest.approx(f20, rel=0.035)
    # The trial shape w = xy is stiffer than the plate, so G from it reads low, by up to 16 % here.
    assert 0.82 < closed_form.shear_modulus_from_twist(f11, a, b, h, rho) / (G * 1e9) < 0.97
