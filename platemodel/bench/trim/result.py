"""Trimming a job's bar by tap: stages so far and the next cut, as text, data and files."""

import os
import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from platemodel.errors import JobError, Problem
from platemodel.files import free_targets, written_together
from platemodel.instrument.bar_cuts import bridge_height, bridge_line
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.bar_shape import usual_least_end
from platemodel.job import JOB_FILE, Job
from platemodel.job.stages import STAGES_FILE, StageRow, stage_bars
from platemodel.study.top.foot import bass_foot_stiffness
from platemodel.study.top.model import top_model
from platemodel.study.top.reduced_top import reduced_top
from platemodel.study.trimming.next_cut import HAND, SURE, Goal, Proposal, propose_cut
from platemodel.study.trimming.tap_correction import MODES, Stage

FILES = ("trimming.pdf", "trimming_cut.csv", "trimming_stages.csv")
LEAST_HEIGHT = 0.8  # of the height of the job's bar, where none is given; judgement
LEAST_STIFFNESS = 0.9  # of the job's bar under the bass foot, where none is given; judgement
PITCH = 20e-3  # of the stations, m
ROUGH_RULER = 0.5  # mm of bar hidden by a tap, from which it is said
DEAF = 0.3  # share of the bar's height hidden by a tap, from which a mode is no guide
BAND = f"± holds 90 of 100 ({SURE} standard deviations)"
CAUTIONS = (
    "A model's estimate, not an instruction to cut: the maker decides. Wood cannot be put back. An original "
    "or early bar, a valuable instrument, a crack: a qualified restorer first.",
    "Blades: top in its cradle, edge away from the other hand and from the plate; guard the plate beside the "
    "bar. Let the glue dry 12 to 24 hours first (common practice, no source).",
    "Tap in the same air, hold and place each time; a tap tone is no target by itself. Measure heights from "
    "the plate, at the bridge line.",
)


