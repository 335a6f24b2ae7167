"""Frequency and loss of every mode that rings in a set of taps, with their uncertainty."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pandas as pd
from scipy.ndimage import percentile_filter
from scipy.special import fdtrc

from platemodel.taps.decay_fit import SpectrumBand, fit_poles
from platemodel.taps.find import Ringing, as_ringing
from platemodel.taps.recording import Recording
from platemodel.taps.spectrum import RANGE, STEP, tap_spectrum

STEADY = 0.003  # loss factor below that of any wood; hum, a whistle, a fan
MOST_LOSS = 0.15
START_LOSS = 0.02
PROMINENCE_DB, OVER_FLOOR_DB, BELOW_TOP_DB = 3.0, 9.0, 55.0
SEEN = 4.0  # an amplitude counts in a tap from this many of its standard deviations on
CLEAR = 12.0  # and is believed from this many on, even when it is seen in one tap of several
MOST_SD = 0.02  # relative; what is known less well is no peak
#: Candidates that are looked at closer. A cello's top has some 35 modes up to 900 Hz (five to mode 5 at about
#: 150 Hz, and a plate's modes lie evenly) and hum has 18 lines; noise has hundreds of maxima.
MOST_CANDIDATES = 60
GROUND_HZ = 150.0  # width over which noise is told from modes there; several widths of any mode
MOST_POLES = 4  # fitted together in a band
PAIR_CHANCE = 1e-7  # that noise alone makes a second pole look so good
PAIR_GAIN = 0.7  # a second pole must bring the misfit down to this part at least
PAIR_BELOW_DB = 22.0  # and not be softer than this below the first
PAIR_APART = 0.35  # of the half-power width; nearer, a decay that differs from tap to tap is likelier
PAIR_NEAR = 2.0  # half-power widths within which two peaks are called a close pair
SAME, SAME_SD = (
    0.004,
    4.0,
)  # peaks of two recordings are one mode within this, relative or in standard deviations
STRAY = 6.0  # standard deviations at which one tap is left out of a band
_COLUMNS = ("f_hz", "sd_hz", "loss", "loss_sd", "level_db", "taps", "remark")


def tap_peaks(
    taps: Recording | Sequence[Recording] | Sequence[Ringing],
    low: float = RANGE[0],
    high: float = RANGE[1],
    steady: bool = False,
) -> pd.DataFrame:
    r"""Peaks of taps on one plate in one state.

    Parameters
    ----------
    taps : Recording, or sequence of Recording or Ringing
        Recordings are searched for taps first. In each the plate is held and tapped in one way; from one
        to the next that may change.
    low, high : float
        Range, Hz.
    steady : bool
        Keep tones that do not decay (loss factor below `STEADY`: hum), with a remark.

    Returns
    -------
    DataFrame
        By frequency: ``f_hz`` (undamped natural frequency), ``sd_hz``, ``loss`` (loss factor), ``loss_sd``,
        ``level_db`` (at the start of the taps, 0 for the strongest), ``taps`` (in how many it is seen),
        ``remark`` (close pair, taps disagree, steady tone).

    Raises
    ------
    RecordingError
        A recording without a usable tap.

    Notes
    -----
    Candidates are the maxima of `tap_spectrum`. Around each, the discrete spectra of all taps are
    fitted together by sums of damped oscillations, whose finite sum over the recorded length is known in
    closed form, plus a smooth background (`decay_fit.fit_poles`). One more oscillation is tried, and kept
    where an F test leaves no doubt (`PAIR_CHANCE`): so close pairs are told apart.

    An amplitude exp(-a t) has Q = pi f / a, and eta = 1/Q = a / (pi f) (light damping; e.g. Rao, Mechanical
    Vibrations, ch. 2 and 3: logarithmic decrement 2 pi zeta, half-power width 2 zeta f, from memory). The
    standard deviation is that of the fit, times the square root of the taps' scatter over what the noise
    explains where that is above 1 (R. T. Birge, Phys. Rev. 40, 1932, from memory).

    Recordings are read one by one and then set together (`merge_peaks`).
    """
    return merge_peaks([_one_way(tones, low, high, steady) for tones in as_ringing(taps)])


def merge_peaks(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Set peaks of several recordings of one plate in one state together.

    Parameters
    ----------
    tables : sequence of DataFrame
        As from `tap_peaks`, steady tones left in or not.

    Returns
    -------
    DataFrame
        Frequencies are weighted means, their standard deviation widened by Birge's ratio. The loss factor
        is the lowest that is known to a third: fingers only add to it. Levels are the highest, taps are
        counted up.
    """
    tables = [t for t in tables if len(t)]
    if not tables:
        return pd.DataFrame(columns=list(_COLUMNS))
    if len(tables) == 1:
        return tables[0]
    left = pd.concat([t.assign(table=n) for n, t in enumerate(tables)], ignore_index=True)
    rows = []
    while len(left):
        first = left.loc[(left["sd_hz"] / left["f_hz"]).idxmin()]
        off = (left["f_hz"] - first["f_hz"]).abs()
        reach = np.maximum(SAME_SD * np.hypot(left["sd_hz"], first["sd_hz"]), SAME * first["f_hz"])
        alike = (left["loss"] < STEADY) == (first["loss"] < STEADY)
        near = off[(off <= reach) & alike].sort_values()
        same = left.loc[near.index].drop_duplicates("table")  # of each recording the nearest
        rows.append(_mean_peak(same))
        left = left.drop(same.index)
    table = pd.DataFrame(rows)[list(_COLUMNS)].sort_values("f_hz", ignore_index=True)
    table["level_db"] -= table.loc[table["loss"] >= STEADY, "level_db"].max()
    return table


