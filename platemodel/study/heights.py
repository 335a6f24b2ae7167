"""What a taller or lower bar does to one top."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.top import Top
from platemodel.study.answer import bar_answer
from platemodel.study.model import TopModel
from platemodel.study.reduced_top import ReducedTop

LEAST_END = 2e-3  # m: a bar's end is not thinned below this


def usual_least_end(top: Top) -> float:
    """Height below which the ends of a bar are not thinned, m: 2 mm for a violin, more for a longer body."""
    return max(LEAST_END, LEAST_END * top.outline.body_length / 0.355)


def bar_of_height(bar: Bar, height: float) -> Bar:
    """Return the bar with another height at its highest place, its ends unchanged.

    Parameters
    ----------
    bar : Bar
    height : float
        m.

    Raises
    ------
    ValueError
        Height below that of the ends, or a bar that does not rise between its ends.
    """
    ends = np.interp(bar.stations, bar.stations[[0, -1]], bar.heights[[0, -1]])
    top = bar.heights.max()
    lowest = max(LEAST_END, float(bar.heights[[0, -1]].max()))
    if height < lowest:
        msg = f"bar height {1e3 * height:.3g} mm is below its ends; at least {1e3 * lowest:.3g} mm"
        raise ValueError(msg)
    if int(bar.heights.argmax()) in (0, len(bar.heights) - 1):
        msg = (
            "the bar is highest at an end (or of even height), so its height cannot change alone; "
            "give it a profile that rises between its ends"
        )
        raise ValueError(msg)
    share = (bar.heights - ends) / np.maximum(top - ends, 1e-12)
    return replace(bar, heights=ends + share * (height - ends))


def height_sweep(
    model: TopModel | ReducedTop,
    bar: Bar,
    heights: Sequence[float],
    progress: Callable[[int, int], None] | None = None,
) -> pd.DataFrame:
    """Modes 1, 2 and 5, stiffness under the bass foot and mass for several heights of a bar.

    Parameters
    ----------
    model : TopModel or ReducedTop
    bar : Bar
        Line, length, width, wood and profile; only the height changes.
    heights : sequence of float
        Greatest height, m; 0 means no bar.
    progress : callable, optional
        Called with (done, all).

    Returns
    -------
    DataFrame
        ``height_mm``, ``f1_hz``, ``f2_hz``, ``f5_hz``, ``foot_n_per_mm`` (between sliding and held rim),
        ``foot_sliding_n_per_mm``, ``foot_held_n_per_mm``, ``bar_g``, ``plate_g``.
    """
    rows = []
    for done, height in enumerate(heights):
        one = None if height == 0 else bar_of_height(bar, height)
        found = bar_answer(model, one)
        rows.append(
            {
                "height_mm": 1e3 * height,
                **{f"f{number}_hz": found.frequency(number) for number in (1, 2, 5)},
                "foot_n_per_mm": 1e-3 * found.foot.middle,
                "foot_sliding_n_per_mm": 1e-3 * found.foot.sliding,
                "foot_held_n_per_mm": 1e-3 * found.foot.held,
                "bar_g": 1e3 * found.bar_mass,
                "plate_g": 1e3 * found.plate_mass,
            }
        )
        if progress:
            progress(done + 1, len(heights))
    return pd.DataFrame(rows)


def height_for_stiffness(sweep: pd.DataFrame, stiffness: float) -> float:
    """Height at which a sweep reaches a stiffness under the bass foot.

    Parameters
    ----------
    sweep : DataFrame
        From `height_sweep`, heights increasing.
    stiffness : float
        N/mm.

    Returns
    -------
    float
        mm; NaN outside the sweep.
    """
    table = sweep[sweep["height_mm"] > 0]
    return float(np.interp(stiffness, table["foot_n_per_mm"], table["height_mm"], left=np.nan, right=np.nan))
