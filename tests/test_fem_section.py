"""Section: rotation of the compliance and reduction to a shell.

Formulas: Jones, Mechanics of Composite Materials, 1975, ch. 2; Timoshenko & Goodier, Theory of Elasticity.
"""

import numpy as np
import pytest

from platemodel.fem.section import Section, constant, plane_stress, rotate_compliance, stiffness
from tests.published.cases.models import ALUMINIUM, SPRUCE


def _turn(axis, angle):
    """Rows: axes turned by an angle about one of them."""
    c, s = np.cos(angle), np.sin(angle)
    i, j = (axis + 1) % 3, (axis + 2) % 3
    out = np.eye(3)
    out[i, i], out[i, j], out[j, i], out[j, j] = c, s, -s, c
    return out[None]


def _random_rotation(seed):
    q, r = np.linalg.qr(np.random.default_rng(seed).standard_normal((3, 3)))
    q = q * np.sign(np.diag(r))
    return (q if np.linalg.det(q) > 0 else -q)[None]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_there_and_back(seed):
    s, r = SPRUCE.compliance(), _random_rotation(seed)
    away = rotate_compliance(s, r)
    back = rotate_compliance(away[0], np.swapaxes(r, 1, 2))
    assert np.abs(away[0] / s[0, 0] - s / s[0, 0]).max() > 0.05
    assert back[0] == pytest.approx(s, rel=1e-12, abs=1e-12 * s.max())


def test_isotropic_wood_has_no_direction():
    s = ALUMINIUM.compliance()
    assert rotate_compliance(s, _random_rotation(5))[0] == pytest.approx(s, rel=1e-12, abs=1e-12 * s.max())


@pytest.mark.parametrize(
    ("axis", "E_1", "E_2", "G", "nu"),
    [
        (2, "E_L", "E_R", "G_LR", "nu_LR"),
        (1, "E_L", "E_T", "G_LT", "nu_LT"),
        (0, "E_R", "E_T", "G_RT", "nu_RT"),
    ],
)
@pytest.mark.parametrize("degrees", [10, 35, 45, 80])
def test_off_axis_modulus(axis, E_1, E_2, G, nu, degrees):
    """1/E = c^4/E_1 + s^4/E_2 + s^2 c^2 (1/G - 2 nu/E_1) in each of the three planes (Jones eq. 2.97)."""
    wood = SPRUCE
    E_1, E_2, G, nu = (getattr(wood, name) for name in (E_1, E_2, G, nu))
    angle = np.deg2rad(degrees)
    c, s = np.cos(angle), np.sin(angle)
    along = {2: 0, 1: 0, 0: 1}[axis]
    turned = rotate_compliance(wood.compliance(), _turn(axis, -angle if axis == 1 else angle))[0]
    expected = c**4 / E_1 + s**4 / E_2 + s**2 * c**2 * (1 / G - 2 * nu / E_1)
    assert turned[along, along] == pytest.approx(expected, rel=1e-12)


def test_shear_compliance_at_45_degrees():
    """Jones eq. 2.97: 1/G' = 4 s^2 c^2 (1/E_L + 1/E_R + 2 nu/E_L) + (c^2 - s^2)^2/G; catches a factor of 2
    in shear.
    """
    w = SPRUCE
    turned = rotate_compliance(w.compliance(), _turn(2, np.pi / 4))[0]
    assert turned[5, 5] == pytest.approx(1 / w.E_L + 1 / w.E_R + 2 * w.nu_LR / w.E_L, rel=1e-12)


def test_sign_of_the_coupling_off_axis():
    """Pulled at +30 degrees to the grain, a strip shears so that the grain turns towards the pull (Jones
    eq. 2.97).
    """
    w, angle = SPRUCE, np.deg2rad(30)
    c, s = np.cos(angle), np.sin(angle)
    # grain at +30 degrees from the strip's axis 1: material L in strip axes is (c, s, 0)
    turned = rotate_compliance(w.compliance(), _turn(2, -angle))[0]
    a, b = 2 / w.E_L + 2 * w.nu_LR / w.E_L - 1 / w.G_LR, 2 / w.E_R + 2 * w.nu_LR / w.E_L - 1 / w.G_LR
    assert turned[5, 0] == pytest.approx(a * s * c**3 - b * s**3 * c, rel=1e-12)
    assert turned[5, 0] < 0


