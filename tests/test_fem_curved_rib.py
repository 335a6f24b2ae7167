"""A rib along a strongly curved shell: rings, whose energies are exact."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.fem.rib import Rib, RibWood
from platemodel.fem.seat import Seat
from tests.fields import displacement, inflation
from tests.published.cases.models import SPRUCE, plate
from tests.published.cases.surfaces import cylinder

R, T, WIDTH, HEIGHT, ARC = 0.08, 2e-3, 4e-3, 9e-3, 0.06


@pytest.fixture(scope="module")
def shell():
    return plate(SPRUCE, T, 0.04, ARC, 4, 6, surface=cylinder(R))


def _rib(shell, side, **options):
    """Rib round the cylinder, its grain along itself."""
    seat = Seat(shell, (0.02, 0.0), (0.02, ARC), WIDTH, side)
    return Rib(seat, HEIGHT, RibWood(SPRUCE.compliance(), SPRUCE.density), **options)


def _energy(shell, rib, u):
    """Twice the energy that the rib adds."""
    k = rib.matrices(shell.n_dofs + rib.n_own, shell.n_dofs)[0]
    full = np.concatenate([u, np.zeros(rib.n_own)])
    return full @ (k @ full)


@pytest.mark.parametrize("side", [-1, 1])
def test_a_ring_that_grows(shell, side):
    """By w at every radius: its middle fibre of radius r stretches by w/r, twice the energy is E A (w/r)^2 r
    angle, and a ring on the outside has less of it than one on the inside. All fibres together have
    E b w^2 angle ln(r_out/r_in), more by (h/r)^2/12, which a rib that is thin against its radius leaves out.
    """
    w, r = 1e-4, R + side * 0.5 * (T + HEIGHT)
    found = _energy(shell, _rib(shell, side, glued_width=False), inflation(shell, R, w))
    assert found == pytest.approx(SPRUCE.E_L * WIDTH * HEIGHT * (w / r) ** 2 * r * ARC / R, rel=1e-4)
    all_fibres = SPRUCE.E_L * WIDTH * w**2 * ARC / R * np.log((r + 0.5 * HEIGHT) / (r - 0.5 * HEIGHT))
    assert 1 - found / all_fibres == pytest.approx((HEIGHT / r) ** 2 / 12, rel=0.1)


@pytest.mark.parametrize("side", [-1, 1])
def test_a_ring_drawn_into_a_helix_twists(shell, side):
    """A coil of radius r that is drawn along its axis by c a radian twists by c/r^2 (helical springs, any
    textbook): twice the energy of its torsion is GJ (c/r^2)^2 r angle, r the radius of the rib's own middle.
    What torsion adds is told from a rib that has twice as much of it.
    """
    c = 1e-4

    def drawn(x, s):
        zero = np.zeros_like(x)
        return c / R * np.stack([s, zero, zero + 1.0, zero, zero, zero])

    u = displacement(shell, u=drawn)
    once, twice = _rib(shell, side), _rib(shell, side)
    twice.joint = replace(twice.joint, torsion=2.0 * twice.joint.torsion)
    r = R + side * 0.5 * (T + HEIGHT)
    expected = once.joint.torsion.mean() * (c / r**2) ** 2 * r * ARC / R
    assert _energy(shell, twice, u) - _energy(shell, once, u) == pytest.approx(expected, rel=2e-3)
