"""A tapered blade of sloping grain: its compliance and what its taper does in twist, against quadrature."""

import numpy as np
import pytest

from platemodel.fem.blade import as_squares, blade_compliance, fade, taper, tapering

WOOD = np.array([[0.12e-9], [-0.15e-9], [1.4e-9]])  # S11, S15, S55 of spruce at some 8 degrees, 1/Pa
HEIGHT, RATE, WIDTH = 8e-3, 0.12, 5.5e-3
ROOT = tuple(WIDTH * HEIGHT * np.array([v]) for v in (6e-10, 1e-9, 2e-10))
POINTS, WEIGHTS = np.polynomial.legendre.leggauss(40)


def _compliance(rate=RATE):
    return blade_compliance(WOOD, np.array([HEIGHT]), np.array([rate]), ROOT)[0] / (WIDTH * HEIGHT)


def test_compliance_is_the_energy_of_its_stresses():
    """Theory (7.7), integrated over the height."""
    u = 0.5 * (POINTS + 1.0)
    area = WIDTH * HEIGHT
    along = np.array([1.0 + 0 * u, 12.0 / HEIGHT * (u - 0.5), 0 * u, 0 * u]) / area
    shear = RATE * u * along
    shear[2] += 6.0 * u * (1.0 - u) / area
    shear[3] += (1.0 - u) * (1.0 - 2.5 * u) / WIDTH
    s11, s15, s55 = WOOD[:, 0]
    weight = 0.5 * WEIGHTS * area
    energy = s11 * (along * weight) @ along.T + s55 * (shear * weight) @ shear.T
    energy += s15 * ((along * weight) @ shear.T + (shear * weight) @ along.T)
    energy[3, 3] = ROOT[0][0] / area  # the root's own, with what the plate gives
    assert _compliance()[:4, :4] == pytest.approx(energy, rel=1e-9, abs=1e-12 * np.abs(energy).max())


def test_taper_the_other_way_is_grain_the_other_way():
    """Shear that comes with stretch: of both signs alike where taper and grain turn about."""
    other = blade_compliance(WOOD * [[1.0], [-1.0], [1.0]], np.array([HEIGHT]), np.array([-RATE]), ROOT)[0]
    signs = np.array([1.0, 1.0, -1.0])
    found = _compliance()[:3, :3] * WIDTH * HEIGHT
    assert other[:3, :3] == pytest.approx(found * np.outer(signs, signs), rel=1e-12)


def test_squares_sum_to_the_energy():
    factors, weights = as_squares(_compliance()[None])
    sum_of = (factors[0].T * weights[0]) @ factors[0]
    assert sum_of @ _compliance() == pytest.approx(np.eye(5), abs=1e-9)
    assert np.diagonal(factors[0]) == pytest.approx(np.ones(5))


def test_taper_in_twist():
    """Its closed forms are integrals of what the change of g with the height makes of the warping."""
    thickness, shears = 5.5e-3, (1.38e-9, 1.32e-9)
    length = fade(thickness, *shears)
    d = 0.5 * HEIGHT * (POINTS + 1.0)
    g = 1.0 - np.cosh(d / length) / np.cosh(HEIGHT / length)
    # integral from the root of the change of g with the height
    change = np.sinh(d / length) * np.tanh(HEIGHT / length) / np.cosh(HEIGHT / length)
    found = tapering(thickness, np.array([HEIGHT]), shears, np.array([RATE]))
    assert found.sideways == pytest.approx(RATE * 2.0 * 0.5 * WEIGHTS @ change, rel=1e-9)
    assert found.twisted == pytest.approx(RATE * 4.0 * 0.5 * WEIGHTS @ (change * g), rel=1e-9)


def test_rate_is_per_metre_and_bounded():
    fraction = np.linspace(0.0, 1.0, 21)
    assert taper(0.01 * fraction, fraction, 0.2 + 0 * fraction) == pytest.approx(0.05)
    assert np.abs(taper(np.where(fraction < 0.5, 0.0, 0.01), fraction, 0.01 + 0 * fraction)).max() == 0.5


@pytest.mark.parametrize("left", [0.3, 0.02, 1e-3])
def test_a_root_that_hardly_slips_keeps_a_positive_energy(left):
    """Beside an opening little slip is left, down to 0.02 of it; the energy of any strain stays above zero,
    and only what slip shares with the rest is held back for it.
    """
    slip, sinking, _ = ROOT
    root = (left * slip, sinking, 0.8 * np.sqrt(left * slip * sinking))
    found = blade_compliance(WOOD, np.array([HEIGHT]), np.array([RATE]), root)[0]
    scale = np.sqrt(np.diagonal(found))
    assert np.linalg.eigvalsh(found / np.outer(scale, scale))[0] > 1e-3
    kept = [0, 1, 2, 4]
    assert found[np.ix_(kept, kept)] == pytest.approx(WIDTH * HEIGHT * _compliance()[np.ix_(kept, kept)])
    assert found[3, 3] == root[0][0]
    assert np.all(as_squares(found[None])[1] > 0)
