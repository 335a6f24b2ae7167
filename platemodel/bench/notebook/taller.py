"""What a taller bar buys on one top, with that top's own bar as zero: table, picture and sentence."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from platemodel.bench.kit.colours import AMBER, BLUE, INK
from platemodel.bench.kit.height_plots import tone_curve
from platemodel.bench.notebook.claims import claim, with_unit
from platemodel.bench.notebook.live_view import number
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.study.top.figures import FIGURES, Reference, TopFigures
from platemodel.study.top.name_passes import NAMED, name_passes

PANELS = ("foot_n_per_mm", "flex_along_mm", "sink_mm", "f1_hz", "f5_hz", "bar_g")
HEADS = {
    "foot_n_per_mm": "stiffness under the foot, N/mm",
    "flex_along_mm": "flex along: sag under 100 g, mm",
    "sink_mm": "sinking under the strings, mm",
    "bar_g": "weight of the bar, g",
}
STEP = 0.08  # of the bar's own height, to half a millimetre: 1 mm of a violin's, 2 of a cello's
LOWER, HIGHER = 3, 5  # steps


def heights_to_try(bar: Bar) -> np.ndarray:
    """Heights round a bar's own, which is among them, m; none so low that an end would stand above it."""
    own, ends = float(bar.heights.max()), float(bar.heights[[0, -1]].max())
    step = max(0.5e-3 * round(STEP * own / 0.5e-3), 0.5e-3)
    heights = own + step * np.arange(-LOWER, HIGHER + 1)
    return heights[(heights > 1.02 * ends) | (heights >= own)]


def what_height_buys(figures: TopFigures, bar: Bar, heights: Sequence[float]) -> pd.DataFrame:
    """Figures of a top for bars of several heights, all else as it is.

    Parameters
    ----------
    figures : TopFigures
        Of the top, softer or as measured.
    bar : Bar
        Zero.
    heights : sequence of float
        Increasing, m.

    Returns
    -------
    DataFrame
        A row a height: ``extra_mm`` over the bar's own, the figures of ``FIGURES``, and the tones that share
        a pattern (`shared_tones`).
    """
    own = float(bar.heights.max())
    rows = []
    for height in heights:
        same = abs(height - own) < 1e-9
        one = bar if same else bar_of_height(bar, height)
        rows.append({"extra_mm": 1e3 * (height - own)} | figures.of(one) | figures.shared(one))
    return pd.DataFrame(rows)


def read_extra(table: pd.DataFrame, extra: float) -> dict[str, float]:
    """Figures between the rows of `what_height_buys`, along straight lines; NaN beyond them, and in gaps."""
    x = table["extra_mm"].to_numpy()
    out = {name: float(np.interp(extra, x, table[name], left=np.nan, right=np.nan)) for name in table.columns}
    for n in NAMED:
        for k in np.flatnonzero(name_passes(table, n)):
            if x[k] < extra < x[k + 1]:
                out[f"f{n}_hz"] = np.nan
    return out


def _passes_between(table, number, extra):
    """Whether the name of a mode goes to another tone between the bar's own height and another."""
    x = table["extra_mm"].to_numpy()
    low, high = min(0.0, extra), max(0.0, extra)
    return bool((name_passes(table, number) & (x[1:] > low) & (x[:-1] < high)).any())


def extra_for(table: pd.DataFrame, foot: float) -> float:
    """Extra height at which the foot finds a stiffness (N/mm), mm; NaN where none of the heights does it."""
    return float(np.interp(foot, table["foot_n_per_mm"], table["extra_mm"], left=np.nan, right=np.nan))


