"""Recognises plate modes by their shape, and finds the same mode again after a change."""

from dataclasses import dataclass

import numpy as np

from platemodel.study.top.sampling import PlanGrid

# Numbers and names of the free-plate literature (Hutchins, The acoustics of violin plates, Sci. Am. 245(4),
# 1981, from memory for the numbering).
KNOWN = {1: "twist", 2: "cross", 5: "ring"}
CLEAR = 0.35  # least likeness to be named at all
SHARED = 0.35  # second best over best, from which a shape counts as spread over two modes


@dataclass(frozen=True)
class Naming:
    """One known mode found among the computed ones.

    Attributes
    ----------
    number : int
        1, 2 or 5.
    index : int
        Position among the computed modes, from 0.
    likeness : float
        Square of the correlation with the mode's pattern, 0 to 1.
    rival : int or None
        Another mode that shares the pattern.
    """

    number: int
    index: int
    likeness: float
    rival: int | None


def patterns(grid: PlanGrid) -> dict[int, np.ndarray]:
    """Plain patterns of modes 1, 2 and 5 on the grid's points, free of rigid motion: number -> (m,).

    Twist is x y. In cross and ring the plate bends lengthwise and crosswise at once: against each other in
    the cross, together in the ring.
    """
    x, y = grid.points
    x, y = x - x.mean(), y - y.mean()
    rigid, _ = np.linalg.qr(np.stack([np.ones_like(x), x, y], axis=1))

    def clean(v):
        v = v - rigid @ (rigid.T @ v)
        return v / np.linalg.norm(v)

    along, across = clean(x**2), clean(y**2)
    return {1: clean(x * y), 2: clean(along - across), 5: clean(along + across)}


def likeness(grid: PlanGrid, shapes: np.ndarray) -> dict[int, np.ndarray]:
    """Squared correlation of shapes (m, k) with each pattern: number -> (k,)."""
    norm = (shapes**2).sum(axis=0)
    return {number: (p @ shapes) ** 2 / norm for number, p in patterns(grid).items()}


def recognise(grid: PlanGrid, shapes: np.ndarray) -> tuple[Naming, ...]:
    """Find modes 1, 2 and 5 among shapes by what they look like, not by their order.

    Parameters
    ----------
    shapes : array (m, k)
        Normal displacement at the grid's points.

    Returns
    -------
    tuple of Naming
        In the order 1, 2, 5; a mode that nothing resembles is left out.
    """
    return name_by(likeness(grid, shapes))


def name_by(scores: dict[int, np.ndarray]) -> tuple[Naming, ...]:
    """Name modes by their likeness to the patterns; see `likeness` and `recognise`."""
    out, taken = [], set()
    for number, score in scores.items():
        order = [int(i) for i in np.argsort(score)[::-1] if int(i) not in taken]
        if not order or score[order[0]] < CLEAR:
            continue
        best = order[0]
        taken.add(best)
        rival = next((i for i in order[1:] if score[i] > SHARED * score[best]), None)
        out.append(Naming(number, best, float(score[best]), rival))
    return tuple(out)


@dataclass(frozen=True, eq=False)
class ShapeBasis:
    """Shapes of which others are sums, as far as `recognise` looks at them.

    Attributes
    ----------
    along : dict of int to array (k,)
        Product of each pattern with each shape.
    gram : array (k, k)
        Products of the shapes with one another.
    """

    along: dict[int, np.ndarray]
    gram: np.ndarray

    @classmethod
    def of(cls, grid: PlanGrid, shapes: np.ndarray) -> "ShapeBasis":
        """From shapes (m, k) at the grid's points."""
        return cls({number: p @ shapes for number, p in patterns(grid).items()}, shapes.T @ shapes)

    def recognise(self, coefficients: np.ndarray) -> tuple[Naming, ...]:
        """Find modes 1, 2 and 5 among sums of the shapes with coefficients (k, m)."""
        norm = (coefficients * (self.gram @ coefficients)).sum(axis=0)
        return name_by({number: (p @ coefficients) ** 2 / norm for number, p in self.along.items()})


def mac(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Modal assurance criterion between two sets of shapes on the same points.

    Parameters
    ----------
    first, second : array (m, k), (m, l)

    Returns
    -------
    array (k, l)
        Squared cosines, 1 for equal shapes (Allemang & Brown 1982, from memory).
    """
    product = (first.T @ second) ** 2
    return product / np.outer((first**2).sum(0), (second**2).sum(0))


def follow(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """For each shape of the first set, the shape of the second that it has become: int array (k,).

    The pairs are chosen together so that their likeness is greatest in sum and none is used twice.
    """
    from scipy.optimize import linear_sum_assignment

    rows, columns = linear_sum_assignment(-mac(first, second))
    out = np.full(first.shape[1], -1)
    out[rows] = columns
    return out
