"""The two pages of a chosen bar: A4, sideways; which bar and why, and what else it could be."""

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.choice.plots import draw_curve, draw_profiles, drawn_figures
from platemodel.bench.choice.result import JobChoice, way_out
from platemodel.bench.choice.sentences import (
    change_text,
    height_caution,
    heights_text,
    higher_lines,
    to_spare,
    verdict,
)
from platemodel.bench.kit import cautions
from platemodel.bench.kit.height_plots import passes_of
from platemodel.bench.kit.old_bar_table import write_old_bar
from platemodel.bench.kit.sheet import Column, begun_sheet, write_head, write_items, write_table
from platemodel.bench.kit.tones import cell
from platemodel.bench.kit.typeset import HEAD, LINE, TEXT, write_broken
from platemodel.study.top.figures import BODY_FIGURES, figure_text, wish_text

SHOWN = ("foot_n_per_mm", "sink_mm", "f1_hz", "f2_hz", "f5_hz", "bar_g")
SHOWN_WITH_BODY = (*SHOWN[:2], *BODY_FIGURES, *SHOWN[3:])
SHORT = {
    "foot_n_per_mm": "foot,\nN/mm",
    "sink_mm": "sinks,\nmm",
    "body_sink_mm": "in the body,\nmm",
    "body_mobility_s_per_kg": "moves,\ns/kg",
    "f1_hz": "mode 1,\nHz",
    "f2_hz": "mode 2,\nHz",
    "f5_hz": "mode 5,\nHz",
    "bar_g": "bar,\ng",
}
BANDS = (
    "Shaded: heights that meet all targets. Whiskers and bands: 90 of 100; they cover only how well the wood "
    "of top and bar is known, neither the mesh nor the ribs."
)
ENDS = " A curve ends where no mode has that shape any more."
GAP = " A gap: there the shape passes to another tone, near it, that had a part of it; no tone jumps."
OTHERS = 10  # bars beside it that there is room for


def choice_pages(result: JobChoice) -> list[Figure]:
    """Lay out the pages; save them without a tight bounding box."""
    return [_chosen(result), _others(result)]


def _chosen(result):
    choice, note = result.choice, cautions.invented_note(result.job)
    sheet = begun_sheet(f"Choice of a bar: {result.job.name}", note, cautions.CHOICE)
    ax, left, room = sheet.ax, sheet.left, sheet.room
    y = write_broken(ax, left, sheet.top, verdict(choice), room, HEAD, bold=True)
    taken = [f"On the line: {t.name}." for t in result.lines if t.chosen]
    why = [f"Why: {c.text}" for c in choice.conflicts]
    found = [f"In the way: {f.text}" for f in result.in_the_way]
    texts = [*taken, *found, *way_out(result), *result.notes, *height_caution(choice), *why]
    y = write_items(ax, left, y, texts, room) - 2.0
    y = write_head(ax, left, y, "Targets")
    y = _targets(ax, left, y, room, choice) - 4.0
    names = drawn_figures(choice)
    ends = ENDS if choice.curve[names].isna().any(axis=None) else ""
    gap = GAP if any(passes_of(choice.curve, name).any() for name in names) else ""
    under = sheet.floor + 4.5 + LINE[TEXT] * bool(ends or gap)
    low, each = under + 11.5, (room + 9.0) / max(len(names), 1)
    tall = 0.55 * (y - low)
    for i, name in enumerate(names):
        draw_curve(choice, name, sheet.axes(left + 9.0 + i * each, low, each - 18.0, tall - 6.0))
    draw_profiles(
        choice, result.job.bar, sheet.axes(left + 9.0, low + tall + 12.0, room - 9.0, y - low - tall - 17.0)
    )
    write_items(ax, left, under, [BANDS + ends + gap], room)
    return sheet.figure


def _targets(ax, x, y, room, choice):
    bands = choice.bands.set_index("figure")
    rows = list(zip(choice.targets, choice.margins.itertuples(), strict=True))

    def band(target):
        row = bands.loc[target.figure]
        low, high = (figure_text(target.figure, v) for v in (row.low, row.high))
        return f"{low} to {high}" if row.high > row.low else ""

    columns = (
        Column("", lambda r: f"{r[0].name}, {r[0].sense}", right=False),
        Column("asked", lambda r: f"{wish_text(r[0].figure, r[0].value)} {r[0].unit}".rstrip()),
        Column("found", lambda r: figure_text(r[0].figure, r[1].found)),
        Column("to spare", lambda r: to_spare(r[0], r[1].margin).removesuffix(" to spare")),
        Column("90 % band", lambda r: band(r[0])),
        Column(
            "",
            lambda r: "" if r[1].met and not r[1].binds else "decides" if r[1].met else "MISSED",
            right=False,
        ),
    )
    return write_table(ax, x, y, columns, rows, room)


def _others(result):
    choice, note = result.choice, cautions.invented_note(result.job)
    sheet = begun_sheet(f"Beside other bars: {result.job.name}", note, cautions.CHOICE)
    ax, left, half = sheet.ax, sheet.left, 0.5 * sheet.room - 5.0
    right = left + half + 10.0
    y = write_head(ax, left, sheet.top, "What half a millimetre of height does")
    names = _columns(choice)
    y = write_table(ax, left, y, _step_columns(names), choice.steps.to_dict("records"), half) - 4.0
    y = write_head(ax, left, y, "How much higher than usual")
    texts = (f"{t[0].upper()}{t[1:]}." for t in higher_lines(choice))
    write_items(ax, left, y, [*texts, heights_text(choice)], half)
    y = write_head(ax, right, sheet.top, "Beside other bars")
    rows = choice.comparison.head(OTHERS).to_dict("records")
    y = write_table(ax, right, y, _bar_columns(names, rows), rows, sheet.right - right) - 4.0
    write_old_bar(ax, right, y, result.old_bar, sheet.right - right, "chosen")
    return sheet.figure


def _columns(choice):
    body = set(BODY_FIGURES) & set(choice.figures)
    return [n for n in (SHOWN_WITH_BODY if body else SHOWN) if n in choice.figures]


def _step_columns(names):
    def label(row):
        step = f" ({row['step_mm']:+.1f})" if row["step_mm"] else ""
        return f"{row['height_mm']:.1f} mm{step}"

    def show(name):
        return lambda r: change_text(name, r[f"d_{name}"]) if r["step_mm"] else figure_text(name, r[name])

    return [Column("", label, right=False), *(Column(SHORT[n], show(n)) for n in names)]


def _bar_columns(names, rows):
    columns = [
        Column("", lambda r: r["bar"], right=False, wide=True),
        Column("height,\nmm", lambda r: figure_text("height_mm", r["height_mm"])),
        *(Column(SHORT[n], lambda r, n=n: figure_text(n, r[n])) for n in names),
    ]
    if any(np.isfinite(row["needed_height_mm"]) for row in rows):
        columns.append(Column("needs,\nmm high", lambda r: cell(r["needed_height_mm"])))
    return columns
