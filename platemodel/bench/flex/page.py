"""The page of a job's flex tests: A4 sideways, where to hold, press and read above, figures below."""

from matplotlib.figure import Figure

from platemodel.bench.flex.plots import draw_flex_test
from platemodel.bench.flex.result import JobFlex, height_lines, reading_lines, sag_mm
from platemodel.bench.kit import cautions
from platemodel.bench.kit.plots import scale_bar
from platemodel.bench.kit.sheet import Column, begun_sheet, write_head, write_items, write_table
from platemodel.bench.kit.typeset import LINE, TEXT, broken
from platemodel.instrument.flex_test import KINDS
from platemodel.instrument.strings import KGF
from platemodel.study.trimming.flex_stops import light_weight

HOW = (
    "Lay the plate arch up on three pegs (rings), the weight on a disc of 10 mm (square), the gauge at the "
    "same place. Red peg: it must hold the plate down.",
    "Zero the gauge, set the weight on, read, take it off, read zero again; three times, take the mean. The "
    "plate's own weight does not matter.",
    "Foot, rim: weight and gauge as for foot, the whole edge on ribs, a frame or a ring of blocks.",
)
FIGURES = 56.0  # mm, height of places, tables and words
FOUR = len(KINDS)  # pictures; the foot on the rim needs none of its own
SCALE_BAR = 5.5  # mm below a picture, for its scale bar


def flex_page(result: JobFlex) -> Figure:
    """Lay out the page."""
    sheet = begun_sheet(f"Flexing: {result.job.name}", cautions.invented_note(result.job), cautions.FLEX)
    ax, top, left = sheet.ax, result.job.top, sheet.left
    y = write_items(ax, left, sheet.top, HOW, sheet.room)
    low, wide = sheet.floor + FIGURES, sheet.room / FOUR
    for k, flex in enumerate(result.without[:FOUR]):
        one = sheet.axes(left + k * wide, low, wide - 4.0, y - low - 2 * LINE[TEXT] - 2.0)
        draw_flex_test(flex.test, top, one)
        if k == 0:
            scale_bar(one, top)
        one.set_title(f"{flex.test.kind}\n{KINDS[flex.test.kind]}", fontsize=TEXT)
        write_items(ax, left + k * wide + 8.0, low - SCALE_BAR, _places(flex.test), wide - 8.0, 0.0)
    y, each = low - SCALE_BAR - 5 * LINE[TEXT], sheet.room / max(3, len(result.rows) + 1)
    for k, (label, found) in enumerate(result.rows):
        down = write_head(ax, left + k * each, y, f"Expected {label}")
        write_table(ax, left + k * each, down, _COLUMNS, found, each - 5.0)
    x = left + each * len(result.rows)
    y = write_head(ax, x, y, "Readings" + (", and the bar's height" if len(result.by_height) else ""))
    room = sheet.right - x
    lines = [
        *height_lines(result),
        *(reading_lines(result) or ["No readings yet: write them into flexes.csv."]),
    ]
    write_items(ax, x, y, _fitting(lines, room, int((y - sheet.floor) / (LINE[TEXT] + 0.6))), room)
    return sheet.figure


def _places(test):
    """Places in mm, one a line: x from the lower edge, y from the axis, minus on the bass side."""
    places = [(f"peg {k}", peg) for k, peg in enumerate(test.pegs, 1)] + [("weight", test.load)]
    return [f"{name}: x {1e3 * x:.0f}, y {1e3 * y:+.0f} mm" for name, (x, y) in places]


def _fitting(lines, room, most):
    """Sentences for which there is room, whole or not at all."""
    out, used = [], 0
    for done, line in enumerate(lines):
        used += len(broken(line, room))
        if (used > most - 2 and done < len(lines) - 1) or used > most:
            return [*out, f"And {len(lines) - done} more: see the text of `platemodel flex`."]
        out.append(line)
    return out


def _label(flex):
    """Kind, short enough for three tables beside each other."""
    return flex.test.kind if flex.test.support == "pegs" else f"{flex.test.kind}, {flex.test.support}"


def _try(flex):
    weight = light_weight(flex)
    return "-" if weight != weight else f"{weight:.0f} g: {sag_mm(flex, weight):.2f} mm"


_COLUMNS = (
    Column("flex", _label, right=False),
    Column("mm per\n100 g", lambda f: f"{sag_mm(f, 100):.3f}"),
    Column("at most,\ng", lambda f: f"{1e3 * f.most_force / KGF:.0f}"),
    Column("try", _try),
)
