"""What a millimetre of bar does, by a day's readings, by the model, and by what benches believe."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.instrument.flex_test import DIAL_SD
from platemodel.study.trimming.tap_correction import READING
from platemodel.wood.bayes import linear_update
from platemodel.wood.estimate import HALF_WIDTH
from platemodel.wood.moisture import SLOPES

HEIGHT_SD = 0.1  # mm, of a height read with a caliper
SET_DOWN = 0.01  # relative, of a sag read again on the same marks; a judgement
SURELY = 2.0  # standard deviations within which a claim and a reading agree
SHARP = 0.5  # of the model's effect: a reading that leaves more open decides nothing
MODE_5 = "f5_hz"
# Hz that mode 5 of a violin is said to move a millimetre of bar, by many benches; common practice, no source.
BELIEF = (5.0, 10.0)
VIOLIN_MODE_5 = 340.0  # Hz; the belief is taken in proportion on other instruments
# Of the moduli, by the logarithm, per unit of moisture: the mean of E_L, E_R and G_LR.
DRIFT = float(np.mean([SLOPES[name] for name in ("E_L", "E_R", "G_LR")]))
DENSER = 1.0  # of the density, the same
LEAST = 3  # readings that a slope is found from
SAME = 1e-6  # mm: heights that differ by rounding
JUDGED = (
    "figure",
    "model_per_mm",
    "read_per_mm",
    "band_per_mm",
    "ratio",
    "ratio_sd",
    "scatter",
    "verdict",
)


@dataclass(frozen=True, eq=False)
class DayReadings:
    """A day's readings of one quantity.

    Attributes
    ----------
    height : array (n,)
        Of the bar, mm.
    value : array (n,)
        Hz, or mm under 100 g.
    moisture : array (n,)
        Moisture that the room's air leads to, fraction; NaN where it was not read.
    reading_mm : array (n,) or None
        What the gauge read, for flexes.
    """

    height: np.ndarray
    value: np.ndarray
    moisture: np.ndarray
    reading_mm: np.ndarray | None = None


def judge_day(readings: Mapping[str, DayReadings], model: pd.DataFrame) -> pd.DataFrame:
    """Judge what a millimetre of bar does.

    Parameters
    ----------
    readings : mapping of str to DayReadings
        By figure: ``f1_hz``, ``flex_along_mm`` and so on, with the bar on.
    model : DataFrame
        ``height_mm`` and the same figures by the model, over the heights that were read.

    Returns
    -------
    DataFrame
        A row a figure: ``figure, model_per_mm`` (percent a millimetre of height, in the middle of the range),
        ``read_per_mm, band_per_mm`` (half width, 90 %), ``ratio, ratio_sd`` (of the read to the model's
        effect), ``scatter`` (of the readings about the fit, in their expected standard deviations),
        ``verdict``: ``model``, ``belief``, ``neither`` or ``open``. A figure that the model does not know, or
        that was read fewer than three times, has no row.

    Notes
    -----
    The logarithm of each reading is taken as a constant, the model's change with the height times a ratio
    that is to be found, and a drift with the moisture of the air. The drift is expected between nothing, for
    wood that has not followed yet, and all of it. A ratio of 1 is the model.
    """
    rows = []
    for name, found in readings.items():
        ours = model[np.isfinite(model[name])].sort_values("height_mm")
        known = _known(found, ours["height_mm"])
        if len(known.height) >= LEAST:
            rows.append(_judged(name, known, ours))
    return pd.DataFrame(rows, columns=list(JUDGED))


def _known(found, heights):
    """Keep the readings that are figures, at heights between those that the model knows."""
    low, high = heights.min() - SAME, heights.max() + SAME
    keep = np.isfinite(found.value) & (found.height >= low) & (found.height <= high)
    parts = {name: None if part is None else part[keep] for name, part in vars(found).items()}
    return replace(found, **parts)


def _judged(name, found, model):
    heights = model["height_mm"].to_numpy()
    logs = np.log(model[name].to_numpy())
    effect = np.interp(found.height, heights, logs)
    middle = 0.5 * (found.height.min() + found.height.max())
    per_mm = float(np.interp(middle + 0.5, heights, logs) - np.interp(middle - 0.5, heights, logs))
    sd = np.full(len(effect), READING)
    if found.reading_mm is not None:
        sd = np.hypot(DIAL_SD * 1e3 / found.reading_mm, SET_DOWN)
    sd = np.hypot(sd, HEIGHT_SD * per_mm)
    known = np.isfinite(found.moisture)
    wet = np.where(known, found.moisture - found.moisture[known].mean(), 0.0) if known.any() else 0.0 * effect
    whole = -DRIFT if name.startswith("flex_") else 0.5 * (DRIFT - DENSER)
    rows = np.stack([np.ones(len(effect)), effect - effect.mean(), wet], axis=1)
    y = np.log(found.value)
    mean = np.array([y.mean(), 1.0, 0.5 * whole])
    wide = np.diag([1.0, 1e4, (0.3 * whole) ** 2 + 1e-12])  # the ratio is left open
    gain, cov = linear_update(wide, rows, sd)
    mean = mean + gain @ (y - rows @ mean)
    left = (y - rows @ mean) / sd
    scatter = float(np.sqrt(left @ left / max(len(left) - 2, 1)))
    ratio, ratio_sd = float(mean[1]), float(np.sqrt(cov[1, 1]) * max(1.0, scatter))
    return {
        "figure": name,
        "model_per_mm": 100.0 * per_mm,
        "read_per_mm": 100.0 * ratio * per_mm,
        "band_per_mm": 100.0 * HALF_WIDTH * ratio_sd * abs(per_mm),
        "ratio": ratio,
        "ratio_sd": ratio_sd,
        "scatter": scatter,
        "verdict": _verdict(ratio, ratio_sd, _belief(name, found, per_mm)),
    }


def _belief(name, found, per_mm):
    """Ratios to the model's effect that benches believe in; None where they are silent."""
    if name != MODE_5:
        return None
    share = np.array(BELIEF) / VIOLIN_MODE_5 / per_mm
    return float(share.min()), float(share.max())


def _verdict(ratio, sd, belief):
    model = abs(ratio - 1.0) < SURELY * sd
    believed = belief is not None and belief[0] - SURELY * sd < ratio < belief[1] + SURELY * sd
    if (model and believed) or (model and belief is None and sd > SHARP):
        return "open"
    return "model" if model else "belief" if believed else "neither"


def gluing_on(
    bare: Mapping[str, float], first: Mapping[str, float], sd: float = READING
) -> tuple[float, float]:
    """Percent by which mode 1 rises when the bar goes on, and its band (half width, 90 %).

    Parameters
    ----------
    bare, first : mapping of str to float
        Figures before the bar and with it at its first height.
    sd : float
        Relative, of one reading.
    """
    rise = 100.0 * (first["f1_hz"] / bare["f1_hz"] - 1.0)
    return rise, 100.0 * HALF_WIDTH * np.sqrt(2.0) * sd * first["f1_hz"] / bare["f1_hz"]


def as_readings(
    heights: Sequence[float],
    values: Sequence[float],
    moisture: Sequence[float],
    read_mm: Sequence[float] | None = None,
) -> DayReadings:
    """Return one quantity's readings as arrays."""
    parts = [np.asarray(p, dtype=float) for p in (heights, values, moisture)]
    return DayReadings(*parts, None if read_mm is None else np.asarray(read_mm, dtype=float))
