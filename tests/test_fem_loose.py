"""Rigid motions that supports leave: those, and no others, move no support."""

import numpy as np
import pytest

from platemodel.fem import (
    Section,
    Shell,
    System,
    boundary_facets,
    constant,
    flat,
    hold,
    isotropic_compliance,
    rectangle,
)
from platemodel.fem.supports import hold_point, point_rows

A, B = 0.3, 0.2
X, Y, Z = np.eye(3)


@pytest.fixture(scope="module")
def shell():
    return Shell(
        rectangle(A, B, 3, 2), flat(), Section(constant(3e-3), isotropic_compliance(70e9, 0.33), 2700.0)
    )


def held(shell, name):
    left = boundary_facets(shell.mesh, "left")
    return {
        "hinge on the left": (hold(shell, left),),
        "hinge that slides": (hold(shell, left, [X, Z]),),
        "a corner": (hold_point(shell, (A, B)),),
        "two corners": (hold_point(shell, (0, 0)), hold_point(shell, (A, B))),
        "two corners, upright": (hold_point(shell, (0, 0), [Z]), hold_point(shell, (A, 0), [Z])),
    }[name]


@pytest.mark.parametrize(
    ("name", "count"),
    [
        ("hinge on the left", 1),
        ("hinge that slides", 2),
        ("a corner", 3),
        ("two corners", 1),
        ("two corners, upright", 4),
    ],
)
def test_loose_motions_move_no_support_and_strain_nothing(shell, name, count):
    """Their number is six less the conditions that a rigid body feels, counted by hand; round-off 1e-9."""
    supports = held(shell, name)
    system = System(shell, (), supports)
    loose = system.loose_motions()
    assert loose.shape == (shell.n_dofs, count)
    assert np.linalg.matrix_rank(loose, tol=1e-6 * np.abs(loose).max()) == count
    rigid = system.rigid_motions()
    for support in supports:
        largest = np.abs(support.rows @ rigid).max()
        assert np.abs(support.rows @ loose).max() < 1e-9 * largest
    inside = np.linalg.lstsq(rigid, loose, rcond=None)[0]
    assert rigid @ inside == pytest.approx(loose, abs=1e-9 * np.abs(loose).max())


def test_a_flap_swings_about_its_hinge(shell):
    """Held along x = 0 a plate turns about that edge: it rises in proportion to x, all across alike."""
    swing = System(shell, (), held(shell, "hinge on the left")).loose_motions()[:, 0]
    x, y = np.array([0.1, 0.2, 0.29]), np.array([0.01, 0.1, 0.19])
    rise = point_rows(shell, np.stack([x, y]), Z) @ swing
    assert rise / x == pytest.approx(np.full(3, rise[0] / x[0]), rel=1e-9)
    assert np.abs(point_rows(shell, np.stack([x, y]), X) @ swing).max() < 1e-9 * np.abs(rise).max()
