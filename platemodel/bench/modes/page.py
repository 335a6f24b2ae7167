"""The picture page of a job's plate modes: A4, sideways, with the figures below."""

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.plots import draw_mode_row
from platemodel.bench.kit.sheet import Column, begun_sheet, write_head, write_items, write_table
from platemodel.bench.kit.tones import cell
from platemodel.bench.kit.typeset import GAP, LINE, TEXT, broken, write_broken
from platemodel.bench.modes.bands import MEANING, first_to_know
from platemodel.bench.modes.result import JobModes

COLUMNS = 6  # pictures in a row, and rows of a table
LEGEND = (
    "Thick lines stay still (sand gathers there). Dark and light parts move against each other. "
    "Crossed ring: hold here. Filled ring: tap here."
)
HATCHED = " Hatched: the bar, seen through the top."
PLACES = " x counts from the lower edge, y from the axis, minus on the bass side, mm."
FIGURES = 53.0  # mm, height of the tables
BETWEEN = 9.0  # mm between the tables of the two plates


def mode_page(result: JobModes) -> Figure:
    """Lay out the page: a row of pictures for each state of the plate, with figures below."""
    notes = cautions.invented_note(result.job)
    sheet = begun_sheet(f"Plate modes: {result.job.name}", notes, cautions.MODES)
    ax, y = sheet.ax, sheet.top
    for note in result.notes:
        y = write_broken(ax, sheet.left, y, note, sheet.room, bold=True)
    low = _legend(sheet, result.with_bar is not None)
    tall, wide = (y - low - 1.0) / len(result.rows), (sheet.room - 8.0) / COLUMNS
    for r, (label, modes) in enumerate(result.rows):
        places = [
            sheet.axes(
                sheet.left + 8.0 + c * wide, y - (r + 1) * tall, wide - 2.0, tall - 2 * LINE[TEXT] - 2.0
            )
            for c in range(min(COLUMNS, len(modes.table)))
        ]
        draw_mode_row(modes, places, label)
    room = (sheet.room - BETWEEN) / 2
    for r, (label, modes) in enumerate(result.rows):
        x = sheet.left + r * (room + BETWEEN)
        bands = result.bands[r] if r < len(result.bands) else None
        old = result.old_bar if label == "with bar" else None
        _figures(ax, x, low, room, (label, modes, bands, old))
    return sheet.figure


def _legend(sheet, barred):
    """Write the legend above the cautions; return the height at which the tables begin."""
    texts = (MEANING, LEGEND + (HATCHED if barred else "") + PLACES)
    y = sheet.floor + sum(LINE[TEXT] * len(broken(t, sheet.room)) + 0.6 for t in texts)
    write_items(sheet.ax, sheet.left, y, texts, sheet.room)
    return y + FIGURES


def _figures(ax, x, y, room, shown):
    """Table of the modes beneath the pictures, and how sure the named ones are."""
    label, modes, bands, old = shown
    was = {} if old is None else old.set_index("figure")["old"].to_dict()
    y = write_head(ax, x, y, f"{label[0].upper()}{label[1:]}: {1e3 * modes.mass:.1f} g")
    columns = (
        Column("mode", lambda r: f"{r.number}, {r.name}" if r.name else "–", right=False),
        Column("Hz", lambda r: f"{r.f_hz:.1f}"),
        *([Column("old bar", lambda r: cell(was[f"f{r.number}_hz"]) if r.name else "")] if was else []),
        Column("moving g", lambda r: f"{r.modal_mass_g:.1f}"),
        Column("hold x, y", lambda r: f"{round(r.hold_x_mm)}, {round(r.hold_y_mm):+d}"),
        Column("tap x, y", lambda r: f"{round(r.tap_x_mm)}, {round(r.tap_y_mm):+d}"),
        Column("", lambda r: r.remark, right=False, wide=True),
    )
    y = write_table(ax, x, y, columns, modes.table.head(COLUMNS).itertuples(), room) - 2 * GAP
    if bands is None or not len(bands.table):
        return
    columns = (
        Column("how sure, Hz", lambda r: f"mode {r.number}, {r.name}", right=False),
        Column("in all ±", lambda r: f"{r.sum_hz:.0f}"),
        Column("mesh", lambda r: f"{r.mesh_hz:.1f}" if np.isfinite(r.mesh_hz) else "?"),
        Column("wood", lambda r: f"{r.wood_hz:.1f}"),
        Column("readings", lambda r: f"{r.readings_hz:.1f}"),
        Column("to know better first", lambda r: first_to_know(bands, r), right=False, wide=True),
    )
    write_table(ax, x, y, columns, bands.table.itertuples(), room)
