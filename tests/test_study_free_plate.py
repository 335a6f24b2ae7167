"""Free flat plates and strips, the share of stretching, and a disc with a hole."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import iv, ivp, jv, jvp, kv, kvp, yv, yvp

from platemodel.errors import GeometryError
from platemodel.fem import Fineness, Loop, Section, Shell, System, constant, flat, mesh_plan
from platemodel.instrument.field import SmoothField
from platemodel.instrument.presets import preset_top
from platemodel.study import plate_modes, top_model
from platemodel.study.top.strain_energy import stretch_shares
from platemodel.study.wood.free_plate import free_plate, plate_sound, plate_tap
from platemodel.taps import tap_peaks
from platemodel.wood import Orthotropic, from_species
from platemodel.wood.closed_form import off_axis_modulus, tap_frequency

STEEL = Orthotropic.isotropic(200e9, 0.3, 7850)
SPRUCE = from_species("tonewood spruce", density=410, E_L=11.5e9)


@pytest.fixture(scope="module")
def plate():
    return free_plate(SPRUCE, 0.3, 0.15, 0.003, count=6)


def test_a_strip_rings_as_the_beam_of_the_books():
    """Free thin beam, roots 4.730, 7.853, 10.996 (Blevins, 1979, from memory)."""
    strip = free_plate(SPRUCE, 0.3, 0.02, 0.003, count=6, shear=False)
    found = strip.frequencies[[strip.index((m, 0)) for m in (2, 3, 4)]]
    book = np.array([4.730, 7.853, 10.996]) ** 2 * np.sqrt(SPRUCE.E_L * 0.003**2 / (12 * SPRUCE.density))
    # 0.3 %: rotary inertia and the curl across the width, both left out by the book.
    assert np.allclose(found, book / (2 * np.pi * 0.3**2), rtol=3e-3)
    assert strip.mass == pytest.approx(SPRUCE.density * 0.3 * 0.02 * 0.003, rel=1e-9)


@pytest.mark.parametrize("angle", [15, 45, 90])
def test_a_strip_cut_aslant_has_the_modulus_of_its_direction(angle):
    """Jones, Mechanics of Composite Materials: 1/E of an angle."""
    strip = free_plate(SPRUCE, 0.12, 0.012, 0.002, count=3, grain=np.deg2rad(angle), shear=False)
    E = off_axis_modulus(SPRUCE, np.deg2rad(angle))
    # 1.5 % in pitch: the strip is ten times as long as wide, and a slanting one twists a little as it bends.
    book = tap_frequency(E, 0.12, 0.002, SPRUCE.density)
    assert strip.frequencies[strip.index((2, 0))] == pytest.approx(book, rel=0.015)


def test_the_free_square_plate():
    """Ritz with many terms (from memory); Leissa, J. Sound Vib. 31, 1973, has upper bounds near them."""
    square = free_plate(STEEL, 0.3, 0.3, 0.0015, count=3, cells=(6, 6), shear=False)
    stiffness = 200e9 * 0.0015**3 / (12 * 0.91)
    numbers = 2 * np.pi * square.frequencies * 0.09 * np.sqrt(7850 * 0.0015 / stiffness)
    assert np.allclose(numbers, [13.468, 19.596, 24.270], rtol=5e-4)
    assert square.lines[0] == (1, 1)


def test_modes_in_the_plane_are_left_out():
    """A strip of 20 x 6 mm bends on edge at 20/6 times its lowest tone: a motion in its plane."""
    strip = free_plate(SPRUCE, 0.3, 0.02, 0.006, count=6, shear=False)
    on_edge = tap_frequency(SPRUCE.E_L, 0.3, 0.02, SPRUCE.density)
    assert strip.frequencies.max() > on_edge
    assert np.abs(strip.frequencies / on_edge - 1).min() > 0.02
    assert np.allclose(np.abs(strip.shapes).max(axis=(0, 1)), 1.0)


def test_a_tap_on_a_still_line_rouses_nothing(plate):
    """By symmetry the twist is still along both middle lines."""
    table = plate_tap(plate, (0.15, 0.03)).set_index("lines")
    assert table.loc[[(1, 1)], "level_db"].item() < -60
    assert table.loc[[(2, 0)], "level_db"].item() > -30
    assert plate_tap(plate, (1e-9, 1e-9))["level_db"].max() == pytest.approx(0.0, abs=1e-6)


def test_mass_normalised_motion(plate):
    """The mean square of a mass-normalised shape over the plate is one over its mass."""
    x, w = np.polynomial.legendre.leggauss(12)
    exact = sum(
        0.25 * wi * wj * plate.at((0.15 * (1 + xi), 0.075 * (1 + xj))) ** 2
        for xi, wi in zip(x, w, strict=True)
        for xj, wj in zip(x, w, strict=True)
    )
    assert np.allclose(exact * plate.mass, 1.0, rtol=0.01)  # rotary inertia has the rest


def test_the_sound_holds_the_tones_that_were_roused(plate):
    sound = plate_sound(plate, (0.002, 0.148), seconds=1.5)
    peaks = tap_peaks(sound)["f_hz"].to_numpy()
    for tone in plate.frequencies[:3]:
        assert np.abs(peaks / tone - 1).min() < 0.005


def test_tones_too_high_for_the_recording_are_left_out():
    """A short strip has overtones above half the rate; what is heard is its lowest tone alone."""
    short = free_plate(SPRUCE, 0.09, 0.02, 0.006, count=4)
    assert short.frequencies[-1] > 8000
    sound = plate_sound(short, (0.045, 0.01), pickup=(0.0, 0.01), contact_seconds=1e-4)
    loudest = np.abs(np.fft.rfft(sound.samples)).argmax() * sound.rate / len(sound.samples)
    # 0.5 %: half the width of a peak with this loss.
    assert abs(loudest / short.frequencies[short.index((2, 0))] - 1) < 0.005


def test_bad_plates_and_places_are_refused(plate):
    with pytest.raises(ValueError, match="thickness 0 mm must be positive"):
        free_plate(SPRUCE, 0.3, 0.2, 0.0)
    with pytest.raises(ValueError, match="at least 1 mode"):
        free_plate(SPRUCE, 0.3, 0.2, 0.003, count=0)
    with pytest.raises(ValueError, match=r"no mode with nodal lines \(7, 7\)"):
        plate.index((7, 7))
    with pytest.raises(GeometryError, match="allowed 0 to 300 along"):
        plate_tap(plate, (0.31, 0.05))


def test_a_flat_top_does_not_stretch():
    top = replace(preset_top("violin"), sound_holes=())
    board = SmoothField.constant(0.003, top.arching.box)
    modes = plate_modes(top_model(replace(top, arching=board, thickness=board), fineness=0.4), count=4)
    shares = stretch_shares(modes)
    assert shares["stretch"].max() < 1e-6
    assert np.allclose(shares[["stretch", "bend", "shear"]].sum(axis=1), 1.0)


def test_shares_foretell_a_thinner_plate():
    """Stretching, shear and mass go with the thickness, bending with its cube (Rayleigh)."""
    top = replace(preset_top("violin"), sound_holes=())
    before = plate_modes(top_model(top, fineness=0.4), count=5)
    thin = replace(top, thickness=replace(top.thickness, values=0.98 * top.thickness.values))
    after = plate_modes(top_model(thin, fineness=0.4), count=5)
    shares = stretch_shares(before)
    foretold = 0.5 * (shares["stretch"] + 3 * shares["bend"] + shares["shear"] - 1)
    found = np.log(after.table["f_hz"] / before.table["f_hz"]) / np.log(0.98)
    # 0.06: the midsurface rises by half of what is taken from below, which the shares do not know.
    assert np.allclose(found, foretold, atol=0.06), (found, foretold)
    assert shares["stretch"].max() > 0.3


def _annulus(n, hole, nu, low, high):
    """First lambda^2 of a free annular plate with n nodal diameters (determinant of Leissa 1969, ch. 2)."""

    def rows(lam, r):
        out = []
        for f, slope, sign in ((jv, jvp, -1), (yv, yvp, -1), (iv, ivp, 1), (kv, kvp, 1)):
            w, w1, w2 = f(n, lam * r), lam * slope(n, lam * r), lam**2 * slope(n, lam * r, 2)
            moment = w2 + nu * (w1 / r - n**2 * w / r**2)
            force = sign * lam**2 * w1 - (1 - nu) * n**2 / r**2 * (w1 - w / r)
            out.append((moment, force))
        return np.array(out).T

    def determinant(lam):
        matrix = np.vstack([rows(lam, 1.0), rows(lam, hole)])
        return np.linalg.det(matrix / np.abs(matrix).max(axis=0))

    return brentq(determinant, np.sqrt(low), np.sqrt(high)) ** 2


@pytest.mark.parametrize(
    ("hole", "printed"), [(0.3, (4.91, 8.36, 12.3)), (0.5, (4.28, 9.32, 11.4))], ids=["0.3", "0.5"]
)
def test_a_free_disc_with_a_hole(hole, printed):
    """Lowest modes with 2, 0 and 3 nodal diameters, nu 0.3; printed: Leissa 1969, from memory."""
    exact = [_annulus(n, hole, 0.3, 0.95 * p, 1.05 * p) for n, p in zip((2, 0, 3), printed, strict=True)]
    assert np.allclose(exact, printed, rtol=4e-3)  # three figures
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    none = np.array([], dtype=int)
    mesh = mesh_plan(Loop(circle, none), [Loop(hole * circle, none)], Fineness(0.4, 0.2, 0.3))
    h = 0.005
    disc = Shell(mesh, flat(), Section(constant(h), STEEL.compliance(), STEEL.density), shear=False)
    found = np.sqrt(System(disc).modes(5).omega2 * STEEL.density * h / (200e9 * h**3 / (12 * 0.91)))
    # 0.1 %: straight sides in place of the two circles.
    assert np.allclose(found, np.sort(np.repeat(exact, (2, 1, 2))), rtol=1e-3)
