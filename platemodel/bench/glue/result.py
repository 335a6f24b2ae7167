"""Fitting and gluing a job's bar as text, data and files."""

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.needs import job_bench, needed_bar
from platemodel.bench.kit.old_bar import beside_old_bar, old_bar_lines
from platemodel.bench.kit.tables import plain, records
from platemodel.instrument.bar import Bar
from platemodel.instrument.gaps import Gaps
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.mark_checks import check_blocks, marks_under
from platemodel.instrument.strings import KGF
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.gluing.clamps import EVEN, ClampPlan, clamp_plan
from platemodel.study.gluing.closing import FILM, spread_of_force
from platemodel.study.gluing.closing_on_top import LockedIn, locked_in, locked_in_table
from platemodel.study.gluing.glue_window import FILM as SPREAD
from platemodel.study.gluing.glue_window import LONGEST, GlueConditions, GlueWindow, glue_window
from platemodel.study.gluing.hand_forces import FEEL, OFF, HandForces, hand_forces
from platemodel.study.top.workbench import Workbench
from platemodel.wood.moisture import equilibrium_moisture

FINENESS = 0.5
USUAL_HUMIDITY, USUAL_TEMPERATURE = 0.5, 20.0


@dataclass(frozen=True, eq=False)
class JobGlue:
    """Fitting and gluing of a job's bar.

    Attributes
    ----------
    bar : Bar
        As it is glued: the job's, or a blank of even height.
    locked : (LockedIn, LockedIn) or None
        Held and free; None without gaps.
    hand : HandForces
        Of the plan, as a hand sets them.
    conflicts : tuple of Finding
        Blocks that press on a mark.
    old_bar : DataFrame or None
        The old bar beside the new one; see `platemodel.study.top.old_bar.beside`.
    """

    job: Job
    bar: Bar
    gaps: Gaps | None
    locked: tuple[LockedIn, LockedIn] | None
    plan: ClampPlan
    hand: HandForces
    conflicts: tuple[Finding, ...]
    window: GlueWindow
    old_bar: pd.DataFrame | None = None


def job_glue(
    job: Job,
    gaps: Gaps | None = None,
    blank: float | None = None,
    clamps: int | None = None,
    glue_c: float = 60.0,
    wood_c: float | None = None,
    room_c: float | None = None,
    gram: int = 192,
    progress: Progress = no_message,
    bench: Workbench | None = None,
) -> JobGlue:
    """Compute closing, clamps and glue window of a job.

    Parameters
    ----------
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

    Raises
    ------
    JobError
        The job has no bar.
    ValueError
        See `clamp_plan` and `GlueConditions`.
    """
    bar = needed_bar(job, "gluing")
    if blank is not None:
        bar = bar.with_height(np.full(2, blank), np.array([bar.x_start, bar.x_end]))
    room = job.measured.temperature if room_c is None else room_c
    room = USUAL_TEMPERATURE if room is None else room
    humidity = job.measured.relative_humidity or USUAL_HUMIDITY
    progress("working out how long the glue stays liquid")
    window = glue_window(
        bar,
        job.top,
        GlueConditions(
            glue_c,
            room if wood_c is None else wood_c,
            room,
            equilibrium_moisture(humidity, room),
            humidity,
            gram,
        ),
    )
    bench, locked = bench or job_bench(job), None
    if gaps is not None:
        progress("closing the gaps on the top")
        locked = locked_in(bench.on_mesh(FINENESS).model, bar, gaps)
    progress("placing clamps")
    pressed = locked[0].closing if locked and not locked[0].closing.too_large else None
    plan = clamp_plan(bar, job.top, clamps, closing=pressed)
    hand = hand_forces(plan)
    conflicts = tuple(check_blocks(plan.blocks, job.marks))
    old = beside_old_bar(job, bench, progress)
    return JobGlue(job, bar, gaps, locked, plan, hand, conflicts, window, old)


def closing_lines(result: JobGlue) -> list[str]:
    """Verdict and what is locked in, a sentence a line."""
    if result.locked is None:
        return ["No gaps were given: the bar is taken to fit all over, without spring."]
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
            f"{1e3 * state.lift[-1]:+.2f}); {1e-6 * state.bar_stress:.1f} MPa locked into the bar, "
            f"{1e-6 * state.plate_stress:.1f} into the plate; after years {low:.1f} to {high:.1f} of it left "
            "in the bar."
        )
    lines.append(f"In the body the bass foot then stands as if {_taken_off(held.foot_load, free.foot_load)}.")
    return lines


def _taken_off(*loads):
    low, high = min(loads), max(loads)
    fades = "part of that fades with the stress"
    if low >= 0:
        return f"{low:.0f} to {high:.0f} N had been taken off it; {fades}"
    if high <= 0:
        return f"{-high:.0f} to {-low:.0f} N more stood on it; {fades}"
    return f"{-low:.0f} N more stood on it (held or free) or {high:.0f} N had been taken off it; {fades}"


