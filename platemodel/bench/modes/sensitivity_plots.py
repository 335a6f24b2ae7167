"""Where a scrape moves which mode, drawn on the top; and along the bar."""

import numpy as np
import pandas as pd
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from platemodel.bench.kit.colours import AMBER, BAR, BLUE, INK
from platemodel.bench.kit.plots import SIDES, draw_top, scale_bar, smooth_field
from platemodel.bench.kit.typeset import TEXT
from platemodel.study.top.recognise import KNOWN
from platemodel.study.top.sampling import PlanGrid
from platemodel.study.top.sensitivity import Sensitivity

LEVELS = 9  # contour lines, about


def label_of(name: str) -> tuple[str, str]:
    """Title and unit in words of a column of a sensitivity table."""
    if name.startswith("f"):
        number = int(name[1 : name.index("_")])
        return f"mode {number}, {KNOWN[number]}", "Hz"
    rim = name.split("_")[1]
    return f"sinking under the bass foot, rim {rim}", "% of it"


def _in_unit(sensitivity, name, change):
    if name.startswith("f"):
        return change
    return 100.0 * change / sensitivity.values[sensitivity.names.index(name)]


def draw_scrape_map(
    sensitivity: Sensitivity, table: tuple[PlanGrid, pd.DataFrame], name: str, ax: Axes
) -> Axes:
    """Change of one value by a scrape of 0.1 mm over 1 cm2, as labelled contours on the top.

    Parameters
    ----------
    sensitivity : Sensitivity
    table : tuple
        From `Sensitivity.map`.
    name : str
        A column of it.
    ax : matplotlib.axes.Axes

    Returns
    -------
    matplotlib.axes.Axes

    Notes
    -----
    Dark and light carry the sign besides the labels, so that nothing depends on colour alone.
    """
    grid, frame = table
    top = sensitivity.model.top
    draw_top(top, ax, sensitivity.bar, fill=False)
    values = _in_unit(sensitivity, name, frame[name].to_numpy())
    field = smooth_field(grid, values)
    clip = ax.add_patch(Polygon(1e3 * top.outline.points[:, ::-1], closed=True, fc="none", ec="none"))
    reach = max(float(np.abs(values).max()), 1e-12)
    x, y = 1e3 * grid.x, 1e3 * grid.y
    ax.contourf(y, x, field, levels=np.linspace(-reach, reach, 41), cmap=SIDES, zorder=1).set_clip_path(clip)
    step = _round_step(2.0 * reach / LEVELS)
    lines = np.arange(np.floor(-reach / step), np.ceil(reach / step) + 1) * step
    drawn = ax.contour(y, x, field, levels=lines, colors=[INK], linewidths=0.8, zorder=2)
    drawn.set_clip_path(clip)
    for text in ax.clabel(drawn, fontsize=TEXT, fmt=lambda v: f"{v:+.2g}" if abs(v) > 1e-9 * reach else "0"):
        if not shapely.contains_xy(top.plan, *(1e-3 * np.array(text.get_position())[::-1])):
            text.remove()
    title, unit = label_of(name)
    ax.set_title(f"{title}\n{unit} for 0.1 mm off 1 cm²", fontsize=TEXT)
    ax.set_axis_off()
    low, high = ax.get_ylim()
    ax.set_ylim(low - 0.06 * (high - low), high)
    scale_bar(ax, top)
    return ax


def _round_step(step):
    """Next of 1, 2, 5 times a power of ten."""
    power = 10.0 ** np.floor(np.log10(step))
    return power * next(k for k in (1.0, 2.0, 5.0, 10.0) if k * power >= step * (1 - 1e-9))


def draw_bar_effect(sensitivity: Sensitivity, ax: Axes) -> Axes:
    """Change of modes 1, 2 and 5 by 0.1 mm off the bar over 10 mm of its length, along the bar.

    Parameters
    ----------
    sensitivity : Sensitivity
        With a bar.
    ax : matplotlib.axes.Axes

    Returns
    -------
    matplotlib.axes.Axes
    """
    table = sensitivity.bar_table()
    styles = (("-", INK), ("--", BLUE), (":", AMBER))
    modes = [name for name in sensitivity.names if name.startswith("f")]
    for name, (line, colour) in zip(modes, styles, strict=False):
        ax.plot(table["x_mm"], table[name], line, color=colour, label=label_of(name)[0])
    ax.axhline(0.0, color=INK, lw=0.6)
    ax.axvline(1e3 * sensitivity.model.top.bridge.x, color=BAR, lw=0.8, ls=":")
    ax.set_xlabel("along the bar, mm from the lower edge (dotted: bridge)")
    ax.set_ylabel("Hz for 0.1 mm off 10 mm")
    ax.legend(fontsize=TEXT)
    ax.grid(alpha=0.3)
    return ax
