"""Stresses of a loaded top and bar against handbook strengths, as margins with their band."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.strings import SetUp
from platemodel.study.top.meshed_top import MeshedTop
from platemodel.wood.strength import Strength, k_mod, usual_strength

POST_ZONE = 4.0  # post diameters about the post, where post and treble foot pinch the plate
END_CLEAR = 1.5  # rib heights at the ends of a bar that only `EndLoad` describes
COLUMNS = (
    "part", "what", "where", "x_mm", "y_mm", "stress_low_mpa", "stress_high_mpa", "strength_mpa", "k_mod",
    "long_term_mpa", "margin", "margin_low", "margin_high",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Solved:
    """Stresses and forces compared with strengths: brackets of `ShellStress`, `RibForces` and post force (N).

    Attributes
    ----------
    loads : (float, float)
        On bass and treble foot, N.
    stress, forces, post_force : Bracket
    """

    model: MeshedTop
    bar: Bar | None
    set_up: SetUp
    loads: tuple[float, float]
    stress: object
    forces: object
    post_force: object


@dataclass(frozen=True)
class _Worst:
    """Largest stress (Pa) of a kind with one rim, and where."""

    stress: float
    where: str
    x: float
    y: float


def strength_margins(solved: Solved, service_class: int = 1, duration: str = "permanent") -> pd.DataFrame:
    """Worst stress of each kind against what the wood bears, by default for decades.

    Parameters
    ----------
    service_class : {1, 2, 3}
        Of EN 1995-1-1.
    duration : str
        How long the load stays; see `wood.strength.k_mod`.

    Returns
    -------
    DataFrame
        ``part``, ``what``, ``where``, ``x_mm``, ``y_mm`` (worst place, of the rim that gives the larger
        stress), ``stress_low_mpa`` and ``stress_high_mpa`` (the two rims), ``strength_mpa`` (handbook mean,
        minutes), ``k_mod``, ``long_term_mpa`` (their product), ``margin`` (over the mean of the two rims),
        ``margin_low`` (5 % fractile of the strength over the larger stress), ``margin_high`` (95 % over the
        smaller). A joint that is pressed together has an infinite margin against peel.

    Notes
    -----
    Small clear specimens: no safety factor, no knots, cracks or worm, no effect of size, stresses one by one.
    """
    top_strength = usual_strength(solved.model.top.wood)
    kept = k_mod(duration, service_class)
    rows = [*_top_rows(solved, top_strength, kept), *_pressed_rows(solved, top_strength, kept)]
    if solved.forces is not None:
        rows += _bar_rows(solved, usual_strength(solved.bar.wood), top_strength, kept)
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _row(part, what, pair, limit: Strength, kind, kept):
    """One line of the table from the worst stresses with the two rims."""
    worse = max(pair, key=lambda w: w.stress)
    low, high = sorted(max(w.stress, 0.0) for w in pair)
    mean, (weak, strong) = getattr(limit, kind), limit.bounds(kind)

    def over(strength, stress):
        return kept * strength / stress if stress > 1e-3 else np.inf

    place = (1e3 * worse.x, 1e3 * worse.y)
    numbers = (low / 1e6, high / 1e6, mean / 1e6, kept, kept * mean / 1e6)
    margins = (over(mean, 0.5 * (low + high)), over(weak, high), over(strong, low))
    return (part, what, worse.where, *place, *numbers, *margins)


def _both(bracket, function):
    return function(bracket.sliding), function(bracket.held)


def _top_rows(solved, limit, kept):
    wanted = (
        ("along the grain, tension", "along", 1.0, "bending"),
        ("along the grain, compression", "along", -1.0, "compression_along"),
        ("across the grain, tension", "across_tension", 1.0, "tension_across"),
        ("across the grain, compression", "across_compression", -1.0, "compression_across"),
        ("shear along the grain", "shear", 1.0, "shear"),
    )
    post = solved.set_up.post
    zones = [("top", False)]
    if max(_both(solved.post_force, float)) > 0:
        zones.append(("top by the post", True))
    for part, near in zones:
        for what, name, sign, kind in wanted:
            pair = _both(
                solved.stress,
                lambda s, n=name, g=sign, near=near: _worst_of_faces(s, n, g, _zone(solved, s, post, near)),
            )
            yield _row(part, what, pair, limit, kind, kept)


def _zone(solved, stress, post, near):
    """Points by the post, or away from it; without a post all are away."""
    if max(_both(solved.post_force, float)) == 0:
        return np.full(stress.points.shape[1], not near)
    place = post.place(solved.model.top.bridge)
    gap = np.hypot(*(stress.points - place[:, None]))
    return (gap < POST_ZONE * post.diameter) == near


def _worst_of_faces(stress, name, sign, zone):
    found = []
    for face, values in stress.faces.items():
        value = np.where(zone, sign * getattr(values, name), -np.inf)
        k = int(value.argmax())
        found.append(_Worst(float(value[k]), f"{face} face", *stress.points[:, k]))
    return max(found, key=lambda w: w.stress)


def _pressed_rows(solved, limit, kept):
    """Pressure of the feet and of the post's end across the grain."""
    bridge, post = solved.model.top.bridge, solved.set_up.post
    foot = bridge.foot_along * bridge.foot_length_across
    for what, load, place in zip(
        ("under the bass foot", "under the treble foot"),
        solved.loads,
        (bridge.bass_foot, bridge.treble_foot),
        strict=True,
    ):
        pressed = _Worst(load / foot, "outer face", *place)
        yield _row("top", f"pressure {what}", (pressed, pressed), limit, "compression_across", kept)
    if max(_both(solved.post_force, float)) > 0:
        end = 0.25 * np.pi * post.diameter**2
        pair = _both(solved.post_force, lambda n: _Worst(n / end, "inner face", *post.place(bridge)))
        yield _row("top", "pressure of the post", pair, limit, "compression_across", kept)


