"""Marks on a top, drawn on Axes in mm: each kind by its own line, so that nothing depends on colour."""

from collections.abc import Callable, Iterable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from platemodel.bench.kit.colours import DUST, INK
from platemodel.bench.kit.paper import from_inside
from platemodel.bench.kit.typeset import TEXT, write
from platemodel.instrument.marks import CLEAT, CRACK, OLD_BAR, PATCH, POST_PATCH, WORM, Mark

STYLES = {
    CLEAT: {"hatch": "\\\\\\\\", "ls": "-", "lw": 0.7},
    PATCH: {"hatch": "", "ls": (0, (4, 2)), "lw": 0.9},
    POST_PATCH: {"hatch": "", "ls": (0, (4, 2)), "lw": 0.9},
    WORM: {"hatch": "ooo", "ls": ":", "lw": 0.7},
    OLD_BAR: {"hatch": "", "ls": (0, (9, 3)), "lw": 0.7},
}
LEGEND = (
    "Marks: crack, a line with cross strokes; cleat, hatched; patch, dashed; worm, dotted; scar of the old "
    "bar, long dashes. They are drawn, not part of the model."
)


def draw_marks(
    ax: Axes,
    marks: Iterable[Mark],
    place: Callable[[np.ndarray], np.ndarray] = from_inside,
    words: bool = True,
) -> Axes:
    """Draw marks; returns the Axes.

    Parameters
    ----------
    place : callable
        Plan places (n, 2) in m to places on the Axes, mm; default as seen from inside.
    words : bool
        Name each.
    """
    for mark in marks:
        p = place(mark.points)
        if mark.kind == CRACK:
            _crack(ax, p)
        else:
            ring = place(np.array(mark.shape.exterior.coords)[:-1])
            ax.add_artist(
                Polygon(
                    ring,
                    closed=True,
                    fc="none",
                    ec=DUST,
                    zorder=4,
                    gid=f"mark-{mark.kind}",
                    **STYLES[mark.kind],
                )
            )
        if words:
            u, v = p[p[:, 1].argmax()]
            # beside the old bar's end stand the words of the new one, on the other side
            place_of = {"va": "top", "ha": "right"} if mark.kind == OLD_BAR else {"va": "bottom"}
            u, v = (u - 3.0, v - 1.0) if mark.kind == OLD_BAR else (u + 1.0, v + 0.8)
            write(
                ax, u, v, mark.kind, TEXT, zorder=10, clip_on=True, **place_of,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.85},
            )  # fmt: skip
    return ax


def _crack(ax, p):
    """Line with a cross stroke every few mm."""
    ax.plot(*p.T, color=INK, lw=1.3, zorder=8, gid="mark-crack")
    step = np.hypot(*np.diff(p, axis=0).T)
    s = np.r_[0.0, np.cumsum(step)]
    for at in np.arange(2.0, s[-1], 4.0):
        k = min(int(np.searchsorted(s, at, side="right")) - 1, len(step) - 1)
        along = (p[k + 1] - p[k]) / step[k]
        middle = p[k] + (at - s[k]) * along
        a, b = middle + 1.2 * np.array([[-along[1], along[0]], [along[1], -along[0]]])
        ax.plot([a[0], b[0]], [a[1], b[1]], color=INK, lw=0.6, zorder=8)
