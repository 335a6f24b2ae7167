"""Modes told by their shape: correlations by numpy's own, the choice among them case by case."""

from itertools import permutations
from types import SimpleNamespace

import numpy as np
import pytest

from platemodel.study.top.recognise import (
    Naming,
    ShapeBasis,
    follow,
    likeness,
    mac,
    name_by,
    patterns,
    recognise,
)

SHAPE = (23, 17)


@pytest.fixture(scope="module")
def grid():
    """Points of a plate 0.35 x 0.2 m that is not laid about zero."""
    x, y = np.meshgrid(np.linspace(0.0, 0.35, SHAPE[0]), np.linspace(-0.12, 0.08, SHAPE[1]), indexing="ij")
    return SimpleNamespace(points=np.stack([x.ravel(), y.ravel()]))


def test_patterns_are_free_of_rigid_motion(grid):
    """Of length 1, and square to shifts and turns. On a rectangle x and y squared, less their means, are
    so too, so that cross and ring are their difference and their sum, over the root of 2.
    """
    found, (x, y) = patterns(grid), grid.points
    for pattern in found.values():
        assert np.linalg.norm(pattern) == pytest.approx(1.0)
        assert np.abs(pattern @ np.stack([np.ones_like(x), x, y], axis=1)).max() < 1e-12
    u, v = x - x.mean(), y - y.mean()
    along, across = ((w**2 - (w**2).mean()) / np.linalg.norm(w**2 - (w**2).mean()) for w in (u, v))
    assert found[1] == pytest.approx(u * v / np.linalg.norm(u * v))
    assert found[2] == pytest.approx((along - across) / np.sqrt(2))
    assert found[5] == pytest.approx((along + across) / np.sqrt(2))


def test_likeness_is_the_squared_cosine(grid):
    rng = np.random.default_rng(1)
    shapes = rng.normal(size=(grid.points.shape[1], 4))
    found = likeness(grid, shapes)
    for number, pattern in patterns(grid).items():
        cosines = [pattern @ s / np.linalg.norm(pattern) / np.linalg.norm(s) for s in shapes.T]
        assert found[number] == pytest.approx(np.square(cosines))
    other = rng.normal(size=(len(shapes), 3))
    centred = [[np.dot(a, b) ** 2 / (a @ a) / (b @ b) for b in other.T] for a in shapes.T]
    assert mac(shapes, other) == pytest.approx(np.array(centred))


def test_sums_of_known_shapes_are_told_as_the_shapes_themselves(grid):
    """Names from products with the patterns alone, and from all points."""
    rng = np.random.default_rng(2)
    p = patterns(grid)
    shapes = np.column_stack([p[5], p[1], p[2], rng.normal(scale=0.02, size=(len(p[1]), 2))])
    mixing = np.eye(5)[:, [1, 3, 2, 0]] + 0.2 * rng.normal(size=(5, 4))
    assert ShapeBasis.of(grid, shapes).recognise(mixing) == tuple(
        Naming(n.number, n.index, pytest.approx(n.likeness), n.rival)
        for n in recognise(grid, shapes @ mixing)
    )
    assert {n.number: n.index for n in recognise(grid, shapes @ mixing)} == {1: 0, 2: 2, 5: 3}


@pytest.mark.parametrize(
    ("scores", "expected"),
    [
        # each mode once, in the order 1, 2, 5: 2 has to take its second best
        ({1: [0.9, 0.1], 2: [0.8, 0.5]}, {1: (0, None), 2: (1, None)}),
        # nothing that resembles it by 0.35
        ({1: [0.34, 0.2], 2: [0.2, 0.36]}, {2: (1, 0)}),
        # a second one more than 0.35 times as like shares the pattern, the best of them
        ({5: [0.1, 0.30, 0.8, 0.31]}, {5: (2, 3)}),
        ({5: [0.1, 0.27, 0.8, 0.2]}, {5: (2, None)}),
        # what has a name already is no rival
        ({1: [0.1, 0.9], 5: [0.7, 0.6]}, {1: (1, None), 5: (0, None)}),
        ({1: [0.9], 2: [0.9]}, {1: (0, None)}),
    ],
)
def test_names_are_given_once_to_what_is_likest(scores, expected):
    found = name_by({number: np.array(score) for number, score in scores.items()})
    assert {n.number: (n.index, n.rival) for n in found} == expected
    assert all(n.likeness == scores[n.number][n.index] for n in found)


def test_shapes_are_followed_so_that_likeness_is_greatest_in_sum():
    """Against all ways to pair them; where there are fewer of them later, some have become nothing."""
    rng = np.random.default_rng(3)
    first = rng.normal(size=(30, 4))
    second = first[:, [2, 0, 3, 1]] + 1.5 * rng.normal(size=(30, 4))
    table = mac(first, second)
    best = max(permutations(range(4)), key=lambda p: table[np.arange(4), list(p)].sum())
    assert follow(first, second).tolist() == list(best)
    few = follow(first, first[:, [3, 1]])
    assert few.tolist() == [-1, 1, -1, 0]
