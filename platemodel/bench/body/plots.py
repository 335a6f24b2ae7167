"""Pictures of a closed body: how freely the bass foot moves, motion along the bar, sinking by height.

Every function draws on the Axes it is given and returns it. Lines differ by dash and are named at their
end, so that nothing depends on colour alone.
"""

import numpy as np

from platemodel.bench.kit.colours import AMBER, BLUE, FAINT, INK
from platemodel.bench.kit.typeset import TEXT, label_axes

DASHES = ((0, (1, 1.5)), (0, (5, 2)), "solid", (0, (7, 2, 1, 2)))
COLOURS = (FAINT, AMBER, INK, BLUE)


def draw_mobility(result, ax):
    """Velocity per force of the bass foot over frequency, one line a height of the bar."""
    for case, dash, colour in zip(result.cases, DASHES, COLOURS, strict=True):
        foot = case.feet[1]
        ax.plot(foot.frequencies, np.abs(foot.bass), ls=dash, color=colour, lw=1.2, label=case.label)
    ax.set_yscale("log")
    ax.yaxis.set_major_formatter(lambda v, _: f"{v:g}")  # no powers of ten for the bench
    low, high = ax.get_ylim()
    ax.set_ylim(low, 5.0 * high)  # room for the legend over the peaks
    ax.legend(fontsize=TEXT, framealpha=0.85, edgecolor="none", ncols=2, loc="upper left")
    return _plain(ax, "Hz", "speed per newton, s/kg", "How freely the bass foot moves")


def draw_along(result, ax):
    """Motion along the bar's line over that at the bridge, one line a height."""
    x_bridge = result.model.top.bridge.x
    for case, dash, colour in zip(result.cases, DASHES, COLOURS, strict=True):
        foot = case.feet[1]
        middle = np.interp(x_bridge, foot.x, foot.along)
        ax.plot(1e3 * foot.x, foot.along / middle, ls=dash, color=colour, lw=1.2, label=case.label)
    ax.axvline(1e3 * x_bridge, color=INK, lw=0.6, ls=":")
    ax.text(1e3 * x_bridge, 0.03, " bridge", fontsize=TEXT, color=INK)
    ax.set_ylim(0, None)
    title = "Does the bar carry the motion to its ends?"
    return _plain(ax, "along the bar, mm from the lower edge", "motion, bridge = 1", title)


def draw_sinking_by_height(result, ax):
    """Sinking of both feet over the height of the bar."""
    heights = [1e3 * case.height for case in result.cases]
    for k, (name, mark) in enumerate((("bass foot", "o"), ("treble foot", "s"))):
        sunk = [1e3 * case.sinking[k] for case in result.cases]
        ax.plot(heights, sunk, marker=mark, ms=4, color=COLOURS[2 + k], ls=DASHES[2 - k], lw=1.2, label=name)
    band = result.bass
    ax.errorbar(
        [1e3 * result.usual.height], [1e3 * band.middle],
        [[1e3 * (band.middle - band.low)], [1e3 * (band.high - band.middle)]], color=INK, capsize=4, lw=1.0,
    )  # fmt: skip
    ax.set_ylim(0, None)
    ax.legend(fontsize=TEXT, frameon=False)
    return _plain(ax, "height of the bar, mm", "sinks, mm", "What it carries, first day")


def _plain(ax, *words):
    ax.spines[["top", "right"]].set_visible(False)
    return label_axes(ax, *words)
