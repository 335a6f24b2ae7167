"""First page of a pack, the job on one sheet to sign, and the page of stop points for cutting."""

import textwrap
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import A4_UPRIGHT
from platemodel.bench.kit.tones import cell, tone
from platemodel.bench.sheets.paper import new_page
from platemodel.instrument.bar_shape import usual_least_end
from platemodel.job.report import read_values
from platemodel.study.trimming.stop_points import EVEN

if TYPE_CHECKING:
    from platemodel.bench.pack.bench_pack import Plan

LEFT, RIGHT = 15.0, 110.0
WRAP = 62
BY_HAND = (
    "Reason for a new bar:",
    "Old bar: length, height, width, weight, kept where:",
    "Relative humidity and temperature at the bench:",
    "Spring, if any, and why:",
    "Decided by, date:",
    "Glued on, by:",
    "Final height under the bridge, weight, taps 1, 2, 5:",
    "Arch height at the bass foot: before, after 1 day, 1 week, 3 months:",
)


def job_sheet(plan: "Plan") -> Figure:
    """Lay out the job on one page: what was measured, what is planned, what it should do, what to write in.

    Parameters
    ----------
    plan : platemodel.bench.pack.bench_pack.Plan
    """
    job = plan.job
    figure, ax = new_page(*A4_UPRIGHT)
    ax.text(LEFT, 281, f"Bass bar: {job.name}", fontsize=14, weight="bold", color=INK, va="top")
    if job.invented:
        ax.text(LEFT, 273.5, cautions.INVENTED, fontsize=8, color=INK, va="top")
    y = _rows(ax, LEFT, 267, "Measured and planned", list(read_values(job)))
    _list(ax, LEFT, y - 3, "Looks odd", [f"{f.message} ({f.where})" for f in job.findings] or ["nothing"], 9)
    y = _rows(ax, RIGHT, 267, "What the bar should do", _results(plan))
    y = _list(ax, RIGHT, y - 3, "Conflicts of the bar's place", _conflicts(plan), 8)
    assumed = [f"{len(job.assumptions)} things were not measured and follow the usual instrument or species:"]
    _list(ax, RIGHT, y - 3, "Assumed", [*assumed, *job.assumptions], 8)
    _by_hand(ax, 92)
    for k, line in enumerate(textwrap.wrap(cautions.PACK, 138)):
        ax.text(LEFT, 22 - 3.2 * k, line, fontsize=6.5, color=INK, va="top")
    return figure


def _results(plan):
    modes, load, cuts = plan.modes, plan.load.load, plan.layout.cuts
    for n, name in ((1, "twist"), (2, "cross"), (5, "ring")):
        before, after = modes.without.frequency(n), modes.with_bar.frequency(n)
        yield f"mode {n}, {name}", f"{tone(before)} without bar, {tone(after)} with it"
    yield "weight", f"{1e3 * modes.without.mass:.1f} g without bar, {1e3 * modes.with_bar.mass:.1f} g with it"
    for note in modes.lost:
        yield "", note
    final = plan.stops.iloc[-1]
    yield "under the bass foot", f"{final.foot_n_per_mm:.0f} N/mm"
    yield "load on the top", f"{load.downforce:.0f} N, bass foot {load.bass:.0f} N (not the strings' pull)"
    for row in load.table.itertuples():
        if row.state in ("with bar", "without bar"):
            sinks = (
                f"{row.sink_bass_mid_mm:.2f} mm ({row.sink_bass_low_mm:.2f} to {row.sink_bass_high_mm:.2f})"
            )
            yield f"sinks {row.state}", f"{sinks} on the first day"
    low = load.main.margins.loc[load.main.margins["margin_low"].idxmin()]
    yield (
        "least margin",
        f"{low.margin:.1f} ({low.margin_low:.1f} to {low.margin_high:.1f}): {low.part}, {low.what}",
    )
    blank = cuts.blank
    size = " x ".join(f"{1e3 * v:.1f}" for v in (blank.length, blank.height, blank.width))
    yield "blank at least", f"{size} mm (length, height, width)"
    yield "bar", ", ".join(f"{k} {1e3 * v:.1f} g" for k, v in cuts.masses.items())
    yield "clamps", f"{len(plan.glue.plan.table)} (see the page on gluing)"


def _conflicts(plan):
    return [f"{c.message} ({c.where})" for c in plan.layout.conflicts] or ["none found"]


def _rows(ax, x, y, head, rows):
    """Write labels and texts, wrapped; return the height below."""
    ax.text(x, y, head, fontsize=9, weight="bold", color=INK, va="top")
    y -= 5.0
    for label, text in rows:
        lines = textwrap.wrap(" ".join(str(text).split()), WRAP - 18) or [""]
        ax.text(x, y, label.strip(), fontsize=6.5, color=INK, va="top", style="italic")
        for line in lines:
            ax.text(x + 27, y, line, fontsize=6.5, color=INK, va="top")
            y -= 3.1
    return y