def test_plane_stress_of_an_isotropic_plate():
    """E/(1 - nu^2), nu E/(1 - nu^2), G, and G for transverse shear."""
    E, nu = ALUMINIUM.E_L, 0.33
    q, g, tilt = plane_stress(ALUMINIUM.compliance()[None])
    G = E / (2 * (1 + nu))
    expected = E / (1 - nu**2) * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])
    assert q[0] == pytest.approx(expected, rel=1e-12, abs=1e-3)
    assert g[0] == pytest.approx(np.diag([G, G]), rel=1e-12, abs=1e-3)
    assert tilt[0] == pytest.approx(np.zeros((2, 3)), abs=1e-15)


def test_transverse_shear_belongs_to_the_right_pair():
    """Quarter-sawn plate: grain direction shears with G_LT, ring direction with G_RT (rolling shear)."""
    _, g, _ = plane_stress(SPRUCE.compliance()[None])
    assert np.diag(g[0]) == pytest.approx([SPRUCE.G_LT, SPRUCE.G_RT], rel=1e-12)


@pytest.mark.parametrize("seed", [1, 4])
def test_reduction_is_plane_stress_with_shear(seed):
    """Zero stress across the plate leaves five strains; their stiffness is the inverse of the 5 x 5
    compliance (Jones, ch. 2), and membrane stiffness, shear stiffness and tilt must put together the same
    matrix.
    """
    s = rotate_compliance(SPRUCE.compliance(), _random_rotation(seed))
    q, g, tilt = (m[0] for m in plane_stress(s))
    five = [0, 1, 5, 4, 3]
    exact = np.linalg.inv(s[0][np.ix_(five, five)])
    whole = np.block([[q + tilt.T @ g @ tilt, -tilt.T @ g], [-g @ tilt, g]])
    assert whole == pytest.approx(exact, rel=1e-9, abs=1e-9 * exact.max())


def test_stiffness_per_area_of_spruce():
    """Plate S1: D11 27.02179, D12 0.784369, D22 2.108518, D66 1.710 N m (Leissa, NASA SP-160, ch. 9,
    evaluated).
    """
    section = Section(constant(3e-3), SPRUCE.compliance(), 400.0)
    found = stiffness(section, np.eye(3)[None], np.array([3e-3]))
    d = found.bending[0]
    assert [d[0, 0], d[0, 1], d[1, 1], d[2, 2]] == pytest.approx(
        [27.02179, 0.784369, 2.108518, 1.710], rel=1e-6
    )
    assert found.membrane[0] == pytest.approx(12 / 3e-3**2 * d, rel=1e-12)
    assert found.shear[0, 0, 0] == pytest.approx(5 / 6 * 3e-3 * SPRUCE.G_LT, rel=1e-12)


def test_grain_that_leaves_the_surface_softens_it():
    """Carved wood on a slope of 10 degrees along the grain: 1/E by the LT formula; the plate's E_x follows
    it.

    The tilt of the normal under a pull along x is the coupling of Jones eq. 2.97 in that plane, the grain
    lying at -10 degrees from e1 towards the normal.
    """
    w, angle = SPRUCE, np.deg2rad(10)
    c, s = np.cos(angle), np.sin(angle)
    frame = np.array([[[c, 0, s], [0, 1, 0], [-s, 0, c]]])  # surface rises along x
    section = Section(constant(3e-3), w.compliance(), 400.0, axes=np.eye(3))
    found = stiffness(section, frame, np.array([3e-3]))
    E_x = 1 / np.linalg.inv(found.membrane[0])[0, 0] / 3e-3
    expected = 1 / (c**4 / w.E_L + s**4 / w.E_T + s**2 * c**2 * (1 / w.G_LT - 2 * w.nu_LT / w.E_L))
    assert E_x == pytest.approx(expected, rel=1e-12)
    assert E_x < 0.75 * w.E_L
    a, b = 2 / w.E_L + 2 * w.nu_LT / w.E_L - 1 / w.G_LT, 2 / w.E_T + 2 * w.nu_LT / w.E_L - 1 / w.G_LT
    pulled = np.linalg.inv(found.membrane[0])[:, 0] * 3e-3  # strain under unit stress along e1
    assert found.tilt[0, 0] @ pulled == pytest.approx(-(a * s * c**3 - b * s**3 * c), rel=1e-12)
    assert found.tilt[0, 1] @ pulled == pytest.approx(0.0, abs=1e-20)
