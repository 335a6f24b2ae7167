"""Spectrum averaged over taps."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.ndimage import percentile_filter

from platemodel.taps.find import Ringing, as_ringing
from platemodel.taps.recording import Recording

RANGE = (30.0, 900.0)  # Hz, where the low modes of violin to cello tops lie
STEP = 0.25  # Hz between points
FLOOR_HZ = 40.0  # width over which the background is smoothed, so that hum lines do not count as background


def tap_spectrum(
    taps: Recording | Sequence[Recording] | Sequence[Ringing], low: float = RANGE[0], high: float = RANGE[1]
) -> pd.DataFrame:
    """Mean power spectrum of the ringing of all taps.

    Parameters
    ----------
    taps : Recording, or sequence of Recording or Ringing
    low, high : float
        Range, Hz.

    Returns
    -------
    DataFrame
        ``f_hz``; ``level_db``, 0 at the highest; ``floor_db``, the background of the quiet stretches on the
        same scale (NaN where there is no quiet stretch).

    Notes
    -----
    Each tap counts alike. The window falls from 1 at the start to 0 at the end as a half cosine: a full
    window would take away the start, where a decay is strongest.
    """
    tones = [tone for group in as_ringing(taps) for tone in group]
    f = np.arange(low, min(high, *(0.45 * t.rate for t in tones)), STEP)
    power, floor = np.zeros(len(f)), np.zeros(len(f))
    for tone in tones:
        own = _power(tone.samples, tone.rate, f)
        scale = 1.0 / own.max()
        power += scale * own
        quiet = tone.background[: len(tone.samples)]
        if len(quiet):
            # power of noise grows with the length of the stretch
            floor += scale * _power(quiet, tone.rate, f) * len(tone.samples) / len(quiet)
        else:
            floor += np.nan
    top = power.max()
    width = max(3, round(FLOOR_HZ / STEP))
    quiet = np.nan if np.isnan(floor).any() else 10.0 * np.log10(_middle(floor, width) / top + 1e-16)
    return pd.DataFrame({"f_hz": f, "level_db": 10.0 * np.log10(power / top + 1e-16), "floor_db": quiet})


def _middle(power, width):
    """Smooth noise power: its running median, which lines do not move, over ln 2 (exponential law)."""
    return percentile_filter(power, 50, size=width, mode="nearest") / np.log(2.0)


def _power(x, rate, f):
    n = len(x)
    window = np.cos(0.5 * np.pi * np.arange(n) / n) ** 2
    size = 1 << int(np.ceil(np.log2(max(n, 2.0 * rate / STEP))))
    spectrum = np.abs(np.fft.rfft(x * window, size)) ** 2
    return np.interp(f, np.arange(len(spectrum)) * rate / size, spectrum)