def _bar_rows(solved, limit, top_limit, kept):
    bar = solved.bar

    def worst(values, where):
        def find(forces):
            value = values(forces)
            inside = (forces.s > END_CLEAR * bar.heights[0]) & (
                forces.s < forces.s[-1] - END_CLEAR * bar.heights[-1]
            )
            k = int(np.where(inside, value, -np.inf).argmax())
            return _Worst(float(value[k]), where, *_place(bar, forces.s[k] / forces.s[-1]))

        return _both(solved.forces, find)

    def heavier(*pairs):
        """Of several pairs the worst with each rim."""
        return tuple(max(one, key=lambda w: w.stress) for one in zip(*pairs, strict=True))

    tension = heavier(
        worst(lambda f: f.free + f.sideways, "free edge"), worst(lambda f: f.seat + f.sideways, "seat")
    )
    pressed = heavier(
        worst(lambda f: f.sideways - f.free, "free edge"), worst(lambda f: f.sideways - f.seat, "seat")
    )
    weaker = _weaker(limit, top_limit)
    yield _row("bar", "along the grain, tension", tension, limit, "bending", kept)
    yield _row("bar", "along the grain, compression", pressed, limit, "compression_along", kept)
    shear = worst(lambda f: f.shear_stress, "middle of the height")
    yield _row("bar", "shear along the grain", shear, limit, "shear", kept)
    glue = worst(lambda f: np.abs(f.glue_shear), "along the joint")
    yield _row("glue line", "shear along the joint", glue, weaker, "shear", kept)
    for k, (name, share) in enumerate((("lower end", 0.0), ("upper end", 1.0))):
        place = _place(bar, share)
        pair = _both(solved.forces, lambda f, k=k, n=name, p=place: _Worst(f.ends[k].shear, n, *p))
        yield _row("glue line", f"shear at the {name}", pair, weaker, "shear", kept)
        pair = _both(solved.forces, lambda f, k=k, n=name, p=place: _Worst(f.ends[k].peel, n, *p))
        yield _row("glue line", f"peel at the {name}", pair, weaker, "tension_across", kept)


def _place(bar, share):
    x = bar.x_start + share * (bar.x_end - bar.x_start)
    return float(x), float(bar.at(x))


def _weaker(a: Strength, b: Strength) -> Strength:
    """Take the weaker of two woods in each strength; a sound glue line holds better than the wood by it."""
    names = ("bending", "compression_along", "compression_across", "shear", "tension_across")
    values = {n: min(getattr(a, n), getattr(b, n)) for n in names}
    spread = {n: max(a.spread[n], b.spread[n]) for n in names}
    return Strength(**values, spread=spread, source=f"{a.source}; {b.source}")
