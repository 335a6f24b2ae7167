"""The page of a wood found from taps: A4, sideways."""

import textwrap

from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import LEFT, titled_page, write_head, write_lines
from platemodel.bench.wood.plots import draw_bands, draw_trade_off
from platemodel.bench.wood.result import (
    DOUBT,
    WORDS,
    JobWood,
    figures,
    mode_name,
    signed,
    snippet,
    state_words,
)
from platemodel.wood.estimate import HALF_WIDTH

PITCH = 0.0205  # of the rows, share of the page's height


def wood_page(result: JobWood) -> Figure:
    """Lay out the page: A4, sideways.

    Parameters
    ----------
    result : JobWood

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    job, fit = result.job, result.fit
    from_states = "; ".join(state_words(s) for s in result.states)
    note = f"{cautions.invented_note(job)} From taps {from_states}.".strip()
    figure = titled_page(f"Wood of the top: {job.name}", note, cautions.WOOD)
    doubts = [line for d in fit.doubts for line in textwrap.wrap(f"LOOKS WRONG: {d.message}", 150)]
    for k, line in enumerate(doubts):
        figure.text(LEFT, 0.910 - 0.016 * k, line, fontsize=7.5, weight="bold", color=INK)
    draw_bands(fit, figure.add_axes((0.175, 0.55, 0.445, 0.28)))
    draw_trade_off(fit, figure.add_axes((0.71, 0.55, 0.26, 0.28)))
    _constants(figure, result, LEFT, 0.455)
    _taps(figure, fit, 0.56, 0.455)
    _use(figure, fit, LEFT, 0.178)
    return figure


def _write(figure, rows, left, top, offsets, head):
    """Head, then rows of texts, the first one slanted."""
    write_head(figure, head, left, top)
    for r, row in enumerate(rows):
        for text, offset in zip(row, offsets, strict=True):
            style = "italic" if r == 0 else "normal"
            y = top - PITCH * (r + 1.27)
            figure.text(left + offset, y, text, fontsize=7.5, style=style, color=INK)


def _constants(figure, result, left, top):
    rows = [("", "found", "90 % band", "in the job", "species", "")]
    for row in result.table.itertuples():
        band = f"{figures(row.low)} to {figures(row.high)}"
        values = (figures(row.value), band, figures(row.stated), figures(row.expected))
        rows.append((WORDS[row.quantity], *values, row.unit))
    factor, sd = result.fit.thickness
    rows.append(("thickness, factor", f"{factor:.3f}", f"± {HALF_WIDTH * sd:.3f}", "", "", ""))
    _write(figure, rows, left, top, (0.0, 0.155, 0.205, 0.315, 0.375, 0.425), "Constants")


def _taps(figure, fit, left, top):
    rows = [("mode", "heard Hz", "fitted Hz", "off %", "unsure %")]
    for row in fit.modes.itertuples():
        found = (f"{row.heard_hz:.1f}", f"{row.fitted_hz:.1f}", signed(row.residual_percent))
        rows.append((mode_name(row), *found, f"{100 * row.sd_hz / row.heard_hz:.1f}"))
    if fit.mass:
        measured, fitted = fit.mass
        off = signed(100 * (measured / fitted - 1))
        rows.append(("weight, g", f"{1e3 * measured:.1f}", f"{1e3 * fitted:.1f}", off, ""))
    else:
        rows.append(("not weighed with the bar in this state", "", "", "", ""))
    _write(figure, rows, left, top, (0.0, 0.09, 0.16, 0.23, 0.29), "Taps and weight")
    if len(fit.next_taps):
        low = top - PITCH * (len(rows) + 2)
        rows = [("mode", "near Hz", "narrows E_L, E_R, G_LR by %")]
        for row in fit.next_taps.head(3).itertuples():
            gains = f"{row.E_L_percent:.0f}, {row.E_R_percent:.0f}, {row.G_LR_percent:.0f}"
            rows.append((mode_name(row), f"{row.expected_hz:.0f} ± {row.band_hz:.0f}", gains))
        _write(figure, rows, left, low, (0.0, 0.09, 0.19), "One more tap that would help")


def _use(figure, fit, left, top):
    """Write what to put into the job, and where the estimate comes from."""
    table, *lines = snippet(fit.estimate.wood)
    write_head(figure, f"To use it, in job.toml under {table}", left, top)
    texts = [",   ".join(lines[:4]), ",   ".join(lines[4:])]
    source = textwrap.wrap(f"From: {fit.estimate.source}.", 190)
    write_lines(figure, [*texts, "", *source, DOUBT], left, top - PITCH, pitch=0.0145)
