"""Air that moves with a thin plate.

Lamb, Hydrodynamics, 1932, sections 102 and 373 (from memory).
"""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from platemodel.fem.plate_in_air import AirPanels
from tests.published.cases.plate_in_air import CASES, RADIUS, mass, plate


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_published_values(case):
    case.check()


def test_error_falls_with_the_panels():
    """The mean over meshes of nearly one size falls with the panels; single ones jump with the steps."""
    exact = 8 / 3 * RADIUS**3
    coarse, fine = (
        np.mean([abs(mass(plate(RADIUS, RADIUS, across=n)) / exact - 1) for n in counts])
        for counts in ((8, 9, 10, 11, 12), (28, 30, 32, 34, 36))
    )
    assert fine < 0.6 * coarse
    assert fine < 0.012


def test_threads_that_ask_at_once_are_told_the_same():
    """To the last bit; the two share one factorisation."""
    panels = plate(RADIUS, RADIUS, across=24)
    motions = np.random.default_rng(1).standard_normal((panels.middles.shape[1], 14))
    alone = panels.forces(motions)
    with ThreadPoolExecutor(2) as pool:
        together = list(pool.map(panels.forces, [motions] * 100))
    assert all(np.array_equal(one, alone) for one in together)


def test_one_panel_by_hand():
    """Middle of a square vortex ring of side h: four edges, each 2 sqrt(2)/(4 pi h) by Biot and Savart, so
    w = 2 sqrt(2) / (pi h) for unit strength and the added mass is rho h^3 pi / (2 sqrt(2))."""
    one = AirPanels(np.zeros((2, 1)), 0.1, lambda x, y: 0.0 * x)
    assert mass(one) == pytest.approx(0.1**3 * np.pi / (2 * np.sqrt(2)), rel=1e-12)


def test_added_mass_is_symmetric_positive_and_blind_to_the_side():
    panels = plate(RADIUS, RADIUS, across=16)
    x, y = panels.middles / RADIUS
    motions = np.stack([np.ones_like(x), x, y, x * y, x**2 - y**2], axis=1)
    found = panels.added_mass(motions)
    assert np.linalg.eigvalsh(found)[0] > 0
    assert panels.added_mass(-motions) == pytest.approx(found)
    # motions of different symmetry share no air: off the diagonal nothing but rounding
    off = found / np.sqrt(np.outer(np.diag(found), np.diag(found))) - np.eye(5)
    assert np.abs(off).max() < 1e-10
