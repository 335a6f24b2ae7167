"""Sets the peaks of a recording beside the predicted modes; the choice stays with the user."""

import numpy as np
import pandas as pd

from platemodel.study.top.plate_modes import PlateModes
from platemodel.study.top.recognise import KNOWN

BAND = 0.12  # half width in which wood that was not measured may shift a mode: 25 % in stiffness
NEAREST = "nearest"
TOGETHER = 1.5  # bands by which all modes may be off to one side together
LIKELY = 0.1  # least score of a peak outside the band that is offered all the same
SHIFTED, IN_STEP = 0.05, 0.04  # least common shift that is reported, and how far modes may differ from it
_SHARED, _OWN = 0.5, 0.35  # parts of the band that are one standard deviation: of all modes together, of each
_MISSED, _MISSED_OTHER = (
    -3.0,
    -0.7,
)  # for a mode without a peak; modes 1, 2, 5 are held and tapped to be heard
_SOFT_DB = 20.0  # a peak softer by this is as unlikely as one a standard deviation off


def mode_numbers(modes: PlateModes) -> np.ndarray:
    """Give each mode the number it is kept by: 1, 2, 5 by shape, the others in the order of pitch: (k,)."""
    known = modes.table["number"]
    rest = iter(n for n in range(1, 2 * len(known) + 6) if n not in KNOWN)
    return np.array([next(rest) if pd.isna(n) else int(n) for n in known])


def offer_peaks(peaks: pd.DataFrame, modes: PlateModes) -> pd.DataFrame:
    """Peaks that may be each mode, the likeliest first; nothing is chosen.

    Parameters
    ----------
    peaks : DataFrame
        As from `platemodel.taps.tap_peaks`.
    modes : PlateModes
        Predicted, of the plate in the state in which it was tapped.

    Returns
    -------
    DataFrame
        A row an offer, by predicted pitch and rank: ``mode`` (order of pitch), ``number``, ``name``,
        ``predicted_hz``, ``rank``, ``f_hz``, ``sd_hz``, ``loss``, ``level_db``, ``off_percent`` (heard
        against predicted), ``score`` (1 in the likeliest reading of all peaks together, less in others),
        ``mark`` (``nearest`` for the first of each mode, where its score is 1). A mode without a peak in its
        band has one row of rank 0.

    Notes
    -----
    A mode may lie within `BAND` to either side, and the band of the mesh on top; modes that all lie off to
    one side together may do so by half as much again.

    All modes are read together. Wood shifts them alike (a common factor, whose standard deviation is half the
    band) and each a little by itself (a third of the band), a soft peak is less likely to be meant, the
    order of pitch is kept, and a peak is used once. For every mode and peak the score is the likelihood of
    the best such reading that joins the two, over that of the best reading of all. The weights are
    judgements.
    """
    table = modes.table
    predicted = table["f_hz"].to_numpy()
    order = np.argsort(predicted)
    numbers = mode_numbers(modes)
    mesh = np.nan_to_num(table["band_hz"].to_numpy(dtype=float)) / predicted
    heard = peaks["f_hz"].to_numpy(dtype=float)
    off = np.abs(np.log(heard[None] / predicted[:, None]))
    inside = off <= np.log1p(BAND + mesh)[:, None]
    within = off <= np.log1p(TOGETHER * BAND + mesh)[:, None]
    scores = _scores(predicted[order], numbers[order], heard, peaks["level_db"], within[order])
    rows = []
    for place, k in enumerate(order):
        base = {
            "mode": int(table["mode"].iloc[k]),
            "number": int(numbers[k]),
            "name": table["name"].iloc[k],
            "predicted_hz": predicted[k],
        }
        likely = inside[k] | (within[k] & (scores[place] > LIKELY))
        found = [p for p in np.argsort(-scores[place], kind="stable") if likely[p]]
        if not found:
            rows.append({**base, "rank": 0, "mark": "no peak in its band"})
        for rank, p in enumerate(found, 1):
            score = float(scores[place, p])
            rows.append(
                {
                    **base,
                    "rank": rank,
                    **{c: peaks[c].iloc[p] for c in ("f_hz", "sd_hz", "loss", "level_db")},
                    "off_percent": 100.0 * (heard[p] / predicted[k] - 1.0),
                    "score": score,
                    "mark": NEAREST if rank == 1 and score > 0.999 else "",
                }
            )
    columns = ["mode", "number", "name", "predicted_hz", "rank", "f_hz", "sd_hz", "loss", "level_db"]
    return pd.DataFrame(rows, columns=[*columns, "off_percent", "score", "mark"])


def common_shift(offers: pd.DataFrame) -> float | None:
    """Relative shift common to modes 1, 2 and 5 in the likeliest reading.

    Parameters
    ----------
    offers : DataFrame
        From `offer_peaks`.

    Returns
    -------
    float or None
        Heard over computed, less 1; None where fewer than two of them have a peak, where they do not move in
        step, or where the shift is small.
    """
    first = offers[(offers["rank"] == 1) & (offers["name"] != "")]
    off = first["off_percent"].to_numpy(dtype=float) / 100.0
    if len(off) < 2 or np.ptp(off) > 2 * IN_STEP or np.abs(off.mean()) < SHIFTED:
        return None
    return float(off.mean())


def _scores(predicted, numbers, heard, level_db, inside):
    """Likelihood of the best reading that pairs mode and peak, over the best of all: (modes, peaks)."""
    m, p = inside.shape
    if p == 0:
        return np.zeros((m, 0))
    off = np.log(heard[None] / predicted[:, None])
    soft = -0.5 * (np.minimum(np.asarray(level_db, dtype=float), 0.0) / _SOFT_DB) ** 2
    missed = np.where(np.isin(numbers, list(KNOWN)), _MISSED, _MISSED_OTHER)
    best = np.full((m, p), -np.inf)
    for shift in np.linspace(-1.5, 1.5, 61) * BAND:
        join = -0.5 * ((off - shift) / (_OWN * BAND)) ** 2 + soft
        join = np.where(inside, join, -np.inf)
        through = _alignments(join, missed) - 0.5 * (shift / (_SHARED * BAND)) ** 2
        best = np.maximum(best, through)
    top = best.max()
    return np.exp(best - top) if np.isfinite(top) else np.zeros((m, p))


def _alignments(join, missed):
    """Best total of any reading in order of pitch that joins i and j, for all i, j (dynamic programming)."""
    m, p = join.shape
    head = np.zeros((m + 1, p + 1))  # best of the first i modes and j peaks
    tail = np.zeros((m + 1, p + 1))  # best of the modes from i and the peaks from j on
    for i in range(m):
        head[i + 1, 0] = head[i, 0] + missed[i]
        for j in range(p):
            head[i + 1, j + 1] = max(head[i + 1, j], head[i, j + 1] + missed[i], head[i, j] + join[i, j])
    for i in range(m - 1, -1, -1):
        tail[i, p] = tail[i + 1, p] + missed[i]
        for j in range(p - 1, -1, -1):
            tail[i, j] = max(tail[i, j + 1], tail[i + 1, j] + missed[i], tail[i + 1, j + 1] + join[i, j])
    return head[:m, :p] + join + tail[1:, 1:]
