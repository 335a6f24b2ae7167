"""Trimming a job's bar by tap: stages so far and the next cut, as text, data and files."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.ahead import begun_ahead
from platemodel.bench.kit.needs import job_bench, needed_bar
from platemodel.bench.kit.old_bar import beside_old_bar, old_bar_lines
from platemodel.bench.kit.tables import plain, records
from platemodel.bench.kit.taps_apart import taps_finding, taps_sentence
from platemodel.bench.kit.tones import cell, lost_tones, sentences, signed
from platemodel.errors import JobError, Problem
from platemodel.instrument.bar_cuts import bridge_height, bridge_line
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.bar_shape import usual_least_end
from platemodel.instrument.layout_checks import Finding
from platemodel.job import Job
from platemodel.job.stages import STAGES_FILE, StageRow, stage_bars
from platemodel.progress import Progress, no_message
from platemodel.study.top.foot import bass_foot_stiffness
from platemodel.study.top.workbench import Workbench
from platemodel.study.trimming.next_cut import HAND, LEAST_CUT, Goal, Proposal, propose_cut
from platemodel.study.trimming.size_guides import (
    SizeGoal,
    goal_of,
    most_at_once,
    room_all_along,
    size_guides,
    size_verdict,
)
from platemodel.study.trimming.tap_correction import MODES, Stage
from platemodel.wood.estimate import HALF_WIDTH

LEAST_HEIGHT = 0.8  # of the height of the job's bar, where none is given; judgement
LEAST_STIFFNESS = 0.9  # of the job's bar under the bass foot, where none is given; judgement
PITCH = 20e-3  # of the stations, m
ROUGH_RULER = 0.5  # mm of bar hidden by a tap, from which it is said
DEAF = 0.3  # share of the bar's height hidden by a tap, from which a mode is no guide
BAND = f"± holds 90 cases of 100 ({HALF_WIDTH} standard deviations)"


@dataclass(frozen=True, eq=False)
class JobTrim:
    """Trimming of a job's bar.

    Attributes
    ----------
    full_stiffness : float
        Under the bass foot with the job's bar, N/m.
    taps : Finding or None
        That the taps kept in the job and the model lie apart.
    guides : DataFrame or None
        What decides besides tones, or in their place; see `size_guides`.
    old_bar : DataFrame or None
        The old bar beside the planned one; see `platemodel.study.top.old_bar.beside`.
    """

    job: Job
    rows: tuple[StageRow, ...]
    stages: tuple[Stage, ...]
    goal: Goal
    proposal: Proposal
    full_stiffness: float
    taps: Finding | None = None
    guides: pd.DataFrame | None = None
    old_bar: pd.DataFrame | None = None

    @property
    def x_bridge(self) -> float:
        """Bridge line, m."""
        return self.job.top.bridge.x

    @property
    def height(self) -> float:
        """Height of the bar under the bridge now, m."""
        return bridge_height(self.stages[-1].bar, self.x_bridge)


def job_trim(
    job: Job,
    rows: Sequence[StageRow],
    wanted: Mapping[int, float],
    least_height: float | None = None,
    least_share: float = LEAST_STIFFNESS,
    least_end: float | None = None,
    progress: Progress = no_message,
    bench: Workbench | None = None,
    sizes: SizeGoal | None = None,
) -> JobTrim:
    """Propose the next cut on a job's bar.

    Parameters
    ----------
    job : Job
        With a bar: the one that was planned.
    rows : sequence of StageRow
        Stages so far, from `platemodel.job.stages.read_stages`.
    wanted : mapping of int to float
        Mode 1, 2, 5 to Hz.
    least_height : float, optional
        Under the bridge, m; default 0.8 of the job's bar.
    least_share : float
        Least stiffness under the bass foot as a share of that with the job's bar.
    least_end : float, optional
        m; default 2 mm for a violin, scaled with the body.
    sizes : SizeGoal, optional
        Height, weight or flexes wanted; what comes first decides. Where the tones wanted cannot decide, the
        planned bar's do.

    Raises
    ------
    JobError
        No bar, no stages, or a height that the bar does not allow.
    """
    planned = needed_bar(job, "trimming")
    if not rows:
        found = "no stages"
        what = "give the first, as in --heard 5=230 --height-mm 15, or write the table"
        raise JobError([Problem(STAGES_FILE, "", found, what)])
    x_bridge = job.top.bridge.x
    bars = stage_bars(planned, rows, x_bridge)
    stages = tuple(Stage(bar, row.heard) for bar, row in zip(bars, rows, strict=True))
    if least_height is None:
        least_height = LEAST_HEIGHT * bridge_height(planned, x_bridge)
    if least_end is None:
        least_end = usual_least_end(job.top)
    span = trim_range([planned, *bars], x_bridge, least_height, least_end)
    bench = bench or job_bench(job, 1.0, progress)
    with begun_ahead(lambda: beside_old_bar(job, bench, progress), bench.tone_doubts):
        model = bench.reduced(span)
        full = bass_foot_stiffness(model, planned).middle
        found = taps_finding(job, bench, progress)
        doubt, old = bench.tone_doubts(), beside_old_bar(job, bench, progress)
    progress("trying cuts")
    goal = Goal(wanted, least_height, least_end, least_share * full)
    proposal, guides = _proposed(model, stages, goal, planned, sizes or SizeGoal(), doubt)
    return JobTrim(job, tuple(rows), stages, goal, proposal, full, found, guides, old)


def _proposed(model, stages, goal, planned, sizes, doubt):
    """Proposal by tones, by sizes, or by both; and what the sizes say."""
    bar, x_bridge = stages[-1].bar, model.top.bridge.x
    by_tones = propose_cut(model, stages, goal, doubt=doubt) if goal.frequency else None
    lost = by_tones is not None and not _guides(by_tones, goal, bridge_height(bar, x_bridge))
    above = bridge_height(bar, x_bridge) - bridge_height(planned, x_bridge)
    if not sizes and (not lost or above < LEAST_CUT):
        return by_tones, None
    asked = sizes if sizes else goal_of(model, planned)
    guides = size_guides(model, bar, asked, goal.least_height, goal.least_end)
    limits = most_at_once(bar, x_bridge), room_all_along(model, bar, goal)
    depth, verdict, text = size_verdict(guides if sizes else guides[:1], *limits)
    if lost:
        reason = by_tones.text.removeprefix("stop: ").partition("; a lower bar")[0]
        text = f"{reason}; pitch cannot guide here, go by height, weight and flex: {text}"
    elif by_tones is not None:
        if by_tones.verdict != "cut" or by_tones.depth <= depth:
            return by_tones, guides
        text = f"{text}, before the tone"
    return propose_cut(model, stages, goal, decided=(depth, verdict, text), doubt=doubt), guides


def _guides(proposal, goal, height):
    """Whether pitch can guide: the tones decide, and a tap shows less than a third of the bar's height."""
    hidden = proposal.expected.set_index("number").loc[list(goal.frequency), "hidden_mm"]
    return proposal.by_pitch and not (hidden > 1e3 * DEAF * height).all()


