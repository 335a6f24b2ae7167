"""The effect of a taller or lower bar on one top."""

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.study.top.answers import TopSolver, bar_response
from platemodel.study.top.name_passes import shared_tones


def height_sweep(
    model: TopSolver,
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
        ``height_mm``, ``f1_hz``, ``f2_hz``, ``f5_hz``, what `shared_tones` tells of each,
        ``foot_n_per_mm`` (between sliding and held rim),
        ``foot_sliding_n_per_mm``, ``foot_held_n_per_mm``, ``bar_g``, ``plate_g``.
    """
    rows = []
    for done, height in enumerate(heights):
        one = None if height == 0 else bar_of_height(bar, height)
        found = bar_response(model, one)
        rows.append(
            {
                "height_mm": 1e3 * height,
                **{f"f{number}_hz": found.frequency(number) for number in (1, 2, 5)},
                **shared_tones(found),
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
