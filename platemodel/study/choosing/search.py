"""Search for the lightest bar that meets targets; else for the nearest, and for what is in the way."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from scipy.optimize import brentq, minimize

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import OF_THE_LINE, ON_THE_LINE, shaped_bar
from platemodel.study.choosing.line_sensitivity import LineSensitivity
from platemodel.study.choosing.targets import EXACT, Target
from platemodel.study.top.figures import figure_text

SCAN = 17  # bars looked at over the range of one free figure
TIGHT = 1e-7  # relative to the range: how closely a limit is found
LOST = -1.0  # margin, over the target, of a figure that does not exist (a mode without a name)
STARTS = ((0.5,), (0.15,), (0.85,))  # of the search with several free figures, of each range


@dataclass(eq=False)
class Search:
    """A bar with free figures, its targets, and what has been computed so far.

    Attributes
    ----------
    effects : LineSensitivity
        Gives the figures of a bar.
    bar : Bar
        All that is not free is as on this bar.
    ranges : dict of str to (float, float)
        Least and most of each free figure, m (the exponent ``power`` without unit).
    goal : str
        Figure to be made small.
    calibration : dict of str to float
        Factors on figures, from a solution in full.
    """

    effects: LineSensitivity
    bar: Bar
    targets: tuple[Target, ...]
    ranges: dict[str, tuple[float, float]]
    goal: str = "bar_g"
    calibration: dict[str, float] = field(default_factory=dict)
    _seen: dict = field(default_factory=dict, repr=False)

    @property
    def free(self) -> tuple[str, ...]:
        """Names of the free figures."""
        return tuple(self.ranges)

    def values(self, x: Sequence[float]) -> dict[str, float]:
        """Free figures from their places in the ranges, 0 to 1."""
        return {k: lo + t * (hi - lo) for (k, (lo, hi)), t in zip(self.ranges.items(), x, strict=True)}

    def bar_at(self, x: Sequence[float]) -> Bar:
        """Return the bar there."""
        return shaped_bar(self.bar, **self.values(x))

    def figures(self, x: Sequence[float]) -> dict[str, float]:
        """Its figures, read smoothly where its line differs."""
        key = tuple(np.round(x, 10))
        if key not in self._seen:
            values = self.values(np.clip(x, 0.0, 1.0))
            self._seen[key] = self.figures_of(
                shaped_bar(self.bar, **{k: v for k, v in values.items() if k in ON_THE_LINE}),
                {k: v for k, v in values.items() if k in OF_THE_LINE},
            )
        return self._seen[key]

    def figures_of(self, on_line: Bar, changes: dict[str, float]) -> dict[str, float]:
        """Figures of a bar on the line, with its line then changed."""
        softness = self.effects.figures.softness
        found = self.effects.of(on_line, changes, softness) if changes else self.effects.figures.of(on_line)
        return {k: v * self.calibration.get(k, 1.0) for k, v in found.items()}

    def calibrate(self, x: Sequence[float], true: dict[str, float]) -> None:
        """Make the figures at a place agree with those solved there in full."""
        read = self.figures(x)
        for name, value in true.items():
            if read[name] > 0 and value > 0:
                self.calibration[name] = self.calibration.get(name, 1.0) * value / read[name]
        self._seen.clear()

    def shares(self, x: Sequence[float], only: Sequence[int] | None = None) -> np.ndarray:
        """Margins over their targets: (targets,)."""
        found = self.figures(x)
        picked = self.targets if only is None else [self.targets[i] for i in only]
        return np.nan_to_num(np.array([t.share(found[t.figure]) for t in picked]), nan=LOST)

    @property
    def limits(self) -> list[int]:
        """Targets that are limits of the height: kept where they can be, whatever else is missed."""
        return [i for i, t in enumerate(self.targets) if t.figure == "height_mm"]

    def met(self, x: Sequence[float]) -> np.ndarray:
        """Whether each target is met: bool array (targets,)."""
        found = self.figures(x)
        return np.array([t.met(found[t.figure]) for t in self.targets], dtype=bool)


@dataclass(frozen=True)
class Conflict:
    """Targets that no bar of the ranges meets together.

    Attributes
    ----------
    targets : tuple of int
        Places in the list of targets; one alone cannot be met at all.
    """

    targets: tuple[int, ...]
    text: str


@dataclass(frozen=True, eq=False)
class Found:
    """Where a search ended.

    Attributes
    ----------
    x : array (free figures,)
        Of each range.
    met : bool
        All targets are met; else it is the bar whose worst miss, relative to its target, is least, within the
        limits of the height.
    """

    x: np.ndarray
    met: bool
    conflicts: tuple[Conflict, ...]


def search(problem: Search, near: np.ndarray | None = None) -> Found:
    """Find the bar; with several free figures the search may begin near a place that is known."""
    return _search_one(problem) if len(problem.free) == 1 else _search_many(problem, near)


# ---------------------------------------------------------------- one free figure


def _search_one(problem):
    places = candidates(problem)
    met = np.array([problem.met([t]) for t in places]).reshape(len(places), -1)
    goal = np.array([problem.figures([t])[problem.goal] for t in places])
    good = met.all(axis=1)
    if good.any():
        best = places[int(np.argmin(np.where(good, goal, np.inf)))]
        return Found(np.array([best]), True, ())
    inside = places[met[:, problem.limits].all(axis=1)]
    inside = inside if len(inside) else places
    soft = _soft(problem)
    worst = np.array([problem.shares([t], soft).min() for t in inside])
    k = int(np.argmax(worst))
    low, high = inside[max(k - 1, 0)], inside[min(k + 1, len(inside) - 1)]
    best = _refined(lambda t: float(problem.shares([t], soft).min()), low, high, inside[k])
    return Found(np.array([best]), False, _conflicts_one(problem, places, met))


def _soft(problem):
    """Targets that may be missed: all but limits of the height, unless there is nothing else."""
    return [i for i in range(len(problem.targets)) if i not in problem.limits] or problem.limits


def candidates(problem: Search) -> np.ndarray:
    """Places to try: evenly spread, and every place where a target begins or ceases to be met."""
    grid = np.linspace(0.0, 1.0, SCAN)
    out = list(grid)
    values = np.array([problem.shares([t]) for t in grid]).reshape(SCAN, -1)
    for i, target in enumerate(problem.targets):
        ends = [values[:, i]]
        limits = [lambda t, i=i: float(problem.shares([t], [i])[0])]
        if target.sense == "equal to":  # a band narrower than the grid is found by its middle
            limits.append(lambda t, g=target: problem.figures([t])[g.figure] / g.value - 1.0)
            ends.append(np.array([limits[1](t) for t in grid]))
        for limit, at in zip(limits, ends, strict=True):
            for k in np.flatnonzero(np.sign(at[1:]) * np.sign(at[:-1]) < 0):
                root = brentq(limit, grid[k], grid[k + 1], xtol=TIGHT)
                out += [root, *_edges(problem, i, root, grid[k], grid[k + 1])]
    return np.unique(np.clip(out, 0.0, 1.0))


def _edges(problem, i, root, low, high):
    """Points beside a root: both sides of it, and the ends of a band about it."""
    out = [root - 2 * TIGHT, root + 2 * TIGHT]
    target = problem.targets[i]
    if target.sense == "equal to":
        for end in (low, high):
            f = [problem.shares([t], [i])[0] for t in (root, end)]
            if f[0] > 0 > f[1]:
                edge = brentq(lambda t: float(problem.shares([t], [i])[0]), root, end, xtol=TIGHT)
                out += [edge, edge - 2 * TIGHT, edge + 2 * TIGHT]
    return out


def _refined(value, low, high, best):
    """Place of the largest value between two others, by thirds."""
    for _ in range(30):
        third = (high - low) / 3.0
        a, b = low + third, high - third
        low, high = (low, b) if value(a) >= value(b) else (a, high)
    middle = 0.5 * (low + high)
    return middle if value(middle) >= value(best) else best


def _conflicts_one(problem, places, met):
    out = []
    name = problem.free[0]
    for i in range(len(problem.targets)):
        if not met[:, i].any():
            out.append(Conflict((i,), f"{_unreachable(problem, i, places[:, None])}."))
    alone = {c.targets[0] for c in out}
    possible = [i for i in range(len(problem.targets)) if i not in alone]
    for i, j in combinations(possible, 2):
        if not (met[:, i] & met[:, j]).any():
            spans = [_span(problem, name, places[met[:, k]]) for k in (i, j)]
            first, second = problem.targets[i], problem.targets[j]
            text = f"{first.text} goes with {spans[0]}, but {second.text} with {spans[1]}."
            out.append(Conflict((i, j), text))
    return tuple(out) or (_all_together(problem),)


def _span(problem, name, places):
    low, high = (problem.values([t])[name] for t in (places.min(), places.max()))
    scale, unit = (1.0, "") if name == "power" else (1e3, " mm")
    if high - low < 1e-9:
        return f"{name} {scale * low:.2f}{unit}"
    return f"{name} {scale * low:.2f} to {scale * high:.2f}{unit}"


def _unreachable(problem, i, places):
    target = problem.targets[i]
    found = np.array([problem.figures(x)[target.figure] for x in places])
    if np.isnan(found).all():
        return f"{target.text}: no mode of this top looks like it"
    k = int(np.nanargmax([target.share(v) for v in found]))
    bar = problem.bar_at(places[k])
    near = f"{figure_text(target.figure, found[k])} {target.unit}".strip()
    return (
        f"{target.text}: within the ranges it gets no nearer than {near}, "
        f"with a bar of {1e3 * bar.heights.max():.1f} mm"
    )


def _all_together(problem):
    text = f"{len(problem.targets)} targets, any two of which can be met, but not all at once."
    return Conflict(tuple(range(len(problem.targets))), text)


# ---------------------------------------------------------------- several free figures


def _search_many(problem, near):
    everything = tuple(range(len(problem.targets)))
    x = _lightest(problem, near)
    if x is not None:
        return Found(x, True, ())
    nearest = _nearest(problem, _soft(problem), limits=problem.limits)
    out = []
    for i in everything:
        x = _nearest(problem, (i,))
        if problem.shares(x, (i,))[0] < -EXACT:
            out.append(Conflict((i,), f"{_unreachable(problem, i, [x])}."))
    alone = {c.targets[0] for c in out}
    for i, j in combinations([k for k in everything if k not in alone], 2):
        if problem.shares(_nearest(problem, (i, j)), (i, j)).min() < -EXACT:
            text = f"{problem.targets[i].text}, but {problem.targets[j].text}: each can be met, not both."
            out.append(Conflict((i, j), text))
    return Found(nearest, False, tuple(out) or (_all_together(problem),))


def _lightest(problem, near):
    """Sequential quadratic programming from a few starts; None where no end meets all targets."""
    n = len(problem.free)
    scale = problem.figures([0.5] * n)[problem.goal]
    limits = [{"type": "ineq", "fun": lambda x: problem.shares(x)}]
    best, value = None, np.inf
    for start in STARTS if near is None else (near,):
        x0 = np.full(n, start[0]) if near is None else near
        if problem.shares(x0).min() < 0:
            x0 = _nearest(problem, _soft(problem), x0, problem.limits)
        found = minimize(
            lambda x: problem.figures(x)[problem.goal] / scale, x0, method="SLSQP",
            bounds=[(0.0, 1.0)] * n, constraints=limits, options={"maxiter": 40, "ftol": 1e-6, "eps": 1e-4},
        )  # fmt: skip
        for x in (np.clip(found.x, 0.0, 1.0), x0):
            now = problem.figures(x)[problem.goal]
            if problem.shares(x).min() > -EXACT and now < value:
                best, value = x, now
        if best is not None and found.success:
            break
    return best


def _nearest(problem, only, x0=None, limits=()):
    """Place where the worst relative margin of some targets is largest, with a variable for that margin.

    ``limits`` are targets to be met all the while.
    """
    n = len(problem.free)
    only, limits = list(only), [i for i in limits if i not in only]
    kept = [{"type": "ineq", "fun": lambda z: problem.shares(z[:-1], only) - z[-1]}]
    if limits:
        kept.append({"type": "ineq", "fun": lambda z: problem.shares(z[:-1], limits)})
    best, value = None, -np.inf
    for start in STARTS if x0 is None else (x0,):
        x = np.full(n, start[0]) if x0 is None else np.asarray(x0)
        z0 = np.append(x, min(problem.shares(x, only).min(), 0.02))
        found = minimize(
            lambda z: -z[-1], z0, method="SLSQP", bounds=[(0.0, 1.0)] * n + [(-2.0, 1e-3)],
            constraints=kept,
            options={"maxiter": 40, "ftol": 1e-6, "eps": 1e-4},
        )  # fmt: skip
        for y in (np.clip(found.x[:-1], 0.0, 1.0), x):
            now = problem.shares(y, only).min()
            if limits and problem.shares(y, limits).min() < -EXACT:
                now -= 10.0  # only if there is nothing else
            if now > value:
                best, value = y, now
        if value >= 0:
            break
    return best
