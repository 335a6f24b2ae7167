"""Tap tones and stiffness to expect at each stage of cutting a bar down."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import even_bar, raised_bar
from platemodel.study.top.answers import TopSolver, bar_response
from platemodel.study.trimming.tap_correction import FIRST_DOUBT, MODES
from platemodel.wood.estimate import HALF_WIDTH

TAPPED = 0.015  # relative sd of a frequency with bar, corrected by a tap of the bare top; a judgement
EVEN = "even height"


def stop_points(
    model: TopSolver,
    bar: Bar,
    allowance: float,
    heard: Mapping[int, float] | None = None,
    steps: int = 3,
    finer: tuple[Mapping[int, float], Mapping[int, float]] | None = None,
) -> pd.DataFrame:
    """Predict modes 1, 2, 5 and the stiffness under the bass foot as a bar is cut down to its final height.

    Parameters
    ----------
    model : TopModel or ReducedTop
    bar : Bar
        At its final height.
    allowance : float
        Height left on all along when the bar is glued, m.
    heard : mapping of int to float, optional
        Taps of the top without bar, Hz by mode; the model is corrected by them, mode by mode.
    steps : int
        Stages from the allowance to the final height.
    finer : (mapping, mapping), optional
        Frequencies by mode of the bare top and of the top with the final bar from a finer mesh, Hz; the
        stages then only give the change from stage to stage.

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
    factor, sd = dict.fromkeys(MODES, 1.0), dict.fromkeys(MODES, FIRST_DOUBT)
    if heard:
        bare = finer[0] if finer else _frequencies(bar_response(model, None))
        for n in MODES:
            if n in heard and np.isfinite(bare[n]):
                factor[n], sd[n] = heard[n] / bare[n], TAPPED
    left = np.unique(np.linspace(0.0, allowance, steps + 1))[::-1]
    stages = [(EVEN, allowance, even_bar(bar, float(bar.heights.max()) + allowance))]
    stages += [("profiled", over, raised_bar(bar, over)) for over in left]
    answers = [bar_response(model, one) for _, _, one in stages]
    if finer:
        coarse = _frequencies(answers[-1])
        for n in MODES:
            if np.isfinite(finer[1][n]) and np.isfinite(coarse[n]):
                factor[n] *= finer[1][n] / coarse[n]
    rows = []
    for (name, over, one), answer in zip(stages, answers, strict=True):
        row = {"stage": name, "left_mm": 1e3 * over, "height_mm": 1e3 * one.heights.max()}
        row["bar_g"] = 1e3 * answer.bar_mass
        for n in MODES:
            f = factor[n] * answer.frequency(n)
            row[f"f{n}_hz"], row[f"f{n}_band_hz"] = f, HALF_WIDTH * sd[n] * f
        row["foot_n_per_mm"] = 1e-3 * answer.foot.middle
        rows.append(row)
    return pd.DataFrame(rows)


def _frequencies(answer):
    return {n: answer.frequency(n) for n in MODES}
