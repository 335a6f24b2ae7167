"""The layout sheet: explanations, then the top from inside at true size over as many sheets as needed."""

from matplotlib.figure import Figure

from platemodel.bench.layout.result import JobLayout
from platemodel.bench.sheets.blocks import block_pages
from platemodel.bench.sheets.layout_drawing import INSIDE, draw_layout, drawing_box
from platemodel.bench.sheets.layout_tables import distances_block, map_block
from platemodel.bench.sheets.marks import from_inside
from platemodel.bench.sheets.paper import CHECK, PRINT_NOTE, check_bar, new_page, window
from platemodel.bench.sheets.tiles import tile_pages, tiling


def layout_pages(result: JobLayout, paper: str = "A4") -> list[Figure]:
    """Pages of ``layout.pdf``: map, conflicts and distances first, then the tiles at 1:1.

    Parameters
    ----------
    result : platemodel.bench.layout.result.JobLayout
    paper : str
        ``A4`` or ``A3``.

    Raises
    ------
    ValueError
        If the paper is unknown.
    """
    top = result.job.top
    tiles = tiling(drawing_box(top), paper)
    outline = from_inside(top.outline.points)
    pages = block_pages(
        paper,
        [
            lambda ax: map_block(ax, result, tiles, outline),
            lambda ax: distances_block(ax, result),
        ],
    )
    return [*pages, *tile_pages(tiles, lambda ax: _draw(ax, result), INSIDE, result.line, outline)]


def layout_drawing(result: JobLayout) -> Figure:
    """Whole layout on one page at 1:1, for ``layout.svg``.

    Parameters
    ----------
    result : platemodel.bench.layout.result.JobLayout
    """
    u0, v0, u1, v1 = drawing_box(result.job.top)
    side, foot = 12.0, 18.0
    figure, ax = new_page(u1 - u0 + side, v1 - v0 + foot)
    _draw(window(figure, (side, foot, u1 - u0, v1 - v0), (u0, v0)), result)
    check_bar(ax, 6.0, foot + 6.0, upright=True)
    check_bar(ax, side + u1 - u0 - CHECK - 3.0, 5.0)
    for k, text in enumerate((INSIDE, result.line, PRINT_NOTE)):
        ax.text(3.0, 12.0 - 4.0 * k, text, fontsize=6.5, weight="normal" if k else "bold")
    return figure


def _draw(ax, result):
    return draw_layout(
        ax, result.job.top, result.bar, result.distances, result.conflicts, result.post, result.pitch
    )
