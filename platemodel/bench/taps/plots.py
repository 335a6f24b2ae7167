"""Picture of a tap spectrum with its peaks and the predicted modes; draws on the Axes it is given."""

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from platemodel.bench.kit.colours import BLUE, INK, SHADE
from platemodel.bench.kit.typeset import TEXT, label_axes
from platemodel.study.top.plate_modes import PlateModes
from platemodel.study.wood.tap_offers import BAND, mode_numbers

_LEAST_DB = -60.0
APART = (0.075, 12.0)  # decades and dB from one label to the next: as wide and high as it is on half a page


def draw_spectrum(
    ax: Axes, spectrum: pd.DataFrame, peaks: pd.DataFrame | None = None, modes: PlateModes | None = None
) -> Axes:
    """Level over frequency; peaks as labelled dots, predictions as labelled dashed lines with their bands.

    Parameters
    ----------
    spectrum : DataFrame
        As from `platemodel.taps.tap_spectrum`.
    peaks : DataFrame, optional
        As from `platemodel.taps.tap_peaks`; labelled with their frequency.
    modes : PlateModes, optional
        Modes 1, 2 and 5 are marked; the shaded strip is where wood that was not measured may shift them.
    """
    f, level = spectrum["f_hz"].to_numpy(), spectrum["level_db"].to_numpy()
    ax.plot(f, level, color=BLUE, lw=1.2, label="taps", zorder=3)
    floor = spectrum["floor_db"].to_numpy(dtype=float)
    if np.isfinite(floor).any():
        ax.plot(f, floor, color=INK, lw=0.8, ls=":", label="background", zorder=2)
    if modes is not None:
        _predictions(ax, modes, f)
    if peaks is not None and len(peaks):
        at = peaks["f_hz"].to_numpy(dtype=float)
        height = np.interp(at, f, level)
        ax.plot(at, height, "o", ms=5, mfc="white", mec=INK, mew=1.1, ls="none", label="peaks", zorder=4)
        for k in _clear_of_each_other(at, height):
            place = (at[k], height[k])
            ax.annotate(f"{at[k]:.1f}", place, (0, 5), textcoords="offset points", ha="center", fontsize=TEXT)
    ax.set_xscale("log")
    ax.set_xlim(f[0], f[-1])
    ticks = [t for t in (20, 30, 50, 70, 100, 150, 200, 300, 500, 700, 1000) if f[0] <= t <= f[-1]]
    ax.set_xticks(ticks, [f"{t}" for t in ticks])
    ax.set_xticks([], minor=True)
    ax.set_ylim(_LEAST_DB, 26.0)
    ax.legend(loc="upper right", fontsize=TEXT, frameon=False)
    return label_axes(ax, "frequency, Hz", "level, dB (0 at the highest)")


def _clear_of_each_other(at, height):
    """Peaks whose labels do not lie over that of a higher one."""
    kept = []
    for k in np.argsort(-height):
        if all(abs(np.log10(at[k] / at[j])) > APART[0] or height[j] - height[k] > APART[1] for j in kept):
            kept.append(k)
    return kept


def _predictions(ax, modes, f):
    numbers = mode_numbers(modes)
    first = True
    for k, (name, x) in enumerate(zip(modes.table["name"], modes.table["f_hz"], strict=True)):
        if not name or not f[0] < x < f[-1]:
            continue
        ax.axvspan(x / (1 + BAND), x * (1 + BAND), color=SHADE, lw=0, zorder=0)
        ax.axvline(x, color=INK, lw=1.0, ls="--", label="computed" if first else None, zorder=1)
        ax.annotate(
            f"mode {numbers[k]}\n{name}",
            (x, 1.0),
            (2, -3),
            xycoords=("data", "axes fraction"),
            textcoords="offset points",
            va="top",
            fontsize=TEXT,
        )
        first = False
