"""Isotropic plates.

Leissa, Vibration of Plates, NASA SP-160, 1969, and J. Sound Vib. 31, 1973, 257-293. Itao & Crandall, J.
Appl. Mech. 46, 1979, 448-453 (disc). NAFEMS, The Standard NAFEMS Benchmarks, 1990, FV12 and FV52.
Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 1959, Tables 8, 23, 35, art. 16.
"""

import numpy as np
import pytest

from platemodel.fem.mesh import Fineness
from platemodel.fem.system import System
from tests.published.cases.isotropic import CASES, DENSITY, NU, SIDE, STEEL, THIN, E, circle, disc_deflection
from tests.published.cases.models import frequency_number, immovable, plate


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_published_values(case):
    case.check()


def test_rate_of_convergence_of_the_supported_plate():
    """Quintic elements: the error of an eigenvalue falls with the eighth power of the mesh in theory.

    Mode (1,2) at 4 and 8 cells, against Navier with the rotary inertia that the plate has. A conforming
    element errs upwards.
    """
    exact = np.pi**2 * 5 / np.sqrt(1 + 5 * (np.pi * THIN / SIDE) ** 2 / 12)
    errors = []
    for cells in (4, 8):
        shell = plate(STEEL, THIN, SIDE, SIDE, cells, cells)
        found = frequency_number(System(shell, (), immovable(shell)).modes(6), SIDE, THIN, E, NU, DENSITY)
        errors.append(found[1] / exact - 1)
    assert 0 < errors[1] < 1e-7
    assert 7.5 < np.log2(errors[0] / errors[1]) < 9.5


def test_a_hinged_disc_converges_to_the_hinged_one():
    """A polygon with w = 0 on straight sides stays clamped at its corners however many it has (Babuska's
    paradox, Babuska & Pitkaranta, SIAM J. Math. Anal. 21, 1990). Hinging along the curve instead converges
    with the square of the sides' length to (5 + nu)/(1 + nu), Timoshenko & Woinowsky-Krieger art. 16.
    """
    exact = (5 + NU) / (1 + NU)
    errors = [
        abs(disc_deflection(size, turn, False) / exact - 1) for size, turn in ((0.5, 0.252), (0.25, 0.126))
    ]
    assert errors[1] < 0.01
    assert 1.5 < np.log2(errors[0] / errors[1]) < 2.5


def test_no_vertex_of_a_coarse_smooth_rim_is_taken_for_a_corner():
    """At the mesher's default turn of 0.5 rad from side to side a hinged disc still turns freely at its rim.

    The support lies on the circle through the vertices (13 of them, 2 % outside), so the deflection is
    that of the larger disc, its radius to the fourth power; 2 % for so few sides. Clamped at its vertices it
    would sink a third as much.
    """
    coarse = circle(1.0, 0.6, Fineness(0.6, 0.6).turn)
    radius = np.hypot(*coarse.p[:, coarse.boundary_nodes()]).mean()
    exact = (5 + NU) / (1 + NU) * radius**4
    assert disc_deflection(0.6, Fineness(0.6, 0.6).turn, False) == pytest.approx(exact, rel=2e-2)
