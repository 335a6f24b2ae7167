"""Pictures of a wood found from taps."""

import numpy as np
from matplotlib.axes import Axes
from scipy.special import chdtri

from platemodel.bench.kit.colours import BLUE, GREY, INK, PALE
from platemodel.bench.kit.typeset import TEXT
from platemodel.bench.wood.result import WORDS
from platemodel.study.wood.wood_fit import WoodFit
from platemodel.wood import CONSTANTS, WoodEstimate

STRONG = BLUE
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
    ax.set_yticks(range(len(names)), [WORDS[n] for n in names], fontsize=TEXT)
    ax.tick_params(axis="x", labelsize=TEXT)
    ax.set_ylim(len(names) - 0.3, -0.6)  # the first on top
    against = {"species": "the species' median", "offcut": "what the offcut says"}[before]
    ax.set_xlabel(f"against {against}, %", fontsize=TEXT)
    ax.set_title(f"Thick grey: {BOARDS[before]}.\nThin blue with dot: this top. 90 % bands.", fontsize=TEXT)
    ax.spines[["top", "right"]].set_visible(False)
    return ax


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
        x, y = _outline(estimate, first, second)
        ax.plot(1e-9 * x, 1e-9 * y, style, color=color, lw=1.4)
        k = int(np.argmax(y))
        place = (1e-9 * x[k], 1e-9 * y[k])
        ax.annotate(
            label, place, xytext=(0, 4), textcoords="offset points", ha="center", fontsize=TEXT, color=INK
        )
        ax.plot(
            1e-9 * getattr(estimate.wood, first),
            1e-9 * getattr(estimate.wood, second),
            "o" if label == "this top" else "+",
            color=INK,
            ms=5,
        )
    ax.set_xlabel(f"{WORDS.get(first, first)}, GPa", fontsize=TEXT)
    ax.set_ylabel(f"{WORDS.get(second, second)}, GPa", fontsize=TEXT)
    ax.set_title(f"Dashes, +: the {before}. Line, dot: this top.\n90 of 100 cases lie inside.", fontsize=TEXT)
    ax.tick_params(labelsize=TEXT)
    ax.margins(0.12)
    ax.spines[["top", "right"]].set_visible(False)
    return ax


def _outline(estimate: WoodEstimate, first, second):
    """Ellipse in the logarithms that holds 90 of 100 cases, as values."""
    at = [CONSTANTS.index(first), CONSTANTS.index(second)]
    cov = estimate.log_cov[np.ix_(at, at)]
    values, vectors = np.linalg.eigh(cov)
    radius = np.sqrt(chdtri(2, 0.1) * np.maximum(values, 0.0))
    angle = np.linspace(0.0, 2.0 * np.pi, 181)
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    log = estimate.logs[at] + (circle * radius) @ vectors.T
    return np.exp(log[:, 0]), np.exp(log[:, 1])
