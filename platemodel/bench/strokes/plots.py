"""Where a stroke moves which tone, drawn on the top; and along the bar."""

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from matplotlib.ticker import MaxNLocator

from platemodel.bench.kit.colours import AMBER, BAR, BLUE, INK
from platemodel.bench.kit.plots import SIDES, draw_top, smooth_field
from platemodel.bench.kit.typeset import TEXT, label_axes
from platemodel.bench.strokes.result import SINK, JobStrokes, label_of

LEVELS = 7  # contour lines, about
APART = 0.13  # of the body length, between two labels: a label is a good tenth as wide
LINES = {"f1_hz": ("-", INK), "f2_hz": ("--", BLUE), "f5_hz": (":", AMBER), SINK: ("-", INK)}


def draw_stroke_map(result: JobStrokes, name: str, ax: Axes) -> Axes:
    """Change of one value by 0.1 mm off 10 cm2 inside, as labelled contours on the top.

    Parameters
    ----------
    name : str
        One of its ``names``.

    Notes
    -----
    Dark and light carry the sign besides the labels, so that nothing depends on colour alone.
    """
    grid, table = result.map
    top = result.job.top
    draw_top(top, ax, result.of.bar, fill=False)
    values = table[name].to_numpy()
    field = smooth_field(grid, values)
    clip = ax.add_patch(Polygon(1e3 * top.outline.points[:, ::-1], closed=True, fc="none", ec="none"))
    reach = max(float(np.abs(values).max()), 1e-12)
    x, y = 1e3 * grid.x, 1e3 * grid.y
    ax.contourf(y, x, field, levels=np.linspace(-reach, reach, 41), cmap=SIDES, zorder=1).set_clip_path(clip)
    lines = MaxNLocator(LEVELS, steps=[1, 2, 5, 10]).tick_values(-reach, reach)
    drawn = ax.contour(y, x, field, levels=lines, colors=[INK], linewidths=0.8, zorder=2)
    drawn.set_clip_path(clip)
    labels = ax.clabel(drawn, fontsize=TEXT, fmt=lambda v: f"{v:+.2g}" if abs(v) > 1e-9 * reach else "0")
    _thin_out(labels, top)
    title, unit = label_of(name)
    ax.set_title(f"{title}, {unit}", fontsize=TEXT)
    ax.set_axis_off()
    return ax


def _thin_out(labels, top):
    """Remove labels off the plate, and those that would lie over another."""
    taken = np.zeros((0, 2))
    for text in labels:
        at = 1e-3 * np.array(text.get_position())[::-1]
        near = np.hypot(*(taken - at).T) < APART * top.outline.body_length
        if near.any() or not shapely.contains_xy(top.plan, *at):
            text.remove()
        else:
            taken = np.vstack([taken, at])


def draw_along_bar(result: JobStrokes, names: list[str], ax: Axes) -> Axes:
    """Change of values by 0.1 mm off 10 cm of the bar, along it.

    Parameters
    ----------
    result : JobStrokes
        With a bar.
    names : list of str
        Of one unit.
    """
    table = result.along
    for name in names:
        line, colour = LINES[name]
        ax.plot(table["x_mm"], table[name], line, color=colour, label=label_of(name)[0].split(",")[0])
    ax.axhline(0.0, color=INK, lw=0.6)
    ax.axvline(1e3 * result.job.top.bridge.x, color=BAR, lw=0.8, ls=":")
    what, unit = label_of(names[0])
    if len(names) == 1:
        label_axes(ax, "x, mm (dotted: bridge)", title=f"{what}, {unit}")
    else:
        label_axes(ax, "x, mm (dotted: bridge)", unit)
        ax.legend(
            fontsize=TEXT, frameon=False, ncols=len(names), loc="lower center", bbox_to_anchor=(0.45, 1.0),
            borderpad=0, handlelength=1.6, columnspacing=0.8, handletextpad=0.4,
        )  # fmt: skip
    ax.grid(alpha=0.3)
    return ax
