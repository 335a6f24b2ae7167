"""What the bench pack of a job shows, computed once: layout, modes, string load, glue and stop points."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import pandas as pd

from platemodel.bench.body.result import JobBody, job_body
from platemodel.bench.glue.result import JobGlue, job_glue
from platemodel.bench.kit.needs import job_bench, needed_bar
from platemodel.bench.kit.taps_apart import with_taps_finding
from platemodel.bench.layout.result import JobLayout, job_layout
from platemodel.bench.lines.result import JobLines, job_lines
from platemodel.bench.load.result import JobLoad, job_load
from platemodel.bench.modes.result import JobModes, job_modes
from platemodel.bench.pack.part_names import NEEDS, SHOW_TAPS, chosen
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.gaps import Gaps
from platemodel.instrument.side_view import usual_roughing
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.gluing.closing_on_top import locked_in, locked_in_table
from platemodel.study.top.foot import bass_foot_stiffness
from platemodel.study.top.model import TopModel
from platemodel.study.trimming.flex_stops import flex_sd, flex_stops
from platemodel.study.trimming.stop_points import stop_bars, stop_points
from platemodel.wood.estimate import doubt_of

SPRINGS = (0.3e-3, 0.5e-3)  # m of gap at each end, that are commonly given; common practice, no source
STAGES_FINENESS = 0.5  # of the mesh for the change from stage to stage of cutting
STAGES_TOLERANCE = 1e-2  # of its reduced model; its true error is a fiftieth of that, the bands are 2.5 %


@dataclass(frozen=True, eq=False)
class Plan:
    """Everything a pack shows; None for what was not asked for.

    Attributes
    ----------
    springs : DataFrame or None
        See `springs_table`.
    stops : DataFrame or None
        See `platemodel.study.trimming.stop_points`.
    body : JobBody or None
        The closed body, where the job tells of it or it was asked for.
    """

    job: Job
    layout: JobLayout
    modes: JobModes | None = None
    load: JobLoad | None = None
    glue: JobGlue | None = None
    lines: JobLines | None = None
    springs: pd.DataFrame | None = None
    stops: pd.DataFrame | None = None
    body: JobBody | None = None


def plan_job(
    job: Job,
    spring: float = 0.0,
    allowance: float | None = None,
    gaps: Gaps | None = None,
    progress: Progress = no_message,
    body: bool = False,
    only: Sequence[str] = (),
) -> Plan:
    """Compute the parts of a job's pack.

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
    body : bool
        Put in the closed body even where the job tells nothing of it.
    only : sequence of str
        Parts that are wanted, of `part_names.PARTS`; default all. Nothing is computed for the others.

    Raises
    ------
    JobError
        The job has no bar.
    ValueError, GeometryError
        See `job_layout` and `job_glue`.
    """
    bar = needed_bar(job, "a plan")
    names = chosen(only)
    wanted = {need for name in names for need in NEEDS.get(name, ())}
    allowance = usual_roughing(job.top) if allowance is None else allowance
    layout = job_layout(job, spring, allowance=allowance)
    bench = job_bench(job, progress=progress)
    found: dict[str, Any] = {}
    with ThreadPoolExecutor(1) as pool:  # factorisations let other threads work
        beside = {}
        if "lines" in wanted:
            beside["lines"] = pool.submit(job_lines, job, bench, progress)
        if "springs" in wanted:
            beside["springs"] = pool.submit(lambda: springs_table(bench.on_mesh(STAGES_FINENESS).model, bar))
        if "modes" in wanted:
            found["modes"] = job_modes(job, bench=bench)
        if set(SHOW_TAPS) & set(names):
            job = with_taps_finding(job, bench)
        if "load" in wanted:
            found["load"] = job_load(job, bench=bench)
        if "glue" in wanted:
            if gaps is None and spring > 0:
                gaps = Gaps.even_spring(bar.length, spring)
            found["glue"] = job_glue(job, gaps, progress=progress, bench=bench)
        # before the stop points: what learns for those is large, and stays
        if "body" in wanted and (body or "body" in only or tells_of_body(job)):
            found["body"] = job_body(job, progress, bench, spring)
        if "stops" in wanted:
            progress("working out the stop points")
            found["stops"] = _stops(job, bench, allowance)
        found |= {name: one.result() for name, one in beside.items()}
    return Plan(job, layout, **found)


def _stops(job, bench, allowance):
    """Stop points of the job's bar, with its flexes."""
    bar = job.bar
    finer = bench.tones(), bass_foot_stiffness(bench.model, bar).middle
    bars = [one for _, _, one in stop_bars(bar, allowance)]
    rough, span = bench.on_mesh(STAGES_FINENESS), BarRange.of(bars)
    stops = stop_points(
        rough.reduced(span, STAGES_TOLERANCE), bar, allowance, finer=finer, doubt=bench.tone_doubts()
    )
    final = bench.flexes()
    sd = {flex.test.kind: flex_sd(flex, job.top_wood, doubt_of(bar.wood)) for flex in final}
    return pd.concat([stops, flex_stops(bars, rough.bar_flexes(span), final, sd)], axis=1)


def tells_of_body(job: Job) -> bool:
    """Whether a job says anything of its ribs, blocks, back, neck, lever heights, air or body tones."""
    read = job.measured
    return bool(job.body or read.body_tones) or read.air_tone is not None


def springs_table(model: TopModel, bar: Bar) -> pd.DataFrame:
    """Even springs side by side, a row a spring and way of holding; see `locked_in_table`.

    Returns
    -------
    DataFrame
        ``spring_mm``, ``verdict`` and the columns of `locked_in_table`; without spring nothing is locked in.
    """
    parts = []
    for spring in SPRINGS:
        states = locked_in(model, bar, Gaps.even_spring(bar.length, spring))
        table = locked_in_table(states)
        table.insert(0, "spring_mm", 1e3 * spring)
        table["verdict"] = [s.closing.verdict for s in states]
        parts.append(table)
    return pd.concat(parts, ignore_index=True)
