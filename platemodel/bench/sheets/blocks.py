"""Pages of words and tables: blocks of A4 upright, one on an A4 sheet, two side by side on A3."""

from collections.abc import Callable, Collection, Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import PAPERS
from platemodel.bench.kit.paper import check_bar, new_page, paper_size, window
from platemodel.bench.kit.typeset import TEXT, TITLE, Item, Slot, head, write_broken

LEFT, TOP_LINE, WIDE = 15.0, 284.0, 180.0  # mm, of a block


def block_pages(paper: str, blocks: list[Callable]) -> list[Figure]:
    """Pages that hold blocks; each block draws on Axes of A4 in mm.

    Parameters
    ----------
    blocks : list of callable
    """
    width, height = PAPERS["A4"]
    across = 2 if paper == "A3" else 1
    pages = []
    for k in range(0, len(blocks), across):
        figure, _ = new_page(*paper_size(paper, landscape=across == 2))
        for place, block in enumerate(blocks[k : k + across]):
            ax = window(figure, (place * width, 0.0, width, height), (0.0, 0.0))
            check_bar(ax, 100.0, 13.0)
            check_bar(ax, 8.5, 20.0, upright=True)
            block(ax)
        pages.append(figure)
    return pages


def heading(ax: Axes, title: str, lines: tuple[str, ...]) -> float:
    """Write a title and lines below it; return the height below them, mm."""
    y = write_broken(ax, LEFT, TOP_LINE, title, WIDE, TITLE, bold=True)
    for line in lines:
        y = write_broken(ax, LEFT, y, line, WIDE)
    return y - 2.0


def paragraph(ax: Axes, y: float, title: str, texts: Sequence[str]) -> float:
    """Write a head and texts; return the height below them, mm."""
    slot = Slot(ax, LEFT, y, 0.0, WIDE)
    slot.put([head(title), *(Item(t) for t in texts)])
    return slot.y - 2.0


def ruled_table(
    ax: Axes,
    table: pd.DataFrame,
    y: float,
    widths: list[float],
    step: float = 5.2,
    bold: Collection[int] = (),
) -> float:
    """Write a table with a line under each row for a pencil tick; return the height below it, mm.

    Parameters
    ----------
    table : DataFrame
        Of texts; a column name may have two lines. The first column stands left, the others right.
    y : float
        Upper edge, mm.
    widths : list of float
        Of the columns, mm.
    step : float
        From row to row, mm.
    bold : collection of int
        Rows in heavy type.
    """
    edges = LEFT + np.cumsum([0.0, *widths])
    for k, name in enumerate(table.columns):
        at, ha = (edges[k], "left") if k == 0 else (edges[k + 1] - 1.5, "right")
        ax.text(at, y, name, fontsize=TEXT, style="italic", ha=ha, va="bottom", color=INK)
    ax.plot(edges[[0, -1]], [y - 1.0, y - 1.0], color=INK, lw=0.8)
    for r, row in enumerate(table.itertuples(index=False)):
        v = y - 1.0 - step * (r + 1)
        for k, value in enumerate(row):
            at, ha = (edges[k], "left") if k == 0 else (edges[k + 1] - 1.5, "right")
            weight = "bold" if r in bold else "normal"
            ax.text(at, v + 0.28 * step, value, fontsize=TEXT, weight=weight, ha=ha, va="bottom", color=INK)
        ax.plot(edges[[0, -1]], [v, v], color=INK, lw=0.25)
    return y - 1.0 - step * len(table) - 4.0