#: Seconds that spreading, setting down, rubbing in and the first clamps take: so many, and so many a metre
#: of bar; our estimate, no source.
NEEDED = (20.0, 60.0)


def what_to_do(result: JobGlue) -> str:
    """Say in a sentence whether the wood must be warmed, how far, and how much time there is then."""
    table = result.window.table
    needed = NEEDED[0] + NEEDED[1] * result.bar.length
    first = table.iloc[0]
    long = f"this bar of {1e3 * result.bar.length:.0f} mm needs about {math.ceil(needed - 1e-6)} s"
    if first["closed_mid_s"] >= needed:
        return (
            f"Wood at {first['wood_c']:g} °C leaves about {time_text(first['closed_mid_s'])} until the glue "
            f"begins to gel, and {long}: warming is not needed, a warm room helps."
        )
    enough = table[table["closed_mid_s"] >= needed]
    cold = f"wood at {first['wood_c']:g} °C leaves {time_text(first['closed_mid_s'])} and {long}"
    if enough.empty:
        last = table.iloc[-1]
        only = time_text(last["closed_mid_s"])
        return (
            f"No time: {cold}; even at {last['wood_c']:g} °C there are only {only}. "
            "Work in two, in a warm room, or take a glue of lower gram strength."
        )
    row = enough.iloc[0]
    low, high = time_text(row["closed_low_s"]), time_text(row["closed_high_s"])
    return (
        f"Warm bar and plate to {row['wood_c']:g} °C: {cold}. Warmed, you have about "
        f"{time_text(row['closed_mid_s'])} ({low} to {high}) until it begins to gel."
    )


def hand_lines(result: JobGlue) -> list[str]:
    """How to set the clamps by hand, and what it does to the glue line, a sentence a line."""
    hand = result.hand
    if hand.equal:
        force = hand.force[0]
        how = f"All clamps alike: {force:.0f} N ({force / KGF:.0f} kgf), {FEEL[hand.grades[0]]}."
    else:
        parts = []
        for grade, feel in FEEL.items():
            forces = [f for f, g in zip(hand.force, hand.grades, strict=True) if g == grade]
            if forces:
                parts.append(f"{grade} {forces[0]:.0f} N ({forces[0] / KGF:.0f} kgf), {feel}")
        how = f"{len(parts)} grades: {'; '.join(parts)}."
    return [
        how,
        "Learn the feel on a kitchen scale, with your own clamp (common practice, no source).",
        f"Least pressure so {hand.evenness:.2f} of the greatest; in nine of ten tries at least "
        f"{hand.if_off:.2f} if each clamp is off by up to {100 * OFF:.0f} %.",
    ]


def clamp_table(result: JobGlue) -> pd.DataFrame:
    """One row a clamp, from the lower end up: the plan's table, with the force by hand, its grade and kgf."""
    hand, table = result.hand, result.plan.table
    under = [marks_under(b, result.job.marks) for b in result.plan.blocks]
    notes = [
        "; ".join([*([note] if note else []), *(f"on a {kind}" for kind in kinds)])
        for note, kinds in zip(table["block"], under, strict=True)
    ]
    return table.assign(
        block=notes, by_hand_n=hand.force, by_hand_kgf=hand.force / KGF, grade=list(hand.grades)
    )


def plan_lines(result: JobGlue) -> list[str]:
    """How many clamps, how hard, how evenly, a sentence a line."""
    plan = result.plan
    low, high = (1e3 * v for v in plan.characteristic_length)
    pare = result.locked is not None and result.locked[0].closing.too_large
    lines = [
        *(["Once the bar has been pared and fits:"] if pare else []),
        f"{plan.count} clamps, {plan.force.min():.0f} to {plan.force.max():.0f} N each, "
        f"{plan.force.sum():.0f} N together; pads {1e3 * plan.pad:.0f} mm long.",
        f"Least pressure {plan.evenness:.2f} of the greatest: {'even' if plan.even else 'uneven'} by our "
        f"rule ({EVEN:g}). A clamp's push reaches {low:.0f} mm at the ends, {high:.0f} mm in the middle.",
    ]
    if not plan.even:
        lines.append("More clamps, a stiffer strip on the bar or a softer lining would even it out.")
    if plan.dents:
        lines.append(
            f"Too hard: above {1e-6 * plan.limits.dent:.1f} MPa the wood may dent. Use longer pads or "
            "more clamps."
        )
    turn = [f"{1e3 * plan.x[i]:.0f}" for i in plan.order]
    lines.append(
        "Set them in this order, mm from the lower edge: " + ", ".join(turn) + "; then the middle one again."
    )
    return lines


