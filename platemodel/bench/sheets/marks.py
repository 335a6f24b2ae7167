"""Marks on a sheet: lines between divider points, labels in a column with leaders, hatched places."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from numpy.typing import ArrayLike

from platemodel.bench.kit.colours import ALARM, ALARM_TINT, FAINT, INK
from platemodel.bench.kit.typeset import HEAD, TEXT, broken

GROUND = {"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.85}
LABEL_WIDTH = 43.0  # mm, of the words of a label in a column
ROOM, STEP = 5.6, 3.4  # mm in a column for a label's figure, and for each of its lines


@dataclass(frozen=True)
class Label:
    """A figure with a few words, and the place it speaks of.

    Attributes
    ----------
    anchor : tuple of float
        mm on the drawing.
    alarm : bool
        Drawn in the colour of conflicts.
    """

    anchor: tuple[float, float]
    figure: str
    words: str
    alarm: bool = False


def loop(ax: Axes, points: ArrayLike, **style) -> Artist:
    """Add a closed line through points (n, 2) in mm; returns the patch."""
    return ax.add_artist(Polygon(np.asarray(points), closed=True, **style))


def dimension(ax: Axes, p: ArrayLike, q: ArrayLike, color: str = INK, gid: str | None = None) -> Axes:
    """Line between two divider points, each with its dot; returns the Axes."""
    (a, b), (c, d) = p, q
    ax.plot([a, c], [b, d], color=color, lw=0.6, zorder=8, gid=gid)
    ax.plot([a, c], [b, d], "o", ms=2.2, mfc=color, mec="white", mew=0.3, zorder=9)
    return ax


def figure_at(
    ax: Axes, u: float, v: float, figure: str, words: str = "", ha: str = "left", alarm: bool = False, **style
) -> Axes:
    """Write a figure and, smaller, words after it on a white ground; returns the Axes."""
    color = ALARM if alarm else INK
    style = {"va": "center", "clip_on": True, "zorder": 10, "bbox": GROUND, **style}
    if not words:
        ax.text(u, v, figure, fontsize=HEAD, weight="bold", color=color, ha=ha, **style)
        return ax
    text = f"$\\mathbf{{{figure}}}$  {words}"
    ax.text(u, v, text, fontsize=TEXT, color=color, ha=ha, **style)
    return ax


def label_column(
    ax: Axes, labels: list[Label], edge: Callable[[float], float], middle: float, right: bool = True
) -> Axes:
    """Labels one below the other beside an edge, in the order of their places, with leaders to them.

    Parameters
    ----------
    edge : callable
        Place across at a height, mm: where labels may start.
    middle : float
        Height of the column's middle, mm.
    right : bool
        Whether the column stands to the right of what it speaks of.
    """
    labels = sorted(labels, key=lambda e: -e.anchor[1])
    side, ha = (1, "left") if right else (-1, "right")
    v = middle + column_height(labels) / 2 - ROOM
    for label in labels:
        text, height = "\n".join(_lines(label)), column_height([label])
        color = ALARM if label.alarm else INK
        # Clear of the edge over the whole height of the label.
        u = side * max(side * edge(v + t) for t in (ROOM, 0.0, ROOM - height))
        ax.plot(
            [label.anchor[0], u - side, u + side * 0.4],
            [label.anchor[1], v, v],
            color=color if label.alarm else FAINT,
            lw=0.4,
            zorder=7,
            gid="leader",
        )
        style = {"color": color, "ha": ha, "clip_on": True, "zorder": 10, "bbox": GROUND}
        ax.text(u + side, v + 0.2, label.figure, fontsize=HEAD, weight="bold", va="bottom", **style)
        ax.text(u + side, v - 0.4, text, fontsize=TEXT, va="top", linespacing=1.05, **style)
        v -= height
    return ax


def column_height(labels: list[Label]) -> float:
    """Height of labels one below the other, mm."""
    return sum(ROOM + STEP * len(_lines(label)) for label in labels)


def _lines(label):
    return broken(label.words, LABEL_WIDTH)


def hatched(ax: Axes, points: ArrayLike, dense: bool = False, gid: str | None = None) -> Axes:
    """Hatch a place of conflict; returns the Axes."""
    loop(
        ax, points, fc=ALARM_TINT, ec=ALARM, lw=0.7, hatch="xxxxxx" if dense else "//////", zorder=6, gid=gid
    )
    return ax
