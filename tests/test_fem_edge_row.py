"""The row along a boundary by itself, on shapes whose offset is plain."""

import numpy as np
import pytest
import shapely

from platemodel.fem.edge_row import NARROWEST, ROOM_SHARE, SIDE, edge_row, fill_row

WIDE = 0.1


def box(length, width, step, x=0.0, y=0.0):
    """Corners of a rectangle and points between them, counter-clockwise."""
    corners = np.array([[x, y], [x + length, y], [x + length, y + width], [x, y + width]])
    sides = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        count = round(np.hypot(*(b - a)) / step)
        sides.append(a + (b - a) * np.arange(count)[:, None] / count)
    return np.concatenate(sides)


def inset(points, length, width, by):
    """The same points moved square to their sides, at corners to both."""
    out = points.copy()
    for axis, end in ((0, length), (1, width)):
        out[np.abs(points[:, axis]) < 1e-12, axis] += by
        out[np.abs(points[:, axis] - end) < 1e-12, axis] -= by
    return out


@pytest.mark.parametrize("inward", [1, -1])
def test_a_box_gets_a_smaller_box(inward):
    """Inside an outline and outside of a hole the row is as wide as asked for, round the corners too."""
    outline, hole = box(2.0, 1.5, 0.25), box(0.5, 0.5, 0.25, 0.75, 0.5)
    polygon = outline if inward > 0 else hole
    found = edge_row(polygon, inward, WIDE, [outline, hole])
    if inward > 0:
        assert found == pytest.approx(inset(outline, 2.0, 1.5, WIDE), abs=1e-12)
    else:
        assert found - [0.75, 0.5] == pytest.approx(inset(hole - [0.75, 0.5], 0.5, 0.5, -WIDE), abs=1e-12)


@pytest.mark.parametrize("angle", [30, 60, 75])
def test_a_sharp_corner_shortens_the_inner_sides_by_no_more_than_a_share(angle):
    """At a corner of an angle the sides of a row d wide are shorter by d / tan(angle/2) (plane geometry); the
    row is so narrow there that this is no more than `SIDE` of the shorter side.
    """
    half, side = np.radians(angle) / 2, 0.25
    d = np.array([np.cos(half), np.sin(half)])
    arm = side * np.arange(8)[:, None] * d
    polygon = np.concatenate([arm * [1, -1], arm[:0:-1]])
    found = edge_row(polygon, 1, WIDE, [polygon])
    depth = min(WIDE, SIDE * side * np.tan(half))
    if depth < NARROWEST * WIDE:
        depth = 0.0
    assert found[0] == pytest.approx([depth / max(np.sin(half), 0.3), 0.0], abs=1e-12)
    # two points further on the row is as wide as asked for, unless the other arm is near
    away = np.abs(found[4] - polygon[4]) @ [np.sin(half), np.cos(half)]
    room = ROOM_SHARE * side * 4 * np.tan(2 * half) if angle < 45 else np.inf
    assert away == pytest.approx(min(WIDE, room), abs=1e-9)


@pytest.mark.parametrize(("room", "share"), [(0.20, 1.0), (0.13, 1.0), (0.11, 0.0)])
def test_a_narrow_place_gets_a_narrower_row(room, share):
    """Between two boundaries the row takes `ROOM_SHARE` of the way across; where that is less than
    `NARROWEST` of what was asked for there is none.
    """
    outline = box(2.0, room, room)
    found = edge_row(outline, 1, WIDE, [outline])
    if share == 0.0:
        assert found is None
    else:
        assert found == pytest.approx(inset(outline, 2.0, room, ROOM_SHARE * room), abs=1e-9)


@pytest.mark.parametrize("first", range(0, 32, 3))
def test_where_the_boundary_begins_does_not_matter(first):
    """A closed line has no first point: neither of what gets the row nor of what the row keeps clear of."""
    outline, stick = box(2.0, 0.13, 0.13), box(0.3, 0.02, 0.02, 0.7, 0.2)
    wide = box(2.0, 1.5, 0.125)
    found = edge_row(np.roll(outline, -first, axis=0), 1, WIDE, [np.roll(outline, -first, axis=0)])
    assert np.roll(found, first, axis=0) == pytest.approx(edge_row(outline, 1, WIDE, [outline]), abs=1e-12)
    expected = edge_row(wide, 1, WIDE, [wide, stick])
    assert edge_row(wide, 1, WIDE, [wide, np.roll(stick, -first, axis=0)]) == pytest.approx(
        expected
    )


def test_the_row_widens_by_steps():
    """Beside a narrow place it is at most half a wanted width wider from one point to the next."""
    outline = box(2.0, 1.5, 0.25)
    stick = box(0.1, 1.37, 0.1, 0.95, 0.0001)  # its end is 0.13 from the far side
    found = edge_row(outline, 1, WIDE, [outline, stick])
    far = (np.abs(outline[:, 1] - 1.5) < 1e-12) & (outline[:, 0] > 0.2) & (outline[:, 0] < 1.8)
    depth = dict(zip(outline[far, 0].round(3), (outline - found)[far, 1], strict=True))
    assert depth[1.0] == pytest.approx(ROOM_SHARE * 0.1299)
    assert depth[0.75] == depth[1.25] == pytest.approx(ROOM_SHARE * 0.1299 + 0.5 * WIDE)
    assert depth[0.5] == depth[1.5] == pytest.approx(WIDE)


def test_points_without_a_row_keep_their_place():
    outline = box(2.0, 1.5, 0.25)
    without = np.abs(outline[:, 0]) < 1e-12
    found = edge_row(outline, 1, WIDE, [outline], without)
    assert np.array_equal(found[without], outline[without])
    moved = np.abs(found - outline).sum(axis=1) > 0.0
    assert np.array_equal(moved, ~without)


@pytest.mark.parametrize("divided", [0, 1, 3])
@pytest.mark.parametrize("left_out", [False, True])
def test_the_row_is_filled_once(divided, left_out):
    """What lies between boundary and inner line is covered, by triangles none of which is flat, though a
    mesher may have divided the inner sides.
    """
    outline = box(2.0, 1.5, 0.25)
    inner = inset(outline, 2.0, 1.5, WIDE)
    if left_out:
        inner[3:7] = outline[3:7]
    steps = np.arange(divided + 1)[:, None, None] / (divided + 1)
    on_inner = (inner + (np.roll(inner, -1, axis=0) - inner) * steps).reshape(-1, 2)
    p = np.concatenate([[[1.0, 0.75]], on_inner[::-1]]).T
    points, triangles = fill_row(outline, inner, p)
    whole = np.concatenate([p.T, points])
    corners = whole[triangles.T]
    a, b, c = corners.swapaxes(0, 1)
    areas = 0.5 * np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    ring = shapely.Polygon(outline).area - shapely.Polygon(inner).area
    assert areas.sum() == pytest.approx(ring, rel=1e-12)
    assert shapely.union_all(shapely.polygons(corners)).area == pytest.approx(ring, rel=1e-9)
    assert areas.min() > 0.5 * WIDE * 0.15 / (divided + 1) * 0.999  # on the shortest side, next to a corner
    assert len(points) == (len(outline) - 4 * left_out)
