"""Pictures of what a bar's height does, several tops side by side."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from platemodel.bench.kit.colours import AMBER, BLUE, GREY, INK, MAUVE
from platemodel.bench.kit.typeset import TEXT
from platemodel.study.top.name_passes import NAMED, in_pieces, name_passes

# Told apart by line and marker as well as by colour.
STYLES = (("-", "o", BLUE), ("--", "s", AMBER), (":", "^", GREY), ("-.", "D", MAUVE))
PANELS = (
    ("f1_hz", "mode 1, twist (Hz)"),
    ("f2_hz", "mode 2, cross (Hz)"),
    ("f5_hz", "mode 5, ring (Hz)"),
    ("foot_n_per_mm", "stiffness under the bass foot (N/mm)"),
    ("bar_g", "mass of the bar (g)"),
)


def draw_height_sweep(
    sweeps: dict[str, pd.DataFrame], axes: Sequence[Axes], at: float | None = None
) -> Sequence[Axes]:
    """Curves over bar height: modes 1, 2 and 5, stiffness under the bass foot, mass of the bar.

    Parameters
    ----------
    sweeps : dict of label to DataFrame
        From `platemodel.study.top.heights.height_sweep`; a row of height 0 (no bar) is drawn as a level line.
    axes : sequence of 5 matplotlib.axes.Axes
    at : float, optional
        Height in mm to mark on every curve.
    """
    for (column, label), ax in zip(PANELS, axes, strict=True):
        values = []
        for (name, sweep), (line, marker, colour) in zip(sweeps.items(), STYLES, strict=False):
            barred = sweep[sweep["height_mm"] > 0]
            x, y = barred["height_mm"], barred[column]
            ax.plot(
                *tone_curve(barred, "height_mm", column), line, marker=marker, color=colour, ms=4, label=name
            )
            bare = sweep[sweep["height_mm"] == 0]
            if len(bare) and column != "bar_g":
                level = float(bare[column].iloc[0])
                ax.axhline(level, color=colour, lw=0.8, ls=line, alpha=0.6)
                ax.annotate("no bar", (x.iloc[0], level), fontsize=TEXT, color=colour, va="bottom")
            if at is not None and x.min() <= at <= x.max():
                values.append(float(np.interp(at, x, y)))
        mark_values(ax, at, values, ".1f")
        ax.set_xlabel("bar height, mm")
        ax.set_title(label, fontsize=TEXT)
        ax.grid(alpha=0.3)
    if len(sweeps) > 1:
        axes[0].legend(fontsize=TEXT)
    return axes


def tone_curve(table: pd.DataFrame, x: str, figure: str) -> tuple[np.ndarray, np.ndarray]:
    """Return a figure over a column; a tone has a gap where its name passes to another tone."""
    places, values = table[x].to_numpy(dtype=float), table[figure].to_numpy(dtype=float)
    return in_pieces(places, values, passes_of(table, figure))


def passes_of(table: pd.DataFrame, figure: str) -> np.ndarray:
    """Tell between which rows a tone's name passes on (rows - 1,); nowhere for what is no tone."""
    numbers = {f"f{n}_hz": n for n in NAMED}
    if figure not in numbers:
        return np.zeros(len(table) - 1, dtype=bool)
    return name_passes(table, numbers[figure])


def mark_values(ax: Axes, at: float | None, values: list[float], digits: str) -> None:
    """Put a ring and a figure at one place of each curve; the lowest of several has its figure below it."""
    for k, value in enumerate(values):
        ax.plot([at], [value], marker="o", ms=10, mfc="none", mec=INK, mew=1.5)
        below = len(values) > 1 and k == np.argmin(values)
        place = {"xytext": (6, -14 if below else 6), "textcoords": "offset points", "fontsize": TEXT}
        ax.annotate(f"{value:{digits}}", (at, value), **place)
    ax.margins(y=0.12)  # room for the figures
