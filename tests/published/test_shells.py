"""Shells.

Scordelis & Lo, ACI J. 61, 1964, 539-561. Lindberg, Olson & Cowper, 1969 (pinched cylinder). MacNeal &
Harder, Finite Elem. Anal. Des. 1, 1985, 3-20. Hayek, J. Acoust. Soc. Am. 40, 1966 (closed sphere). Leissa,
Vibration of Shells, NASA SP-288, 1973. Reissner, Q. Appl. Math. 13, 1955. Leissa & Narita, J. Sound Vib.
96, 1984, 207-218 (free shallow shells).
"""

import numpy as np
import pytest

from tests.published.cases import deep_shells, shallow_shells
from tests.published.cases.deep_shells import STEEL_SPHERE
from tests.published.cases.shallow_shells import donnell


@pytest.mark.parametrize("case", deep_shells.CASES + shallow_shells.CASES, ids=lambda case: case.id)
def test_published_values(case):
    case.check()


def hayek(degree, radius=2.5, thickness=0.1, nu=0.3):
    """Bending branch of the closed sphere, Hz (Hayek 1966)."""
    a, b = thickness**2 / (12 * radius**2), degree * (degree + 1)
    quadratic = [
        1,
        -(1 + 3 * nu - a * (1 - nu) + b * (1 + a * nu + a * b)),
        a * b * (b**2 - 4 * b + 5 - nu**2) + (1 - nu**2) * (b - 2 * (1 + a)),
    ]
    speed = np.sqrt(STEEL_SPHERE.E_L / (STEEL_SPHERE.density * (1 - nu**2)))
    return np.sqrt(np.roots(quadratic).min()) * speed / (2 * np.pi * radius)


def test_the_sphere_s_table_is_its_formula():
    """The printed values and the formula are two readings of one source; they agree to the printed digit."""
    even = next(case for case in deep_shells.CASES if case.id == "S13-even")
    odd = next(case for case in deep_shells.CASES if case.id == "S13-odd")
    assert even.published == pytest.approx([hayek(i) for i in (2, 4, 6, 8, 10)], rel=3e-5)
    assert np.delete(odd.published, 3) == pytest.approx([hayek(i) for i in (3, 5, 7, 9)], rel=3e-5)


def test_curvature_reorders_modes():
    """On the sphere-like shell mode (2,1) lies below (1,1): 406.199 and 443.306 Hz by the closed form."""
    shell = next(case for case in shallow_shells.CASES if case.id == "S8-1-1")
    assert shell.labels[:2] == ("2,1", "1,1")
    assert shell.published[:2] == pytest.approx((406.199, 443.306), rel=2e-6)
    assert donnell(0.0, 1.0, 1.0, 1, 1) == pytest.approx(140.750, rel=4e-6)
