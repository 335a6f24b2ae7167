"""The template sheet: side template at true size, then the cut list and the seat as tables."""

from matplotlib.figure import Figure

from platemodel.bench.kit.paper import CHECK, MARGIN, PRINT_NOTE, check_bar, new_page, paper_size, window
from platemodel.bench.kit.typeset import TEXT
from platemodel.bench.layout.result import JobLayout
from platemodel.bench.sheets.blocks import block_pages
from platemodel.bench.sheets.template_drawing import TemplateFrame, draw_template
from platemodel.bench.sheets.template_tables import cut_list_block, seat_block
from platemodel.bench.sheets.tiles import FOOT, Tiling, tile_pages, tiling

TITLE = "Side template: fold round the blank"


def template_tiles(frame: TemplateFrame, paper: str) -> Tiling:
    """One sheet, without the strip at the left if that saves the seam, which costs accuracy; else tiles."""
    room = paper_size(paper, landscape=True)[1] - 2 * MARGIN - FOOT
    u0, v0, u1, v1 = frame.box
    box = (u0, min(v0, v1 - room + 1.0), u1, v1)
    usual, bare = (tiling(box, paper, True, **side) for side in ({"inset": 4.5}, {"inset": 4.5, "side": 0.0}))
    return bare if bare.columns == 1 < usual.columns else usual


def template_pages(result: JobLayout, paper: str = "A4") -> list[Figure]:
    """Pages of ``template.pdf``: the template, then cut list and seat.

    Parameters
    ----------
    paper : str
        ``A4`` or ``A3``.

    Raises
    ------
    ValueError
        If the paper is unknown.
    """
    frame = TemplateFrame(result.view)
    tiles = template_tiles(frame, paper)
    upright = None
    if tiles.place[0] == MARGIN:  # no strip at the left: below the template, beside the sections
        upright = (MARGIN + 152.0, tiles.place[1] + 2.0)
    pages = tile_pages(
        tiles,
        lambda ax: draw_template(ax, result.view, result.cuts, result.job.marks),
        TITLE,
        result.line,
        None,
        upright,
    )
    blocks = [lambda ax: cut_list_block(ax, result), lambda ax: seat_block(ax, result)]
    return [*pages, *block_pages(paper, blocks)]


def template_drawing(result: JobLayout) -> Figure:
    """Whole template on one page at 1:1, for ``template.svg``."""
    u0, v0, u1, v1 = TemplateFrame(result.view).box
    side, foot = 12.0, 18.0
    height = max(v1 - v0, CHECK + 10.0)
    figure, ax = new_page(u1 - u0 + side + 3.0, height + foot)
    draw_template(
        window(figure, (side, foot + height - (v1 - v0), u1 - u0, v1 - v0), (u0, v0)),
        result.view,
        result.cuts,
        result.job.marks,
    )
    check_bar(ax, 6.0, foot + 5.0, upright=True)
    check_bar(ax, side + 4.0, 5.0)
    for k, text in enumerate((TITLE, result.line, PRINT_NOTE)):
        ax.text(side + CHECK + 10.0, 12.0 - 4.0 * k, text, fontsize=TEXT, weight="normal" if k else "bold")
    return figure