def _mean_peak(same):
    weight = 1.0 / same["sd_hz"].to_numpy() ** 2
    f = float(weight @ same["f_hz"] / weight.sum())
    birge = np.sqrt(weight @ (same["f_hz"] - f) ** 2 / max(len(same) - 1, 1))
    known = same[same["loss_sd"] < same["loss"] / 3.0]
    best = same.loc[known["loss"].idxmin() if len(known) else same["loss_sd"].idxmin()]
    remarks = dict.fromkeys(part for text in same["remark"] for part in text.split(", ") if part)
    return {
        "f_hz": f,
        "sd_hz": float(max(birge, 1.0) / np.sqrt(weight.sum())),
        "loss": best["loss"],
        "loss_sd": best["loss_sd"],
        "level_db": same["level_db"].max(),
        "taps": int(same["taps"].sum()),
        "remark": ", ".join(remarks),
    }


def _one_way(tones, low, high, steady):
    """Peaks of taps on a plate held in one way."""
    f, decay = _candidates(tap_spectrum(tones, low, high))
    if len(f) == 0:
        return pd.DataFrame(columns=list(_COLUMNS))
    spectra = [(np.fft.rfft(t.samples) / t.rate, len(t.samples), 1.0 / t.rate) for t in tones]
    f, decay = _kept(_fit_all(spectra, f, decay, split=False))
    if len(f) == 0:
        return pd.DataFrame(columns=list(_COLUMNS))
    fits = _fit_all(spectra, f, decay, split=True)
    delays = np.array([t.delay for t in tones])
    return _table(fits, delays, low, high, steady)


def _candidates(spectrum):
    """Start values from the maxima of the mean spectrum."""
    level = spectrum["level_db"].to_numpy()
    floor = spectrum["floor_db"].fillna(-np.inf).to_numpy() + OVER_FLOOR_DB
    from scipy.signal import find_peaks  # slow to load, and only recordings need it

    at, found = find_peaks(level, height=np.maximum(floor, -BELOW_TOP_DB), prominence=PROMINENCE_DB)
    if len(at) > MOST_CANDIDATES:  # most of them are noise, which then tells its own level
        over = level[at] > percentile_filter(level, 50, size=round(GROUND_HZ / STEP))[at] + OVER_FLOOR_DB
        at, prominence = at[over], found["prominences"][over]
        at = np.sort(at[np.argsort(-prominence, kind="stable")[:MOST_CANDIDATES]])
    f = spectrum["f_hz"].to_numpy()[at]
    return f, np.pi * f * START_LOSS


