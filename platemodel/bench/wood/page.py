"""The page of a wood found from taps: A4, sideways."""

from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.sheet import Column, begun_sheet, write_head, write_items, write_table
from platemodel.bench.kit.tones import signed
from platemodel.bench.kit.typeset import write_broken
from platemodel.bench.wood.plots import draw_bands, draw_trade_off
from platemodel.bench.wood.result import (
    DOUBT,
    WORDS,
    JobWood,
    figures,
    mode_name,
    snippet,
    state_words,
)
from platemodel.wood.estimate import HALF_WIDTH

FIGURES = 84.0  # mm, height of tables and words


def wood_page(result: JobWood) -> Figure:
    """Lay out the page: A4, sideways."""
    job, fit = result.job, result.fit
    from_states = "; ".join(state_words(s) for s in result.states)
    note = f"{cautions.invented_note(job)} From taps {from_states}.".strip()
    sheet = begun_sheet(f"Wood of the top: {job.name}", note, cautions.WOOD)
    ax, left, y = sheet.ax, sheet.left, sheet.top
    for doubt in fit.doubts:
        y = write_broken(ax, left, y, f"Looks wrong: {doubt.message}", sheet.room, bold=True)
    low = sheet.floor + FIGURES
    tall = y - low - 20.0
    draw_bands(fit, sheet.axes(left + 38.0, low + 10.0, 130.0, tall), result.beforehand)
    draw_trade_off(
        fit, sheet.axes(left + 190.0, low + 10.0, sheet.room - 192.0, tall), before=result.beforehand
    )
    half = 0.53 * sheet.room
    y = _use(ax, left, _constants(ax, left, low, half, result) - 3.0, half, fit)
    right = left + half + 10.0
    _taps(ax, right, low, sheet.right - right, fit)
    return sheet.figure


def _constants(ax, x, y, room, result):
    factor, sd = result.fit.thickness
    rows = [
        (WORDS[r.quantity], figures(r.value), f"{figures(r.low)} to {figures(r.high)}", figures(r.stated),
         figures(r.expected), r.unit)
        for r in result.table.itertuples()
    ]  # fmt: skip
    rows.append(("thickness, factor", f"{factor:.3f}", f"± {HALF_WIDTH * sd:.3f}", "", "", ""))
    heads = ("", "found", "90 % band", "in the job", result.beforehand, "")
    columns = [
        Column(head, lambda r, k=k: r[k], right=0 < k < len(heads) - 1) for k, head in enumerate(heads)
    ]
    return write_table(ax, x, write_head(ax, x, y, "Constants"), columns, rows, room)


def _taps(ax, x, y, room, fit):
    rows = [
        (mode_name(r), f"{r.heard_hz:.1f}", f"{r.fitted_hz:.1f}", signed(r.residual_percent),
         f"{100 * r.sd_hz / r.heard_hz:.1f}")
        for r in fit.modes.itertuples()
    ]  # fmt: skip
    if fit.mass:
        measured, fitted = fit.mass
        off = signed(100 * (measured / fitted - 1))
        rows.append(("weight, g", f"{1e3 * measured:.1f}", f"{1e3 * fitted:.1f}", off, ""))
    heads = ("mode", "heard, Hz", "fitted, Hz", "off, %", "unsure, %")
    columns = [Column(head, lambda r, k=k: r[k], right=k > 0) for k, head in enumerate(heads)]
    y = write_table(ax, x, write_head(ax, x, y, "Taps and weight"), columns, rows, room)
    if not fit.mass:
        y = write_items(ax, x, y - 0.5, ["Not weighed with the bar in this state."], room)
    if len(fit.next_taps):
        columns = (
            Column("mode", mode_name, right=False),
            Column("near, Hz", lambda r: f"{r.expected_hz:.0f} ± {r.band_hz:.0f}"),
            Column(
                "narrows E_L, E_R, G_LR by %",
                lambda r: f"{r.E_L_percent:.0f}, {r.E_R_percent:.0f}, {r.G_LR_percent:.0f}",
            ),
        )
        y = write_head(ax, x, y - 4.0, "One more tap that would help")
        write_table(ax, x, y, columns, fit.next_taps.head(3).itertuples(), room)


def _use(ax, x, y, room, fit):
    """Write what to put into the job, and where the estimate comes from."""
    table, *lines = snippet(fit.estimate.wood)
    y = write_head(ax, x, y, f"To use it: `wood --keep`, or in job.toml under {table}")
    return write_items(ax, x, y, [",   ".join(lines), f"From: {fit.estimate.source}.", DOUBT], room)
