"""Cutting a glued bar down to a height, a weight or a flex, where pitch is no guide or is not asked for."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_cuts import PLACES, bridge_height, cut, deepest_height, room
from platemodel.instrument.flex_test import usual_flex_test
from platemodel.study.top.answers import TopSolver, bar_response
from platemodel.study.top.flex import flexibilities
from platemodel.study.trimming.next_cut import HAND, MOST_CUT, MOST_SHARE, Goal
from platemodel.study.trimming.reach import reach

LEAST = 0.05e-3  # m all along: a goal nearer than this is met; the stroke of a scraper is twice that
SAMPLES = 5  # depths at which a plate is flexed


@dataclass(frozen=True)
class SizeGoal:
    """Where to stop by ruler, scale and weight.

    Attributes
    ----------
    height : float or None
        Of the bar under the bridge, m.
    mass : float or None
        Of top and bar together, kg.
    weighed : float or None
        The same as weighed now, kg; without it the model's.
    flex : mapping of str to float
        Kind of flex test to the sag wanted, m/N; approached from below.
    felt : mapping of str to float
        Kind to the sag as read now, m/N; the model is then only asked for the change.

    Raises
    ------
    ValueError
        A figure that is not positive.
    """

    height: float | None = None
    mass: float | None = None
    weighed: float | None = None
    flex: Mapping[str, float] = field(default_factory=dict)
    felt: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self):
        given = [self.height, self.mass, self.weighed, *self.flex.values(), *self.felt.values()]
        if any(v is not None and not (np.isfinite(v) and v > 0) for v in given):
            msg = f"goals {given}: positive figures are needed"
            raise ValueError(msg)

    def __bool__(self):
        return self.height is not None or self.mass is not None or bool(self.flex)


def size_guides(
    model: TopSolver, bar: Bar, goal: SizeGoal, least_height: float, least_end: float
) -> pd.DataFrame:
    """Say how much has to come off all along before each goal is reached.

    Parameters
    ----------
    model : TopModel or ReducedTop
        For flexes its full model is asked, some seconds each.
    bar : Bar
        As it stands.
    least_height, least_end : float
        Lowest that is looked at, m.

    Returns
    -------
    DataFrame
        A row a goal: ``guide``, ``now``, ``goal``, ``unit``, ``left_mm`` (to take off all along; 0 when it is
        reached, infinite when no bar down to the limits reaches it).
    """
    x_bridge = model.top.bridge.x
    height = bridge_height(bar, x_bridge)
    rows = []
    if goal.height is not None:
        left = max(height - goal.height, 0.0)
        rows.append(("height under the bridge", 1e3 * height, 1e3 * goal.height, "mm", 1e3 * left))
    depths = np.linspace(0.0, max(height - least_height, LEAST), SAMPLES)
    bars = [cut(bar, PLACES[0], d, x_bridge, least_end) for d in depths]
    if goal.mass is not None:
        now = goal.weighed or model.mass + bar.mass()
        off = np.array([bar.mass() - b.mass() for b in bars])
        left = _depth(depths, off, now - goal.mass)
        rows.append(("weight of top and bar", 1e3 * now, 1e3 * goal.mass, "g", 1e3 * left))
    for kind, wanted in goal.flex.items():
        test = usual_flex_test(model.top, kind)
        sags = np.array([flexibilities(model.full, [test], b)[0] for b in bars])
        sags *= goal.felt.get(kind, sags[0]) / sags[0]
        left = _depth(depths, sags - sags[0], wanted - sags[0])
        rows.append((f"flex {kind}", PER_100_G * sags[0], PER_100_G * wanted, "mm per 100 g", 1e3 * left))
    return pd.DataFrame(rows, columns=["guide", "now", "goal", "unit", "left_mm"])


def _depth(depths, grown, wanted):
    """Depth at which something that grows with it reaches what is wanted."""
    if wanted <= 0:
        return 0.0
    return float(np.interp(wanted, grown, depths)) if wanted <= grown[-1] else np.inf


PER_100_G = 1e3 * 0.1 * 9.80665  # mm per 100 g of a flexibility in m/N


def size_verdict(guides: pd.DataFrame, most: float, free: float) -> tuple[float, str, str]:
    """Return depth (m), verdict and text of the next cut all along by the goal that comes first.

    Parameters
    ----------
    guides : DataFrame
        From `size_guides`.
    most : float
        Most at once, m.
    free : float
        Down to the least height, end and stiffness, m.
    """
    row = guides.loc[guides["left_mm"].idxmin()]
    what, left = f"{row['guide']} {row['goal']:.4g} {row['unit']}", 1e-3 * float(row["left_mm"])
    if left < LEAST:
        return 0.0, "stop", f"stop: {what} is reached"
    depth = np.floor(min(left, most, free) * 1e4 + 1e-6) * 1e-4
    if depth < 1e-4:
        if free < 1e-4:
            return 0.0, "stop", f"stop: a limit is reached before the {what}"
        return 0.0, "stop", f"stop: less than 0.1 mm is left before the {what}; scrape, and measure again"
    far = f"{1e3 * left:.1f} mm all along are left" if np.isfinite(left) else "the limits come first"
    then = "measure, weigh and flex again"
    return (
        float(depth),
        "cut",
        f"take off {1e3 * depth:.1f} mm, {PLACES[0].name}, then {then}; {far} to {what}",
    )


def goal_of(model: TopSolver, planned: Bar) -> SizeGoal:
    """Height, weight and sag along of a top with the planned bar: what to go by where pitch is no guide."""
    (sag,) = flexibilities(model.full, [usual_flex_test(model.top, "along")], planned).tolist()
    height = bridge_height(planned, model.top.bridge.x)
    return SizeGoal(height, model.mass + planned.mass(), flex={"along": sag})


def room_all_along(model: TopSolver, bar: Bar, goal: Goal) -> float:
    """Depth all along down to the first limit of a goal, less what is kept clear for the hand, m."""
    x_bridge = model.top.bridge.x
    most = max(room(bar, PLACES[0], x_bridge, goal.least_height, goal.least_end) - HAND, 0.0)
    depths = np.linspace(0.0, most, SAMPLES)
    bars = [cut(bar, PLACES[0], d, x_bridge, goal.least_end) for d in depths]
    stiff = np.array([bar_response(model, b).foot.middle for b in bars])
    return min(most, max(reach(depths, stiff, goal.least_stiffness) - HAND, 0.0))


def most_at_once(bar: Bar, x_bridge: float) -> float:
    """Most that comes off all along in one cut, m."""
    return min(MOST_CUT, MOST_SHARE * deepest_height(bar, PLACES[0], x_bridge))
