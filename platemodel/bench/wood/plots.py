"""Pictures of a wood found from taps."""

import textwrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from scipy.special import chdtri

from platemodel.bench.kit.page import A4_MM
from platemodel.bench.kit.plots import INK
from platemodel.bench.wood.result import (
    DOUBT,
    WORDS,
    JobWood,
    figures,
    mode_name,
    signed,
    snippet,
    state_words,
)
from platemodel.study.wood.wood_fit import WoodFit
from platemodel.wood import CONSTANTS, WoodEstimate
from platemodel.wood.strength import FRACTILE

PALE, STRONG = "#b9b9b9", "#1f5a85"
PITCH = 0.0205  # of the rows, share of the page's height
CAUTION = (
    "A model's estimate from the measurements given. Slips in arching or thickness, cleats, varnish and "
    "cracks go into the constants; the band allows 1 % of frequency for them.",
    "It is no instruction to cut: the maker decides; an original or early bar or a valuable instrument "
    "goes to a qualified restorer first.",
)


def draw_bands(fit: WoodFit, ax: Axes) -> Axes:
    """Draw what was expected of the species and what was found, as bands about the species' median.

    Parameters
    ----------
    fit : WoodFit
    ax : Axes

    Returns
    -------
    Axes
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
            fontsize=8,
            color=INK,
            bbox={"fc": "white", "ec": "none", "pad": 0.5},  # over the dotted line
        )
    ax.axvline(0, color=INK, lw=0.6, ls=":", zorder=0.5)
    ax.set_yticks(range(len(names)), [WORDS[n] for n in names], fontsize=8)
    ax.tick_params(axis="x", labelsize=8)
    ax.set_ylim(len(names) - 0.3, -0.6)  # the first on top
    ax.set_xlabel("against the species' median, %", fontsize=8)
    ax.set_title("Thick grey: boards of the species.\nThin blue with dot: this top. 90 % bands.", fontsize=8)
    ax.spines[["top", "right"]].set_visible(False)
    return ax


def draw_trade_off(fit: WoodFit, ax: Axes, first: str = "E_L", second: str = "E_R") -> Axes:
    """Draw how two stiffnesses may differ together: the 90 % region before and after the taps.

    Parameters
    ----------
    fit : WoodFit
    ax : Axes
    first, second : str
        Moduli.

    Returns
    -------
    Axes
    """
    for estimate, color, style, label in (
        (fit.prior, "#777777", "--", "species"),
        (fit.estimate, STRONG, "-", "this top"),
    ):
        x, y = _outline(estimate, first, second)
        ax.plot(1e-9 * x, 1e-9 * y, style, color=color, lw=1.4)
        k = int(np.argmax(y))
        place = (1e-9 * x[k], 1e-9 * y[k])
        ax.annotate(
            label, place, xytext=(0, 4), textcoords="offset points", ha="center", fontsize=8, color=INK
        )
        ax.plot(
            1e-9 * getattr(estimate.wood, first),
            1e-9 * getattr(estimate.wood, second),
            "o" if label == "this top" else "+",
            color=INK,
            ms=5,
        )
    ax.set_xlabel(f"{WORDS.get(first, first)}, GPa", fontsize=8)
    ax.set_ylabel(f"{WORDS.get(second, second)}, GPa", fontsize=8)
    ax.set_title("Dashes, +: the species. Line, dot: this top.\n90 of 100 cases lie inside.", fontsize=8)
    ax.tick_params(labelsize=8)
    ax.margins(0.12)
    ax.spines[["top", "right"]].set_visible(False)
    return ax


def _outline(estimate: WoodEstimate, first, second, level=0.9):
    """Ellipse in the logarithms that holds a share of the cases, as values."""
    at = [CONSTANTS.index(first), CONSTANTS.index(second)]
    cov = estimate.log_cov[np.ix_(at, at)]
    values, vectors = np.linalg.eigh(cov)
    radius = np.sqrt(chdtri(2, 1.0 - level) * np.maximum(values, 0.0))
    angle = np.linspace(0.0, 2.0 * np.pi, 181)
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    log = estimate.logs[at] + (circle * radius) @ vectors.T
    return np.exp(log[:, 0]), np.exp(log[:, 1])


def wood_page(result: JobWood) -> Figure:
    """Lay out the page: A4, sideways.

    Parameters
    ----------
    result : JobWood

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    job, fit = result.job, result.fit
    figure = Figure(figsize=tuple(mm / 25.4 for mm in A4_MM))
    figure.text(0.04, 0.955, f"Wood of the top: {job.name}", fontsize=14, weight="bold", color=INK)
    notes = ["Invented data, no real instrument."] if job.invented else []
    notes.append(f"From taps {state_words(result)}.")
    figure.text(0.04, 0.930, " ".join(notes), fontsize=8, color=INK)
    doubts = [line for d in fit.doubts for line in textwrap.wrap(f"LOOKS WRONG: {d.message}", 150)]
    for k, line in enumerate(doubts):
        figure.text(0.04, 0.910 - 0.016 * k, line, fontsize=7.5, weight="bold", color=INK)
    draw_bands(fit, figure.add_axes((0.175, 0.55, 0.445, 0.28)))
    draw_trade_off(fit, figure.add_axes((0.71, 0.55, 0.26, 0.28)))
    _constants(figure, result, 0.04, 0.455)
    _taps(figure, fit, 0.56, 0.455)
    _use(figure, fit, 0.04, 0.178)
    for line, y in zip(CAUTION, (0.030, 0.012), strict=True):
        figure.text(0.04, y, line, fontsize=7, color=INK)
    return figure


