"""The T-shaped section of plate and rib: limits with a closed answer, and the spline over heights."""

import numpy as np
import pytest

from platemodel.fem.junction import HEIGHTS, junction, mean_sections
from platemodel.fem.section import Stiffness
from platemodel.fem.t_section import TSection, across, lengthwise, t_sections, torsion
from tests.published.cases.models import SPRUCE
from tests.published.cases.ribs import rectangle_torsion

T, W = 3e-3, 5.5e-3
SHEAR = (0.7e9, 0.6e9)
PLANE = (0.9e9, 0.3e9, 0.5e9, 0.05e9)
SECTION = TSection(T, W, SHEAR, SHEAR, PLANE, PLANE)


@pytest.mark.parametrize("height", [3e-3, 6e-3, 12e-3])
def test_torsion_without_flange_is_that_of_a_rectangle(height):
    """Timoshenko & Goodier, art. 109, with two moduli. Two columns of quadratic rectangles on half the
    width: 0.5 %, from above.
    """
    exact = rectangle_torsion(W, T + height, *SHEAR)
    found = torsion(SECTION, 1e-7 * W, (height,))[0]
    assert exact * (1 - 1e-6) < found < exact * 1.005


def test_twist_of_the_free_strip_from_both_problems():
    """Ends free to slide: the 2 x 2 of shear and twist, its shear relaxed, is the torsion of a long flange
    less what the ends' own warping saves; equal within 1 % on 40 plate thicknesses.
    """
    flange = 40 * T
    both = lengthwise(SECTION, flange, (8e-3,))[0]
    relaxed = both[1, 1] - both[0, 1] ** 2 / both[0, 0]
    assert torsion(SECTION, flange, (8e-3,))[0] == pytest.approx(relaxed, rel=1e-2)
    assert torsion(SECTION, flange, (8e-3,))[0] < relaxed


def test_strip_alone_in_plane_strain():
    """Plate without rib between its moved sides: E' h and E' h^3/12 with E' = C_bb - C_bn^2/C_nn, no coupling
    (plane strain, free faces); with C_bn = 0 exactly.
    """
    free = TSection(T, W, SHEAR, SHEAR, (0.9e9, 0.0, 0.5e9, 0.05e9), PLANE)
    found = across(free, 4 * T)
    assert found == pytest.approx(np.diag([0.9e9 * T, 0.9e9 * T**3 / 12]), rel=1e-9, abs=1e-6)
    coupled = across(SECTION, 4 * T)
    assert coupled[0, 0] == pytest.approx((0.9e9 - 0.3e9**2 / 0.5e9) * T, rel=1e-9)


def test_limp_rib_relieves_nothing():
    """A rib a million times softer than the plate leaves twist and strip as they are."""
    soft = TSection(T, W, SHEAR, tuple(1e-6 * g for g in SHEAR), PLANE, tuple(1e-6 * c for c in PLANE))
    limp, full = (t_sections(s, (4e-3, 12e-3)) for s in (soft, SECTION))
    for name in ("torsion", "relief", "shear_relief", "slide"):
        assert np.abs(getattr(limp, name) / getattr(full, name)).max() < 1e-4


def test_spline_over_heights():
    """Terms from the spline against the T solved at each height itself, 5e-4 in torsion."""
    heights = 3e-3 * np.exp(np.linspace(np.log(HEIGHTS[0]), np.log(HEIGHTS[-1]), 29))[1:-1]
    n = len(heights)
    one = np.ones(n)
    compliance = np.broadcast_to(SPRUCE.compliance(), (n, 6, 6))
    q = np.broadcast_to(np.diag([10e9, 1e9, 0.7e9]), (n, 3, 3))
    stiff = Stiffness(T * q, T**3 / 12 * q, None, None)
    sections = mean_sections(one, W * one, compliance, compliance, T)
    found = junction(sections, W * one, heights, compliance[:, 5, 5], stiff)
    share = found.eccentricity**2 * found.shear * W * T * 0.7e9 / (found.shear + W * T * 0.7e9)
    c = np.linalg.inv(SPRUCE.compliance())
    plane = tuple(c[i, j] for i, j in ((1, 1), (1, 2), (2, 2), (3, 3)))
    wood = (1 / SPRUCE.compliance()[5, 5], 1 / SPRUCE.compliance()[4, 4])
    direct = t_sections(TSection(T, W, wood, wood, plane, plane), tuple(heights))
    assert found.torsion + share == pytest.approx(direct.torsion, rel=5e-4)