def trim_range(bars: Sequence, x_bridge: float, least_height: float, least_end: float) -> BarRange:
    """Bars that a reduced model must be ready for: from the first stage down to the limits, wood as it is."""
    heights = [bridge_height(b, x_bridge) for b in bars]
    ends = np.array([b.heights[[0, -1]] for b in bars])
    low, short = min(least_height, *heights), min(least_end, float(ends.min()))
    return BarRange(
        (0.95 * low, 1.05 * max(heights)), (0.9 * short, 1.05 * float(ends.max())), (1.0, 3.0), (1, 1), (1, 1)
    )


def stage_rows(result: JobTrim) -> pd.DataFrame:
    """List the stages: height, cut, and for modes 1, 2, 5 what was heard, computed, and made of both, Hz."""
    table = result.proposal.correction.table
    out = []
    for k, (row, stage) in enumerate(zip(result.rows, result.stages, strict=True), 1):
        cells = {
            "stage": k,
            "height_mm": 1e3 * bridge_height(stage.bar, result.x_bridge),
            "place": row.place,
            "depth_mm": np.nan if row.depth is None else 1e3 * row.depth,
        }
        for one in table[table["stage"] == k].itertuples():
            cells[f"heard_{one.number}_hz"] = one.heard_hz
            cells[f"model_{one.number}_hz"] = one.computed_hz
            cells[f"corrected_{one.number}_hz"] = one.corrected_hz
            cells[f"band_{one.number}_hz"] = HALF_WIDTH * one.sd_hz
            cells[f"believed_{one.number}"] = not one.odd
        out.append(cells)
    return pd.DataFrame(out)


