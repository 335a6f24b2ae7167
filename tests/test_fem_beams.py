"""Frames of beams, alone: against closed forms of cantilevers and bars."""

import numpy as np
import pytest
from scipy.linalg import eigh

from platemodel.fem.beams import Beam, Frame

E, G, RHO, L, B, D = 10e9, 0.8e9, 600.0, 0.3, 0.03, 0.02


def cantilever(count=8, axis=(1.0, 0.0, 0.0), lumps=()):
    nodes = np.linspace(0, L, count + 1)[:, None] * np.asarray(axis) / np.linalg.norm(axis)
    beams = tuple(Beam.rectangle(k, k + 1, B, D, E, G, RHO) for k in range(count))
    return Frame(nodes, beams, lumps)


def matrices(frame):
    """Root held."""
    return tuple(part.matrix().toarray()[6:, 6:] for part in frame.squares(frame.own, 0))


@pytest.mark.parametrize("axis", [(1, 0, 0), (0, 1, 0), (1, 0.5, 0.3)])
def test_tip_of_a_cantilever(axis):
    """Force F at the tip: sideways F L^3/3EI, along F L/EA; torque: M L/GJ (textbook)."""
    frame = cantilever(axis=axis)
    k, _ = matrices(frame)
    x = np.asarray(axis) / np.linalg.norm(axis)
    y = np.cross((0, 0, 1), x)
    y = y / np.linalg.norm(y)
    z = np.cross(x, y)
    give = np.linalg.inv(k)[-6:, -6:]
    assert z @ give[:3, :3] @ z == pytest.approx(L**3 / (3 * E * B * D**3 / 12), rel=1e-6)
    assert y @ give[:3, :3] @ y == pytest.approx(L**3 / (3 * E * D * B**3 / 12), rel=1e-6)
    assert x @ give[:3, :3] @ x == pytest.approx(L / (E * B * D), rel=1e-6)
    assert x @ give[3:, 3:] @ x == pytest.approx(L / (G * frame.beams[0].torsion), rel=1e-6)


def test_torsion_constant_of_a_square():
    """0.1406 a^4 by Saint-Venant's series (Timoshenko & Goodier, art. 109); A^4/40 I_p is 7 % high there."""
    assert Beam.rectangle(0, 1, D, D, E, G, RHO).torsion == pytest.approx(0.1406 * D**4, rel=0.08)


def test_half_round_section():
    """Half a circle: area pi r^2/2, 0.1098 r^4 about its own middle, pi r^4/8 sideways (Roark); torsion
    0.297 r^4 (Saint-Venant, by Roark's table, from memory), which A^4/40 I_p overstates by 2 %.
    """
    r = 0.012
    beam = Beam.half_round(0, 1, 2 * r, r, E, G, RHO)
    assert beam.area == pytest.approx(np.pi * r**2 / 2)
    assert beam.upright == pytest.approx(0.1098 * r**4)
    assert beam.sideways == pytest.approx(np.pi * r**4 / 8)
    assert beam.torsion == pytest.approx(0.297 * r**4, rel=0.03)


def test_first_tones_of_a_cantilever():
    """(1.8751, 4.6941)^2 sqrt(EI/m L^4)/2 pi upwards (Blevins); eight elements within 1e-3."""
    k, m = matrices(cantilever())
    found = np.sqrt(eigh(k, m, eigvals_only=True)) / 2 / np.pi
    for number in (1.87510, 4.69409):
        up = number**2 / 2 / np.pi * np.sqrt(E * D**2 / 12 / RHO / L**4)
        assert np.abs(found / up - 1).min() < 1e-3


@pytest.mark.parametrize("end", [0, 1])
@pytest.mark.parametrize("axis", [(1, 0, 0), (1, 0.5, 0.3)])
def test_inertia_of_a_beam_that_turns_about_either_end(axis, end):
    """m L^2/3 about what is square to it, rho (I + I') L about itself: cubics hold a rigid turn, so that the
    consistent mass gives the integral to round-off, and no stiffness.
    """
    frame = cantilever(count=1, axis=axis)
    turns = frame.rigid(frame.nodes[end])[:, 3:]
    stiff, mass = (part.matrix() for part in frame.squares(frame.own, 0))
    x = np.asarray(axis) / np.linalg.norm(axis)
    polar = RHO * (B * D**3 + D * B**3) / 12 * L
    expected = RHO * B * D * L**3 / 3 * (np.eye(3) - np.outer(x, x)) + polar * np.outer(x, x)
    assert turns.T @ (mass @ turns) == pytest.approx(expected, abs=1e-9 * expected.max())
    assert np.abs(turns.T @ (stiff @ turns)).max() < 1e-9 * stiff.diagonal().max() * L**2


def test_heavy_tip():
    """A heavy lump on a light cantilever: sqrt(3 EI/L^3 M)/2 pi; beam's own mass adds 0.24 of itself
    (Rayleigh), rotation of the lump is given none.
    """
    tip = 5.0
    k, m = matrices(cantilever(lumps=((8, tip, np.zeros((3, 3))),)))
    mass = tip + 33 / 140 * RHO * B * D * L
    expected = np.sqrt(3 * E * B * D**3 / 12 / L**3 / mass) / 2 / np.pi
    assert np.sqrt(eigh(k, m, eigvals_only=True))[0] / 2 / np.pi == pytest.approx(expected, rel=1e-3)


def test_rigid_motions_and_links():
    """A frame on a body that moves rigidly stores nothing, and its inertia is that of its masses; a node
    linked rigidly follows.
    """
    nodes = np.array([[0, 0, 0], [0.1, 0, 0.01], [0.1, 0, 0.04], [0.2, 0.01, 0.05]])
    beams = (Beam.rectangle(0, 1, B, D, E, G, RHO), Beam.rectangle(2, 3, B, D, E, G, RHO))
    frame = Frame(nodes, beams, ((3, 0.1, np.diag([1e-5, 2e-5, 2e-5])),), ((2, 1),))
    motion = frame.rigid(nodes[0])
    stiff, mass = frame.squares(frame.own, 0)
    size = stiff.matrix().diagonal().max()
    assert np.abs(motion.T @ (stiff.matrix() @ motion)).max() < 1e-9 * size
    inertia = motion.T @ (mass.matrix() @ motion)
    assert np.diag(inertia)[:3] == pytest.approx([frame.mass] * 3, rel=1e-6)
    assert frame.rows[2, :3] @ motion[:, 4] == pytest.approx(np.cross((0, 1, 0), nodes[2]))
