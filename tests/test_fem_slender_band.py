"""The strip of slender triangles by itself: it is filled once over, whatever a mesher puts on its rim."""

import numpy as np
import pytest
import shapely

from platemodel.fem.slender_band import ROWS, SlenderBand, divide, fill, rim, slender_rows

WIDTH, LENGTH, SIZE = 6e-3, 0.2, 0.021
WIDE = np.array([[-0.1, -0.1], [0.3, -0.1], [0.3, 0.1], [-0.1, 0.1]])
TOLERANCE = 1e-12


@pytest.fixture(scope="module")
def rows():
    return slender_rows(SlenderBand(np.zeros(2), np.array([LENGTH, 0.0]), WIDTH), SIZE, [WIDE])


def _areas(points, triangles):
    a, b, c = points[triangles]
    return 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])


def _boundary(rows, more):
    """Rim with ``more`` points evenly on each side of start, end, lower and upper cells."""
    corners, out = rim(rows), []
    start, end = rows[0, 0, 0], rows[0, -1, 0]
    for p, q in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        x = (p[0] + q[0]) / 2
        kind = 0 if abs(x - start) < 1e-9 else 1 if abs(x - end) < 1e-9 else 2 if p[1] < 0 else 3
        out += [p + (q - p) * k / (more[kind] + 1) for k in range(more[kind] + 1)]
    return np.array(out)


def test_rows_of_a_straight_band(rows):
    """Symmetric about the middle line, at the flanks and 1.1 widths out; across it at the rib's two ends and
    0.7 widths before and behind them, and between those evenly, no further apart than the size asked for.
    """
    assert rows[:, :, 1] == pytest.approx(
        np.broadcast_to(WIDTH * np.array([[-1.1], [-0.5], [0.5], [1.1]]), rows.shape[:2])
    )
    assert np.ptp(rows[:, :, 0], axis=0).max() < TOLERANCE
    x = rows[0, :, 0]
    near = 0.7 * WIDTH
    assert x[[0, 1, 2, -3, -2, -1]] == pytest.approx([-near, 0, near, LENGTH - near, LENGTH, LENGTH + near])
    inner = np.diff(x[2:-2])
    assert np.ptp(inner) < TOLERANCE
    assert len(inner) == np.ceil((LENGTH - 2 * near) / SIZE)


@pytest.mark.parametrize(
    "more", [(0, 0, 0, 0), (1, 0, 0, 0), (0, 1, 0, 0), (2, 1, 0, 0), (1, 3, 2, 1), (3, 3, 0, 2)], ids=str
)
def test_the_strip_is_filled_once(rows, more):
    """Every point of the rim is a corner, no triangle is flat, and together they have the strip's area; by
    Euler's formula a disc of n points, b of them on its rim, has 2 n - b - 2 triangles.
    """
    boundary = _boundary(rows, more)
    points, triangles = fill(rows, boundary)
    areas = np.abs(_areas(points, triangles))
    assert np.array_equal(points[: len(boundary)], boundary)
    assert len(points) == len(boundary) + (len(rows) - 2) * (rows.shape[1] - 2)
    assert np.array_equal(np.unique(triangles), np.arange(len(points)))
    assert triangles.shape[1] == 2 * len(points) - len(boundary) - 2
    whole = shapely.Polygon(rim(rows)).area
    assert areas.sum() == pytest.approx(whole, rel=1e-12)
    assert shapely.union_all(shapely.polygons(points[triangles.T])).area == pytest.approx(whole, rel=1e-9)
    smallest = 0.5 * (0.6 * WIDTH / (max(more[:2]) + 1)) * (0.7 * WIDTH / (max(more[2:]) + 1))
    assert areas.min() > 0.999 * smallest  # in a corner of the strip, both its sides divided


@pytest.mark.parametrize("lean", [-0.2, 0.2])
def test_the_shorter_diagonal_is_taken(rows, lean):
    """Cells that lean, the two lower rows shifted along against the upper ones: every diagonal between them
    runs against the lean, by the cell's length less the shift.
    """
    shifted = rows.copy()
    shifted[:2, :, 0] -= lean * WIDTH
    points, triangles = fill(shifted, rim(shifted))
    pairs = np.concatenate([triangles[[0, 1]], triangles[[1, 2]], triangles[[0, 2]]], axis=1)
    step = points[pairs[1]] - points[pairs[0]]
    step *= np.sign(step[:, 1:])
    step = step[np.abs(step[:, 1] - WIDTH) < 1e-9, 0]
    diagonals = np.unique(np.round(step[np.abs(step - lean * WIDTH) > 1e-9], 9))
    cells = np.unique(np.round(np.diff(rows[0, :, 0]), 9))
    assert np.sort(np.abs(diagonals)) == pytest.approx(cells - 0.2 * WIDTH, abs=1e-9)
    assert np.all(np.sign(diagonals) == -np.sign(lean))


def test_points_of_a_side_are_put_in_order():
    """Those that lie on it between its ends; not what lies at the ends, beyond them or beside it."""
    points = [(0, 0), (1, 0), (0.75, 0), (0.25, 0), (1.5, 0), (-0.5, 0), (0.5, 0.1), (0.5, -0.1)]
    points += [(1, 1), (1, 0.5)]
    found = divide([0, 1, 8], range(len(points)), points, 1e-6)
    assert found == [0, 3, 2, 1, 9, 8]


@pytest.mark.parametrize("side", [1, -1])
def test_a_strip_gives_way_to_what_is_near(side):
    """A hole beside the middle line pulls the rows of its side in, where it is near and nowhere else: the
    outer one to 0.85 of what is free, the inner one to three quarters of that; nearer than a fifth of a width
    there is no strip.
    """

    def with_hole(free):
        y = np.array([free, free, 0.03, 0.03])
        hole = np.stack([[0.09, 0.11, 0.11, 0.09], side * y], axis=1)
        band = SlenderBand(np.zeros(2), np.array([LENGTH, 0.0]), WIDTH)
        return slender_rows(band, SIZE, [WIDE, hole])

    free = 3e-3
    pulled = with_hole(free)
    x = pulled[0, :, 0]
    out, inner = (side * pulled[::side][k, :, 1] for k in (-1, -2))
    at = (x > 0.09 - SIZE) & (x < 0.11 + SIZE)
    assert out[at].min() == pytest.approx(0.85 * free)
    assert inner[at].min() == pytest.approx(0.75 * 0.85 * free)
    assert out[~at] == pytest.approx(ROWS[-1] * WIDTH)
    assert inner[~at] == pytest.approx(ROWS[0] * WIDTH)
    other = side * pulled[::side][:2, :, 1]
    assert other == pytest.approx(np.broadcast_to(-WIDTH * ROWS[::-1, None], other.shape))
    assert with_hole(0.21 * WIDTH) is not None
    assert with_hole(0.19 * WIDTH) is None