def window_lines(result: JobGlue) -> list[str]:
    """Contact temperature, open and closed time, what warming buys, a sentence a line."""
    window = result.window
    first = window.table.iloc[0]
    lines = [
        f"Glue at {window.joint.glue_c:g} °C meets wood at {first['wood_c']:g} °C with "
        f"{window.contact_c:.0f} °C and gels at {window.joint.gel_c:g} ± 2 °C.",
        f"Open on the bar it stays liquid {_seconds(first, 'open')}; if the bar is set down after "
        f"{window.lay_s:.0f} s, it has gelled {_seconds(first, 'closed')} after spreading.",
    ]
    for row in window.table.iloc[1:].itertuples():
        lines.append(f"With the wood at {row.wood_c:g} °C the open time is {row.times:.1f} times as long.")
    lines.append(
        f"Bands: film {1e3 * SPREAD[0]:.1f} to {1e3 * SPREAD[-1]:.1f} mm, moving to still air, gel "
        "temperature. A film twice as thick takes four times as long."
    )
    return [*lines, *(w[0].upper() + w[1:] + "." for w in window.warnings)]


def _seconds(row, name):
    low, mid, high = (row[f"{name}_{n}_s"] for n in ("low", "mid", "high"))
    return f"{time_text(mid)} ({time_text(low)} to {time_text(high)})"


def time_text(seconds: float) -> str:
    """Write a time that glue stays liquid: to 10 s from 100 s up, for it is not known any better."""
    if seconds >= LONGEST:
        return f"over {LONGEST:.0f} s"
    return f"{round(seconds, -1) if seconds >= 100 else seconds:.0f} s"


def as_text(result: JobGlue) -> str:
    """Tables for the terminal."""
    job = result.job
    lines = [cautions.text_title(job), cautions.GLUE]
    lines += ["", "Closing"] + [f"  {line}" for line in closing_lines(result)]
    if result.locked is not None:
        lines.append("  from lower end    gap mm   force N   MPa   verdict (plate held)")
        for row in result.locked[0].closing.table.itertuples():
            lines.append(
                f"  {row.s_mm:10.1f} mm {row.gap_mm:11.2f}{row.force_n:10.1f}{row.stress_mpa:6.1f}"
                f"   {row.verdict}"
            )
    lines += ["", "Clamps"] + [f"  {line}" for line in (*plan_lines(result), *hand_lines(result))]
    lines += [f"  ! {f.message} ({f.where}). {f.cure}" for f in result.conflicts]
    lines.append("  set as   along x, y mm   by hand N   kgf   best N   block outside")
    for row in clamp_table(result).itertuples():
        lines.append(
            f"  {row.set_as:6d}{row.x_mm:9.1f},{row.y_mm:+6.1f}{row.by_hand_n:12.0f}{row.by_hand_kgf:6.1f}"
            f"{row.force_n:9.0f}   {row.block}".rstrip()
        )
    lines += ["", "Glue window", f"  {what_to_do(result)}"] + [f"  {line}" for line in window_lines(result)]
    lines.append("  wood    contact   open on the bar                closed, from spreading")
    for _, row in result.window.table.iterrows():
        lines.append(
            f"  {row['wood_c']:3.0f} °C{row['contact_c']:7.0f} °C   {_seconds(row, 'open'):31s}"
            f"{_seconds(row, 'closed')}"
        )
    if result.old_bar is not None:
        lines += ["", *old_bar_lines(result.old_bar)]
    lines += ["", "Cautions"] + [f"  {name}: {text}" for name, text in cautions.GLUING]
    return "\n".join(lines) + "\n"


def as_data(result: JobGlue) -> dict:
    """Plain data for JSON; mm, N, MPa, s."""
    plan, window = result.plan, result.window
    out = {
        **cautions.data_title(result.job),
        "caution": cautions.GLUE,
        "clamps": {
            "count": plan.count,
            "order_x_mm": [round(1e3 * float(plan.x[i]), 1) for i in plan.order],
            "evenness": plain(plan.evenness),
            "even": plan.even,
            "dents": plan.dents,
            "places": records(clamp_table(result)),
            "by_hand": {"evenness": plain(result.hand.evenness), "if_off": plain(result.hand.if_off)},
            "conflicts": [{"message": f.message, "where": f.where, "cure": f.cure} for f in result.conflicts],
        },
        "glue_window": {
            "what_to_do": what_to_do(result),
            "contact_c": plain(window.contact_c),
            "rows": records(window.table),
            "warnings": list(window.warnings),
        },
        "old_bar": records(result.old_bar),
        "cautions": dict(cautions.GLUING),
    }
    if result.locked is not None:
        closing = result.locked[0].closing
        out["closing"] = {
            "verdict": closing.verdict,
            "film_mm": 1e3 * FILM,
            "stations": records(closing.table),
            "locked_in": records(locked_in_table(result.locked)),
        }
    return out
