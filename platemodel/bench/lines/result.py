"""Where else a job's bar could go: a few lines with their distances, conflicts, stiffness and tones."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.finding_words import short
from platemodel.bench.kit.needs import job_bench, needed_bar
from platemodel.bench.kit.old_bar import old_figures
from platemodel.bench.kit.tables import aligned, plain, records
from platemodel.errors import PlatemodelError
from platemodel.instrument.candidate_lines import Candidate, candidate_lines, old_line
from platemodel.instrument.layout_cures import foot_inset_of
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.top.answers import bar_response
from platemodel.study.top.foot import bass_foot_stiffness
from platemodel.study.top.model import top_model
from platemodel.study.top.workbench import Workbench

FINENESS = 0.5  # of the mesh on which the lines are compared
FIGURES = {
    "f1_hz": ("mode 1, Hz", 1), "f2_hz": ("mode 2, Hz", 1), "f5_hz": ("mode 5, Hz", 1),
    "foot_n_per_mm": ("under the bass foot, N/mm", 1), "bar_g": ("bar, g", 1),
}  # fmt: skip
DISTANCES = {
    "lower_mm": "axis to inner edge, lower end",
    "bridge_mm": "axis to inner edge, bridge line",
    "upper_mm": "axis to inner edge, upper end",
    "foot_mm": "inside the bass foot, outer edges",
    "hole_mm": "to the bass sound hole",
}
NO_TONE = "no clean tone"
OLD_NOTE = (
    "The old bar has its own length, width and height; its lines to type put the planned bar where it lay."
)


@dataclass(frozen=True, eq=False)
class JobLines:
    """Lines of a job's bar.

    Attributes
    ----------
    job : Job
    candidates : tuple of Candidate
        The planned line first; last the old bar as it was, where the job tells of one.
    table : DataFrame
        A row a line: ``line``, the columns of ``DISTANCES`` (mm) and of ``FIGURES``; NaN where there is no
        wood under the bar, or no clean tone.
    """

    job: Job
    candidates: tuple[Candidate, ...]
    table: pd.DataFrame


def job_lines(job: Job, bench: Workbench | None = None, progress: Progress = no_message) -> JobLines:
    """Work out the lines of a job's bar.

    Parameters
    ----------
    job : Job
        With a bar.
    bench : Workbench, optional
        Of the job, where others have computed on it already.
    progress : callable, optional
        Called with a short status message.

    Notes
    -----
    All lines are solved on one mesh fineness; each figure is that of the planned bar on the bench's mesh,
    changed by as much as it changes on the coarser ones. Those of the old bar are the same as on all pages.
    """
    bar = needed_bar(job, "a choice of lines")
    bench = bench or job_bench(job, progress=progress)
    found = candidate_lines(job.top, bar, job.marks)

    def row(candidate):
        progress(f"the line {candidate.name}")
        return {"line": candidate.name} | _distances(job.top, candidate.bar) | _figures(bench, candidate)

    with ThreadPoolExecutor(2) as pool:  # factorisations let other threads work
        table = pd.DataFrame(list(pool.map(row, found)))
    modes = bench.with_bar
    planned = {f"f{n}_hz": modes.frequency(n) for n in (1, 2, 5)}
    planned["foot_n_per_mm"] = 1e-3 * bass_foot_stiffness(bench.model, bar).middle
    for name, value in planned.items():
        factor = value / table[name].iloc[0]
        table[name] *= factor if np.isfinite(factor) else 1.0
        table.loc[0, name] = value
    old = old_figures(job, bench, progress)
    if old is None:
        return JobLines(job, found, table)
    was = old_line(job.top, bar, job.old_bar, job.marks)
    row = {"line": was.name} | _distances(job.top, was.bar) | {name: old[name] for name in FIGURES}
    return JobLines(job, (*found, was), pd.concat([table, pd.DataFrame([row])], ignore_index=True))


def _distances(top, bar):
    at = np.array([bar.x_start, top.bridge.x, bar.x_end])
    inner = -1e3 * bar.flanks(at)[1]
    hole = min((bar.polygon.distance(h.polygon) for h in top.sound_holes if h.side == "bass"), default=np.nan)
    mm = (*inner, 1e3 * foot_inset_of(top, bar), 1e3 * hole)
    return dict(zip(DISTANCES, (float(v) for v in mm), strict=True))


def _figures(bench, candidate):
    bar = candidate.bar
    out = dict.fromkeys(FIGURES, np.nan) | {"bar_g": 1e3 * bar.mass()}
    if not candidate.seated:
        return out
    try:
        planned = bar is bench.bar
        model = bench.on_mesh(FINENESS).model if planned else top_model(bench.top, FINENESS, bar=bar)
        found = bar_response(model, bar)
    except PlatemodelError:
        return out
    tones = {f"f{n}_hz": found.frequency(n) for n in (1, 2, 5)}
    return out | tones | {"foot_n_per_mm": 1e-3 * found.foot.middle}


def shown(result: JobLines, k: int, name: str) -> str:
    """Text of a figure of a line, counted from 0."""
    value = float(result.table[name].iloc[k])
    if np.isfinite(value):
        return f"{value:.{FIGURES[name][1] if name in FIGURES else 1}f}"
    if not result.candidates[k].seated:
        return "no wood there"
    return NO_TONE if name.startswith("f") and name.endswith("_hz") else "not worked out"


def choice_note(result: JobLines) -> str:
    """Say what looks for a bar on these lines."""
    lines = "each of these lines" if result.job.old_bar is None else "each of these lines but the last"
    return f"platemodel choose FOLDER --free line looks for the lightest bar on {lines}."


def as_text(result: JobLines) -> str:
    """Table for the terminal, with the conflicts and the lines to type."""
    job, found = result.job, result.candidates
    heads = [chr(ord("A") + k) for k in range(len(found))]
    lines = [cautions.text_title(job), "", "Where the bar could go"]
    lines += [f"  {h}  {c.name}" for h, c in zip(heads, found, strict=True)]
    rows = [["mm", *heads]]
    labels = DISTANCES | {k: v[0] for k, v in FIGURES.items()}
    rows += [[label, *(shown(result, k, n) for k in range(len(found)))] for n, label in labels.items()]
    lines += ["", *aligned(rows)]
    for h, c in zip(heads, found, strict=True):
        lines += ["", f"{h}  {c.name}"]
        lines += [f"  ! {short(f)}" for f in c.conflicts] or ["  nothing in the way"]
        lines += [f"    {line}" for line in c.lines]
    if result.job.old_bar is not None:
        lines += ["", OLD_NOTE]
    lines += [
        "",
        "The program does not choose: a bar under its foot and a bar clear of the hole are weighed by the "
        "maker.",
        choice_note(result),
    ]
    return "\n".join(lines) + "\n"


def as_data(result: JobLines) -> dict:
    """Plain data for JSON."""
    return {
        "name": result.job.name,
        "invented": result.job.invented,
        "lines": [
            row
            | {
                "conflicts": [{"kind": f.kind, "message": f.message, "where": f.where} for f in c.conflicts],
                "type_in_bar": list(c.lines),
                "seated": plain(c.seated),
            }
            for row, c in zip(records(result.table), result.candidates, strict=True)
        ],
    }
