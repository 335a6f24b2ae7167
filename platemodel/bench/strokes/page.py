"""The page of what a stroke does: A4 sideways, maps of the top above, the bar below."""

from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.plots import scale_bar
from platemodel.bench.kit.sheet import Column, begun_sheet, write_head, write_items, write_table
from platemodel.bench.kit.tones import signed
from platemodel.bench.kit.typeset import LINE, TEXT
from platemodel.bench.strokes.plots import draw_along_bar, draw_stroke_map
from platemodel.bench.strokes.result import (
    SINK,
    JobStrokes,
    bar_line,
    label_of,
    listed_places,
    missing_lines,
    top_lines,
)

HOW = (
    "Maps: 0.1 mm off 10 cm² of the top inside (a patch like a matchbox) round the place where you look. "
    "Plus raises, minus lowers; small strokes add up. x counts from the lower edge, y from the axis, minus "
    "on the bass side, mm."
)
FIGURES = 62.0  # mm, height of what stands below the maps
WIDE = 74.0  # mm, of each of the two pictures along the bar


def stroke_page(result: JobStrokes) -> Figure:
    """Lay out the page."""
    note = cautions.invented_note(result.job)
    sheet = begun_sheet(f"What a stroke does: {result.job.name}", note, cautions.STROKES)
    ax, left = sheet.ax, sheet.left
    y = write_items(ax, left, sheet.top, [HOW], sheet.room)
    bar = result.of.bar is not None
    low = sheet.floor + (
        FIGURES if bar else 4.0 + (LINE[TEXT] + 0.6) * (len(result.names) + len(missing_lines(result)) + 2)
    )
    each = sheet.room / len(result.names)
    for k, name in enumerate(result.names):
        one = sheet.axes(left + k * each, low + 5.0, each - 3.0, y - low - 5.0 - 2 * LINE[TEXT])
        draw_stroke_map(result, name, one)
        if k == 0:
            scale_bar(one, result.job.top)
    if not bar:
        down = write_head(ax, left, low - 2.0, "Where a stroke does most")
        write_items(ax, left, down, [*top_lines(result), *missing_lines(result)], sheet.room)
        return sheet.figure
    tones = [name for name in result.names if name != SINK]
    tall = low - sheet.floor - 22.5
    for k, names in enumerate((tones, [SINK])):
        if names:
            x = left + 13.0 + k * WIDE
            draw_along_bar(result, names, sheet.axes(x, sheet.floor + 11.0, WIDE - 17.0, tall))
    write_head(ax, left, low - 2.0, "0.1 mm off 10 cm of the bar's length")
    x = left + 2 * WIDE + 4.0
    down = write_table(ax, x, low - 2.0, _columns(result), _rows(result), sheet.right - x) - 1.2
    write_items(ax, x, down, [bar_line(result), *missing_lines(result)], sheet.right - x)
    return sheet.figure


def _rows(result):
    return [row for _, row in listed_places(result).iterrows()]


def _columns(result):
    def column(name):
        head, unit = label_of(name)
        short = head.split(",")[0] if name != SINK else "sinking"
        return Column(f"{short},\n{unit}", lambda row: signed(row[name]))

    return (
        Column("x,\nmm", lambda row: f"{row['x_mm']:.0f}"),
        Column("height,\nmm", lambda row: f"{row['height_mm']:.1f}"),
        *(column(name) for name in result.names),
    )
