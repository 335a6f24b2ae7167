"""The page of a job's flex tests: A4 sideways, where to hold, press and read above, figures below."""

import textwrap

from matplotlib.figure import Figure

from platemodel.bench.flex.plots import draw_flex_test
from platemodel.bench.flex.result import (
    JobFlex,
    height_lines,
    reading_lines,
    sag_mm,
)
from platemodel.bench.kit import cautions
from platemodel.bench.kit.page import LEFT, titled_page, write_head, write_lines, write_table
from platemodel.bench.kit.plots import scale_bar
from platemodel.instrument.flex_test import KINDS
from platemodel.instrument.strings import KGF
from platemodel.study.trimming.flex_stops import light_weight

HOW = (
    "Plate with the arch up on three pegs (rings), the weight on a disc of 10 mm (square), the gauge at the "
    "same place. Red peg: it must hold the plate down.",
    "Zero the gauge, set the weight on, read, take it off, read zero again; three times, take the mean. The "
    "plate's own weight does not matter.",
)
MOST_LINES = 9  # of the block at the right; more readings are in the text


def flex_page(result: JobFlex) -> Figure:
    """Lay out the page.

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    note = cautions.invented_note(result.job)
    figure = titled_page(f"Flexing: {result.job.name}", note, cautions.FLEX)
    top = result.job.top
    for k, flex in enumerate(result.without):
        left = LEFT + 0.235 * k
        ax = figure.add_axes((left, 0.43, 0.22, 0.43))
        draw_flex_test(flex.test, top, ax)
        if k == 0:
            scale_bar(ax, top)
        ax.set_title(f"{flex.test.kind}\n{KINDS[flex.test.kind]}", fontsize=9)
        write_lines(figure, _places(flex.test), left + 0.02, 0.40, 8, 0.019)
    for k, (label, found) in enumerate(result.rows):
        left = LEFT + 0.33 * k
        write_head(figure, f"Expected {label}", left, 0.300, 9.5)
        write_table(figure, _COLUMNS, found, left, 0.280, 0.02, 8)
    left = LEFT + 0.33 * len(result.rows)
    lines = [*height_lines(result), *(reading_lines(result) or ["No readings yet (flexes.csv)."])]
    write_head(figure, "Read, and what the bar's height does", left, 0.300, 9.5)
    write_lines(figure, _block(lines), left, 0.282, 7.5, 0.0185)
    write_lines(figure, HOW, LEFT, 0.085, 8, 0.02)
    return figure


def _places(test):
    """Places in mm, one a line: x from the lower edge, y from the axis, minus on the bass side."""
    places = [(f"peg {k}", peg) for k, peg in enumerate(test.pegs, 1)] + [("weight", test.load)]
    return [f"{name}: x {1e3 * x:.0f}, y {1e3 * y:+.0f} mm" for name, (x, y) in places]


def _block(lines):
    """Lines wrapped to the column, as many as there is room for; whole sentences or not at all."""
    out = []
    for done, line in enumerate(lines):
        parts = textwrap.wrap(line, 56)
        if len(out) + len(parts) > MOST_LINES:
            return [*out, f"and {len(lines) - done} more: see the text of `platemodel flex`"]
        out += parts
    return out


def _try(flex):
    weight = light_weight(flex)
    return "-" if weight != weight else f"{weight:.0f} g: {sag_mm(flex, weight):.2f} mm"


_COLUMNS = (
    ("flex", 0.0, lambda f: f.test.kind),
    ("mm per 100 g", 0.055, lambda f: f"{sag_mm(f, 100):.3f}"),
    ("at most, g", 0.135, lambda f: f"{1e3 * f.most_force / KGF:.0f}"),
    ("try", 0.20, _try),
)
