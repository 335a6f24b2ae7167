"""Readings and tracings on their way to a shape: what is thinned, what is a corner, what a few readings give.

Fields through readings are regressions, computed on 2026-12-01, to 0.01 mm: a caliper reads no finer, and
another version of a solver moves them by less. Loops are worked by hand.
"""

import numpy as np
import pytest

from platemodel.instrument import arching, thickness
from platemodel.instrument.loops import (
    arc_length,
    find_corners,
    joined,
    oriented,
    resampled,
    smoothed_loop,
    thinned,
)
from platemodel.instrument.presets import preset_top
from tests.test_instrument_drawn import X, Y, numbers

MM = 1e-3
# mm: line by line from the axis outwards, then the scatter that is left over.
FIELDS = numbers("""
thick: 3.04 2.86 2.521 3.068 2.579 2.869 2.974 3.033 2.879 2.683 3.062 2.654 2.903 2.975 2.935 2.771 2.84
  2.898 2.755 2.847 2.933 2.832 2.825 2.949 2.771 2.813 2.784 2.856 0.006
thick edge: 3.188 2.843 2.545 3.052 2.599 2.866 2.971 3.248 2.856 2.684 3.04 2.662 2.902 2.932 3.483
  2.804 2.83 2.911 2.747 2.86 2.839 3.843 3.023 2.934 3.593 3.163 2.768 3.27 0.045
arch: 8.044 14.01 14.195 14.972 14.988 13.572 11.012 7.621 12.691 12.525 13.936 14.619 12.568 10.438
  6.472 9.467 8.825 9.409 11.297 9.989 9.091 5.032 5.937 5.731 5.086 6.455 6.478 7.116 0.012
arch noise: 7.595 14.093 14.168 15.008 15.1 13.444 10.9 7.205 12.825 12.534 14.264 14.73 12.572 10.385
  6.145 9.476 9.023 9.451 10.577 10.167 8.917 4.917 5.859 5.733 4.433 4.809 6.162 7.033 0.102
""")
READ = {
    "thick": lambda line, x, y, h, _: thickness.from_points(line, x, y, h),
    "thick edge": lambda line, x, y, h, _: thickness.from_points(line, x, y, h, 4 * MM, 0.05 * MM),
    "arch": lambda line, x, y, _, z: arching.from_points(line, x, y, z, 4 * MM),
    "arch noise": lambda line, x, y, _, z: arching.from_points(line, x, y, z, 4 * MM, 0.1 * MM),
}


@pytest.mark.parametrize("name", READ)
def test_fields_through_readings(name):
    line = preset_top("violin").outline
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(30, 330, 9), np.linspace(-80, 80, 7), indexing="ij"))
    x, y = x * MM, y * MM
    inside = np.abs(y) < 0.85 * line.half_width(x)[1]
    x, y = x[inside], y[inside]
    h = 2.8 + 0.3 * np.cos(40 * x) * np.cos(30 * y) + 0.05 * np.cos(1000 * x + 300 * y)
    z = 4 + 11 * np.cos(4 * (x - 0.17)) * np.cos(y / 0.075) ** 2 + 0.1 * np.cos(900 * x + 500 * y)
    field, half = READ[name](line, x, y, h * MM, z * MM), line.half_width(X)[1]
    found = [field.value(X, share * half) for share in Y]
    assert 1e3 * np.r_[np.ravel(found), field.misfit.scatter] == pytest.approx(FIELDS[name], abs=0.01)


def square(step):
    """A square of side 10 from (0, 0), counter-clockwise, its corners among the points."""
    a = np.arange(0, 10, step)
    o, e = np.zeros(len(a)), np.full(len(a), 10.0)
    return np.vstack([np.c_[a, o], np.c_[e, a], np.c_[10 - a, e], np.c_[o, 10 - a]])


def test_thinned_points_are_as_far_apart_as_asked():
    """Every second of points 1 apart; those exactly as far as asked all stay."""
    p = square(1)
    points, kept = thinned(p, 2.0)
    assert points == pytest.approx(p[::2])
    assert len(kept) == 0
    assert len(thinned(p, 1.0)[0]) == 40
    # from a point that is kept on: 1, 3, 5 and so on; 11 is only 1.4 from 9 across the corner, so 12 is next
    points, kept = thinned(p, 2.0, np.array([1]))
    assert points[:6] == pytest.approx(p[[1, 3, 5, 7, 9, 12]])
    assert np.hypot(*(points[-1] - points[0])) >= 2.0
    assert kept.tolist() == [0]
    # two that are kept stay, as near as they are; what was chosen before the second and is too near goes
    points, kept = thinned(p, 2.0, np.array([0, 3, 4]))
    assert points[:5] == pytest.approx(np.array([[0, 0], [3, 0], [4, 0], [6, 0], [8, 0]], float))
    assert kept.tolist() == [0, 1, 2]
    # 3 does not go into 40: the last one would be 1 from the first, and goes
    points, _ = thinned(p, 3.0)
    assert np.hypot(*(points[-1] - points[0])) >= 3.0
    assert len(points) > 11


