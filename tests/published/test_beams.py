"""Beams.

Blevins, Formulas for Natural Frequency and Mode Shape, 1979, Table 8-1. Timoshenko, Phil. Mag. 41, 1921,
744-746 (shear and rotary inertia). NAFEMS R0016, Selected Benchmarks for Natural Frequency Analysis, 1993,
Test 5. Timoshenko & Goodier, Theory of Elasticity, art. 109 (torsion of a rectangle).
"""

import numpy as np
import pytest

from platemodel.fem.t_section import rectangle_torsion as section_torsion
from tests.published.cases.beams import CASES, STEEL
from tests.published.cases.lone_rib import lone_rib
from tests.published.cases.ribs import rectangle_torsion


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_published_values(case):
    case.check()


@pytest.mark.parametrize("ends", ["free", "supported"])
@pytest.mark.parametrize("shear", [True, False])
def test_distance_from_the_plate_changes_nothing(ends, shear):
    """A beam whose nodes lie off its centroid is the same beam (idea of code_aster test V2.02.150).

    The offset strains the fibres by terms that the polynomials of u_x hold to 1e-5; with shear the rib's
    sections turn about a line in the plate, and the kinks of its quadratic shear field are not among them:
    1e-4.
    """
    elastic = slice(3, 6) if ends == "free" else slice(1, 4)
    near, far = (
        lone_rib(STEEL, 0.05, 0.10, 1.0, ends, shear, plate_thickness=t)[elastic] for t in (0.001, 0.08)
    )
    assert far == pytest.approx(near, rel=1e-4 if shear else 1e-5)


@pytest.mark.parametrize("ratio", [0.3, 1.0, 3.0])
def test_torsion_of_a_rectangle_of_wood(ratio):
    """Two shear moduli: stretching one side turns the problem into the isotropic one (Lekhnitskii, Theory of
    Elasticity of an Anisotropic Body, ch. on torsion). 1 %: the mesh is not graded for such ratios of moduli.
    """
    width, height, G = 5e-3, 3e-3, 0.7e9
    moduli = (G, ratio * G)
    assert section_torsion(width, height, moduli) == pytest.approx(
        rectangle_torsion(width, height, *moduli), rel=1e-2
    )


def test_shear_lowers_the_deep_beam():
    """The two theories of B3 must differ: 1.6 % in mode 1, 12 % in mode 3 (ratio of the published values)."""
    with_shear, without = (lone_rib(STEEL, 0.05, 0.10, 1.0, "supported", s)[1:4] for s in (True, False))
    published = np.array([230.680, 881.522, 1857.204]) / np.array([234.533, 938.132, 2110.798])
    # the formula without shear leaves rotary inertia out as well; the rib never does
    rotary = 1 / np.sqrt(1 + (np.arange(1, 4) * np.pi * 0.1) ** 2 / 12)
    assert with_shear / without * rotary == pytest.approx(published, rel=1e-4)
