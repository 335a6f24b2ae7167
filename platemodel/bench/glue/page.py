"""The page for fitting and gluing a bar: A4, sideways; clamps to scale at the left, figures at the right."""

import textwrap

from matplotlib.figure import Figure

from platemodel.bench.glue.plots import draw_clamps, draw_closing, draw_pressure, draw_window
from platemodel.bench.glue.result import JobGlue, closing_lines, plan_lines, window_lines
from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import A4_SIDEWAYS, LEFT, titled_page, write_lines
from platemodel.bench.kit.plots import scale_bar

SCALES = (2.0, 2.5, 3.0, 4.0, 5.0, 6.0)
ROOM_MM = (112.0, 162.0)  # for the plan of the top
LEGEND = (
    "Seen from outside. Rings: clamps on the bar inside, numbered in the order in which they are set; "
    "dashed: soft-lined block outside; mm from the lower edge; dotted: bridge line."
)


def glue_page(result: JobGlue) -> Figure:
    """Lay out the page.

    Parameters
    ----------
    result : JobGlue

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    job = result.job
    note = f"{cautions.invented_note(job)} {cautions.GLUE}".strip()
    figure = titled_page(f"Fit and glue: {job.name}", note, notes_size=7)
    _plan(figure, result)
    draw_pressure(result.plan, figure.add_axes((0.465, 0.735, 0.495, 0.145)))
    if result.locked is not None:
        draw_closing(result.locked[0].closing, figure.add_axes((0.465, 0.510, 0.475, 0.135)))
    fits = result.locked is None  # no picture of the closing: the window moves up
    draw_window(result.window, figure.add_axes((0.49, 0.36 if fits else 0.155, 0.20, 0.125)))
    _lines(figure, plan_lines(result), 0.425, 0.655 if fits else 0.434, 64)
    _lines(figure, closing_lines(result), 0.715, 0.655 if fits else 0.434, 66)
    _lines(figure, window_lines(result), 0.715, 0.485 if fits else 0.255, 66)
    _cautions(figure)
    return figure


def _plan(figure, result):
    """Top at a round scale, exactly."""
    top = result.job.top
    ax = figure.add_axes((0, 0, 1, 1))
    draw_clamps(result.plan, top, ax)
    scale_bar(ax, top)
    low, high = ax.get_ylim()
    ax.set_ylim(low - 0.045 * (high - low), high)
    (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
    sizes = right - left, high - low
    scale = next((k for k in SCALES if all(v / k <= r for v, r in zip(sizes, ROOM_MM, strict=True))), 8.0)
    wide, tall = (v / scale / page for v, page in zip(sizes, A4_SIDEWAYS, strict=True))
    ax.set_position((0.035 + 0.5 * (ROOM_MM[0] / A4_SIDEWAYS[0] - wide), 0.91 - tall, wide, tall))
    figure.text(LEFT, 0.905, f"1 : {scale:g}", fontsize=8.5, weight="bold", color=INK)
    write_lines(figure, textwrap.wrap(LEGEND, 98), LEFT, 0.119, 6.3, 0.014)


def _lines(figure, lines, left, top, width):
    parts = (part for line in lines for part in textwrap.wrap(line, width, subsequent_indent="   "))
    write_lines(figure, parts, left, top, 6.3, 0.0142)


def _cautions(figure):
    y = 0.078
    for name, text in cautions.GLUING:
        figure.text(LEFT, y, name, fontsize=6.3, weight="bold", color=INK)
        figure.text(0.082, y, text, fontsize=6.3, color=INK)
        y -= 0.0155
