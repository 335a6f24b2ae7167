"""Recovered stresses: exact states, and the wood's axes; published plates and bars are in tests/published."""

import numpy as np
import pytest

from platemodel.fem import Rib, RibWood, Seat, Section, Shell, System, constant, flat, rectangle
from platemodel.fem.rib_stress import rib_forces
from platemodel.fem.stress import FaceStress, shell_stress
from platemodel.fem.supports import hold_point, point_rows
from platemodel.fem.surface import graph
from platemodel.instrument.presets import preset_wood
from tests.fields import displacement

A, B, H = 0.30, 0.20, 3e-3
WOOD = preset_wood()


def board(axes=None, surface=None, shear=True):
    section = Section(constant(H), WOOD.compliance(), WOOD.density, axes=axes)
    return Shell(rectangle(A, B, 4, 3), surface or flat(), section, shear=shear)


def turned(angle, about):
    """Rows L, R, T of wood turned about an axis of space."""
    c, s = np.cos(angle), np.sin(angle)
    return {
        "z": np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]),
        "y": np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]]),
    }[about]


def stretched(shell, strain):
    """Displacements of an even plane strain (xx, yy, xy): exact in the shell's space."""
    _, place = shell.interpolated_geometry()
    u = np.zeros(shell.n_dofs)
    n = shell.n_c1
    u[:n] = strain[0] * place[:, 0] + 0.5 * strain[2] * place[:, 1]
    u[n : 2 * n] = strain[1] * place[:, 1] + 0.5 * strain[2] * place[:, 0]
    return u


@pytest.mark.parametrize("angle", [0.0, 0.1, 0.5])
def test_an_even_pull_is_seen_in_the_grain(angle):
    """Uniaxial stress p along x on grain at an angle in the face: LL = p c^2, RR = p s^2, LR = -p c s.

    Strain from the rotated compliance; e.g. Jones, Mechanics of Composite Materials, section 2.6.
    """
    axes = turned(angle, "z")
    shell = board(axes)
    c, s = np.cos(angle), np.sin(angle)
    pull = 1e6
    grain = np.array([pull * c**2, pull * s**2, -pull * c * s])
    local = WOOD.compliance()[np.ix_([0, 1, 5], [0, 1, 5])] @ grain
    strain = [
        local[0] * c**2 + local[1] * s**2 - local[2] * c * s,
        local[0] * s**2 + local[1] * c**2 + local[2] * c * s,
        2 * (local[0] - local[1]) * c * s + local[2] * (c**2 - s**2),
    ]
    found = shell_stress(shell, stretched(shell, strain))
    for face in (found.inner, found.outer):
        assert face[:, 0, 0] == pytest.approx(grain[0], rel=1e-9)
        assert face[:, 1, 1] == pytest.approx(grain[1], abs=1e-3)
        assert face[:, 0, 1] == pytest.approx(grain[2], abs=1e-3)
    assert np.abs(found.moment).max() < 1e-9
    assert found.membrane[:, 0] == pytest.approx(H * grain[0], rel=1e-9)


def test_run_out_shows_a_pull_across_the_grain():
    """A pull p along the face on grain that dives through it: LL = p c^2, TT = p s^2, LT = p c s in size."""
    angle = np.radians(10)
    shell = board(turned(angle, "y"), shear=False)
    found = shell_stress(shell, stretched(shell, [1e-4, 0.0, 0.0]))
    p = found.membrane[:, 0] / H
    tensor = found.outer
    assert tensor[:, 0, 0] == pytest.approx(p * np.cos(angle) ** 2, rel=1e-9)
    assert tensor[:, 2, 2] == pytest.approx(p * np.sin(angle) ** 2, rel=1e-9)
    assert np.abs(tensor[:, 0, 2]) == pytest.approx(p * np.sin(angle) * np.cos(angle), rel=1e-9)
    # stress square to the face is zero: the trace is that of the plane stress
    trace = np.trace(tensor, axis1=1, axis2=2)
    assert trace == pytest.approx(found.membrane[:, :2].sum(axis=1) / H, rel=1e-9)


def test_even_twist():
    """+P, -P on alternate corners of a thin plate: M12 = P / 2 in size all over, nothing else.

    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 1959, art. 11.
    """
    shell = board(shear=False)
    corners = np.array([[0, A, A, 0], [0, 0, B, B]])
    corners = corners + (np.array([[A / 2], [B / 2]]) - corners) * 1e-9
    rows = point_rows(shell, corners, [0.0, 0.0, 1.0])
    supports = tuple(hold_point(shell, p) for p in ((0, 0), (A, 0), (0, B)))
    u = System(shell, (), supports).solve(rows.T @ np.array([2.0, -2.0, 2.0, -2.0]))
    middle = shell_stress(shell, u, shell.locate(np.array([[A / 2, A / 3], [B / 2, B / 3]])))
    assert np.abs(middle.moment[:, 2]) == pytest.approx(1.0, rel=1e-6)
    assert np.abs(middle.moment[:, :2]).max() < 1e-6
    assert middle.outer[:, 0, 1] == pytest.approx(-middle.inner[:, 0, 1], rel=1e-9)
    assert np.abs(middle.outer[:, 0, 1]) == pytest.approx(6 * 1.0 / H**2, rel=1e-6)


