"""The bench pack of a job: everything computed once, written as one set of sheets, pictures and tables."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pandas as pd

from platemodel.bench.glue import report as glue_report
from platemodel.bench.glue.result import JobGlue, job_glue
from platemodel.bench.kit.needs import job_bench, needed_bar, no_message
from platemodel.bench.kit.report import write_csv
from platemodel.bench.layout import report as layout_report
from platemodel.bench.layout.result import JobLayout, job_layout
from platemodel.bench.load import report as load_report
from platemodel.bench.load.result import JobLoad, job_load
from platemodel.bench.modes import report as mode_report
from platemodel.bench.modes.result import JobModes, job_modes
from platemodel.files import write_numbered_folder
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.gaps import Gaps
from platemodel.instrument.side_view import usual_roughing
from platemodel.job import Job
from platemodel.study.trimming.stop_points import stop_points

PACK = "bench_pack.pdf"
FOLDER = "pack"
STAGES_FINENESS = 0.5  # of the mesh that tells the change from stage to stage of cutting
STAGES_TOLERANCE = 1e-2  # of its reduced model; its true error is a fiftieth of that, the bands are 2.5 %


@dataclass(frozen=True, eq=False)
class Plan:
    """Everything a pack shows.

    Attributes
    ----------
    job : Job
    modes : JobModes
    load : JobLoad
    layout : JobLayout
    glue : JobGlue
    stops : DataFrame
        See `platemodel.study.trimming.stop_points`.
    corrected : bool
        Whether the stops were corrected by taps of the bare top.
    """

    job: Job
    modes: JobModes
    load: JobLoad
    layout: JobLayout
    glue: JobGlue
    stops: pd.DataFrame
    corrected: bool


def plan_job(
    job: Job,
    spring: float = 0.0,
    allowance: float | None = None,
    gaps: Gaps | None = None,
    progress: Callable[[str], None] | None = None,
) -> Plan:
    """Compute all parts of a job's pack.

    Parameters
    ----------
    job : Job
        With a bar.
    spring : float
        Even gap at each end on purpose, m.
    allowance : float, optional
        Height left on when the bar is glued, m; default 1 mm, 2 mm for a cello.
    gaps : Gaps, optional
        As read under the bar; default the spring's.
    progress : callable, optional
        Called with a short status message.

    Raises
    ------
    JobError
        The job has no bar.
    ValueError, GeometryError
        See `job_layout` and `job_glue`.
    """
    bar = needed_bar(job, "a plan")
    tell = progress or no_message
    allowance = usual_roughing(job.top) if allowance is None else allowance
    layout = job_layout(job, spring, allowance=allowance)
    bench = job_bench(job, progress=progress)
    modes = job_modes(job, bench=bench)
    load = job_load(job, bench=bench)
    if gaps is None and spring > 0:
        gaps = Gaps.even_spring(bar.length, spring)
    glue = job_glue(job, gaps, progress=progress, bench=bench)
    tell("working out the stop points")
    heard = {n: r.frequency for n, r in job.heard(False).items()}
    finer = tuple({n: m.frequency(n) for n in (1, 2, 5)} for m in (modes.without, modes.with_bar))
    rough = bench.on_mesh(STAGES_FINENESS).reduced(stages_range(bar, allowance), STAGES_TOLERANCE)
    stops = stop_points(rough, bar, allowance, heard, finer=finer)
    return Plan(job, modes, load, layout, glue, stops, bool(heard))


def stages_range(bar: Bar, allowance: float) -> BarRange:
    """Bars that the stop points ask for: from the final height to an even bar, its wood as it is."""
    low, high = 0.99 * bar.heights, 1.01 * (bar.heights.max() + allowance)
    ends = float(low[[0, -1]].min()), float(high)
    return BarRange((float(low.max()), float(high)), ends, (1.0, 3.0), (1, 1), (1, 1))


def write_pack(
    plan: Plan,
    folder: str | os.PathLike,
    paper: str = "A4",
    progress: Callable[[str], None] | None = None,
) -> list[Path]:
    """Write a pack into a new numbered folder; earlier packs are kept, and nothing is left of a failed one.

    Parameters
    ----------
    plan : Plan
    folder : path
        Made if missing; the pack is ``pack_001``, ``pack_002`` ... in it.
    paper : str
        ``A4`` or ``A3``, of the sheets at 1:1.
    progress : callable, optional
        Called with a short status message.

    Returns
    -------
    list of Path
        The PDF first.

    Raises
    ------
    OSError
        The folder cannot be written to.
    ValueError
        Unknown paper.
    """
    tell = progress or no_message

    def write(draft, number):
        _write_parts(plan, draft, tell)
        tell("drawing the pack")
        _bind(plan, draft / PACK, paper, number)

    target = write_numbered_folder(folder, FOLDER, write)
    return [target / PACK, *sorted(p for p in target.iterdir() if p.name != PACK)]


def _write_parts(plan, folder, tell):
    tell("drawing the layout")
    parts = [(plan.layout, layout_report.DRAWINGS | layout_report.TABLES)]
    parts += [
        (result, {name: report.files[name] for name in names})
        for result, report, names in (
            (plan.modes, mode_report.REPORT, ("plate_modes.csv",)),
            (plan.load, load_report.REPORT, ("string_load.csv", "string_load_margins.csv")),
            (plan.glue, glue_report.REPORT, ("glue_clamps.csv",)),
        )
    ]
    for result, writers in parts:
        for name, write in writers.items():
            write(result, folder / name)
    write_csv(plan.stops, folder / "stop_points.csv", 3)


def _bind(plan, path, paper, number):
    from platemodel.bench import sheets
    from platemodel.bench.glue.page import glue_page
    from platemodel.bench.load.page import load_page
    from platemodel.bench.modes.page import mode_page
    from platemodel.bench.pack.first_page import first_page
    from platemodel.bench.pack.frame import Stamp, stamped
    from platemodel.bench.pack.job_sheet import job_pages
    from platemodel.bench.pack.stop_sheet import stop_sheet

    stamp = Stamp(plan.job.name, number, date.today().isoformat())
    with sheets.true_size():
        pages = [
            first_page(plan),
            *job_pages(plan),
            *sheets.layout_pages(plan.layout, paper),
            *sheets.template_pages(plan.layout, paper),
            stop_sheet(plan),
            glue_page(plan.glue),
            mode_page(plan.modes),
            load_page(plan.load),
        ]
        sheets.save_pages(stamped(pages, stamp), path)
