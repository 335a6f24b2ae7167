"""Cutting a glued bar down by tap: the next careful cut, what to expect of it, and when to stop."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_cuts import PLACES, Place, cut, deepest_height, room
from platemodel.instrument.bar_shape import LEAST_END, bar_between
from platemodel.study.top.answers import TopSolver, bar_response
from platemodel.study.trimming.reach import reach, recognised_to
from platemodel.study.trimming.tap_correction import MODES, READING, Correction, Stage, correct
from platemodel.wood.estimate import HALF_WIDTH

LEAST_CUT, MOST_CUT = 0.1e-3, 1.0e-3  # m: less is a scraper's stroke, more is too much at once; judgement
MOST_SHARE = 0.1  # of the bar's height where the cut is deepest, at most in one cut; judgement
HAND = 0.1e-3  # m: standard deviation of a cut by hand, kept between a cut and every limit; judgement
HALF = 0.5  # of the way to the goal at most in one cut, so that a tap comes in between
SAMPLES = 11  # depths at which a place is asked
STEP = 0.1e-3  # m, for the table of places
AMPLE = 0.3e-3  # m: a place with less room comes last, or the cuts would hop to and fro in strokes
LIMITS = ("the least height or end, or the straight flank,", "the least stiffness under the bass foot",
          "a place beyond which the model cannot tell the mode")  # fmt: skip


@dataclass(frozen=True)
class Goal:
    """Where to stop.

    Attributes
    ----------
    frequency : mapping of int to float
        Mode number (1, 2, 5) to the Hz wanted, approached from above; empty where pitch does not decide.
    least_height : float
        m, under the bridge; never cut below.
    least_end : float
        m, anywhere.
    least_stiffness : float
        N/m under the bass foot; never cut below.

    Raises
    ------
    ValueError
        No mode or an unknown one, a frequency or a height that is not positive.
    """

    frequency: Mapping[int, float]
    least_height: float
    least_end: float = LEAST_END
    least_stiffness: float = 0.0

    def __post_init__(self):
        if not set(self.frequency) <= set(MODES):
            msg = f"goal {dict(self.frequency)}: it must name modes among {', '.join(map(str, MODES))}"
            raise ValueError(msg)
        for what, value in (*self.frequency.items(), ("least height", self.least_height)):
            if not (np.isfinite(value) and value > 0):
                msg = f"goal: {what} is {value}; a positive number is needed"
                raise ValueError(msg)


@dataclass(frozen=True, eq=False)
class Proposal:
    """The next cut.

    Attributes
    ----------
    verdict : {"cut", "stop", "past", "tap"}
        Past: a goal lies above what the plate rings at; wood cannot be put back. Tap: a goal's mode was not
        heard at this stage, or not believed.
    text : str
        In plain words.
    depth : float
        m, to take off now; 0 when nothing should be cut.
    bar : Bar
        After the cut.
    expected : DataFrame
        A row a mode: ``number``, ``now_hz``, ``now_sd_hz``, ``after_hz``, ``sd_hz`` (with drift and the
        hand's error), ``goal_hz``, ``stop_hz`` (heard at or below it: stop), ``least_hz`` and
        ``least_sd_hz`` (of the lowest bar that the limits allow), ``reachable`` (``yes``, ``perhaps``,
        ``no``, ``past``; empty without a goal), ``hidden_mm`` (cut all along that the error of one tap
        hides).
    left : tuple of float
        Depth at this place at which the first goal is met: best estimate and careful, m; inf if its room ends
        before.
    stiffness : tuple of float
        Under the bass foot now, after the cut and of the lowest bar, N/m.
    options : DataFrame
        A row a place: ``place``, ``room_mm``, and what 0.1 mm there does: ``f1_hz``, ``f2_hz``, ``f5_hz``,
        ``stiffness_percent``.
    lowest : Bar
        Lowest bar that all limits allow.
    by_pitch : bool
        False where the tones wanted cannot decide: out of reach, or not told by the model.
    """

    verdict: str
    text: str
    place: Place | None
    depth: float
    bar: Bar
    expected: pd.DataFrame
    left: tuple[float, float]
    stiffness: tuple[float, float, float]
    options: pd.DataFrame
    correction: Correction
    lowest: Bar
    by_pitch: bool = True


def propose_cut(
    model: TopSolver,
    stages: Sequence[Stage],
    goal: Goal,
    places: Sequence[Place] = PLACES,
    decided: tuple[float, str, str] | None = None,
    doubt: Mapping[int, float] | None = None,
) -> Proposal:
    """Propose the next cut, or to stop.

    Parameters
    ----------
    model : TopModel or ReducedTop
        The reduced model answers in milliseconds.
    stages : sequence of Stage
        At least the present one, last.
    places : sequence of Place
        Where wood may come off; places that no tap decides on are only mentioned.
    decided : (float, str, str), optional
        Depth to take off all along (m), verdict and text, where height, weight or flex decide; tones are then
        only told of.
    doubt : mapping of int to float, optional
        Relative standard deviations of the computed tones by mode; see `correct`.

    Raises
    ------
    ValueError
        No stage or no place; no tone to decide by.
    """
    if not goal.frequency and decided is None:
        msg = "no goal: it must name modes, or something else must decide"
        raise ValueError(msg)
    if not stages or not any(p.by_tap for p in places):
        msg = "no stage or no place; give the bar as it is now with what was heard, and where it may be cut"
        raise ValueError(msg)
    case = _Case(model, stages, goal, model.top.bridge.x, doubt)
    options = case.options(places)
    places = [p for p in places if p.by_tap]
    lowest = case.lowest(places)
    reach = case.corrected(bar_response(model, lowest), later=True)
    status = {n: _status(case.here[n], reach[n], wanted) for n, wanted in goal.frequency.items()}
    unmet = [n for n, s in status.items() if s in ("yes", "perhaps") and not case.near(n)]
    if decided is None:
        chosen = case.choose(case.ranked(places, options, unmet), unmet)
        verdict, text = case.verdict(status, reach, chosen, unmet)
        by_pitch = case.decides(status, chosen, unmet)
    else:
        depth, verdict, text = decided
        chosen, by_pitch = _Trial(PLACES[0], depth, np.inf, np.inf, depth, ""), False
    depth = chosen.depth if verdict == "cut" else 0.0
    bar = cut(case.bar, chosen.place, depth, case.x_bridge, goal.least_end) if depth else case.bar
    return Proposal(
        verdict,
        text,
        chosen.place if depth else None,
        depth,
        bar,
        case.expected(bar, chosen.place, depth, reach, status),
        (chosen.best, chosen.careful),
        tuple(bar_response(model, b).foot.middle for b in (case.bar, bar, lowest)),
        options,
        case.correction,
        lowest,
        by_pitch,
    )


def _status(here, reach, wanted):
    """Whether a goal can still be met."""
    (f, sd), (low, low_sd) = here, reach
    if not (np.isfinite(f) and np.isfinite(low)):
        return "perhaps"
    if f + HALF_WIDTH * sd < wanted:
        return "past"
    if low + HALF_WIDTH * low_sd <= wanted:
        return "yes"
    return "perhaps" if low - HALF_WIDTH * low_sd <= wanted else "no"


@dataclass(frozen=True)
class _Trial:
    """A place, the depth proposed there, the depths of the goal, and what ends the cut."""

    place: Place
    depth: float
    best: float
    careful: float
    limit: float
    ends: str


class _Case:
    """One question: the bar as it stands, the correction, the goal."""

    def __init__(self, model, stages, goal, x_bridge, doubt):
        self.model, self.goal, self.x_bridge = model, goal, x_bridge
        self.bar, self.heard = stages[-1].bar, stages[-1].heard
        self.correction = correct(model, stages, doubt)
        self.now = bar_response(model, self.bar)
        self.here = self.corrected(self.now)
        self.soon = self.corrected(self.now, later=True)  # if nothing is cut until the next tap

    def corrected(self, answer, later=False):
        return {n: self.correction.apply(n, answer.frequency(n), later) for n in MODES}

    def near(self, n):
        f, sd = self.soon[n]
        return abs(f - self.goal.frequency[n]) <= HALF_WIDTH * sd

    def cut(self, place, depth):
        return cut(self.bar, place, depth, self.x_bridge, self.goal.least_end)

    def room(self, place, bar=None):
        heights = (self.goal.least_height, self.goal.least_end)
        return max(room(bar or self.bar, place, self.x_bridge, *heights) - HAND, 0.0)

    def lowest(self, places):
        """Cut every place as far as the heights allow, then give back what the stiffness does not."""
        low = self.bar
        for place in places:
            low = cut(low, place, self.room(place, low), self.x_bridge, self.goal.least_end)
        least = self.goal.least_stiffness
        if bar_response(self.model, low).foot.middle >= least:
            return low
        kept, lost = 1.0, 0.0  # share of the wood that is left on
        for _ in range(8):
            share = 0.5 * (kept + lost)
            tried = bar_between(low, self.bar, share)
            enough = bar_response(self.model, tried).foot.middle >= least
            kept, lost = (share, lost) if enough else (kept, share)
        return bar_between(low, self.bar, kept)

    def options(self, places):
        rows = []
        for place in places:
            there = bar_response(self.model, self.cut(place, STEP))
            row = {"place": place.name, "room_mm": 1e3 * self.room(place)}
            found = self.corrected(there)
            row |= {f"f{n}_hz": found[n][0] - self.here[n][0] for n in MODES}
            row["stiffness_percent"] = 100.0 * (there.foot.middle / self.now.foot.middle - 1.0)
            rows.append(row)
        return pd.DataFrame(rows)

    def ranked(self, places, options, unmet):
        """Order the places: first the one whose steps lead straightest to all open goals.

        A single goal is approached where it costs the least stiffness under the bass foot.
        """
        options = options.set_index("place").loc[[p.name for p in places]]
        wanted = self.goal.frequency
        scale = np.array(list(wanted.values()))
        steps = options[[f"f{n}_hz" for n in wanted]].to_numpy() / scale
        wish = np.array([(wanted[n] - self.here[n][0]) * (n in unmet) for n in wanted]) / scale
        if len(wish) == 1:
            lost = -options["stiffness_percent"].to_numpy()
            worth = -lost / np.maximum(-steps[:, 0], 1e-12)
        else:
            worth = steps @ wish / np.maximum(np.linalg.norm(steps, axis=1), 1e-30)
        ample = (options["room_mm"].to_numpy() >= 1e3 * AMPLE) & np.isfinite(worth)
        return [places[i] for i in np.lexsort((-worth, ~ample))]

    def choose(self, places, unmet):
        """Try the places in their order: the first at which there is something to cut, else the first."""
        first = None
        for place in places:
            trial = self.try_place(place, unmet)
            if trial.depth >= LEAST_CUT:
                return trial
            first = first or trial
        return first

    def try_place(self, place, unmet):
        """Depth that meets the first goal, the careful depth before it, and the first limit."""
        most = self.room(place)
        if most < LEAST_CUT:
            return _Trial(place, 0.0, np.inf, np.inf, most, LIMITS[0])
        depths = np.linspace(0.0, most, SAMPLES)
        answers = [bar_response(self.model, self.cut(place, d)) for d in depths]
        best = careful = np.inf
        limits = [most]
        stiff = np.array([a.foot.middle for a in answers])
        limits.append(max(reach(depths, stiff, self.goal.least_stiffness) - HAND, 0.0))
        reached = np.inf
        for n, wanted in self.goal.frequency.items():
            f, sd = np.array([self.correction.apply(n, a.frequency(n), True) for a in answers]).T
            reached = min(reached, recognised_to(depths, f))
            sd = np.hypot(sd, HAND * np.gradient(f, depths))
            met = reach(depths, f, wanted)
            if n in unmet:
                best, careful = min(best, met), min(careful, reach(depths, f - HALF_WIDTH * sd, wanted))
            else:  # already as near as a tap can show: no further than a tap's error past it
                kept = reach(depths, f, wanted * (1.0 - READING))
                best, careful = min(best, max(met, kept)), min(careful, kept)
        limits.append(reached)
        limit = min(limits)
        step = max(min(HALF * best, MOST_SHARE * deepest_height(self.bar, place, self.x_bridge)), LEAST_CUT)
        depth = np.floor(min(careful, limit, step, MOST_CUT) / STEP + 1e-6) * STEP
        return _Trial(place, float(depth), float(best), float(careful), float(limit),
                      LIMITS[int(np.argmin(limits))])  # fmt: skip

    def verdict(self, status, reach, trial, unmet):
        wanted = self.goal.frequency
        silent = [n for n in wanted if n not in self.heard]
        odd = [n for n in wanted if n in self.heard and self.correction.odd(n)]
        lost = [n for n in wanted if not np.isfinite(self.here[n][0])]
        past = [n for n, s in status.items() if s == "past"]
        out = self.out(status)
        if lost:
            return "stop", (
                f"stop: no mode of the model looks like mode {lost[0]} on this top; it cannot guide the cut"
            )
        if odd:
            return "tap", (
                f"no cut yet: mode {odd[0]} was heard at {self.heard[odd[0]]:.1f} Hz, where "
                f"{self.here[odd[0]][0]:.1f} Hz was expected; another mode, another hold or other air? "
                "Tap again"
            )
        if silent:
            return "tap", f"no cut yet: mode {silent[0]} was not heard at this stage; tap it first"
        if past:
            f = self.here[past[0]][0]
            return "past", (
                f"stop: mode {past[0]} rings at {f:.1f} Hz, below the {wanted[past[0]]:.1f} Hz wanted, and "
                "wood cannot be put back; think about the goal"
            )
        beyond = ""
        if out:
            beyond = (
                f"mode {out[0]} cannot come down to {wanted[out[0]]:.1f} Hz: at the limits it would still "
                f"ring at {reach[out[0]][0]:.1f} Hz"
            )
        if not unmet:
            if out:
                return "stop", f"stop: {beyond}; a lower bar would only give stiffness away"
            near = (
                f"mode {n} is as near to its {wanted[n]:.1f} Hz as taps can tell ({self.soon[n][0]:.1f} ± "
                f"{HALF_WIDTH * self.soon[n][1]:.1f} Hz)"
                for n in wanted
            )
            return "stop", "stop: " + ", ".join(near)
        if trial.depth >= LEAST_CUT:
            text = f"take off {1e3 * trial.depth:.1f} mm, {trial.place.name}, then tap again"
            return "cut", f"{text}; {beyond}" if beyond else text
        if trial.limit < LEAST_CUT:
            return "stop", f"stop: {trial.ends} is reached before the goal"
        if self.held(status, unmet):
            return "stop", f"stop: mode {unmet[0]} cannot come lower without taking another past its goal"
        return "stop", "stop: less than 0.1 mm is sure to be left before the goal; scrape, tap and listen"

    def out(self, status):
        """Modes whose goals no bar within the limits reaches."""
        return [n for n, s in status.items() if s == "no" and not self.near(n)]

    def held(self, status, unmet):
        """Modes that are at their goals, and may not be taken past them for another's sake."""
        return [n for n in self.goal.frequency if n not in unmet and n not in self.out(status)]

    def decides(self, status, trial, unmet):
        """Whether the tones wanted can decide on the cut: in reach, told by the model, not at odds."""
        wanted = self.goal.frequency
        told = all(np.isfinite(self.here[n][0]) for n in wanted)
        if not told or (self.out(status) and not unmet):
            return False
        if trial.depth >= LEAST_CUT or not unmet:
            return True
        return trial.ends != LIMITS[2] and (trial.limit < LEAST_CUT or not self.held(status, unmet))

    def expected(self, bar, place, depth, reach, status):
        after = self.corrected(bar_response(self.model, bar), later=True)
        more = self.corrected(bar_response(self.model, self.cut(place, depth + STEP)))
        lower = self.corrected(bar_response(self.model, self.cut(PLACES[0], STEP)))
        rows = []
        for n in MODES:
            (f, sd), (g, g_sd), goal = self.here[n], after[n], self.goal.frequency.get(n, np.nan)
            g_sd = float(np.hypot(g_sd, (more[n][0] - g) * HAND / STEP)) if depth else sd
            fall = (f - lower[n][0]) / (1e3 * STEP)
            rows.append(
                (n, f, sd, g if depth else f, g_sd, goal, goal * (1 + HALF_WIDTH * self.soon[n][1] / f),
                 *reach[n], status.get(n, ""), READING * f / fall if fall > 0 else np.inf)
            )  # fmt: skip
        names = ("number", "now_hz", "now_sd_hz", "after_hz", "sd_hz", "goal_hz", "stop_hz", "least_hz",
                 "least_sd_hz", "reachable", "hidden_mm")  # fmt: skip
        return pd.DataFrame(rows, columns=names)