def _fit_all(spectra, f, decay, split):
    """Fit every group of neighbours, the others held as they are."""
    poles, fits = list(zip(f, decay, strict=True)), []
    for members in _groups(f, decay, spectra):
        others = [p for i, p in enumerate(poles) if i not in members]
        fits.append(_fit_group(spectra, f[members], decay[members], others, split))
    return fits


def _kept(fits):
    """Poles that deserve a second fit: seen, not too broad, and no double of a stronger neighbour."""
    f = np.concatenate([fit.f for fit in fits])
    decay = np.concatenate([fit.decay for fit in fits])
    strength = np.concatenate([(fit.amplitude**2).mean(axis=0) for fit in fits])
    good = np.concatenate([_seen(fit) > 0 for fit in fits])
    good &= decay < np.pi * f * MOST_LOSS
    good &= _no_doubles(f, decay / (np.pi * f), strength, good)
    return f[good], decay[good]


def _no_doubles(f, loss, strength, good):
    """Whether each good peak is the stronger of those nearer than a part of their width: bool (k,)."""
    out = good.copy()
    for i in np.argsort(strength, kind="stable"):
        near = np.abs(f - f[i]) < PAIR_APART * np.maximum(loss * f, loss[i] * f[i])
        near &= (loss < STEADY) == (loss[i] < STEADY)  # a mode may lie on hum
        near[i] = False
        if np.any(near & out & (strength >= strength[i])):
            out[i] = False
    return out


def _seen(fit):
    """In how many taps each pole stands out of the noise; 0 where that may be chance: (k,)."""
    over = fit.amplitude / np.maximum(fit.amplitude_sd, 1e-300)
    seen = (over > SEEN).sum(axis=0)
    return np.where((seen >= min(2, len(over))) | (over.max(axis=0) > CLEAR), seen, 0)


def _groups(f, decay, spectra):
    """Group the indices of neighbours that must be fitted together."""
    bin_width = 1.0 / min(n * step for _, n, step in spectra)
    order = np.argsort(f)
    groups = [[order[0]]]
    for before, i in pairwise(order):
        near = f[i] - f[before] < 0.8 * (decay[i] + decay[before]) / np.pi + 2.0 * bin_width
        if near and len(groups[-1]) < MOST_POLES - 1:
            groups[-1].append(i)
        else:
            groups.append([i])
    return groups


def _fit_group(spectra, f, decay, others, split):
    """Fit one group, on demand with one pole more than there were candidates."""
    middle = float(np.mean(f))
    bands, fixed = _bands(spectra, f.min(), f.max(), middle, others)
    if not split:  # a first look
        return fit_poles(bands, f, decay, fixed, noise=np.ones(len(bands)), steps=12)
    fit = _without_strays(bands, f, decay, fixed)
    if len(f) >= MOST_POLES:
        return fit
    width = max(float(fit.decay.max()) / np.pi, 1.0 / max(b.count * b.step for b in bands))
    best = fit
    for place in {float(x) for x in fit.f}:
        for side in (-0.8, 0.8):
            more_f = np.append(fit.f, place + side * width)
            more_decay = np.append(fit.decay, np.pi * place * START_LOSS)
            trial = fit_poles(bands, more_f, more_decay, fixed, noise=fit.noise)
            if trial.misfit < best.misfit:
                best = trial
    if best is not fit and _is_pair(fit, best, len(bands)):
        return _without_strays(bands, best.f, best.decay, fixed)
    return fit


def _bands(spectra, low, high, middle, others):
    bands = []
    for values, n, step in spectra:
        bin_width = 1.0 / (n * step)
        half = max(8.0, 7.0 * bin_width, 0.055 * middle)
        first = max(1, int(np.ceil((low - half) / bin_width)))
        stop = min(len(values) - 1, int((high + half) / bin_width) + 1)
        k = np.arange(first, stop)
        bands.append(SpectrumBand(k * bin_width, values[first:stop], step, n))
    edge_low, edge_high = min(b.f[0] for b in bands), max(b.f[-1] for b in bands)
    longest = max(b.count * b.step for b in bands)
    reach = edge_high - edge_low
    fixed = [
        (f, d)
        for f, d in others
        if edge_low - reach < f < edge_high + reach or d * longest < 2.0  # a steady tone leaks far
    ]
    return bands, fixed