def draw_taller(
    table: pd.DataFrame, reference: Reference, extra: float, axes: Sequence[Axes]
) -> Sequence[Axes]:
    """Curves over the extra height, the usual bar on the usual top as a level line, a ring at one height.

    Parameters
    ----------
    table : DataFrame
        From `what_height_buys`.
    extra : float
        mm.
    axes : sequence of matplotlib.axes.Axes
        As many as ``PANELS``.
    """
    at = read_extra(table, extra)
    for name, ax in zip(PANELS, axes, strict=True):
        if name not in table:  # without strings no sinking, without flexes no flex
            ax.set_axis_off()
            continue
        unit, what = FIGURES[name]
        ax.set_title(HEADS.get(name, f"{what}, {unit}"), fontsize=8.5, loc="left")
        ax.axvline(0, color=INK, lw=0.8, ls=":")
        ax.plot(*tone_curve(table, "extra_mm", name), "-o", ms=3, color=BLUE)
        usual = reference.figures.get(name, np.nan)
        if np.isfinite(usual):
            ax.axhline(usual, color=AMBER, lw=1.4, ls="--")
        if np.isfinite(at[name]):
            ax.plot([extra], [at[name]], "o", ms=10, mfc="none", mec=INK, mew=1.5)
            ax.annotate(
                number(name, at[name]), (extra, at[name]), (6, 6), textcoords="offset points", fontsize=8,
                bbox={"fc": "white", "ec": "none", "alpha": 0.8, "pad": 0.5},
            )  # fmt: skip
        ax.set_xlabel("height more than your bar's, mm", fontsize=8)
        ax.tick_params(labelsize=8)
        ax.margins(y=0.15)
        ax.grid(alpha=0.3)
    return axes


def takeaway(table: pd.DataFrame, reference: Reference, extra: float) -> list[str]:
    """Say what an extra height buys and costs, and what would make the top as stiff as the usual one.

    Parameters
    ----------
    table : DataFrame
        From `what_height_buys`.
    extra : float
        mm.
    """
    zero, at = read_extra(table, 0.0), read_extra(table, extra)
    out = []
    if abs(extra) > 1e-6:
        stiffer = 100 * (at["foot_n_per_mm"] / zero["foot_n_per_mm"] - 1)
        parts = [
            claim("", stiffer, 0, unit="%", digits=2, below="{size} softer", within="{size} stiffer").sentence
            + " under the bass foot"
        ]
        for n in (1, 2, 5):
            step = at[f"f{n}_hz"] - zero[f"f{n}_hz"]
            if _passes_between(table, n, extra):
                parts.append(f"the shape of mode {n} passes to another tone near it")
            elif np.isfinite(step):
                moved = f"{step:+.1f} Hz".replace("-", "−") if abs(step) >= 0.05 else "where it was"
                parts.append(f"mode {n} {moved}")
        if np.isfinite(at.get("sink_mm", np.nan)):
            step = at["sink_mm"] - zero["sink_mm"]
            parts.append(f"it sinks {abs(step):.3f} mm {'more' if step > 0 else 'less'} under the strings")
        if np.isfinite(at.get("flex_along_mm", np.nan)):
            share = 100 * (at["flex_along_mm"] / zero["flex_along_mm"] - 1)
            flexes = f"it flexes {abs(share):.0f} % {'more' if share > 0 else 'less'} along"
            parts.append(flexes if abs(share) >= 0.5 else "it flexes as much along")
        step = at["bar_g"] - zero["bar_g"]
        parts.append(f"the bar weighs {abs(step):.2f} g {'more' if step > 0 else 'less'}")
        way = "taller" if extra > 0 else "lower"
        out.append(f"A bar {with_unit(abs(extra), 'mm')} {way} than yours: {', '.join(parts)}.")
    share = 100 * (zero["foot_n_per_mm"] / reference.figures["foot_n_per_mm"] - 1)
    out.append(
        claim(
            "this top with your bar against the usual", share, -1, 1, "%", digits=2,
            below=f"With your bar this top is {{size}} softer under the bass foot than {reference.text}.",
            within=f"With your bar this top is as stiff under the bass foot as {reference.text}.",
            above=f"With your bar this top is already {{size}} stiffer under the bass foot than "
            f"{reference.text}: nothing asks for a taller one.",
        ).sentence
    )  # fmt: skip
    if share < -1:
        needed = extra_for(table, reference.figures["foot_n_per_mm"])
        most = 100 * table["foot_n_per_mm"].max() / reference.figures["foot_n_per_mm"]
        out.append(
            f"A bar {with_unit(needed, 'mm', 2)} taller would make it as stiff as that."
            if np.isfinite(needed)
            else f"No bar up to {with_unit(table['extra_mm'].max(), 'mm', 2)} taller makes it as stiff as "
            f"that; the tallest gives {most:.0f} % of it."
        )
    return out
