"""Cutting a glued bar down by tap: the model corrected by the taps of each stage, the next careful cut."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.study.answer import bar_answer
from platemodel.study.heights import LEAST_END

MODES = (1, 2, 5)
FIRST_DOUBT = (
    0.04  # relative sd of a computed frequency before any tap with the bar on (wood, arching); judgement
)
READING = 0.005  # relative sd of a tap
WANDER = 0.004  # sd by which a correction may change per millimetre cut; judgement
LEAST_CUT, MOST_CUT = 0.1e-3, 1.0e-3  # m: less is a scraper's stroke, more is too much at once
SURE = 1.645  # standard deviations that a cut keeps away from the goal: 95 of 100 stay on its safe side


@dataclass(frozen=True, eq=False)
class Stage:
    """The bar at one stage, and what was heard.

    Attributes
    ----------
    bar : Bar
        As it stood.
    heard : mapping of int to float
        Mode number to Hz, bar on, plate free.
    """

    bar: Bar
    heard: Mapping[int, float]

    @property
    def height(self) -> float:
        """Greatest height, m."""
        return float(self.bar.heights.max())


@dataclass(frozen=True)
class Goal:
    """Where to stop.

    Attributes
    ----------
    frequency : mapping of int to float
        Mode number to the Hz wanted; cutting lowers them all, so each is approached from above.
    least_height : float
        m, under the bridge; never cut below.
    least_end : float
        m, at the ends.
    least_stiffness : float
        N/m under the bass foot; never cut below.
    """

    frequency: Mapping[int, float]
    least_height: float
    least_end: float = LEAST_END
    least_stiffness: float = 0.0


@dataclass(frozen=True)
class Place:
    """Where wood can come off: a share of the cut's depth at each place along the bar.

    Attributes
    ----------
    name : str
    share : callable
        ``share(s)`` of the position from -1 (lower end) over 0 (bridge) to 1 (upper end), 0 to 1.

    Notes
    -----
    A place that leaves the bridge alone is never cut below the straight line from the height at the bridge to
    that of the end, so that the flanks do not become hollow.
    """

    name: str
    share: Callable[[np.ndarray], np.ndarray]

    @property
    def is_flank(self) -> bool:
        """Whether the height under the bridge stays."""
        return float(self.share(np.zeros(1))[0]) == 0.0


PLACES = (
    Place("all along, most at the bridge", lambda s: 1.0 - np.abs(s) ** 2),
    Place("lower half", lambda s: np.where(s < 0, 4.0 * np.abs(s) * (1.0 - np.abs(s)), 0.0)),
    Place("upper half", lambda s: np.where(s > 0, 4.0 * np.abs(s) * (1.0 - np.abs(s)), 0.0)),
    Place("both flanks", lambda s: 4.0 * np.abs(s) * (1.0 - np.abs(s))),
)


def cut(bar: Bar, place: Place, depth: float, x_bridge: float, least_end: float = LEAST_END) -> Bar:
    """Return the bar with wood taken off its free edge.

    Parameters
    ----------
    bar : Bar
    place : Place
    depth : float
        m, where the place's share is 1.
    x_bridge : float
        m.
    least_end : float
        m; no place is cut below it.
    """
    x, before, share, floor = _edge(bar, place, x_bridge, least_end)
    after = np.minimum(before, np.maximum(before - depth * share, floor))
    return replace(bar, stations=x, heights=after)


def _edge(bar, place, x_bridge, least_end):
    """Places along the bar, height there, share of the cut, and the height below which it is not cut."""
    x = np.union1d(bar.stations, np.linspace(bar.x_start, bar.x_end, 41))
    side = np.where(x < x_bridge, x_bridge - bar.x_start, bar.x_end - x_bridge)
    share = place.share(np.clip((x - x_bridge) / side, -1.0, 1.0))
    floor = np.full(len(x), least_end)
    if place.is_flank:
        corners = [bar.x_start, x_bridge, bar.x_end]
        floor = np.maximum(floor, np.interp(x, corners, bar.height(np.array(corners))))
    return x, bar.height(x), share, floor


def _room(bar, place, x_bridge, least_end):
    """Depth of cut at which a place first meets its floor, m."""
    _, before, share, floor = _edge(bar, place, x_bridge, least_end)
    cuts = share > 0.3
    return float(np.maximum((before - floor)[cuts] / share[cuts], 0.0).min())


@dataclass(frozen=True, eq=False)
class Correction:
    """How far the model of this top is off, as its taps say.

    Attributes
    ----------
    table : DataFrame
        A row a mode: ``number, factor`` (heard over computed) and ``sd`` (relative).
    """

    table: pd.DataFrame

    def apply(self, number: int, frequency: float, cut_mm: float = 0.0) -> tuple[float, float]:
        """Corrected frequency in Hz and its standard deviation in Hz, after a further cut in mm."""
        row = self.table.set_index("number").loc[number]
        return frequency * row["factor"], frequency * row["factor"] * float(
            np.hypot(row["sd"], WANDER * cut_mm)
        )


def correct(model, stages: Sequence[Stage]) -> Correction:
    """Learn the correction of each mode from all stages so far.

    Parameters
    ----------
    model : TopModel or ReducedTop
    stages : sequence of Stage
        In the order of the work.

    Notes
    -----
    The logarithm of heard over computed is followed by a Kalman filter: it starts at 0 with `FIRST_DOUBT`,
    may wander by `WANDER` per millimetre cut, and is read with `READING` (e.g. Bar-Shalom, Estimation with
    Applications to Tracking and Navigation, 2001, section 5.2, from memory).
    """
    value, variance = dict.fromkeys(MODES, 0.0), dict.fromkeys(MODES, FIRST_DOUBT**2)
    height = None
    for stage in stages:
        computed = bar_answer(model, stage.bar)
        if height is not None:
            for n in MODES:
                variance[n] += (WANDER * 1e3 * abs(height - stage.height)) ** 2
        height = stage.height
        for n, heard in stage.heard.items():
            found = computed.frequency(n)
            if n not in value or not np.isfinite(found):
                continue
            gain = variance[n] / (variance[n] + READING**2)
            value[n] += gain * (np.log(heard / found) - value[n])
            variance[n] *= 1.0 - gain
    rows = [
        {"number": n, "factor": float(np.exp(value[n])), "sd": float(np.sqrt(variance[n]))} for n in MODES
    ]
    return Correction(pd.DataFrame(rows))


@dataclass(frozen=True, eq=False)
class Proposal:
    """The next cut.

    Attributes
    ----------
    verdict : {"cut", "stop", "past"}
        Past: the goal lies above what the plate rings at; wood cannot be put back.
    text : str
    place : Place or None
    depth : float
        m, to take off now; 0 when there is nothing to cut.
    bar : Bar
        After the cut.
    expected : DataFrame
        Columns ``number, now_hz, after_hz, sd_hz, goal_hz`` (NaN without a goal).
    left : tuple of float
        Depth at which the goal is met: best estimate and the careful one, m.
    stiffness : tuple of float
        Under the bass foot now and after the cut, N/m.
    options : DataFrame
        A row a place: ``room_mm`` that it has left, and what 0.1 mm there does to each mode, Hz, and to the
        stiffness, percent.
    correction : Correction
    """

    verdict: str
    text: str
    place: Place | None
    depth: float
    bar: Bar
    expected: pd.DataFrame
    left: tuple[float, float]
    stiffness: tuple[float, float]
    options: pd.DataFrame
    correction: Correction


def propose_cut(model, stages: Sequence[Stage], goal: Goal, places: Sequence[Place] = PLACES) -> Proposal:
    """Propose the next cut, or to stop.

    Parameters
    ----------
    model : TopModel or ReducedTop
        The reduced model answers in milliseconds.
    stages : sequence of Stage
        At least the present one, last.
    goal : Goal
    places : sequence of Place
        Where wood may come off.

    Returns
    -------
    Proposal

    Raises
    ------
    ValueError
        No stage, or a goal without a frequency or below the ranges that a bar can reach.
    """
    if not stages:
        msg = "no stage; give the bar as it is now and what was heard"
        raise ValueError(msg)
    if not goal.frequency or not set(goal.frequency) <= set(MODES):
        msg = f"the goal must name modes among {', '.join(map(str, MODES))}"
        raise ValueError(msg)
    bar, x_bridge = stages[-1].bar, model.top.bridge.x
    correction = correct(model, stages)
    now = bar_answer(model, bar)
    options = _options(model, bar, now, correction, goal, places, x_bridge)
    place = places[_best(options, now, correction, goal)]
    depths = _depths(model, bar, place, goal, x_bridge)
    best, careful, limit = _stops(model, bar, place, depths, correction, goal, x_bridge)
    depth = np.floor(min(careful, limit, MOST_CUT) / 1e-4 + 1e-6) * 1e-4
    gap = {n: correction.apply(n, now.frequency(n)) for n in goal.frequency}
    past = [n for n, (f, sd) in gap.items() if f + SURE * sd < goal.frequency[n]]
    near = [n for n, (f, sd) in gap.items() if abs(f - goal.frequency[n]) < SURE * sd]
    if past:
        verdict, depth = "past", 0.0
        text = (
            f"mode {past[0]} rings at {gap[past[0]][0]:.0f} Hz, below the {goal.frequency[past[0]]:.0f} Hz "
            "wanted, and cutting lowers it further: stop, and think about the goal"
        )
    elif depth < LEAST_CUT:
        verdict, depth = "stop", 0.0
        if limit < max(best, LEAST_CUT):
            text = "stop: the least height, end or stiffness is reached before the goal"
        elif near:
            text = f"stop: mode {near[0]} is as near to its goal as taps can tell"
        else:
            text = "stop: the careful cut is below 0.1 mm; scrape, tap and listen"
    else:
        verdict = "cut"
        text = f"take off {1e3 * depth:.1f} mm {place.name}, then tap again"
        if limit < best:
            text += f"; this place has {1e3 * limit:.1f} mm left, the goal lies beyond"
    after_bar = cut(bar, place, depth, x_bridge, goal.least_end) if depth else bar
    after = bar_answer(model, after_bar)
    rows = []
    for n in MODES:
        f, sd = correction.apply(n, after.frequency(n), 1e3 * depth)
        now_f, _ = correction.apply(n, now.frequency(n))
        rows.append((n, now_f, f, sd, goal.frequency.get(n, np.nan)))
    expected = pd.DataFrame(rows, columns=["number", "now_hz", "after_hz", "sd_hz", "goal_hz"])
    return Proposal(
        verdict,
        text,
        place if depth else None,
        float(depth),
        after_bar,
        expected,
        (float(best), float(careful)),
        (now.foot.middle, after.foot.middle),
        options,
        correction,
    )


def _options(model, bar, now, correction, goal, places, x_bridge):
    """Tabulate what 0.1 mm at each place does."""
    rows = []
    for place in places:
        there = bar_answer(model, cut(bar, place, 1e-4, x_bridge, goal.least_end))
        row = {"place": place.name, "room_mm": 1e3 * _room(bar, place, x_bridge, goal.least_end)}
        for n in MODES:
            row[f"f{n}_hz"] = correction.apply(n, there.frequency(n) - now.frequency(n))[0]
        row["stiffness_percent"] = 100.0 * (there.foot.middle / now.foot.middle - 1.0)
        rows.append(row)
    return pd.DataFrame(rows)


def _best(options, now, correction, goal):
    """Choose the place whose steps lead straightest to all goals, or cost a single goal least stiffness."""
    room = options["room_mm"].to_numpy() >= 1e3 * LEAST_CUT
    if not room.any():
        return 0
    gap = np.array([goal.frequency[n] - correction.apply(n, now.frequency(n))[0] for n in goal.frequency])
    scale = np.array(list(goal.frequency.values()))
    steps = options[[f"f{n}_hz" for n in goal.frequency]].to_numpy() / scale
    wish = gap / scale
    if len(wish) == 1:
        cost = options["stiffness_percent"].to_numpy() / np.minimum(steps[:, 0], -1e-12)
        return int(np.argmin(np.where(room, np.abs(cost), np.inf)))
    norm = np.linalg.norm(steps, axis=1) * max(np.linalg.norm(wish), 1e-12)
    return int(np.argmax(np.where(room, steps @ wish / np.maximum(norm, 1e-30), -np.inf)))


def _depths(model, bar, place, goal, x_bridge):
    most = max(float(bar.heights.max()) - goal.least_height, 0.0)
    return np.linspace(0.0, max(most, LEAST_CUT), 9)


def _stops(model, bar, place, depths, correction, goal, x_bridge):
    """Depth that meets the first goal, the careful depth before it, and the depth of the first limit."""
    bars = [cut(bar, place, d, x_bridge, goal.least_end) for d in depths]
    answers = [bar_answer(model, b) for b in bars]
    best = careful = np.inf
    for n, wanted in goal.frequency.items():
        pairs = [correction.apply(n, a.frequency(n), 1e3 * d) for a, d in zip(answers, depths, strict=True)]
        middle = np.array([f for f, _ in pairs])
        low = np.array([f - SURE * sd for f, sd in pairs])
        best, careful = min(best, _reach(depths, middle, wanted)), min(careful, _reach(depths, low, wanted))
    stiff = np.array([a.foot.middle for a in answers])
    height = np.array([b.heights.max() for b in bars])
    at_bridge = np.array([float(b.height(np.array([x_bridge]))[0]) for b in bars])
    limit = min(
        _room(bar, place, x_bridge, goal.least_end),
        _reach(depths, stiff, goal.least_stiffness),
        _reach(depths, at_bridge if x_bridge < bar.x_end else height, goal.least_height),
    )
    return best, careful, limit


def _reach(depths, values, wanted):
    """Depth at which falling values first come down to what is wanted; infinite if they do not."""
    below = np.flatnonzero(values <= wanted)
    if not len(below):
        return np.inf
    k = int(below[0])
    if k == 0:
        return 0.0
    share = (values[k - 1] - wanted) / (values[k - 1] - values[k])
    return float(depths[k - 1] + share * (depths[k] - depths[k - 1]))
