"""The T-shaped section of plate and rib: limits with a closed answer, the shares and the spline over
heights."""

import numpy as np
import pytest

from platemodel.fem.junction import HEIGHTS, junction, mean_section
from platemodel.fem.section import SHEAR_FACTOR, Stiffness, rotate_compliance
from platemodel.fem.t_section import PIVOT, TSection, bending, turning
from tests.published.cases.models import SPRUCE
from tests.published.cases.ribs import rectangle_torsion

T, W = 3e-3, 5.5e-3


def elastic(compliance):
    return tuple(np.linalg.inv(compliance).ravel())


def section(plate=1.0, rib=1.0, wood=None):
    """T of one wood, plate and rib made stiffer by factors."""
    wood = SPRUCE.compliance() if wood is None else wood
    return TSection(T, W, elastic(wood / plate), elastic(wood / rib))


@pytest.mark.parametrize("height", [6e-3, 12e-3])
def test_rib_on_a_limp_plate_is_the_rectangle_alone(height):
    """Torsion by Timoshenko & Goodier, art. 109, with two moduli; four columns of quadratic rectangles on
    half
    the width, 0.5 %, from above. Sideways bending E h w^3/12.
    """
    found = turning(section(plate=1e-7), (height,))
    exact = rectangle_torsion(W, height, SPRUCE.G_LR, SPRUCE.G_LT)
    assert exact * (1 - 1e-6) < found.twist[0] < exact * 1.005
    assert found.sideways[0] == pytest.approx(SPRUCE.E_L * height * W**3 / 12, rel=1e-5)
    assert found.coupling[0] == pytest.approx(0.0, abs=1e-9)


def test_shear_lag_of_a_rib_on_a_rigid_root():
    """A force along at the pivot of a rib whose root cannot move, bending held: what is left is the root's
    own small give. On a plate a thousand times stiffer the rib alone gives h/(8 G w): the parabola of its
    shear, less what turning about h/12 below the root takes up.
    """
    height = 12e-3
    found = bending(section(plate=1e3), (height,)).push[0]
    assert found == pytest.approx(height / (8 * SPRUCE.G_LT * W), rel=0.02)
    assert pytest.approx(1 / 12) == PIVOT


def test_limp_rib_relieves_nothing():
    """A rib a million times softer than the plate leaves twist and strip as they are."""
    heights = (4e-3, 12e-3)
    limp, full = ((bending(s, heights), turning(s, heights)) for s in (section(rib=1e-6), section()))
    assert np.abs(limp[0].relief / full[0].relief).max() < 1e-4
    for name in ("twist", "shear_relief", "slide"):
        assert np.abs(getattr(limp[1], name) / getattr(full[1], name)).max() < 1e-4


def test_a_stiffer_wood_all_through():
    """Plate and rib 2.7 times as stiff, grain sloped: stiffnesses grow, gives fall by that, shapes stay.

    Woods are taken by their largest stiffness, rounded to ten digits.
    """
    slope = np.radians(7.0)
    turn = np.array([[np.cos(slope), 0, np.sin(slope)], [0, 1, 0], [-np.sin(slope), 0, np.cos(slope)]])
    wood, factor = rotate_compliance(SPRUCE.compliance(), turn), 2.7
    soft, stiff = (section(k, k, wood) for k in (1.0, factor))
    power = {"twist": 1, "coupling": 1, "sideways": 1, "slide": 0, "rolled": 0, "tapered": 0}
    for solve in (bending, turning):
        before, after = (vars(solve(one, (4e-3, 12e-3))) for one in (soft, stiff))
        for name, value in before.items():
            expected = value * factor ** power.get(name, -1)
            assert after[name] == pytest.approx(expected, rel=1e-7, abs=1e-7 * np.abs(expected).max()), name


def test_sloped_grain_couples_twist_with_sideways_bending():
    """Off-axis strip (Jones, Mechanics of Composite Materials, section 2.8, from memory): a free twist
    bends it by
    2 S51 / S55 when it is slender; the rib on its plate comes within a tenth of that.
    """
    slope = np.radians(5.0)
    c, s = np.cos(slope), np.sin(slope)
    turned = rotate_compliance(SPRUCE.compliance(), np.array([[[c, 0, s], [0, 1, 0], [-s, 0, c]]]))[0]
    found = turning(section(wood=turned), (12e-3,))
    assert -found.coupling[0] / found.sideways[0] == pytest.approx(2 * turned[4, 0] / turned[4, 4], rel=0.1)