def cut_rows(result: JobTrim) -> pd.DataFrame:
    """List stations along the bar: height now, to take off, height after, lowest allowed; mm."""
    bar, after, low = result.stages[-1].bar, result.proposal.bar, result.proposal.lowest
    first, last = bar.stations[[0, -1]]
    middle = bridge_line(bar, result.x_bridge)
    count = max(int(np.ceil((last - first) / PITCH)), 2)
    x = np.linspace(first, last, count + 1)
    x[np.abs(x[1:-1] - middle).argmin() + 1] = middle
    heights = {"now_mm": bar.height(x), "after_mm": after.height(x), "lowest_mm": low.height(x)}
    along = np.hypot(1.0, bar.slope) * (x - first)
    table = pd.DataFrame({"x_mm": 1e3 * x, "from_lower_end_mm": 1e3 * along})
    for name, h in heights.items():
        table[name] = 1e3 * h
    table.insert(3, "take_off_mm", table["now_mm"] - table["after_mm"])
    places = np.full(len(x), "", dtype=object)
    places[0], places[-1], places[x == middle] = "lower end", "upper end", "bridge line"
    table.insert(0, "place", places)
    table["take_off_mm"] = table["take_off_mm"].round(2) + 0.0  # not minus nothing
    return table.round(2)


def expectation_lines(result: JobTrim) -> list[str]:
    """How far it is, what limits there are, and when to stop, in plain words."""
    p, goal = result.proposal, result.goal
    lines = []
    for row in p.expected.itertuples():
        if np.isnan(row.goal_hz):
            continue
        reach = {
            "yes": "can be reached within the limits",
            "perhaps": "may or may not be reached within the limits",
            "no": "cannot be reached within the limits",
            "past": "is already passed; wood cannot be put back",
        }[row.reachable]
        stop = (
            f" Stop when you hear {row.stop_hz:.1f} Hz or less."
            if row.reachable in ("yes", "perhaps")
            else ""
        )
        lines.append(
            f"mode {row.number}: goal {row.goal_hz:.1f} Hz {reach} (at the limits "
            f"{band_text(row.least_hz, HALF_WIDTH * row.least_sd_hz)} Hz).{stop}"
        )
        if row.hidden_mm > 1e3 * DEAF * result.height:
            lines.append(f"  this bar hardly moves mode {row.number}, so its tap cannot guide the cut")
        elif row.hidden_mm > ROUGH_RULER:
            lines.append(
                f"  a tap shows this bar's height no better than to within {row.hidden_mm:.1f} mm: go by "
                "height and stiffness too"
            )
    best, careful = p.left
    if result.guides is not None:
        lines += [f"{text}." for text in guide_lines(result.guides)]
    if p.verdict == "cut" and p.by_pitch:
        far = f"the goal is {1e3 * best:.1f} mm away"
        far = "its room runs out before the goal" if np.isinf(best) else far
        sure = "" if np.isinf(careful) else f"; up to {1e3 * careful:.1f} mm will surely not pass a goal"
        lines.append(f"if you cut only at this place: {far}{sure}")
    share = 100 * goal.least_stiffness / result.full_stiffness
    lines.append(
        f"limits: {1e3 * goal.least_height:.1f} mm under the bridge, {1e3 * goal.least_end:.1f} mm anywhere, "
        f"{1e-3 * goal.least_stiffness:.1f} N/mm under the bass foot ({share:.0f} % of the planned bar's); "
        f"{1e3 * HAND:.1f} mm is kept clear of each for the hand"
    )
    now, after, low = (1e-3 * s for s in p.stiffness)
    cut = f", after the cut {after:.1f}" if p.depth else ""
    lines.append(f"stiffness under the bass foot: now {now:.1f}{cut}, lowest bar {low:.1f} N/mm")
    return lines


def guide_lines(guides: pd.DataFrame) -> list[str]:
    """Height, weight and flex: now, wanted, and how much wood all along lies between."""
    out = []
    for row in guides.itertuples():
        if row.left_mm == 0:
            far = "reached"
        else:
            far = f"{row.left_mm:.1f} mm to take off" if np.isfinite(row.left_mm) else "not within the limits"
        digits = 3 if "flex" in row.guide else 1
        out.append(f"{row.guide}: {row.now:.{digits}f} now, {row.goal:.{digits}f} {row.unit} wanted; {far}")
    return out


