"""The old bar beside the new one, on paper."""

from collections.abc import Collection

import pandas as pd
from matplotlib.axes import Axes

from platemodel.bench.kit.old_bar import TITLE, change_text
from platemodel.bench.kit.sheet import Column, write_head, write_items, write_table
from platemodel.study.top.figures import figure_text
from platemodel.study.top.old_bar import in_words


def write_old_bar(
    ax: Axes,
    x: float,
    y: float,
    table: pd.DataFrame | None,
    room: float,
    new: str = "new",
    only: Collection[str] = (),
    title: str = TITLE,
) -> float:
    """Write the table and its sentence; nothing without a table.

    Parameters
    ----------
    ax : Axes
        In mm of the sheet.
    x, y : float
        Upper left corner, mm.
    table : DataFrame or None
        See `platemodel.study.top.old_bar.beside`.
    room : float
        Width, mm.
    new : str
        What the column of the new bar is called.
    only : collection of str, optional
        Figures to show; default all.
    title : str
        Of the block.

    Returns
    -------
    float
        Height below it, mm.
    """
    if table is None or not len(table):
        return y
    y = write_head(ax, x, y, title)
    columns = (
        Column("", lambda r: f"{r.what}, {r.unit}" if r.unit else r.what, right=False),
        Column("old bar", lambda r: figure_text(r.figure, r.old)),
        Column(new, lambda r: figure_text(r.figure, r.new)),
        Column("change, %", lambda r: change_text(r.change_percent)),
    )
    shown = table[table["figure"].isin(only)] if only else table
    y = write_table(ax, x, y, columns, shown.itertuples(), room)
    return write_items(ax, x, y - 1.0, [in_words(table)], room)