def _level_junction(heights):
    n = len(heights)
    one = np.ones(n)
    compliance = np.broadcast_to(SPRUCE.compliance(), (n, 6, 6))
    q = np.linalg.inv(SPRUCE.compliance()[np.ix_([0, 1, 5], [0, 1, 5])])
    stiff = Stiffness(
        T * np.broadcast_to(q, (n, 3, 3)), T**3 / 12 * np.broadcast_to(q, (n, 3, 3)), None, None
    )
    mean = mean_section(one, W * one, compliance, compliance, 0.0 * one, False, T)
    return junction(mean, W * one, heights, stiff), mean.section, T * q[2, 2]


def test_spline_over_heights():
    """Terms from the spline against the T solved at each height itself, 1e-3 in torsion and slip."""
    heights = 3e-3 * np.exp(np.linspace(np.log(HEIGHTS[0]), np.log(HEIGHTS[-1]), 23))[1:-1]
    found, of, side = _level_junction(heights)
    share = found.eccentricity**2 * found.shear * W * side / (found.shear + W * side)
    direct = turning(of, tuple(heights))
    assert found.torsion + share == pytest.approx(direct.twist, rel=1e-3)
    slip = bending(of, tuple(heights)).push - (0.5 * of.length - 0.5 * W) / (2 * T * SPRUCE.G_LR)
    assert found.slip == pytest.approx(slip, rel=1e-3)


def test_force_and_torque_enter_within_the_glued_width():
    """The lines of an equal strip where everything would enter in one place: 0.45 to 0.465 widths from the
    middle
    for the force at any height, 0.327, 0.369 and 0.409 for the torque at heights of 12, 6 and 3.5 mm. From
    another section model of polynomial order 3, no code shared, within 0.01 widths. Of the torque's that is
    the place for all that the T gives; without the bar's own roll it is the same at any height.
    """
    heights = np.array([12e-3, 6e-3, 3.5e-3])
    found, of, _ = _level_junction(heights)
    c = np.array(of.plate).reshape(6, 6)
    stiff, soft = (c[1, 1] - c[1, 2] ** 2 / c[2, 2]) * T**3 / 12, SHEAR_FACTOR * T * c[3, 3]
    inner, edge = 0.25 * W, 0.5 * W

    def torque(place):
        return 1 / (2 * place * soft) + place / (6 * stiff) - place / (2 * stiff)

    both = 1 / (2 * edge * soft) + 2 / stiff * (
        inner**2 / (12 * edge) + (edge**2 - inner**2) / (8 * edge) - edge / 4
    )
    s = found.torque
    gives = (1 - s) ** 2 * torque(inner) + 2 * s * (1 - s) * both + s**2 * torque(edge) + found.roll
    places = np.linspace(0.2, 0.5, 3001)
    single = places[np.argmin(np.abs(torque(places[:, None] * W) - gives), axis=0)]
    assert single == pytest.approx([0.327, 0.369, 0.409], abs=0.01)
    assert np.all((found.force > 0.6) & (found.force < 0.8))
    assert np.ptp(found.torque) < 0.02


def test_a_bar_pressed_into_its_root_sinks_as_a_rod_of_springs():
    """A line force p laid on the height h by the parabola 6 x (1 - x) of a shear force's stress stretches a
    rod of modulus E by 13 p h / (35 E w), averaged by the same parabola: the square of the force above a
    place, 1 - 3 x^2 + 2 x^3, over the height. Exact without cross contraction; quadratic rectangles do not
    quite hold a fourth power.
    """
    width, heights, modulus = 5e-3, (3e-3, 12e-3), 0.5e9
    elastic = tuple(np.diag([10e9, 1e9, modulus, 0.04e9, 0.7e9, 0.7e9]).ravel())
    found = bending(TSection(3e-3, width, elastic, elastic), heights).sink
    assert found == pytest.approx(13.0 * np.array(heights) / (35.0 * modulus * width), rel=5e-5)


@pytest.mark.parametrize("height", [6e-3, 12e-3])
def test_a_bar_rolls_on_its_root_as_a_cantilever(height):
    """A line torque m, laid on a blade as forces that rise with the place, bends and shears it across: with
    shear force 6 m (x - x^2) / h and moment m (1 - 3 x^2 + 2 x^3) it turns in the mean by
    m h (13 / (35 D) + 6 / (5 h^2 S)), D = E w^3 / 12 and S = 5/6 G w (Timoshenko's cantilever). A tenth as
    thick as high the blade comes within 0.5 % of that.
    """
    width, along, shear = 0.1 * height, 1e9, 0.04e9
    elastic = tuple(np.diag([10e9, along, 0.5e9, shear, 0.7e9, 0.7e9]).ravel())
    found = turning(TSection(3e-3, width, elastic, elastic), (height,)).roll[0]
    bend, sheared = 13 / 35, 6 / 5
    exact = height * bend / (0.5e9 * width**3 / 12) + sheared / (height * SHEAR_FACTOR * shear * width)
    assert found == pytest.approx(exact, rel=5e-3)
