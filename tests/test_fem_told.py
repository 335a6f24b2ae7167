"""Numbers in what the finite-element room says of itself and in its refusals, in their unit."""

import re

import numpy as np
import pytest
from scipy.sparse import csr_matrix

from platemodel.errors import GeometryError
from platemodel.fem import Rib, RibWood, Seat, Section, Shell, System, constant, flat, rectangle
from platemodel.fem.mesh import check_loops
from platemodel.fem.reduced import ReducedShell
from platemodel.fem.supports import Constraint, Spring
from tests.published.cases.models import SPRUCE

A, B = 0.3, 0.2


@pytest.fixture(scope="module")
def shell():
    section = Section(constant(2.506e-3), SPRUCE.compliance(), 400.0, axes=np.eye(3))
    return Shell(rectangle(A, B, 3, 2), flat(), section)


def square(side, x=0.0, y=0.0):
    return np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]])


def test_a_shell_in_millimetres_and_grams(shell):
    """300 x 200 x 2.506 mm of 400 kg/m3 weigh 60.14 g; a millimetre is not 1/999 of a metre."""
    said = repr(shell)
    assert "with transverse shear, 12 triangles" in said
    assert said.endswith("300 x 200 x 0 mm, 2.51 to 2.51 mm thick, 60.14 g)")
    assert repr(shell.section) == "Section(E 11.9 and 0.927 GPa, 400 kg/m3, material fixed in space)"


def test_supports_and_ribs_are_counted(shell):
    conditions, springs = Constraint(csr_matrix((2, 5))), Spring(csr_matrix((2, 5)), np.array([1.5, 2.0]))
    assert repr(conditions) == "Constraint(2 conditions on 5 unknowns)"
    assert repr(springs) == "Spring(2 points, 3.5 N/m or N m/rad in all)"
    rib = Rib(Seat(shell, (0.05, 0.1), (0.25, 0.1), 5e-3), 8e-3, RibWood(SPRUCE.compliance(), 400.0))
    said = repr(System(shell, (rib, rib), (springs, springs)))
    assert said.startswith(f"System({shell.n_dofs + 2 * rib.n_own} unknowns, 2 ribs, 2 supports, Shell(")


@pytest.mark.parametrize(("loads", "told"), [(3, "3 loads"), (0, "5 modes")])
def test_a_reduced_shell_says_what_it_is_for(loads, told):
    none = np.zeros((0, 0))
    model = ReducedShell(np.zeros((7, 2)), (), none, none, np.zeros((4, loads)), None, none, 5, 4)
    assert repr(model) == f"ReducedShell(2 vectors in place of 7 unknowns, for {told})"


def test_refusals_give_the_place_in_millimetres(shell):
    """The span of the points that were asked for, and the clearance that a hole must have."""
    with pytest.raises(GeometryError, match=re.escape("a1 100.0 to 500.0 mm, a2 50.0 to 150.0 mm")):
        shell.locate(np.array([[0.1, 0.5], [0.15, 0.05]]))
    with pytest.raises(GeometryError, match=re.escape("hole 1 must lie inside the outline with 15.00 mm")):
        check_loops(square(1.0), [square(0.2, 0.0149, 0.1)], 0.015)
    with pytest.raises(GeometryError, match=re.escape("holes 1 and 2 are closer than 15.00 mm")):
        check_loops(square(1.0), [square(0.2, 0.1, 0.1), square(0.2, 0.3149, 0.1)], 0.015)
    check_loops(square(1.0), [square(0.2, 0.0151, 0.1), square(0.2, 0.2302, 0.1)], 0.015)
    seat = Seat(shell, (0.05, 0.1), (0.25, 0.1), 5e-3)
    with pytest.raises(ValueError, match=re.escape("smallest 0.005 and -0.002 m")):
        Rib(seat, lambda s: np.where(s == s.min(), -2e-3, 8e-3), RibWood(SPRUCE.compliance(), 400.0))
