"""Small geometry of the meshes: where a row along an edge is left out, how far a rib's plate reaches."""

import numpy as np
import pytest
import skfem

from platemodel.errors import GeometryError
from platemodel.fem.edge_row import ROOM_SHARE, _flattest, _trouble, edge_row
from platemodel.fem.reach import clear_reach


def test_smallest_angle_of_triangles():
    """3, 4, 5: arctan 3/4; an even one: 60 degrees; one without a side counts as right."""
    a = np.array([[0, 0], [0, 0], [0, 0]], float)
    b = np.array([[4, 0], [1, 0], [0, 0]], float)
    c = np.array([[4, 3], [0.5, np.sqrt(0.75)], [1, 0]], float)
    assert _flattest(a, b, c) == pytest.approx([np.arctan(0.75), np.pi / 3, np.pi / 2])


@pytest.mark.parametrize(("depth", "bad"), [(0.03, True), (0.08, False)])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_row_that_would_be_too_flat_is_left_out(depth, bad, mirrored):
    """One corner moved in; on the long side beside it 0.03 makes 1.8 degrees, 0.08 makes 5: 4 are asked."""
    outer = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0.1]], float)
    moved = np.array([True, False, False, False, False])
    if mirrored:  # then the long side comes before the corner
        outer, moved = outer[::-1, ::-1], moved[::-1]
    inner = outer + moved[:, None] * depth
    assert _trouble(outer, inner, moved, []).tolist() == (moved & bad).tolist()


def test_how_far_a_rib_may_reach():
    """Half its width where it stands free; 2 mm from an edge 0.4 of 5 mm, less 0.02; never across it."""
    mesh = skfem.MeshTri.init_tensor(np.linspace(0, 0.3, 4), np.linspace(0, 0.2, 3))
    width = np.full(4, 5e-3)
    assert clear_reach(mesh, np.array([0.05, 0.1]), np.array([0.2, 0.02]), width) == 0.5
    near = clear_reach(mesh, np.array([0.05, 0.002]), np.array([0.2, 0.0]), width)
    assert near == pytest.approx(0.4 - 0.02)
    # from (200, 100) on at 27 degrees it crosses the edge at x = 300 in the middle one of three stretches
    with pytest.raises(GeometryError, match=r"near \(266.7, 133.3\) mm"):
        clear_reach(mesh, np.array([0.2, 0.1]), np.array([0.2, 0.1]), width)
    with pytest.raises(GeometryError, match=r"less than 0.3 of its width"):
        clear_reach(mesh, np.array([0.05, 0.0014]), np.array([0.2, 0.0]), width)


def test_a_row_whose_side_shrinks_too_far_is_left_out():
    """Two corners of a square moved towards each other: 0.12 of their side is too little, 0.4 is not."""
    outer = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
    moved = np.array([True, True, False, False])
    for far, bad in ((0.44, True), (0.3, False)):
        inner = outer + np.array([[far, 0.2], [-far, 0.2], [0, 0], [0, 0]])
        assert _trouble(outer, inner, moved, []).tolist() == [bad, bad, False, False]


def test_row_leaves_room_for_the_row_of_the_next_boundary():
    """A small hole 20 mm from a square's corner, on the diagonal: of that way the row takes the share that is
    allowed, along the diagonal, though it is measured square to the sides. Far from the hole it has all its
    width.
    """
    side, wide, away = 0.02, 0.01, 0.02
    line, zero, one = np.arange(5) * side, np.zeros(5), np.full(5, 0.1)
    sides = ((line, zero), (one, line), (0.1 - line, one), (zero, 0.1 - line))
    square = np.concatenate([np.stack(p, axis=1) for p in sides])
    middle = (away + 3e-3) / np.sqrt(2.0)
    hole = middle + 3e-3 / np.sqrt(2.0) * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    inner = edge_row(square, 1, wide, [square, hole])
    assert inner[0] == pytest.approx(ROOM_SHARE * away / np.sqrt(2.0) * np.ones(2), rel=1e-9)
    assert inner[7] == pytest.approx([0.1 - wide, 0.04], rel=1e-9)
