"""Tap tones and stiffness to expect at each stage of cutting a bar down."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import even_bar, raised_bar
from platemodel.study.top.answers import TopSolver, bar_response
from platemodel.study.trimming.tap_correction import FIRST_DOUBT, MODES
from platemodel.wood.estimate import HALF_WIDTH

EVEN = "even height"


def stop_points(
    model: TopSolver,
    bar: Bar,
    allowance: float,
    steps: int = 3,
    finer: tuple[Mapping[int, float], float] | None = None,
    doubt: Mapping[int, float] | None = None,
) -> pd.DataFrame:
    """Predict modes 1, 2, 5 and the stiffness under the bass foot as a bar is cut down to its final height.

    Parameters
    ----------
    model : TopModel or ReducedTop
    bar : Bar
        At its final height.
    allowance : float
        Height left on all along when the bar is glued, m.
    steps : int
        Stages from the allowance to the final height.
    finer : (mapping, float), optional
        Of the top with the final bar from a finer mesh: frequencies by mode, Hz, and stiffness under the bass
        foot, N/m; the stages then only give the change from stage to stage.
    doubt : mapping of int to float, optional
        Relative standard deviations of the tones by mode, as of `Workbench.tone_doubts`; default
        `FIRST_DOUBT`.

    Returns
    -------
    DataFrame
        A row a stage, the roughest first: ``stage`` (`EVEN`, the bar as glued, of one height from end to
        end; then ``"profiled"``), ``left_mm`` (over the final height), ``height_mm`` (greatest), ``bar_g``,
        ``f1_hz``, ``f1_band_hz`` (half width, 90 %) and so on, ``foot_n_per_mm``.

    Raises
    ------
    ValueError
        Allowance below 0 or fewer than one step.
    """
    if allowance < 0 or steps < 1:
        msg = f"allowance {1e3 * allowance:g} mm in {steps} steps: at least 0 mm and 1 step"
        raise ValueError(msg)
    sd = dict.fromkeys(MODES, FIRST_DOUBT) | dict(doubt or {})
    stages = stop_bars(bar, allowance, steps)
    answers = [bar_response(model, one) for _, _, one in stages]
    tones, foot = finer or ({}, answers[-1].foot.middle)
    factor = {n: _ratio(tones.get(n, np.nan), answers[-1].frequency(n)) for n in MODES}
    rows = []
    for (name, over, one), answer in zip(stages, answers, strict=True):
        row = {"stage": name, "left_mm": 1e3 * over, "height_mm": 1e3 * one.heights.max()}
        row["bar_g"] = 1e3 * one.mass()
        for n in MODES:
            f = factor[n] * answer.frequency(n)
            if (
                answer is answers[-1]
            ):  # the final bar: what the finer mesh says, that there is no such mode too
                f = tones.get(n, f)
            row[f"f{n}_hz"], row[f"f{n}_band_hz"] = f, HALF_WIDTH * sd[n] * f
        row["foot_n_per_mm"] = 1e-3 * answer.foot.middle * foot / answers[-1].foot.middle
        rows.append(row)
    return pd.DataFrame(rows)


def stop_bars(bar: Bar, allowance: float, steps: int = 3) -> list[tuple[str, float, Bar]]:
    """Name, height left on (m) and bar of each stop, the roughest first; parameters as of `stop_points`."""
    left = np.unique(np.linspace(0.0, allowance, steps + 1))[::-1]
    stages = [(EVEN, allowance, even_bar(bar, float(bar.heights.max()) + allowance))]
    return stages + [("profiled", over, raised_bar(bar, over)) for over in left]


def _ratio(fine, coarse):
    return fine / coarse if np.isfinite(fine) and np.isfinite(coarse) else 1.0
