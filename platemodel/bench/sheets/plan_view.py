"""A small plan of the bass half of a top from inside, with its bar and the bar's distances from the axis."""

from collections.abc import Iterable

import numpy as np
from matplotlib.axes import Axes

from platemodel.bench.kit.colours import BAR, BAR_TINT, INK
from platemodel.bench.kit.mark_drawing import draw_marks
from platemodel.bench.kit.paper import from_inside
from platemodel.bench.kit.typeset import write
from platemodel.bench.sheets.marks import loop
from platemodel.instrument.bar import Bar
from platemodel.instrument.marks import Mark
from platemodel.instrument.top import Top

SCALES = (2, 2.5, 4, 5, 8, 10, 12.5, 15, 20)
FIGURES = 11.0  # mm left of the axis, for the distances


def plan_scale(top: Top, room: tuple[float, float]) -> float:
    """Find the largest round scale, one in so many, at which a plan fits.

    Parameters
    ----------
    top : Top
    room : tuple of float
        Width and height, mm.
    """
    size = float(from_inside(top.outline.points)[:, 0].max()), 1e3 * top.outline.body_length
    fits = (k for k in SCALES if size[0] / k + FIGURES <= room[0] and size[1] / k <= room[1])
    return next(fits, SCALES[-1])


def draw_plan_view(
    ax: Axes,
    top: Top,
    bar: Bar,
    marks: Iterable[Mark],
    corner: tuple[float, float],
    room: tuple[float, float],
    words: str = "",
) -> Axes:
    """Draw it at the scale of `plan_scale`; returns the Axes.

    Parameters
    ----------
    ax : Axes
        In mm of the paper.
    marks : iterable of Mark
        Those of the bass side are drawn.
    corner : tuple of float
        Upper left corner, mm.
    room : tuple of float
        Width and height, mm; the scale is written below.
    words : str
        After the scale.
    """
    points = from_inside(top.outline.points)
    scale, tall = plan_scale(top, room), 1e3 * top.outline.body_length
    u0, v0 = corner[0] + FIGURES, corner[1] - tall / scale

    def place(p):
        return np.asarray(p, float) / scale + [u0, v0]

    closed = np.r_[points, points[:1]]
    closed[closed[:, 0] < -1e-9] = np.nan
    ax.plot(*place(closed).T, color=INK, lw=0.9)
    ends = [v0 - 1.5, v0 + tall / scale + 1.5]
    ax.plot([u0, u0], ends, color=INK, lw=0.6, ls=(0, (12, 2, 2, 2)))
    for hole in top.sound_holes:
        if hole.side == "bass":
            loop(ax, place(from_inside(hole.points)), fc="#f0f0f0", ec=INK, lw=0.7)
    foot = np.array(top.bridge.feet()[0].exterior.coords)[:-1]
    loop(ax, place(from_inside(foot)), fc="none", ec=INK, lw=0.6)
    loop(ax, place(from_inside(bar.ring)), fc=BAR_TINT, ec=BAR, lw=1.0)
    on_bass = [m for m in marks if m.points[:, 1].min() < 0.0]
    draw_marks(ax, on_bass, lambda p: place(from_inside(p)), words=False)
    at = np.array([bar.x_start, top.bridge.x, bar.x_end])
    for station, edge in zip(at, bar.flanks(at)[1], strict=True):
        (a, v), (b, _) = place(from_inside([(station, 0.0), (station, edge)]))
        ax.plot([a, b], [v, v], color=INK, lw=0.6)
        ax.plot([a, b], [v, v], "o", ms=2.0, color=INK)
        write(ax, a - 1.2, v, f"{-1e3 * edge:.1f}", ha="right", va="center", bold=True)
    write(ax, corner[0], v0 - 2.0, f"1 : {scale:g}{words}")
    return ax
