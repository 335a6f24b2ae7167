"""Pictures of a wood found from taps."""

import numpy as np
from matplotlib.axes import Axes
from scipy.special import chdtri

from platemodel.bench.kit.colours import BLUE, GREY, INK, PALE
from platemodel.bench.kit.typeset import TEXT, label_axes
from platemodel.bench.wood.result import WORDS
from platemodel.study.wood.wood_fit import WoodFit

STRONG = BLUE
HOLDS_90 = np.sqrt(chdtri(2, 0.1))  # standard deviations round two figures that hold 90 of 100 cases
BOARDS = {"species": "boards of the species", "offcut": "by offcut and species"}  # what is known beforehand


def draw_bands(fit: WoodFit, ax: Axes, before: str = "species") -> Axes:
    """Draw what was expected and what was found, as bands about the median that was expected.

    Parameters
    ----------
    before : {"species", "offcut"}
        What the wood was known by.
    """
    names = ("density", "E_L", "E_R", "G_LR")
    for k, name in enumerate(names):
        middle = getattr(fit.prior.wood, name)
        for estimate, offset, color, width, mark in (
            (fit.prior, -0.16, PALE, 7, "|"),
            (fit.estimate, 0.16, STRONG, 4, "o"),
        ):
            low, high = (100 * (v / middle - 1) for v in estimate.band(name))
            at = 100 * (getattr(estimate.wood, name) / middle - 1)
            ax.plot([low, high], [k + offset] * 2, color=color, lw=width, solid_capstyle="butt")
            ax.plot(at, k + offset, mark, color=INK, ms=7 if mark == "|" else 5)
        value, scale = getattr(fit.estimate.wood, name), 1e-9 if name != "density" else 1.0
        unit = "GPa" if name != "density" else "kg/m³"
        ax.annotate(
            f"{scale * value:.3g} {unit}",
            (100 * (value / middle - 1), k + 0.16),
            xytext=(0, -9),
            textcoords="offset points",
            ha="center",
            va="top",
            fontsize=TEXT,
            color=INK,
            bbox={"fc": "white", "ec": "none", "pad": 0.5},  # over the dotted line
        )
    ax.axvline(0, color=INK, lw=0.6, ls=":", zorder=0.5)
    ax.set_yticks(range(len(names)), [WORDS[n] for n in names])
    ax.set_ylim(len(names) - 0.3, -0.6)  # the first on top
    against = {"species": "the species' median", "offcut": "what the offcut says"}[before]
    ax.spines[["top", "right"]].set_visible(False)
    title = f"Thick grey: {BOARDS[before]}.\nThin blue with dot: this top. 90 % bands."
    return label_axes(ax, f"against {against}, %", title=title)


def draw_trade_off(
    fit: WoodFit, ax: Axes, first: str = "E_L", second: str = "E_R", before: str = "species"
) -> Axes:
    """Draw how two stiffnesses may differ together: the 90 % region before and after the taps.

    Parameters
    ----------
    first, second : str
        Moduli.
    before : {"species", "offcut"}
        What the wood was known by.
    """
    for estimate, color, style, label in (
        (fit.prior, GREY, "--", before),
        (fit.estimate, STRONG, "-", "this top"),
    ):
        x, y = 1e-9 * estimate.ellipse(first, second, HOLDS_90).T
        ax.plot(x, y, style, color=color, lw=1.4)
        k = int(np.argmax(y))
        ax.annotate(
            label,
            (x[k], y[k]),
            xytext=(0, 4),
            textcoords="offset points",
            ha="center",
            fontsize=TEXT,
            color=INK,
        )
        ax.plot(
            1e-9 * getattr(estimate.wood, first),
            1e-9 * getattr(estimate.wood, second),
            "o" if label == "this top" else "+",
            color=INK,
            ms=5,
        )
    ax.margins(0.12)
    ax.spines[["top", "right"]].set_visible(False)
    x, y = (f"{WORDS.get(name, name)}, GPa" for name in (first, second))
    return label_axes(ax, x, y, f"Dashes, +: the {before}. Line, dot: this top.\n90 of 100 cases lie inside.")
