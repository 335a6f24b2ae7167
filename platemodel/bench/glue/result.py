"""Fitting and gluing a job's bar as text, data and files."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from platemodel.errors import JobError, Problem
from platemodel.files import free_targets, written_together
from platemodel.instrument.bar import Bar
from platemodel.instrument.gaps import Gaps
from platemodel.job import JOB_FILE, Job
from platemodel.study.gluing.clamps import EVEN, ClampPlan, clamp_plan
from platemodel.study.gluing.closing import FILM, spread_of_force
from platemodel.study.gluing.closing_on_top import LockedIn, locked_in, locked_in_table
from platemodel.study.gluing.glue_window import FILM as SPREAD
from platemodel.study.gluing.glue_window import LONGEST, GlueWindow, glue_window
from platemodel.study.top.model import top_model
from platemodel.wood.moisture import equilibrium_moisture

CLAMPS, CLOSING, LOCKED, WINDOW, PAGE = (
    "glue_clamps.csv", "glue_closing.csv", "glue_locked_in.csv", "glue_window.csv", "glue.pdf",
)  # fmt: skip
FINENESS = 0.5
USUAL_HUMIDITY, USUAL_TEMPERATURE = 0.5, 20.0
FIRST = (
    "A model's estimate, no instruction to glue: the maker decides. An original or early bar, a valuable "
    "instrument, a crack under the bar: a qualified restorer or conservator first."
)
CAUTIONS = (
    ("Heat", "Hide glue at 60 °C scalds: pot with thermostat and lid, no flame. Warm the bare wood inside, "
     "to 40 °C at most, and feel the varnish side with the hand; old joints and cleats may let go."),
    ("Blades", "Bar against a stop, both hands behind the edge; pare the bar, never the plate."),
    ("Dust", "Old dust can hold worm poison, lead and mould: gloves, mask, take it up damp, do not sweep "
     "dry."),
    ("Varnish", "Soft-lined blocks shaped to the arch; no alcohol, no wet cloth, no steam near it; try "
     "blocks and pads dry, and take every clamp off slowly."),
    ("Practice", "Hide glue only, so that it can be undone; fit without light or chalk gaps first, clamps do "
     "not mend a bad fit; dry run with the clock; photograph, write down, keep the old bar."),
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class JobGlue:
    """Fitting and gluing of a job's bar.

    Attributes
    ----------
    job : Job
    bar : Bar
        As it is glued: the job's, or a blank of even height.
    gaps : Gaps or None
    locked : (LockedIn, LockedIn) or None
        Held and free; None without gaps.
    plan : ClampPlan
    window : GlueWindow
    """

    job: Job
    bar: Bar
    gaps: Gaps | None
    locked: tuple[LockedIn, LockedIn] | None
    plan: ClampPlan
    window: GlueWindow


def job_glue(
    job: Job,
    gaps: Gaps | None = None,
    blank: float | None = None,
    clamps: int | None = None,
    glue_c: float = 60.0,
    wood_c: float | None = None,
    room_c: float | None = None,
    gram: int = 192,
    fineness: float = FINENESS,
    progress: Callable[[str], None] | None = None,
) -> JobGlue:
    """Compute closing, clamps and glue window of a job.

    Parameters
    ----------
    job : Job
    gaps : Gaps, optional
        As read, or a spring; without them the bar is taken to fit.
    blank : float, optional
        Even height of the bar when it is glued, m, if it is planed to its profile afterwards.
    clamps : int, optional
        Their number; default the fewest that press evenly.
    glue_c, wood_c, room_c : float
        Degrees C; wood and room default to the job's temperature, else 20.
    gram : int
        Gram strength of the glue.
    fineness : float
        Of the top's mesh.
    progress : callable, optional
        Told in words what is being done.

    Raises
    ------
    JobError
        The job has no bar.
    ValueError
        See `clamp_plan` and `glue_window`.
    """
    tell = progress or (lambda _: None)
    if job.bar is None:
        allowed = "gluing needs a bar; add the table [bar]"
        raise JobError([Problem(JOB_FILE, "bar", "no such table", allowed)])
    bar = job.bar
    if blank is not None:
        bar = bar.with_height(np.full(2, blank), np.array([bar.x_start, bar.x_end]))
    room = job.measured.temperature if room_c is None else room_c
    room = USUAL_TEMPERATURE if room is None else room
    humidity = job.measured.relative_humidity or USUAL_HUMIDITY
    tell("glue between warm and cold wood")
    window = glue_window(
        bar,
        job.top,
        glue_c,
        room if wood_c is None else wood_c,
        room,
        equilibrium_moisture(humidity, room),
        humidity,
        gram,
    )
    locked = None
    if gaps is not None:
        tell("closing the gaps on the top")
        locked = locked_in(top_model(job.top, fineness, bar=bar), bar, gaps)
    tell("placing clamps")
    pressed = locked[0].closing if locked and not locked[0].closing.too_large else None
    plan = clamp_plan(bar, job.top, clamps, closing=pressed)
    return JobGlue(job, bar, gaps, locked, plan, window)


def closing_lines(result: JobGlue) -> list[str]:
    """Verdict and what is locked in, a sentence a line."""
    if result.locked is None:
        return ["No gaps given: the bar is taken to fit all over and to lie without spring."]
    held, free = result.locked
    closing = held.closing
    soft, stiff = spread_of_force(result.bar, closing)
    what = "Spring" if result.gaps.on_purpose else "Gaps"
    lines = [
        f"{what} up to {1e3 * result.gaps.gap.max():.2f} mm: {closing.verdict}.",
        f"Clamps {closing.total:.0f} N together ({soft:.0f} to {stiff:.0f} by the wood's stiffness) on a "
        f"plate held in its cradle, {free.closing.total:.0f} N where the plate gives "
        f"({100 * free.closing.plate_share:.0f} % of the bending work goes into it).",
    ]
    for state in result.locked:
        low, high = (1e-6 * v for v in state.after_years(state.bar_stress))
        lines.append(
            f"Glued {state.holding}: arch over the bar {1e3 * state.sagitta:+.2f} mm (foot "
            f"{1e3 * state.lift_foot:+.2f}, ends {1e3 * state.lift[0]:+.2f} and "
            f"{1e3 * state.lift[-1]:+.2f}); "
            f"{1e-6 * state.bar_stress:.1f} MPa locked into the bar, {1e-6 * state.plate_stress:.1f} into "
            f"the plate; in years {low:.1f} to {high:.1f} left in the bar."
        )
    lines.append(
        f"In the body the bass foot stands as if {min(held.foot_load, free.foot_load):.0f} to "
        f"{max(held.foot_load, free.foot_load):.0f} N were taken off it; part of that fades with the stress."
    )
    return lines


def plan_lines(result: JobGlue) -> list[str]:
    """How many clamps, how hard, how evenly, a sentence a line."""
    plan = result.plan
    low, high = (1e3 * v for v in plan.characteristic_length)
    pare = result.locked is not None and result.locked[0].closing.too_large
    lines = [
        *(["For the bar once it has been pared and fits:"] if pare else []),
        f"{plan.count} clamps, {plan.force.min():.0f} to {plan.force.max():.0f} N each, "
        f"{plan.force.sum():.0f} N together; pads {1e3 * plan.pad:.0f} mm long.",
        f"Least pressure {plan.evenness:.2f} of the greatest: {'even' if plan.even else 'uneven'} by our "
        f"rule ({EVEN:g}). A push reaches {low:.0f} (ends) to {high:.0f} mm (middle).",
    ]
    if not plan.even:
        lines.append("More clamps, a stiffer strip on the bar or a softer lining would even it out.")
    if plan.dents:
        lines.append(
            f"Too hard: above {1e-6 * plan.limits.dent:.1f} MPa the wood may dent; longer pads, more clamps."
        )
    turn = [f"{1e3 * plan.x[i]:.0f}" for i in plan.order]
    lines.append(
        "Set them in this order, mm from the lower edge: " + ", ".join(turn) + "; then the middle anew."
    )
    return lines


def window_lines(result: JobGlue) -> list[str]:
    """Contact temperature, open and closed time, what warming buys, a sentence a line."""
    window = result.window
    first = window.table.iloc[0]
    lines = [
        f"Glue at {window.joint.glue_c:g} °C meets wood at {first['wood_c']:g} °C with "
        f"{window.contact_c:.0f} °C and gels at {window.joint.gel_c:g} ± 2 °C.",
        f"Open on the bar {_seconds(first, 'open')}; set down after {window.lay_s:.0f} s, gelled "
        f"{_seconds(first, 'closed')} after spreading.",
    ]
    for row in window.table.iloc[1:].itertuples():
        lines.append(f"Wood at {row.wood_c:g} °C: open time times {row.times:.1f}.")
    lines.append(
        f"Bands: film {1e3 * SPREAD[0]:.1f} to {1e3 * SPREAD[-1]:.1f} mm, moving to still air, gel "
        "temperature. A film twice as thick takes four times as long."
    )
    return [*lines, *(w[0].upper() + w[1:] + "." for w in window.warnings)]


def _seconds(row, name):
    low, mid, high = (row[f"{name}_{n}_s"] for n in ("low", "mid", "high"))
    return f"{_time(mid)} ({_time(low)} to {_time(high)})"


def _time(seconds):
    return f"{seconds:.0f} s" if seconds < LONGEST else f"over {LONGEST:.0f} s"


def as_text(result: JobGlue) -> str:
    """Tables for the terminal."""
    job = result.job
    lines = [job.name + (". INVENTED DATA, no real instrument." if job.invented else ""), FIRST]
    lines += ["", "Closing"] + [f"  {line}" for line in closing_lines(result)]
    if result.locked is not None:
        lines.append("  from lower end    gap mm   force N   MPa   verdict (plate held)")
        for row in result.locked[0].closing.table.itertuples():
            lines.append(
                f"  {row.s_mm:10.1f} mm {row.gap_mm:11.2f}{row.force_n:10.1f}{row.stress_mpa:6.1f}"
                f"   {row.verdict}"
            )
    lines += ["", "Clamps"] + [f"  {line}" for line in plan_lines(result)]
    lines.append("  set as   along x, y mm     force N   block outside")
    for row in result.plan.table.itertuples():
        lines.append(
            f"  {row.set_as:6d}{row.x_mm:9.1f},{row.y_mm:+6.1f}{row.force_n:12.0f}   {row.block}".rstrip()
        )
    lines += ["", "Glue window"] + [f"  {line}" for line in window_lines(result)]
    lines.append("  wood    contact   open on the bar                closed, from spreading")
    for _, row in result.window.table.iterrows():
        lines.append(
            f"  {row['wood_c']:3.0f} °C{row['contact_c']:7.0f} °C   {_seconds(row, 'open'):31s}"
            f"{_seconds(row, 'closed')}"
        )
    lines += ["", "Cautions"] + [f"  {name}: {text}" for name, text in CAUTIONS]
    return "\n".join(lines) + "\n"


def as_data(result: JobGlue) -> dict:
    """Plain data for JSON; mm, N, MPa, s. A time longer than is told apart is null."""
    plan, window = result.plan, result.window
    out = {
        "name": result.job.name,
        "invented": result.job.invented,
        "caution": FIRST,
        "clamps": {
            "count": plan.count,
            "order_x_mm": [round(1e3 * float(plan.x[i]), 1) for i in plan.order],
            "evenness": round(plan.evenness, 3),
            "even": plan.even,
            "dents": plan.dents,
            "places": _records(plan.table),
        },
        "glue_window": {
            "contact_c": round(window.contact_c, 1),
            "rows": _records(window.table),
            "warnings": list(window.warnings),
        },
        "cautions": dict(CAUTIONS),
    }
    if result.locked is not None:
        closing = result.locked[0].closing
        out["closing"] = {
            "verdict": closing.verdict,
            "film_mm": 1e3 * FILM,
            "stations": _records(closing.table),
            "locked_in": _records(locked_in_table(result.locked)),
        }
    return out


def _records(table):
    return [{k: _plain(v) for k, v in row.items()} for row in table.to_dict("records")]


def _plain(value):
    if isinstance(value, float):
        return round(value, 4) if np.isfinite(value) else None
    return value


def target_files(folder: str | os.PathLike, gaps: bool, force: bool = False) -> list[Path]:
    """Name the files that `write_files` writes; those of the closing only with gaps.

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set.
    """
    names = [CLAMPS, *((CLOSING, LOCKED) if gaps else ()), WINDOW, PAGE]
    return free_targets(folder, names, force)


def write_files(result: JobGlue, folder: str | os.PathLike, force: bool = False) -> list[Path]:
    """Write the tables and the page; nothing is written unless all can be.

    Parameters
    ----------
    result : JobGlue
    folder : path
        Made if missing.
    force : bool
        Replace files that are there.

    Returns
    -------
    list of Path

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set.
    OSError
        The folder cannot be written to.
    """
    from platemodel.bench.glue.page import glue_page
    from platemodel.bench.kit.page import save_figure

    targets = target_files(folder, result.locked is not None, force)
    tables = {CLAMPS: result.plan.table, WINDOW: result.window.table}
    if result.locked is not None:
        tables |= {CLOSING: result.locked[0].closing.table, LOCKED: locked_in_table(result.locked)}
    with written_together(targets) as drafts:
        for path in drafts[:-1]:
            tables[path.name].round(4).to_csv(path, index=False, lineterminator="\n")
        save_figure(glue_page(result), drafts[-1])
    return targets
