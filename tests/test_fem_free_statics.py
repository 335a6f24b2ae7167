"""A free body under loads that balance: discs by closed integrals, a plate twisted by its corners."""

import numpy as np
import pytest

from platemodel.errors import GeometryError
from platemodel.fem.free_statics import disc_row, discs_row, solve_free
from platemodel.fem.supports import ground, point_rows
from platemodel.fem.system import System
from tests.fields import displacement, polynomial
from tests.published.cases.models import SPRUCE, plate

LENGTH, WIDTH, THICK = 0.3, 0.2, 3e-3


@pytest.fixture(scope="module")
def shell():
    return plate(SPRUCE, THICK, LENGTH, WIDTH, 3, 2, centred=True)


@pytest.mark.parametrize("middle", [(0.03, 0.02), (-0.1, -0.05)])
def test_mean_over_a_disc(shell, middle):
    """Of powers about its middle: x^2 gives R^2/4, x^4 R^4/8, x^2 y^2 R^4/24, odd ones nothing (moments of a
    circle, any handbook); a quintic is the highest that the shell holds.
    """
    diameter = 0.04
    radius, (x, y) = 0.5 * diameter, middle
    row = disc_row(shell, middle, diameter)
    # about the middle by the binomial theorem
    shifted = {
        "1": ({(0, 0): 1.0}, 1.0),
        "x2": ({(2, 0): 1.0, (1, 0): -2 * x, (0, 0): x**2}, radius**2 / 4),
        "y2": ({(0, 2): 1.0, (0, 1): -2 * y, (0, 0): y**2}, radius**2 / 4),
        "y4": ({(0, k): c * (-y) ** (4 - k) for k, c in enumerate((1, 4, 6, 4, 1))}, radius**4 / 8),
        "x5": ({(k, 0): c * (-x) ** (5 - k) for k, c in enumerate((1, 5, 10, 10, 5, 1))}, 0.0),
        "x2y2": (
            {
                (i, j): c * d * (-x) ** (2 - i) * (-y) ** (2 - j)
                for i, c in enumerate((1, 2, 1))
                for j, d in enumerate((1, 2, 1))
            },
            radius**4 / 24,
        ),
    }
    for name, (power, mean) in shifted.items():
        found = row @ displacement(shell, w=polynomial(power))
        assert found == pytest.approx(mean, rel=1e-9, abs=1e-14), name
    aside = disc_row(shell, middle, diameter, (0.0, 1.0, 0.0))
    assert aside @ displacement(
        shell, v=polynomial({(0, 1): 1.0}), w=polynomial({(0, 0): 9.0})
    ) == pytest.approx(y)


def test_sum_over_discs(shell):
    """Weights 1, -2, 1 on a line: what bends by w = x^2 gives 2 d^2, and R^2/4 each."""
    step, radii = 0.06, np.array([0.01, 0.02, 0.015])
    row = discs_row(
        shell, np.array([[-step, 0.0], [0.0, 0.0], [step, 0.0]]), np.array([1.0, -2.0, 1.0]), 2 * radii
    )
    found = row @ displacement(shell, w=polynomial({(2, 0): 1.0, (1, 0): 5.0, (0, 0): -3.0}))
    assert found == pytest.approx(2 * step**2 + np.array([1, -2, 1]) @ radii**2 / 4, rel=1e-9)


def test_plate_twisted_by_its_corners(shell):
    """Forces P up at two opposite corners and down at the others: w = 3 P x y / (G h^3) all over, exact for a
    thin plate (Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, art. 11, with G for
    E / 2 (1 + nu); G_LR in wood along the sides). The warp of any four points of a rectangle gives it, free
    of rigid motions.
    """
    a, b, force = 0.5 * LENGTH, 0.5 * WIDTH, 0.7
    corners, signs = np.array([[a, -a, -a, a], [b, b, -b, -b]]), np.array([1.0, -1.0, 1.0, -1.0])
    loads = point_rows(shell, (1 - 1e-12) * corners, (0.0, 0.0, 1.0)).T @ (force * signs)
    warp = 3.0 * force / (SPRUCE.G_LR * THICK**3)
    u = solve_free(System(shell), loads[:, None])[:, 0]
    for share in (0.95, 0.5):
        rows = point_rows(shell, share * corners, (0.0, 0.0, 1.0))
        assert signs @ (rows @ u) == pytest.approx(4.0 * share**2 * a * b * warp, rel=1e-7)


def test_ground_holds_a_rigid_body_and_no_more(shell):
    """Six springs at three vertices, independent of each other: what they see of the six rigid motions has
    full rank. Under loads that balance they take no force.
    """
    spring = ground(shell)
    rigid = System(shell).rigid_motions()
    seen = spring.rows @ rigid
    assert seen.shape == (6, 6)
    assert np.linalg.cond(seen / np.linalg.norm(seen, axis=0)) < 50
    places = np.array([[-0.1, 0.0, 0.1], [0.0, 0.02, 0.0]])
    three = point_rows(shell, np.array([[-0.1, 0.0, 0.1], [0.0, 0.0, 0.0]]), (0.0, 0.0, 1.0)).T
    balanced = (three @ np.array([1.0, -2.0, 1.0]))[:, None]
    pull = spring.stiffness * (spring.rows @ solve_free(System(shell), balanced)[:, 0])
    assert np.abs(pull).max() < 1e-8
    for unlike in (np.array([1.0, -2.0, 1.0 + 1e-6]), np.array([1.0, -1.99, 0.99])):
        with pytest.raises(GeometryError, match="do not balance"):
            solve_free(System(shell), (three @ unlike)[:, None])
    moment = point_rows(shell, places, (0.0, 0.0, 1.0)).T @ np.array([1.0, -2.0, 1.0])
    with pytest.raises(GeometryError, match="moments"):
        solve_free(System(shell), moment[:, None])
    with pytest.raises(ValueError, match="is held"):
        solve_free(System(shell, (), (spring,)), balanced)
