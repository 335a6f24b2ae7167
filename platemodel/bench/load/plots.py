"""Pictures of a top under its strings: raised and sunken areas, forces of the bar, share of the pull.

Every function draws on the Axes it is given and returns it. Contour lines carry their height in mm, lines of
sunken places are solid, of raised ones dashed and the line between them is thick, so that nothing depends on
colour alone.
"""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator
from shapely import contains_xy

from platemodel.bench.kit.colours import AMBER, BLUE, INK
from platemodel.bench.kit.plots import SIDES, draw_top, smooth_field
from platemodel.bench.kit.typeset import TEXT, label_axes
from platemodel.study.top.string_load import LoadState, StringLoad

SUNK, RAISED = BLUE, AMBER
LINES = 9  # contour lines at most
CLEAR = 2e-3  # m from a sound hole, where contour lines end


def draw_sinking(load: StringLoad, state: LoadState, ax: Axes, scale: float | None = None) -> Axes:
    """Contour picture of the raised and sunken areas on the first day.

    Parameters
    ----------
    state : LoadState
        The mean of its two rims is drawn.
    scale : float, optional
        Displacement (m) of full colour, to compare pictures; default this state's largest.
    """
    top, grid = load.model.top, load.grid
    draw_top(top, ax, load.bar if state.bar else None)
    lift = 1e3 * smooth_field(grid, state.shape)
    most = 1e3 * scale if scale else float(np.abs(lift).max())
    y, x = 1e3 * grid.y, 1e3 * grid.x
    clip = next(p for p in ax.patches)
    filled = ax.contourf(y, x, lift, np.linspace(-most, most, 25), cmap=SIDES, zorder=1, extend="both")
    step = MaxNLocator(LINES, steps=[1, 2, 5, 10]).tick_values(float(lift.min()), float(lift.max()))
    levels = [v for v in step if abs(v) > 1e-9 and lift.min() < v < lift.max()]
    sets = [filled]
    if levels:
        styles = ["solid" if v < 0 else "dashed" for v in levels]
        shown = np.where(_in_sound_hole(top, grid), np.nan, lift)  # or their labels would lie in the hole
        lines = ax.contour(y, x, shown, levels, colors=[INK], linewidths=0.7, linestyles=styles, zorder=2)
        digits = max(1, int(np.ceil(-np.log10(step[1] - step[0]) - 1e-9)))
        texts = ax.clabel(lines, fmt=f"%+.{digits}f", fontsize=TEXT, colors=[INK], inline=False)
        for text in _clear_of_each_other(texts, ax):
            text.set_zorder(6)
            text.set_bbox({"fc": "white", "ec": "none", "pad": 0.4, "alpha": 0.75})
        sets.append(lines)
    zero = ax.contour(y, x, lift, [0.0], colors=[INK], linewidths=2.2, zorder=2)
    for drawn in (*sets, zero):
        drawn.set_clip_path(clip)
    if state.post:
        place = 1e3 * load.set_up.post.place(top.bridge)
        ax.plot(place[1], place[0], "o", ms=5, mfc="white", mec=INK, mew=1.3, zorder=6)
    sinks = [f"{1e3 * v:.2f}" for v in load.day_one(state)]
    ax.set_title(
        f"{state.label}\nbass foot {sinks[1]} mm\n({sinks[0]} to {sinks[2]})", fontsize=TEXT, color=INK
    )
    ax.set_axis_off()
    return ax


def _clear_of_each_other(texts, ax):
    """Take off every label that lies over an earlier one; return the others."""
    ax.apply_aspect()
    kept, boxes = [], []
    for text in texts:
        box = text.get_window_extent()
        if any(box.overlaps(other) for other in boxes):
            text.remove()
            continue
        kept.append(text)
        boxes.append(box)
    return kept


def _in_sound_hole(top, grid):
    """Points of a grid in a sound hole or within ``CLEAR`` of one, (nx, ny) of bool."""
    y, x = np.meshgrid(grid.y, grid.x)
    inside = np.zeros(x.shape, dtype=bool)
    for hole in top.sound_holes:
        inside |= contains_xy(hole.polygon.buffer(CLEAR), x, y)
    return inside


def draw_bar_forces(load: StringLoad, ax: Axes, state: LoadState | None = None) -> Axes:
    """Stress along the bar at its free edge and its glued face, and shear of the glue line, over its length.

    Parameters
    ----------
    state : LoadState, optional
        With a bar; default the first.

    Raises
    ------
    ValueError
        The state has no bar.
    """
    state = state or load.main
    if state.bar_forces is None:
        msg = f"{state.label}: no bar whose forces could be drawn"
        raise ValueError(msg)
    bar, forces = load.bar, state.bar_forces
    x = 1e3 * (bar.x_start + (bar.x_end - bar.x_start) * forces.held.s / forces.held.s[-1])
    curves = (
        ("free edge", "free", RAISED, "-", "////"),
        ("glued face", "seat", SUNK, "--", "...."),
        ("glue line, shear", "glue_shear", INK, ":", ""),
    )
    for label, name, colour, style, hatch in curves:
        a, b = (1e-6 * getattr(f, name) for f in (forces.sliding, forces.held))
        ax.plot(x, 0.5 * (a + b), style, color=colour, lw=1.6, label=label)
        ax.fill_between(x, a, b, fc=colour, ec=colour, alpha=0.25, hatch=hatch, lw=0)
    ax.axhline(0.0, color=INK, lw=0.6)
    ax.axvline(1e3 * load.model.top.bridge.x, color=INK, lw=0.6, ls=":")
    ax.legend(fontsize=TEXT, frameon=False, loc="upper right")
    along = "along, mm from the lower edge (dotted: bridge line)"
    return label_axes(ax, along, "MPa, + tension", "Bar: stress along it, band of the two rims")


def draw_load_split(load: StringLoad, ax: Axes) -> Axes:
    """Bars of equal scale: total tension, load on the top, and its shares on the feet."""
    strung = load.set_up.strings
    rows = [
        ("pull of all strings", strung.total, "white", "xxx", f"{strung.total:.0f}"),
        ("load on the top", load.downforce, RAISED, "", f"{load.downforce:.1f}"),
        ("  on the bass foot", load.bass, RAISED, "", f"{load.bass:.1f}"),
        ("  on the treble foot", load.treble, RAISED, "", f"{load.treble:.1f}"),
    ]
    for k, (label, force, colour, hatch, newtons) in enumerate(rows):
        ax.barh(-k, force, 0.62, fc=colour, ec=INK, hatch=hatch, lw=0.8)
        ax.text(force + 0.02 * strung.total, -k, f"{newtons} N", va="center", fontsize=TEXT, color=INK)
        ax.text(-0.02 * strung.total, -k, label, va="center", ha="right", fontsize=TEXT, color=INK)
    ax.set_xlim(0, 1.5 * max(strung.total, load.downforce))
    ax.set_ylim(-len(rows) + 0.4, 0.6)
    ax.set_axis_off()
    title = "The pull of the strings is not the load on the top"
    return label_axes(ax, title=title, weight="bold", loc="left", title_at=-0.3)