def _list(ax, x, y, head, items, most):
    """Write items, wrapped, at most so many lines; return the height below."""
    ax.text(x, y, head, fontsize=9, weight="bold", color=INK, va="top")
    y -= 5.0
    lines = [line for item in items for line in textwrap.wrap(item, WRAP + 8, subsequent_indent="  ")]
    if len(lines) > most:
        lines = [*lines[: most - 1], "... and more: platemodel check"]
    for line in lines:
        ax.text(x, y, line, fontsize=6.5, color=INK, va="top")
        y -= 3.1
    return y


def _by_hand(ax, y):
    ax.text(LEFT, y, "To write in", fontsize=9, weight="bold", color=INK, va="top")
    for k, text in enumerate(BY_HAND):
        at = y - 8 - 7.6 * k
        ax.text(LEFT, at, text, fontsize=7, color=INK, va="bottom")
        ax.plot([LEFT + 86, 195], [at, at], color=INK, lw=0.5)


def stop_sheet(plan: "Plan") -> Figure:
    """Lay out the stop points: heights, weight, modes and stiffness at which to tap, with room to write.

    Parameters
    ----------
    plan : platemodel.bench.pack.bench_pack.Plan
    """
    figure, ax = new_page(*A4_UPRIGHT)
    ax.text(LEFT, 281, f"Cutting down: {plan.job.name}", fontsize=13, weight="bold", color=INK, va="top")
    how = (
        "Taps of the top without bar bear the model out, so the bands are narrow; they change no tone."
        if plan.borne_out
        else "No taps of the bare top bear the model out: tap it, run `wood`, and the bands shrink."
    )
    words = (
        "Heights are measured from the plate, under the bridge; what is left over the final height is "
        "the same all along.",
        "Even: the bar as glued, of one height from end to end, before its profile is planed.",
        f"± holds for 90 of 100 tops like this one. {how}",
        "At each stop: brush it off, weigh it, hold and tap it as on the page of modes, write it down, "
        "then decide.",
    )
    for k, line in enumerate((*([cautions.INVENTED] * plan.job.invented), *words)):
        ax.text(LEFT, 272 - 4.2 * k, line, fontsize=7.5, color=INK, va="top")
    columns = [
        ("left on, mm", lambda r: "even" if r.stage == EVEN else f"{r.left_mm:.1f}"),
        ("height, mm", lambda r: f"{r.height_mm:.1f}"),
        ("bar, g", lambda r: f"{r.bar_g:.1f}"),
        *(
            (
                f"mode {n}, Hz",
                lambda r, n=n: _tone_band(getattr(r, f"f{n}_hz"), getattr(r, f"f{n}_band_hz")),
            )
            for n in (1, 2, 5)
        ),
        ("bass foot, N/mm", lambda r: f"{r.foot_n_per_mm:.0f}"),
    ]
    parts = [part for note in plan.modes.notes for part in textwrap.wrap(note, 125)]
    for k, line in enumerate(parts):
        ax.text(LEFT, 60 - 4.2 * k, line, fontsize=8, weight="bold", color=INK, va="top")
    x = LEFT + np.array([0, 22, 43, 58, 85, 112, 140])
    y = 245.0
    for (head, _), at in zip(columns, x, strict=True):
        ax.text(at, y, head, fontsize=7.5, style="italic", color=INK, va="bottom")
    for row in plan.stops.itertuples():
        y -= 8.0
        for (_, show), at in zip(columns, x, strict=True):
            ax.text(at, y, show(row), fontsize=8.5, color=INK, va="bottom")
        y -= 8.0
        ax.text(LEFT, y, "heard, weighed:", fontsize=7, style="italic", color=INK, va="bottom")
        for at in x[1:]:
            ax.plot([at, at + 17], [y - 0.5, y - 0.5], color=INK, lw=0.5)
        ax.plot([LEFT, 195], [y - 3.5, y - 3.5], color=INK, lw=0.3, ls=":")
        y -= 4.0
    _stop_words(ax, y - 8, usual_least_end(plan.job.top))
    return figure


def _tone_band(f, band):
    return f"{f:.0f} ± {band:.0f}" if np.isfinite(f) else cell(f)


def _stop_words(ax, y, least_end):
    lines = (
        "Cutting goes one way only. Stop before the band says you must; one stroke of a scraper takes "
        "0.1 mm.",
        "If you hear more than predicted at every stage, wood or arch is stiffer than the model; if "
        "less, softer. `platemodel trim` corrects the model by what you heard and proposes the next careful "
        "cut.",
        f"Do not thin the ends below {1e3 * least_end:.1f} mm, and leave no step where the bar ends.",
        "Tones also follow weight, moisture and hold: keep to the same hold, place and room, and write the "
        "humidity down.",
    )
    for line in lines:
        for part in textwrap.wrap(line, 125):
            ax.text(LEFT, y, part, fontsize=7.5, color=INK, va="top")
            y -= 4.2
        y -= 1.0
