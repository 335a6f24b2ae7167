"""The picture page of a job's plate modes: A4, sideways, with the figures below."""

import textwrap

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.page import LEFT, titled_page, write_head, write_lines, write_table
from platemodel.bench.kit.plots import draw_mode_row
from platemodel.bench.modes.bands import band_phrase
from platemodel.bench.modes.result import JobModes

COLUMNS = 6
LEGEND = (
    "Thick lines stay still (sand gathers there). Dark and light parts move against each other. "
    "Crossed ring: hold here. Filled ring: tap here. Hatched: the bar, seen through the top."
)


def mode_page(result: JobModes) -> Figure:
    """Lay out the page: a row of pictures for each state of the plate, with figures below.

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    note = cautions.invented_note(result.job)
    figure = titled_page(f"Plate modes: {result.job.name}", note, cautions.MODES)
    top, bottom = 0.89, 0.26
    height = (top - bottom) / len(result.rows)
    for r, (label, modes) in enumerate(result.rows):
        count = min(COLUMNS, len(modes.table))
        axes = [
            figure.add_axes(
                (0.06 + c * 0.92 / COLUMNS, top - (r + 1) * height, 0.86 / COLUMNS, height * 0.86)
            )
            for c in range(count)
        ]
        draw_mode_row(modes, axes, label)
    for r, (label, modes) in enumerate(result.rows):
        _figures(figure, label, modes, LEFT + 0.48 * r)
    if result.bands:
        write_lines(figure, [_sure(result)], LEFT, 0.0655)
    notes = [part for note in result.notes for part in textwrap.wrap(note, 165)]
    write_lines(figure, notes[:2], LEFT, 0.915, 8)
    write_lines(figure, [LEGEND], LEFT, 0.050)
    return figure


def _sure(result):
    """Line with the bands of modes 1, 2 and 5 of the last plate drawn."""
    bands = result.bands[-1]
    parts = [f"mode {n} {band_phrase(bands, n)}" for n in bands.table["number"]]
    return f"How sure, {result.rows[-1][0]}: {'; '.join(parts)}."


def _figures(figure, label, modes, left):
    """Table of the modes beneath the pictures."""
    head = f"{label}: {1e3 * modes.mass:.1f} g"
    write_head(figure, head, left, 0.232)
    columns = (
        ("mode", 0.0, lambda r: f"{r.number}, {r.name}" if r.name else "–"),
        ("Hz", 0.085, lambda r: f"{r.f_hz:.1f}"),
        ("±", 0.125, lambda r: f"{r.band_hz:.1f}" if np.isfinite(r.band_hz) else ""),
        ("moving g", 0.160, lambda r: f"{r.modal_mass_g:.1f}"),
        ("hold x, y", 0.215, lambda r: f"{round(r.hold_x_mm)}, {round(r.hold_y_mm):+d}"),
        ("tap x, y", 0.280, lambda r: f"{round(r.tap_x_mm)}, {round(r.tap_y_mm):+d}"),
        ("remark", 0.335, lambda r: r.remark),
    )
    write_table(figure, columns, modes.table.head(8).itertuples(), left, 0.212, 0.0165, 7)