def _write(figure, rows, left, top, offsets, head):
    """Head, then rows of texts, the first one slanted."""
    figure.text(left, top, head, fontsize=8.5, weight="bold", color=INK)
    for r, row in enumerate(rows):
        for text, offset in zip(row, offsets, strict=True):
            style = "italic" if r == 0 else "normal"
            y = top - PITCH * (r + 1.27)
            figure.text(left + offset, y, text, fontsize=7.5, style=style, color=INK)


def _constants(figure, result, left, top):
    rows = [("", "found", "90 % band", "in the job", "species", "")]
    for row in result.table.itertuples():
        band = f"{figures(row.low)} to {figures(row.high)}"
        values = (figures(row.value), band, figures(row.stated), figures(row.expected))
        rows.append((WORDS[row.quantity], *values, row.unit))
    factor, sd = result.fit.thickness
    rows.append(("thickness, factor", f"{factor:.3f}", f"± {FRACTILE * sd:.3f}", "", "", ""))
    _write(figure, rows, left, top, (0.0, 0.155, 0.205, 0.315, 0.375, 0.425), "Constants")


def _taps(figure, fit, left, top):
    rows = [("mode", "heard Hz", "fitted Hz", "off %", "doubt %")]
    for row in fit.modes.itertuples():
        found = (f"{row.heard_hz:.1f}", f"{row.fitted_hz:.1f}", signed(row.residual_percent))
        rows.append((mode_name(row), *found, f"{100 * row.sd_hz / row.heard_hz:.1f}"))
    if fit.mass:
        measured, fitted = fit.mass
        off = signed(100 * (measured / fitted - 1))
        rows.append(("weight, g", f"{1e3 * measured:.1f}", f"{1e3 * fitted:.1f}", off, ""))
    else:
        rows.append(("no weight in this state of the bar", "", "", "", ""))
    _write(figure, rows, left, top, (0.0, 0.09, 0.16, 0.23, 0.29), "Taps and weight")
    if len(fit.next_taps):
        low = top - PITCH * (len(rows) + 2)
        rows = [("mode", "near Hz", "narrows E_L, E_R, G_LR by %")]
        for row in fit.next_taps.head(3).itertuples():
            gains = f"{row.E_L_percent:.0f}, {row.E_R_percent:.0f}, {row.G_LR_percent:.0f}"
            rows.append((mode_name(row), f"{row.expected_hz:.0f} ± {row.band_hz:.0f}", gains))
        _write(figure, rows, left, low, (0.0, 0.09, 0.19), "A further tap that would help")


def _use(figure, fit, left, top):
    """Write what to put into the job, and where the estimate comes from."""
    table, *lines = snippet(fit.estimate.wood)
    figure.text(left, top, f"To use it, in job.toml under {table}", fontsize=8.5, weight="bold", color=INK)
    texts = [",   ".join(lines[:4]), ",   ".join(lines[4:])]
    source = textwrap.wrap(f"From: {fit.estimate.source}.", 190)
    for k, line in enumerate([*texts, "", *source, DOUBT]):
        figure.text(left, top - PITCH - 0.0145 * k, line, fontsize=7, color=INK)
