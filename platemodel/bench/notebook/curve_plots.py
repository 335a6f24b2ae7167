"""Curves over one figure, side by side: what a lesson lets you read off with a slider."""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from platemodel.bench.kit.height_plots import STYLES, mark_values


def draw_curves(
    curves: Mapping[str, pd.DataFrame],
    x: tuple[str, str],
    panels: Mapping[str, str],
    axes: Sequence,
    at: float | None = None,
    log: bool = False,
) -> Sequence:
    """Draw columns of tables over one of their columns, a panel a column; told apart by line and marker.

    Parameters
    ----------
    curves : mapping of label to DataFrame
        With the columns named below, rows in the order of ``x``.
    x : (str, str)
        Column to draw over, and the words of its axis with the unit.
    panels : mapping of str to str
        Column to the words of its axis with the unit.
    axes : sequence of matplotlib.axes.Axes
        As many as panels.
    at : float, optional
        Value of ``x`` to mark on every curve that reaches it.
    log : bool
        Logarithmic scale of ``x``.
    """
    column, words = x
    for (name, label), ax in zip(panels.items(), axes, strict=True):
        values = []
        for (curve, table), (line, marker, colour) in zip(curves.items(), STYLES, strict=False):
            every = max(1, len(table) // 8)
            ax.plot(
                table[column],
                table[name],
                line,
                marker=marker,
                markevery=every,
                color=colour,
                ms=4,
                label=curve,
            )
            value = float("nan") if at is None else read_curve(table, column, name, at, log)
            if np.isfinite(value):
                values.append(value)
        mark_values(ax, at, values, ".3g")
        if log:
            ax.set_xscale("log")
            ax.xaxis.set_major_formatter(lambda v, _: f"{v:,g}")  # no powers of ten for the bench
        ax.set_xlabel(words, fontsize=8)
        ax.set_ylabel(label, fontsize=8)
        ax.tick_params(labelsize=8)
        ax.grid(alpha=0.3)
    if len(curves) > 1:
        axes[0].legend(fontsize=8)
    return axes


def read_curve(table: pd.DataFrame, x: str, y: str, at: float, log: bool = False) -> float:
    """Read one curve between its points, straight in ``x`` or with ``log`` in its logarithm; NaN beyond."""
    places, value = table[x].to_numpy(dtype=float), at
    if log:
        places, value = np.log(places), np.log(at)
    return float(np.interp(value, places, table[y], left=np.nan, right=np.nan))


def read_curves(
    curves: Mapping[str, pd.DataFrame], x: str, columns: Sequence[str], at: float, log: bool = False
) -> pd.DataFrame:
    """Read all curves at one place.

    Parameters
    ----------
    curves : mapping of label to DataFrame
    x : str
        Column to read over.

    Returns
    -------
    DataFrame
        A row a curve: ``x`` and the columns.
    """
    rows = {
        label: {x: at} | {name: read_curve(table, x, name, at, log) for name in columns}
        for label, table in curves.items()
    }
    return pd.DataFrame.from_dict(rows, orient="index")