def test_corners_by_their_turning():
    """A quarter turn at each corner of a square; of an octagon an eighth, which is less than 46 degrees."""
    assert find_corners(square(1), 2.0, np.radians(89)).tolist() == [0, 10, 20, 30]
    assert find_corners(square(1), 2.0, np.radians(91)).tolist() == []
    t = np.arange(8) / 8 * 2 * np.pi
    octagon = np.c_[np.cos(t), np.sin(t)]
    assert len(find_corners(octagon, 0.5, np.radians(44))) == 8
    assert len(find_corners(octagon, 0.5, np.radians(46))) == 0


def test_two_corners_nearer_than_the_reach_are_one():
    """A corner cut by 0.5: both its ends turn by 45 degrees, the reach of 2 sees one turn of 90 there."""
    p = square(1)
    cut = np.vstack([p[:10], [[9.65, 0.0], [10.0, 0.35]], p[11:]])
    found = find_corners(cut, 2.0, np.radians(42))
    assert len(found) == 4
    # a reach shorter than the cut tells the two ends apart
    assert len(find_corners(cut, 0.3, np.radians(42))) == 5


def test_a_loop_is_turned_counter_clockwise_with_its_corners():
    p = square(1)
    same, corners = oriented(p, np.array([20, 0]))
    assert (same == p).all()
    assert corners.tolist() == [0, 20]
    turned, corners = oriented(p[::-1], np.array([39, 9]))
    assert (turned == p).all()
    assert corners.tolist() == [0, 30]


def test_chains_and_their_lengths():
    assert arc_length(np.array([[0, 0], [3, 4], [3, 10]], float)).tolist() == [0, 5, 11]
    # 11 long at steps of about 2: six of 11 / 6, bent at the corner
    even = resampled(np.array([[0, 0], [3, 4], [3, 10]], float), 2.0)
    assert len(even) == 7
    assert even[0].tolist() == [0, 0]
    assert even[-1].tolist() == [3, 10]
    assert even[3] == pytest.approx([3, 4.5])
    assert len(resampled(np.array([[0, 0], [1, 0]], float), 5.0)) == 2
    loop, corners = joined([[[0, 0], [1, 0], [2, 0]], [[2, 0], [2, 2]], [[2, 2], [0, 0]]])
    assert loop.tolist() == [[0, 0], [1, 0], [2, 0], [2, 2]]
    assert corners.tolist() == [0, 2, 3]


def test_a_smoothed_square_keeps_its_sides_and_corners():
    """Sides without noise stay straight, at the spacing asked for; runs of a few points stay as they are."""
    p = square(1)
    loop, corners = smoothed_loop(p, np.array([0, 10, 20, 30]), 0.5, 1e-6)
    assert loop[corners] == pytest.approx(p[[0, 10, 20, 30]])
    assert len(loop) == 80
    assert loop[:20, 1] == pytest.approx(0.0, abs=1e-5)
    short, corners = smoothed_loop(square(5), np.array([0, 2, 4, 6]), 2.5, 1e-6)
    assert short == pytest.approx(square(2.5))
    assert corners.tolist() == [0, 4, 8, 12]


def test_a_smoothed_circle_has_no_seam():
    """Exact points of radius 1: none leaves it by more than a cubic through 24 of them does, 2e-4."""
    t = np.arange(24) / 24 * 2 * np.pi
    loop, corners = smoothed_loop(np.c_[np.cos(t), np.sin(t)], np.array([], int), 0.1, 1e-6)
    assert len(corners) == 0
    assert len(loop) == 63
    assert np.hypot(*loop.T) == pytest.approx(1.0, abs=2e-4)
    gaps = np.hypot(*(np.roll(loop, -1, axis=0) - loop).T)
    assert gaps == pytest.approx(2 * np.pi / 63, rel=0.01)
