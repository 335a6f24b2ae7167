"""Pictures of flex tests: where to support, press and read."""

from platemodel.bench.kit.colours import ALARM, BLUE, INK
from platemodel.bench.kit.plots import draw_top
from platemodel.bench.kit.typeset import TEXT
from platemodel.instrument.bar import Bar
from platemodel.instrument.flex_test import FlexTest
from platemodel.instrument.top import Top

RING = 12  # points across: room for the number of the peg


def draw_flex_test(test: FlexTest, top: Top, ax, bar: Bar | None = None):
    """One flex test in plan: pegs as rings (filled where they hold down), the weight as a square.

    Parameters
    ----------
    ax : matplotlib.axes.Axes

    Returns
    -------
    matplotlib.axes.Axes
    """
    draw_top(top, ax, bar)
    shares = test.shares(test.load) if len(test.pegs) else ()
    for k, (peg, share) in enumerate(zip(test.pegs, shares, strict=True), 1):
        x, y = 1e3 * peg[1], 1e3 * peg[0]
        down = share < -1e-9
        ax.plot(x, y, "o", ms=RING, mfc=ALARM if down else "white", mec=INK, mew=1.2, zorder=6)
        ax.text(
            x, y, str(k), ha="center", va="center", fontsize=TEXT, color="white" if down else INK, zorder=7
        )
    x, y = 1e3 * test.load[1], 1e3 * test.load[0]
    ax.plot(x, y, "s", ms=9, mfc=BLUE, mec="white", mew=1.0, zorder=6)
    if abs(test.read - test.load).max() > 1e-6:
        ax.plot(1e3 * test.read[1], 1e3 * test.read[0], "v", ms=8, mfc="white", mec=BLUE, mew=1.4, zorder=6)
    ax.set_axis_off()
    return ax
