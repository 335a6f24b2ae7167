"""The bench pack of a job: everything computed once, written as one set of sheets, pictures and tables."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from platemodel.bench.glue import result as glue_report
from platemodel.bench.glue.result import JobGlue
from platemodel.bench.layout import result as layout_report
from platemodel.bench.layout.result import JobLayout
from platemodel.bench.load import result as load_report
from platemodel.bench.load.result import JobLoad
from platemodel.bench.modes import result as mode_report
from platemodel.bench.modes.result import JobModes
from platemodel.errors import JobError, Problem
from platemodel.files import write_numbered_folder
from platemodel.instrument.gaps import Gaps
from platemodel.instrument.side_view import usual_roughing
from platemodel.job import JOB_FILE, Job
from platemodel.study.top.model import top_model
from platemodel.study.trimming.stop_points import stop_points

PACK = "bench_pack.pdf"
FOLDER = "pack"
STAGES_FINENESS = 0.5  # of the mesh that tells the change from stage to stage of cutting


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
        Told in words what is being done.

    Raises
    ------
    JobError
        The job has no bar.
    ValueError, GeometryError
        See `job_layout` and `job_glue`.
    """
    if job.bar is None:
        what = "a plan needs a bar; add the table [bar], an empty one means the usual bar"
        raise JobError([Problem(JOB_FILE, "bar", "no such table", what)])
    tell = progress or (lambda _: None)
    allowance = usual_roughing(job.top) if allowance is None else allowance
    layout = layout_report.job_layout(job, spring, allowance=allowance)
    modes = mode_report.job_modes(job, progress=progress)
    load = load_report.job_load(job, model=modes.model, progress=progress)
    if gaps is None and spring > 0:
        gaps = Gaps.even_spring(job.bar.length, spring)
    glue = glue_report.job_glue(job, gaps, progress=progress)
    tell("cutting down in steps")
    heard = {n: r.frequency for n, r in job.heard(False).items()}
    finer = tuple({n: m.frequency(n) for n in (1, 2, 5)} for m in (modes.without, modes.with_bar))
    rough = top_model(job.top, STAGES_FINENESS, bar=job.bar)
    stops = stop_points(rough, job.bar, allowance, heard, finer=finer)
    return Plan(job, modes, load, layout, glue, stops, bool(heard))


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
        Told in words what is being done.

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
    tell = progress or (lambda _: None)

    def write(draft):
        _write_parts(plan, draft, tell)
        tell("binding the pack")
        _bind(plan, draft / PACK, paper)

    target = write_numbered_folder(folder, FOLDER, write)
    return [target / PACK, *sorted(p for p in target.iterdir() if p.name != PACK)]


def _write_parts(plan, folder, tell):
    tell("drawing the layout")
    layout_report.write_drawings(plan.layout, folder)
    mode_report.as_table(plan.modes).round(3).to_csv(
        folder / "plate_modes.csv", index=False, lineterminator="\n"
    )
    tables = {
        "string_load.csv": plan.load.load.table,
        "string_load_margins.csv": load_report.margin_rows(plan.load),
        "glue_clamps.csv": plan.glue.plan.table,
    }
    for name, table in tables.items():
        table.to_csv(folder / name, index=False, lineterminator="\n", float_format="%.5g")
    plan.stops.round(3).to_csv(folder / "stop_points.csv", index=False, lineterminator="\n")


def _bind(plan, path, paper):
    from platemodel.bench import sheets
    from platemodel.bench.glue.page import glue_page
    from platemodel.bench.load.page import load_page
    from platemodel.bench.modes.page import mode_page
    from platemodel.bench.pack.job_sheet import job_sheet, stop_sheet

    job = plan.job
    notes = "Invented data, no real instrument." if job.invented else ""
    with sheets.true_size():
        pages = [
            job_sheet(plan),
            *sheets.layout_pages(plan.layout, paper),
            *sheets.template_pages(plan.layout, paper),
            stop_sheet(plan),
            glue_page(plan.glue),
            mode_page(f"Plate modes: {job.name}", plan.modes.rows, notes),
            load_page(f"String load: {job.name}", plan.load.load, notes),
        ]
        sheets.save_pages(pages, path)
