"""The page of a job's flex tests: A4 sideways, where to hold, press and read above, figures below."""

from matplotlib.figure import Figure

from platemodel.bench.flex.plots import draw_flex_test
from platemodel.bench.flex.result import (
    JobFlex,
    height_lines,
    light_weight,
    reading_lines,
    sag_mm,
)
from platemodel.bench.kit import cautions
from platemodel.bench.kit.page import LEFT, titled_page, write_head, write_lines, write_table
from platemodel.bench.kit.plots import scale_bar
from platemodel.instrument.flex_test import KINDS
from platemodel.instrument.strings import KGF

HOW = (
    "Plate with the arch up on three pegs (rings), the weight on a disc of 10 mm (square), the gauge at the same place. "
    "Red peg: it must hold the plate down.",
    "Zero the gauge, set the weight on, read, take it off, read zero again; three times, take the mean. The plate's own "
    "weight does not matter.",
)


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
        ax = figure.add_axes((left, 0.42, 0.22, 0.45))
        draw_flex_test(flex.test, top, ax)
        if k == 0:
            scale_bar(ax, top)
        ax.set_title(f"{flex.test.kind}: {KINDS[flex.test.kind]}", fontsize=9)
        write_lines(figure, _places(flex.test), left, 0.405, 8)
    for k, (label, found) in enumerate(result.rows):
        left = LEFT + 0.33 * k
        write_head(figure, f"Expected {label}", left, 0.315, 9.5)
        write_table(figure, _COLUMNS, found, left, 0.295, 0.02, 8)
    left = LEFT + 0.33 * len(result.rows)
    lines = [*height_lines(result), *(reading_lines(result) or ["No readings yet (flexes.csv)."])]
    write_head(figure, "Read, and what the bar's height does", left, 0.315, 9.5)
    write_lines(figure, _wrapped(lines, 62), left, 0.295, 8, 0.02)
    write_lines(figure, HOW, LEFT, 0.095, 8, 0.02)
    return figure


def _places(test):
    pegs = "; ".join(f"{k}: {1e3 * x:.0f}, {1e3 * y:+.0f}" for k, (x, y) in enumerate(test.pegs, 1))
    x, y = 1e3 * test.load
    return [f"pegs x, y: {pegs}", f"weight and gauge: {x:.0f}, {y:+.0f} mm"]


def _wrapped(lines, width):
    import textwrap

    return [part for line in lines for part in textwrap.wrap(line, width)]


def _try(flex):
    weight = light_weight(flex)
    return "-" if weight != weight else f"{weight:.0f} g: {sag_mm(flex, weight):.2f} mm"


_COLUMNS = (
    ("flex", 0.0, lambda f: f.test.kind),
    ("mm per 100 g", 0.055, lambda f: f"{sag_mm(f, 100):.3f}"),
    ("at most, g", 0.135, lambda f: f"{1e3 * f.most_force / KGF:.0f}"),
    ("try", 0.20, _try),
)
