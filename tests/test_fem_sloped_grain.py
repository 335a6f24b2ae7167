"""A bar whose grain rises along it: what its torsion and its sideways bending have to do with each other."""

import numpy as np
import pytest

from platemodel.fem.junction import junction, mean_section
from platemodel.fem.section import Stiffness, rotate_compliance
from tests.published.cases.models import SPRUCE

T, W, H = 3e-3, 1e-3, 12e-3  # a blade a twelfth as thick as high
LIMP = 1e-4  # of spruce's stiffness: a plate that holds nothing


def _junction(degrees):
    """Junction of the blade on a limp plate, its grain sloped, and the compliance along the blade."""
    angle, one = np.radians(degrees), np.ones(2)
    c, s = np.cos(angle), np.sin(angle)
    rib = rotate_compliance(SPRUCE.compliance(), np.array([[[c, 0, -s], [0, 1, 0], [s, 0, c]]]))
    plate = SPRUCE.compliance()[None] / LIMP
    q = LIMP * np.linalg.inv(SPRUCE.compliance()[np.ix_([0, 1, 5], [0, 1, 5])])[None]
    two = [np.repeat(a, 2, axis=0) for a in (rib, plate, q)]
    mean = mean_section(one, W * one, two[1], two[0], angle * one, False, T)
    return junction(mean, W * one, H * one, Stiffness(T * two[2], T**3 / 12 * two[2], None, None)), rib[0]


@pytest.mark.parametrize("degrees", [-9.0, 3.0, 6.0, 11.0])
def test_a_blade_of_sloped_grain_twists_freely(degrees):
    """A blade is a strip of plate: twisted with nothing to hold it straight it has h w^3/3 over the whole
    shear compliance S55 (Lekhnitskii, Anisotropic plates, from memory), less 0.63 w/h for its ends, where the
    two shear moduli count by the root of their ratio (Saint-Venant's rectangle). It bends sideways by
    2 S51/S55 of its twist. Held straight it would be stiffer by 1/(1 - S51^2/(S11 S55)), 3 to 36 % here.
    The rectangles come within 1 %, the spline over heights and the parabola over slopes within 1 % more.
    """
    found, s = _junction(degrees)
    ends = 0.63 * W / H * np.sqrt(s[4, 4] / s[5, 5])
    assert found.torsion == pytest.approx(H * W**3 / 3 / s[4, 4] * (1 - ends), rel=0.02)
    assert found.sideways == pytest.approx(2 * s[4, 0] / s[4, 4], rel=0.08)