@dataclass(frozen=True, eq=False)
class JobTrim:
    """Trimming of a job's bar.

    Attributes
    ----------
    job : Job
    rows : tuple of StageRow
    stages : tuple of Stage
    goal : Goal
    proposal : Proposal
    full_stiffness : float
        Under the bass foot with the job's bar, N/m.
    """

    job: Job
    rows: tuple[StageRow, ...]
    stages: tuple[Stage, ...]
    goal: Goal
    proposal: Proposal
    full_stiffness: float

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
    fineness: float = 1.0,
    progress: Callable[[str], None] | None = None,
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
    fineness : float
        Of the mesh; 1 is the default.
    progress : callable, optional
        Told in words what is being done.

    Raises
    ------
    JobError
        No bar, no stages, or a height that the bar does not allow.
    """
    check_job(job)
    if not rows:
        found = "no stages"
        what = "give the first, as in --heard 5=230 --height-mm 15, or write the table"
        raise JobError([Problem(STAGES_FILE, "", found, what)])
    tell = progress or (lambda _: None)
    x_bridge = job.top.bridge.x
    bars = stage_bars(job.bar, rows, x_bridge)
    stages = tuple(Stage(bar, row.heard) for bar, row in zip(bars, rows, strict=True))
    if least_height is None:
        least_height = LEAST_HEIGHT * bridge_height(job.bar, x_bridge)
    if least_end is None:
        least_end = usual_least_end(job.top)
    tell("laying the mesh")
    model = top_model(job.top, fineness, bar=job.bar)
    tell("getting the top ready for lower bars")
    span = trim_range([job.bar, *bars], x_bridge, least_height, least_end)
    model = reduced_top(model, job.bar, span, progress=progress)
    full = bass_foot_stiffness(model, job.bar).middle
    tell("trying cuts")
    goal = Goal(wanted, least_height, least_end, least_share * full)
    return JobTrim(job, tuple(rows), stages, goal, propose_cut(model, stages, goal), full)


def check_job(job: Job) -> None:
    """Refuse a job without bar.

    Raises
    ------
    JobError
    """
    if job.bar is None:
        what = "add [bar] as it was planned; an empty one means the usual bar"
        raise JobError([Problem(JOB_FILE, "bar", "no bar", what)])


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
            cells[f"band_{one.number}_hz"] = SURE * one.sd_hz
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
            "past": "is passed already; wood cannot be put back",
        }[row.reachable]
        stop = (
            f" Stop when you hear {row.stop_hz:.1f} Hz or less."
            if row.reachable in ("yes", "perhaps")
            else ""
        )
        lines.append(
            f"mode {row.number}: goal {row.goal_hz:.1f} Hz {reach} (at the limits {row.least_hz:.1f} ± "
            f"{SURE * row.least_sd_hz:.1f} Hz).{stop}"
        )
        if row.hidden_mm > 1e3 * DEAF * result.height:
            lines.append(f"  this bar hardly moves mode {row.number}: no tap of it can guide the cut")
        elif row.hidden_mm > ROUGH_RULER:
            lines.append(
                f"  a tap tells this bar's height to no better than {row.hidden_mm:.1f} mm: go by height and "
                "stiffness too"
            )
    best, careful = p.left
    if p.verdict == "cut":
        far = "its room ends before the goal" if np.isinf(best) else f"the goal is {1e3 * best:.1f} mm away"
        sure = "" if np.isinf(careful) else f"; up to {1e3 * careful:.1f} mm is sure not to pass a goal"
        lines.append(f"cutting at this place only: {far}{sure}")
    share = 100 * goal.least_stiffness / result.full_stiffness
    lines.append(
        f"limits: {1e3 * goal.least_height:.1f} mm under the bridge, {1e3 * goal.least_end:.1f} mm anywhere, "
        f"{1e-3 * goal.least_stiffness:.1f} N/mm under the bass foot ({share:.0f} % of the planned bar's); "
        f"{1e3 * HAND:.1f} mm is kept from each for the hand"
    )
    now, after, low = (1e-3 * s for s in p.stiffness)
    cut = f", after the cut {after:.1f}" if p.depth else ""
    lines.append(f"stiffness under the bass foot: now {now:.1f}{cut}, lowest bar {low:.1f} N/mm")
    return lines


def as_text(result: JobTrim) -> str:
    """Tables for the terminal."""
    p, job = result.proposal, result.job
    lines = [job.name + (". INVENTED DATA, no real instrument." if job.invented else ""), ""]
    lines += [*_stage_lines(result), "", "Verdict", f"  {p.text[0].upper()}{p.text[1:]}."]
    if p.place:
        lines.append(f"  {p.place.name}: {p.place.words}")
    lines += ["", "Expect", "  mode       now Hz         after Hz     goal"]
    for row in p.expected.itertuples():
        now = f"{row.now_hz:8.1f} ±{SURE * row.now_sd_hz:<5.1f}"
        after = f"{row.after_hz:8.1f} ±{SURE * row.sd_hz:<5.1f}" if p.depth else f"{'-':>8s}      "
        goal = "" if np.isnan(row.goal_hz) else f"{row.goal_hz:.1f}"
        lines.append(f"  {row.number}   {now}  {after} {goal:>7s}".rstrip())
    lines += [f"  {part}" for line in expectation_lines(result) for part in _wrapped(line)]
    lines += [
        "",
        "What 0.1 mm does at each place",
        "  place          room mm   mode 1   mode 2   mode 5 Hz   stiffness %",
    ]
    for row in p.options.itertuples():
        changes = f"{row.f1_hz:+9.2f}{row.f2_hz:+9.2f}{row.f5_hz:+9.2f}{row.stiffness_percent:+14.2f}"
        lines.append(f"  {row.place:14s}{row.room_mm:8.1f}{changes}")
    if p.depth:
        lines += ["", "Cut, mm from the plate", "  from lower end     now   take off   after"]
        for row in cut_rows(result).itertuples():
            heights = f"{row.now_mm:13.1f}{row.take_off_mm:10.1f}{row.after_mm:9.1f}"
            lines.append(f"  {row.from_lower_end_mm:9.0f}{heights}  {row.place}".rstrip())
    return "\n".join([*lines, "", *(part for line in CAUTIONS for part in _wrapped(line))]) + "\n"


def _stage_lines(result):
    lines = ["Stages", "  no  height mm  cut before           mode   heard Hz    model   both together"]
    for row in stage_rows(result).to_dict("records"):
        done = f"{row['place']} {row['depth_mm']:.1f}" if row["place"] else ""
        head = f"  {row['stage']:2d}{row['height_mm']:11.1f}  {done:20s}"
        for n in MODES:
            heard = "-" if np.isnan(row[f"heard_{n}_hz"]) else f"{row[f'heard_{n}_hz']:.1f}"
            mark = " " if row[f"believed_{n}"] else "?"
            both = f"{row[f'corrected_{n}_hz']:.1f} ± {row[f'band_{n}_hz']:.1f}"
            lines.append(f"{head}{n:5d}{heard:>10s}{mark}{row[f'model_{n}_hz']:9.1f}   {both}")
            head = " " * len(head)
    return [*lines, f"  {BAND}; ?: a reading not believed"]


def _wrapped(line):
    return textwrap.wrap(line, 92, subsequent_indent="  ")


def as_data(result: JobTrim) -> dict:
    """Plain data for JSON; mm, Hz, N/mm."""
    p, goal = result.proposal, result.goal
    return {
        "name": result.job.name,
        "invented": result.job.invented,
        "stages": _records(stage_rows(result)),
        "verdict": p.verdict,
        "text": p.text,
        "place": p.place.name if p.place else None,
        "depth_mm": round(1e3 * p.depth, 3),
        "expected": _records(p.expected),
        "best_left_mm": _plain(1e3 * p.left[0]),
        "careful_left_mm": _plain(1e3 * p.left[1]),
        "limits": {
            "least_height_mm": round(1e3 * goal.least_height, 3),
            "least_end_mm": round(1e3 * goal.least_end, 3),
            "least_stiffness_n_per_mm": round(1e-3 * goal.least_stiffness, 3),
        },
        "stiffness_n_per_mm": dict(
            zip(("now", "after", "lowest"), (_plain(1e-3 * s) for s in p.stiffness), strict=True)
        ),
        "places": _records(p.options),
        "cut": _records(cut_rows(result)),
        "cautions": list(CAUTIONS),
    }


def _records(table):
    return [{k: _plain(v) for k, v in row.items()} for row in table.to_dict("records")]


def _plain(value):
    if isinstance(value, float):
        return round(value, 4) if np.isfinite(value) else None
    return value


def target_files(folder: str | os.PathLike, force: bool = False) -> list[Path]:
    """Name the files that `write_files` writes.

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set.
    """
    return free_targets(folder, FILES, force)


def write_files(result: JobTrim, folder: str | os.PathLike, force: bool = False) -> list[Path]:
    """Write page and tables; nothing is written unless all can be.

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set.
    OSError
        The folder cannot be written to.
    """
    from platemodel.bench.kit.page import save_figure
    from platemodel.bench.trim.plots import trim_page

    targets = target_files(folder, force)
    with written_together(targets) as drafts:
        save_figure(trim_page(result), drafts[0])
        for table, path in zip((cut_rows(result), stage_rows(result)), drafts[1:], strict=True):
            table.round(3).to_csv(path, index=False, lineterminator="\n")
    return targets