def as_text(result: JobTrim) -> str:
    """Tables for the terminal."""
    p, job = result.proposal, result.job
    lines = [cautions.text_title(job), *taps_sentence(result.taps), *lost_lines(result), ""]
    lines += [*_stage_lines(result), "", "Verdict", f"  {p.text[0].upper()}{p.text[1:]}."]
    if p.place:
        lines.append(f"  {p.place.name}: {p.place.words}")
    lines += ["", "Expect", "  mode       now Hz         after Hz     goal"]
    for row in p.expected.itertuples():
        now = _tone(row.now_hz, row.now_sd_hz)
        after = _tone(row.after_hz, row.sd_hz) if p.depth else f"{'-':>8s}      "
        goal = "" if np.isnan(row.goal_hz) else f"{row.goal_hz:.1f}"
        lines.append(f"  {row.number}   {now}  {after} {goal:>7s}".rstrip())
    lines += [f"  {line}" for line in expectation_lines(result)]
    lines += [
        "",
        "What 0.1 mm does at each place",
        "  place          room mm   mode 1   mode 2   mode 5 Hz   stiffness %",
    ]
    for row in p.options.itertuples():
        tones = "".join(f"{signed(getattr(row, f'f{n}_hz')):>9s}" for n in MODES)
        changes = f"{tones}{signed(row.stiffness_percent):>14s}"
        lines.append(f"  {row.place:14s}{row.room_mm:8.1f}{changes}")
    if p.depth:
        lines += ["", "Cut, mm from the plate", "  from lower end     now   take off   after"]
        for row in cut_rows(result).itertuples():
            heights = f"{row.now_mm:13.1f}{row.take_off_mm:10.1f}{row.after_mm:9.1f}"
            lines.append(f"  {row.from_lower_end_mm:9.0f}{heights}  {row.place}".rstrip())
    if result.old_bar is not None:
        lines += ["", *old_bar_lines(result.old_bar, "planned")]
    return "\n".join([*lines, "", *cautions.TRIM]) + "\n"


def _stage_lines(result):
    lines = ["Stages", "  no  height mm  cut before           mode   heard Hz    model   both together"]
    for row in stage_rows(result).to_dict("records"):
        done = f"{row['place']} {row['depth_mm']:.1f}" if row["place"] else ""
        head = f"  {row['stage']:2d}{row['height_mm']:11.1f}  {done:20s}"
        for n in MODES:
            heard = "-" if np.isnan(row[f"heard_{n}_hz"]) else f"{row[f'heard_{n}_hz']:.1f}"
            mark = " " if row[f"believed_{n}"] else "?"
            both, model = band_text(row[f"corrected_{n}_hz"], row[f"band_{n}_hz"]), row[f"model_{n}_hz"]
            lines.append(f"{head}{n:5d}{heard:>10s}{mark}{cell(model):>9s}   {both}")
            head = " " * len(head)
    return [*lines, f"  {BAND}; ?: a reading that is not used"]


def _tone(f, sd):
    return f"{f:8.1f} ±{HALF_WIDTH * sd:<5.1f}" if np.isfinite(f) else f"{cell(f):>8s}      "


def band_text(f: float, half: float) -> str:
    """Write a tone with the half width of its band, or a dash where there is none."""
    return f"{f:.1f} ± {half:.1f}" if np.isfinite(f) else cell(f)


def lost_lines(result: JobTrim) -> list[str]:
    """Sentences on modes that no shape of the model looks like with the bar as it stands."""
    now = result.proposal.expected.set_index("number")["now_hz"]
    return sentences(lost_tones(now.to_dict()))


def as_data(result: JobTrim) -> dict:
    """Plain data for JSON; mm, Hz, N/mm."""
    p, goal = result.proposal, result.goal
    return {
        **cautions.data_title(result.job),
        "stages": records(stage_rows(result)),
        "verdict": p.verdict,
        "text": p.text,
        "place": p.place.name if p.place else None,
        "depth_mm": plain(1e3 * p.depth),
        "expected": records(p.expected),
        "best_left_mm": plain(1e3 * p.left[0]),
        "careful_left_mm": plain(1e3 * p.left[1]),
        "limits": {
            "least_height_mm": plain(1e3 * goal.least_height),
            "least_end_mm": plain(1e3 * goal.least_end),
            "least_stiffness_n_per_mm": plain(1e-3 * goal.least_stiffness),
        },
        "stiffness_n_per_mm": dict(
            zip(("now", "after", "lowest"), (plain(1e-3 * s) for s in p.stiffness), strict=True)
        ),
        "places": records(p.options),
        "cut": records(cut_rows(result)),
        "guides": records(result.guides),
        "by_pitch": p.by_pitch,
        "old_bar": records(result.old_bar),
        "cautions": list(cautions.TRIM),
    }