def _without_strays(bands, f, decay, fixed):
    """Fit, and fit anew without a tap that disagrees grossly with the others (a knock, another grip)."""
    fit = fit_poles(bands, f, decay, fixed)
    for _ in range(len(bands) // 3):
        stray = np.abs(fit.deviation[:, : len(fit.f)]).max(axis=1)
        middle = np.median(stray)
        worst = int(stray.argmax())
        if stray[worst] < STRAY * max(1.0, middle):
            break
        bands = [b for n, b in enumerate(bands) if n != worst]
        fit = fit_poles(bands, fit.f, fit.decay, fixed)
    return fit


def _is_pair(one, two, taps):
    """F test of the added oscillation, and whether both can be real."""
    more = 2 + 2 * taps
    ratio = (one.misfit - two.misfit) / more / max(two.misfit / two.free, 1e-300)
    if fdtrc(more, two.free, ratio) > PAIR_CHANCE or two.misfit > PAIR_GAIN * one.misfit:
        return False
    loss = two.decay / (np.pi * two.f)
    strength = np.sqrt((two.amplitude**2).mean(axis=0))
    softest = 20.0 * np.log10(strength.min() / strength.max())
    sd = np.sqrt(np.diag(two.covariance)[: len(two.f)]) / two.f
    seen = _seen(two)
    steady = loss < STEADY  # it goes on in every tap, however soft
    return bool(
        loss.max() < MOST_LOSS
        and (softest > -PAIR_BELOW_DB or steady.any())
        and sd.max() < MOST_SD
        and seen.min() > 0
        and (steady.any() or abs(two.f[-1] - two.f[:-1]).min() > PAIR_APART * two.decay.mean() / np.pi)
        and np.all(seen[steady] > taps / 2)
    )


def _table(fits, delays, low, high, keep_steady):
    rows = []
    for fit in fits:
        k, n = len(fit.f), len(fit.deviation)
        sd = np.sqrt(np.diag(fit.covariance))
        # scatter between taps over what the noise explains, by parameter
        scatter = np.sqrt((fit.deviation**2).sum(axis=0) / max(n - 1, 1)) if n > 1 else np.ones(2 * k)
        sd = sd * np.maximum(scatter, 1.0)
        undamped = np.sqrt(fit.f**2 + (fit.decay / (2.0 * np.pi)) ** 2)
        loss = fit.decay / (np.pi * undamped)
        at_start = fit.amplitude * np.exp(fit.decay * delays.mean())
        level = 20.0 * np.log10(np.sqrt((at_start**2).mean(axis=0)))
        rows.append(np.stack([undamped, sd[:k], loss, loss * sd[k:], level, _seen(fit), scatter[:k]], axis=1))
    table = pd.DataFrame(np.concatenate(rows), columns=[*_COLUMNS[:6], "scatter"])
    sound = (table["taps"] > 0) & (table["loss"] < MOST_LOSS) & (table["sd_hz"] < MOST_SD * table["f_hz"])
    sound &= table["f_hz"].between(low, high)
    sound &= _no_doubles(*(table[c].to_numpy() for c in ("f_hz", "loss", "level_db")), sound.to_numpy())
    table = table[sound].sort_values("f_hz", ignore_index=True).astype({"taps": int})
    table["remark"] = [_remark(table, i) for i in range(len(table))]
    modes = table["loss"] >= STEADY
    table["level_db"] -= table.loc[modes, "level_db"].max() if modes.any() else table["level_db"].max()
    if not keep_steady:
        table = table[modes].reset_index(drop=True)
    return table[list(_COLUMNS)]


def _remark(table, i):
    row = table.iloc[i]
    if row["loss"] < STEADY:
        return "steady tone, no mode (hum?)"
    near = (table["f_hz"] - row["f_hz"]).abs() < PAIR_NEAR * row["loss"] * row["f_hz"]
    near[i] = False
    steady = table["loss"] < STEADY
    parts = []
    if (near & ~steady).any():
        parts.append("close pair")
    if (near & steady).any():
        parts.append("beside a steady tone")
    if row["scatter"] > 3.0:
        parts.append("taps disagree")
    return ", ".join(parts)