def test_rigid_motion_has_no_stress():
    shell = board(np.eye(3), graph(lambda x, y: np.array([4 * x * y, 4 * y, 4 * x, 0 * x, 4 + 0 * x, 0 * x])))
    for column in System(shell).rigid_motions().T:
        found = shell_stress(shell, column)
        strain = max(np.abs(found.inner).max(), np.abs(found.outer).max()) / WOOD.E_L
        assert strain < 1e-9  # rounding, for a motion of 1 m or 1 rad


def test_principal_stresses_across_the_grain():
    tensor = np.zeros((2, 3, 3))
    tensor[0, 1, 1], tensor[0, 2, 2] = 2.0, -1.0
    tensor[1, 1, 2] = tensor[1, 2, 1] = 3.0
    tensor[0, 0, 1], tensor[0, 0, 2] = 3.0, 4.0
    found = FaceStress.of(tensor)
    assert found.across_tension == pytest.approx([2.0, 3.0])
    assert found.across_compression == pytest.approx([-1.0, -3.0])
    assert found.shear == pytest.approx([5.0, 0.0])


def test_a_pulled_bar_carries_its_share_and_its_glue_nothing():
    """Even strain along: N = E A strain in the rib, the same all along, and no shear in the joint."""
    shell = board()
    seat = Seat(shell, (0.02, 0.1), (0.28, 0.1), 5.5e-3)
    rib = Rib(seat, 12e-3, RibWood(WOOD.compliance(), WOOD.density))
    found = rib_forces(rib, stretched(shell, [1e-4, 0.0, 0.0]), np.zeros(rib.n_own))
    assert found.axial == pytest.approx(WOOD.E_L * 5.5e-3 * 12e-3 * 1e-4, rel=1e-9)
    assert found.free == pytest.approx(WOOD.E_L * 1e-4, rel=1e-9)
    assert found.seat == pytest.approx(WOOD.E_L * 1e-4, rel=1e-9)
    assert np.abs(found.glue_shear).max() < 1e-6 * WOOD.E_L * 1e-4
    assert np.abs(found.shear).max() < 1e-6


def test_load_transfer_length_at_an_end():
    """Worked by hand from Volkersen's formula with the shear of both parts (see `rib_forces`)."""
    shell = board()
    seat = Seat(shell, (0.02, 0.1), (0.28, 0.1), 5.5e-3)
    rib = Rib(seat, 3.5e-3, RibWood(WOOD.compliance(), WOOD.density))
    found = rib_forces(rib, stretched(shell, [1e-4, 0.0, 0.0]), np.zeros(rib.n_own))
    soft = (3.5e-3 + H) / (3 * WOOD.G_LT)
    rate = (1 / 3.5e-3 + 1 / H) / WOOD.E_L / soft
    end = found.ends[0]
    assert end.length == pytest.approx(1 / np.sqrt(rate), rel=1e-9)
    assert end.shear == pytest.approx(WOOD.E_L * 3.5e-3 * 1e-4 / end.length, rel=1e-9)
    # the couple N h/2 at one length from the end, held by a pressure linear over it: 6 C / (w l^2)
    assert end.peel == pytest.approx(6 * end.couple / (5.5e-3 * end.length**2), rel=1e-6)
    assert end.couple == pytest.approx(end.axial * 3.5e-3 / 2, rel=1e-9)


def test_each_end_of_a_short_bar_is_told_by_its_own_half():
    """A plate that is stretched on one side of the bar's middle only, as (x - x0)^3, which the mesh holds:
    force at that end, none at the other, by round-off.
    """
    shell = board()

    def one_side(x, y):
        ahead, zero = np.maximum(x - 0.15, 0.0), np.zeros_like(x)
        return np.stack([ahead**3, 3 * ahead**2, zero, 6 * ahead, zero, zero])

    seat = Seat(shell, (0.14, 0.1), (0.16, 0.1), 5.5e-3)
    rib = Rib(seat, 12e-3, RibWood(WOOD.compliance(), WOOD.density), glued_width=False)
    lower, upper = rib_forces(rib, displacement(shell, u=one_side), np.zeros(rib.n_own)).ends
    assert lower.length == upper.length == pytest.approx(0.25 * 0.02)
    assert upper.axial > 0.1 * WOOD.E_L * 5.5e-3 * 12e-3 * 3 * 0.01**2
    assert abs(lower.axial) < 1e-9 * upper.axial
    assert abs(lower.couple) < 1e-9 * upper.couple
