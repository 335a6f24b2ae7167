"""The layout sheet: explanations, then the top from inside at true size over as many sheets as needed."""

from matplotlib.figure import Figure

from platemodel.bench.kit.mark_drawing import draw_marks
from platemodel.bench.kit.paper import CHECK, PRINT_NOTE, check_bar, from_inside, new_page, window
from platemodel.bench.kit.typeset import TEXT
from platemodel.bench.layout.result import JobLayout
from platemodel.bench.sheets.blocks import block_pages
from platemodel.bench.sheets.layout_drawing import INSIDE, Strip, draw_layout, drawing_box
from platemodel.bench.sheets.layout_tables import distances_block, map_block
from platemodel.bench.sheets.marks import LABEL_WIDTH
from platemodel.bench.sheets.tiles import Tiling, tile_pages, tiling
from platemodel.instrument.top import Top

LEFT_OF_AXIS = 14.0  # mm that a strip shows beyond the axis at least


def layout_pages(result: JobLayout, paper: str = "A4", whole: bool = False) -> list[Figure]:
    """Pages of ``layout.pdf``: map, conflicts and distances first, then the drawing at 1:1.

    Parameters
    ----------
    paper : str
        ``A4`` or ``A3``.
    whole : bool
        The whole top; else a strip along the bar, on fewer sheets.

    Raises
    ------
    ValueError
        If the paper is unknown.
    """
    top = result.job.top
    tiles = tiling(drawing_box(top), paper) if whole else strip_tiling(top, paper)
    outline = from_inside(top.outline.points)
    pages = block_pages(
        paper,
        [
            lambda ax: map_block(ax, result, tiles, outline),
            lambda ax: distances_block(ax, result),
        ],
    )
    strip = None if whole else _strip(tiles)
    return [*pages, *tile_pages(tiles, lambda ax: _draw(ax, result, strip), INSIDE, result.line, outline)]


def strip_tiling(top: Top, paper: str) -> Tiling:
    """Sheets one above the other along the bar: axis, bar, foot, eye, and the bass edge where it is near.

    Raises
    ------
    ValueError
        If the paper is unknown.
    """
    _, v0, u1, v1 = drawing_box(top)
    waist = 1e3 * top.outline.widest()[1].bass
    # As far as the whole bass half, but no farther than the labels beside the waist need if that is too wide.
    place = tiling((0.0, v0, 1.0, v1), paper, landscape=False).place
    right = min(u1, max(waist + LABEL_WIDTH + 8.0, place[2] - LEFT_OF_AXIS))
    right = max(right, waist + LABEL_WIDTH + 8.0)
    return tiling((right - place[2], v0, right, v1), paper, landscape=False)


def _strip(tiles):
    lows = sorted(tiles.origin(row, 1)[1] for row in range(1, tiles.rows + 1))
    return Strip(tiles.box[2], tuple((low, low + tiles.place[3]) for low in lows))


def layout_drawing(result: JobLayout) -> Figure:
    """Whole layout on one page at 1:1, for ``layout.svg``."""
    u0, v0, u1, v1 = drawing_box(result.job.top)
    side, foot = 12.0, 18.0
    figure, ax = new_page(u1 - u0 + side, v1 - v0 + foot)
    _draw(window(figure, (side, foot, u1 - u0, v1 - v0), (u0, v0)), result)
    check_bar(ax, 6.0, foot + 6.0, upright=True)
    check_bar(ax, side + u1 - u0 - CHECK - 3.0, 5.0)
    for k, text in enumerate((INSIDE, result.line, PRINT_NOTE)):
        ax.text(3.0, 12.0 - 4.0 * k, text, fontsize=TEXT, weight="normal" if k else "bold")
    return figure


def _draw(ax, result, strip=None):
    job = result.job
    draw_layout(ax, job.top, result.bar, result.distances, result.conflicts, result.post, result.pitch, strip)
    return draw_marks(ax, job.marks)
