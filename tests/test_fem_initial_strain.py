"""Strains that a part has by itself: what is free takes them without stress, what is held does not."""

import numpy as np
import pytest

from platemodel.fem import Rib, RibWood, Seat, Section, Shell, constant, flat, isotropic_compliance, rectangle
from platemodel.fem.initial_strain import bent_load, swelling_load
from platemodel.fem.joined import Joined
from platemodel.fem.strains import strains
from tests.published.cases.models import SPRUCE

LONG, WIDE, THICK = 0.2, 0.1, 3e-3


@pytest.mark.parametrize("angle", [0.0, 0.12], ids=["grain in the plane", "grain that leaves it"])
def test_a_free_flat_plate_swells_without_stress(angle):
    """Wood that grows by 0.01 and 0.12 % in the plane: strains are the free ones and nothing pulls (1e-9 of
    the stress that a held plate would bear; what is left is round-off of the static solution, 1e-8).
    """
    c, s = np.cos(angle), np.sin(angle)
    axes = np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
    section = Section(constant(THICK), SPRUCE.compliance(), 400.0, axes)
    shell = Shell(rectangle(LONG, WIDE, 4, 2), flat(), section)
    grown = np.array([1e-4, 1.2e-3, 2.6e-3])
    load = swelling_load(shell, grown)
    moved = Joined((shell,)).solve(load)
    free = axes.T @ np.diag(grown) @ axes
    found = strains(shell, moved[:, None])
    wanted = [free[0, 0], free[1, 1], 2 * free[0, 1]]
    assert found.membrane[:, :, 0] == pytest.approx(np.tile(wanted, (len(found.membrane), 1)), abs=1e-9)
    assert np.abs(found.bending).max() < 1e-6 / THICK
    assert found.shear[:, 0, 0] == pytest.approx(2 * free[0, 2], abs=1e-8)
    assert np.abs(shell.K @ moved - load).max() < 1e-6 * np.abs(load).max()


def test_a_held_plate_bears_what_it_may_not_grow():
    """Held all over, the load's own virtual work by a stretch across the grain is the plane-stress stiffness
    times the growth: h A (Q12 e1 + Q22 e2) per unit of stretch, with Q written out by hand.
    """
    section = Section(constant(THICK), SPRUCE.compliance(), 400.0, np.eye(3))
    shell = Shell(rectangle(LONG, WIDE, 4, 2), flat(), section)
    grown = np.array([1e-4, 1.2e-3, 0.0])
    stretch = shell.interpolate(
        lambda x, y: np.stack([y, 0 * y, 1 + 0 * y, 0 * y, 0 * y, 0 * y])[:, :, None]
    )
    across = np.zeros(shell.n_dofs)
    across[shell.n_c1 : 2 * shell.n_c1] = stretch[:, 0]
    small = SPRUCE.nu_LR * SPRUCE.E_R / SPRUCE.E_L
    q22 = SPRUCE.E_R / (1 - SPRUCE.nu_LR * small)
    q12 = SPRUCE.nu_LR * q22
    expected = THICK * LONG * WIDE * (q12 * grown[0] + q22 * grown[1])
    assert across @ swelling_load(shell, grown) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("side", [-1, 1])
def test_a_sprung_bar_bends_its_strip(side):
    """Laminate in closed form: a strip with a bar that was glued on with curvature k0 takes the curvature
    E_b I_b k0 over the transformed section's stiffness. Without Poisson's ratio the strip keeps its section
    but for what its width gives beside the bar: 1e-3.
    """
    width, height, young, curved = 6e-3, 10e-3, 12e9, 0.5
    section = Section(constant(THICK), isotropic_compliance(young, 0.0), 400.0)
    wide = 24e-3
    shell = Shell(rectangle(LONG, wide, 10, 4), flat(), section)
    seat = Seat(shell, (0.0, 0.5 * wide), (LONG, 0.5 * wide), width, side)
    stiff = isotropic_compliance(1.3 * young, 0.0)
    rib = Rib(seat, height, RibWood(stiff, 400.0), glued_width=False, shear=False)
    moved = Joined((shell,), ribs=(rib,)).solve(bent_load(rib, curved))
    parts = np.array([[young * wide * THICK, 0.0], [1.3 * young * width * height, 0.5 * (THICK + height)]])
    middle = parts[:, 0] @ parts[:, 1] / parts[:, 0].sum()
    own = np.array([young * wide * THICK**3 / 12, 1.3 * young * width * height**3 / 12])
    whole = own.sum() + parts[:, 0] @ (parts[:, 1] - middle) ** 2
    ends = np.array([[0.1, 0.5, 0.9], [0.5, 0.5, 0.5]]) * np.array([[LONG], [wide]])
    station = shell.locate(ends)
    rows = shell.operator(station, station.displacement_rows()[:, 2:])
    low, mid, high = rows @ moved[: shell.n_dofs]
    found = (low - 2 * mid + high) / (0.4 * LONG) ** 2
    assert found == pytest.approx(own[1] * curved / whole, rel=1e-3)
