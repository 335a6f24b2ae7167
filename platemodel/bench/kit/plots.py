"""Pictures of tops and plate modes; every function draws on the Axes it is given and returns it.

The top lies as on the bench seen from outside, upper bout up: across the page is across the top (bass side
left), up the page is along the body. Millimetres throughout. Light and dark carry the sign besides colour,
and nodal lines are drawn, so that nothing depends on colour alone.
"""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.patches import Polygon
from matplotlib.tri import Triangulation

from platemodel.bench.kit.colours import BAR, BLUE, HOLE, INK, SAND, WOOD
from platemodel.bench.kit.typeset import HEAD, TEXT
from platemodel.instrument.bar import Bar
from platemodel.instrument.top import Top
from platemodel.study.top.drawn_plate import drawn_plate
from platemodel.study.top.plate_modes import PlateModes
from platemodel.study.top.sampling import PlanGrid

# Two sides of the motion, which lightness alone tells apart in print and for colour-blind eyes.
SIDES = LinearSegmentedColormap.from_list("two_sides", [BLUE, WOOD, SAND])


def draw_top(top: Top, ax: Axes, bar: Bar | None = None, bridge: bool = True, fill: bool = True) -> Axes:
    """Outline, sound holes, bridge feet and bar in plan.

    Parameters
    ----------
    bar : Bar, optional
        Drawn as seen through the top.
    fill : bool
        Fill the plate with a wood tone.
    """
    # add_artist, because add_patch searches every side of the outline for its extent: 20 ms a picture
    ax.add_artist(_closed(top.outline.points, fc=WOOD if fill else "none", ec=INK, lw=1.2, zorder=0.5))
    for hole in top.sound_holes:
        ax.add_artist(_closed(hole.points, fc=HOLE, ec=INK, lw=0.8, zorder=4))
    if bar is not None:
        ax.add_artist(_closed(bar.ring, fc="none", ec=BAR, lw=1.1, hatch="//////", zorder=3))
    if bridge:
        for foot in top.bridge.feet():
            ax.add_artist(
                _closed(np.array(foot.exterior.coords)[:-1], fc="none", ec=INK, lw=0.6, ls=":", zorder=3)
            )
    low, high = 1e3 * top.outline.points.min(axis=0), 1e3 * top.outline.points.max(axis=0)
    ax.set_xlim(low[1] - 6, high[1] + 6)
    ax.set_ylim(low[0] - 6, high[0] + 6)
    ax.set_aspect("equal")
    ax.set_xlabel("across, mm (bass side left)")
    ax.set_ylabel("along, mm from the lower edge")
    return ax


def draw_mode(modes: PlateModes, index: int, ax: Axes) -> Axes:
    """One mode: which parts move together, and nodal lines as sand would show them.

    Crossed ring: hold there. Filled ring: tap there.

    Parameters
    ----------
    index : int
        Position in the table, from 0.
    """
    top, plate = modes.model.top, drawn_plate(modes.model)
    draw_top(top, ax, modes.bar, bridge=False)
    shape = plate.lift(modes.vectors[:, index])
    x, y = 1e3 * plate.points
    row = modes.table.iloc[index]
    # A mode has no sign of its own: the place to tap lies on the light side, in every picture of it.
    at_tap = np.hypot(x - row.tap_x_mm, y - row.tap_y_mm).argmin()
    shape = shape * np.sign(shape[at_tap]) / np.abs(shape).max()
    net = Triangulation(y, x, plate.triangles)
    filled = ax.tricontourf(net, shape, levels=np.linspace(-1, 1, 15), cmap=SIDES, zorder=1, extend="both")
    nodes = ax.tricontour(net, shape, levels=[0.0], colors=[INK], linewidths=2.2, zorder=2)
    clip = _closed(top.outline.points, fc="none", ec="none")
    ax.add_artist(clip)
    for drawn in (filled, nodes):
        drawn.set_clip_path(clip)
    whole = {"mew": 1.2, "clip_on": False}  # places at the edge reach over the picture's
    ax.plot(row.hold_y_mm, row.hold_x_mm, "o", ms=9, mfc="white", mec=INK, zorder=6, **whole)
    ax.plot(row.hold_y_mm, row.hold_x_mm, "x", ms=6, color=INK, zorder=7, **whole)
    ax.plot(row.tap_y_mm, row.tap_x_mm, "o", ms=9, mfc=INK, mec="white", zorder=6, **whole)
    name = f"mode {row['number']}, {row['name']}" if row["name"] else "(no name)"
    ax.set_title(f"{row.f_hz:.1f} Hz\n{name}", fontsize=TEXT)
    ax.set_axis_off()
    low, high = ax.get_ylim()
    ax.set_ylim(low - 0.06 * (high - low), high)  # room for a scale bar, the same in every picture
    return ax


def draw_mode_row(modes: PlateModes, axes: Sequence[Axes], label: str = "") -> Sequence[Axes]:
    """Draw modes 0, 1, 2 ... on a row of Axes, with a label at the left; returns the Axes."""
    for index, ax in enumerate(axes):
        draw_mode(modes, index, ax)
    scale_bar(axes[0], modes.model.top)
    if label:
        axes[0].annotate(
            label, (-0.12, 0.5), xycoords="axes fraction", rotation=90, va="center", ha="right", fontsize=HEAD
        )
    return axes


def scale_bar(ax: Axes, top: Top) -> Axes:
    """Draw a bar of 50 mm (100 mm for a cello) below the top."""
    length = 50.0 if top.outline.body_length < 0.5 else 100.0
    body = 1e3 * top.outline.body_length  # clear of the edge on a small picture of a large top too
    y = 1e3 * top.outline.points[:, 0].min() - 0.014 * body
    ax.add_collection(LineCollection([[(-length / 2, y), (length / 2, y)]], colors=INK, linewidths=1.5))
    ax.text(0, y - 0.006 * body, f"{length:.0f} mm", ha="center", va="top", fontsize=TEXT, color=INK)
    low, high = ax.get_ylim()
    ax.set_ylim(min(low, y - 2.0), high)
    return ax


def _closed(points, **style):
    return Polygon(1e3 * np.asarray(points)[:, ::-1], closed=True, **style)


def smooth_field(grid: PlanGrid, values: np.ndarray) -> np.ndarray:
    """Values at a grid's inside points (m,), continued outwards so that contours reach the edge: (nx, ny)."""
    from scipy.ndimage import distance_transform_edt

    field = grid.spread(values)
    nearest = distance_transform_edt(np.isnan(field), return_distances=False, return_indices=True)
    return field[tuple(nearest)]
