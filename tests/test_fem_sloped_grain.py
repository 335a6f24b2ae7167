"""A bar whose grain rises along it, and a plate whose grain runs out beside a bar's that does not."""

import numpy as np
import pytest

from platemodel.fem.junction import junction, mean_section
from platemodel.fem.section import Stiffness, over_thickness, plane_stress, rotate_compliance
from platemodel.fem.t_section import TSection, turning
from tests.published.cases.models import SPRUCE

T, W, H = 3e-3, 1e-3, 12e-3  # a blade a twelfth as thick as high
LIMP = 1e-4  # of spruce's stiffness: a plate that holds nothing


def _sloping(degrees):
    """Compliance of spruce whose grain rises from t towards n: (1, 6, 6)."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return rotate_compliance(SPRUCE.compliance(), np.array([[[c, 0, -s], [0, 1, 0], [s, 0, c]]]))


def _junction(degrees):
    """Junction of the blade on a limp plate, its grain sloped, and the compliance along the blade."""
    angle, one = np.radians(degrees), np.ones(2)
    rib = _sloping(degrees)
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


WIDE, RUN_OUT = 5.5e-3, 10.0


def _on_run_out(run_out, slopes):
    """Junction of a bar of some slopes, degrees, on a plate whose grain runs out, and the plate's A66."""
    slopes, one = np.array(slopes), np.ones(len(slopes))
    plate, rib = (np.concatenate([_sloping(a) for a in of]) for of in (slopes + run_out, slopes))
    mean = mean_section(one, WIDE * one, plate, rib, np.radians(slopes), True, T)
    stiff = over_thickness(*plane_stress(plate), T * one)
    return junction(mean, WIDE * one, H * one, stiff), stiff.membrane[:, 2, 2]


def test_the_strip_of_a_bar_that_slopes_against_the_run_out_is_that_of_its_own_t():
    """The T at each slope itself, its plate's grain at slope and run-out: the polynomial over slopes comes
    within 1 % there. With the plate taken to slope as the bar, one sign like the other, the strip at -9
    degrees had the shear stiffness of one at 19, and less than none was left of it.
    """
    slopes = [-9.0, -3.0, 3.0, 9.0]
    found, membrane = _on_run_out(RUN_OUT, slopes)
    for i, slope in enumerate(slopes):
        plate, rib = (tuple(np.linalg.inv(_sloping(a)[0]).ravel()) for a in (slope + RUN_OUT, slope))
        exact = turning(TSection(T, WIDE, plate, rib), (H,))
        lost = found.shear[i] / (found.shear[i] + WIDE * membrane[i])
        assert lost == pytest.approx(exact.shear_relief[0] * membrane[i] / WIDE, rel=0.01)
        given = found.torsion[i] + found.eccentricity[i] ** 2 * WIDE * membrane[i] * lost
        given += found.sideways[i] ** 2 * exact.sideways[0]
        assert given == pytest.approx(exact.twist[0], rel=0.01)
        assert found.sideways[i] == pytest.approx(-exact.coupling[0] / exact.sideways[0], abs=0.3)


def test_a_bar_seen_from_its_other_end_is_the_same():
    """Slope and run-out change sign, and with them what is odd in the slope; to round-off."""
    (one, _), (other, _) = _on_run_out(RUN_OUT, [-8.0, 5.0]), _on_run_out(-RUN_OUT, [8.0, -5.0])
    for name in one.__dataclass_fields__:
        sign = -1.0 if name in ("sideways", "rolled", "crossed") else 1.0
        assert getattr(other, name) == pytest.approx(sign * getattr(one, name), rel=1e-6), name


@pytest.mark.parametrize("run_out", [6.0, 15.0])
def test_a_bar_slips_by_what_is_its_own_whatever_the_run_out_of_the_plate(run_out):
    """What the plate beside the bar gives to a force along is the shell's: 1/S66, no stress across. What is
    left, the slip, grows by 1 and 12 % at 6 and 15 degrees, for the root rests on that plate. Taken as held
    from straining across, the plate had left 1.8 and 5.6 times as much.
    """
    slip = [_on_run_out(angle, [0.0])[0].slip[0] for angle in (0.0, run_out)]
    assert slip[1] == pytest.approx(slip[0], rel=0.15)
