"""Finds the taps in a recording."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy.ndimage import maximum_filter1d, uniform_filter1d

from platemodel.errors import RecordingError
from platemodel.taps.recording import Recording

BAND = (40.0, 1000.0)  # Hz; below it rumble and handling, above it hiss
HOP, WINDOW = 0.003, 0.012  # s, of the level curve
RISE_DB, RISE_SECONDS = 8.0, 0.027
BEFORE_SECONDS = 0.06  # longer than the rise: the ear of a beat then rises by 5 dB at most
OVER_FLOOR_DB = 9.0
SPAN_DB = 30.0  # a tap is not softer than this below the loudest
LEAST_SECONDS = 0.12  # of ringing, to be of use
MOST_SECONDS = 2.0
CONTACT_SECONDS = 0.012  # left out at the start: the finger may still be on
MAX_CLIPPED_SECONDS = 0.05  # of the start that may be left out because it is clipped
QUIET_SECONDS = 0.2  # least length of a quiet stretch by which the background is judged


@dataclass(frozen=True)
class Tap:
    """One tap.

    Attributes
    ----------
    start, stop : int
        First sample of the attack, and the one after the last in which it rings over the background.
    level_db : float
        Highest sample, dB of full scale.
    clipped : bool
        Cut off for so long that what is left would mislead.
    free : int
        First sample of the free ringing: after the contact and after any clipped stretch.
    """

    start: int
    stop: int
    level_db: float
    clipped: bool
    free: int


@dataclass(frozen=True, eq=False)
class Ringing:
    """The part of one tap that is analysed.

    Attributes
    ----------
    samples : array (n,)
        From the first free sample on.
    rate : float
        Hz.
    delay : float
        Time from the attack to the first of these samples, s.
    background : array (m,)
        A quiet stretch of the same recording, empty where there is none.
    """

    samples: np.ndarray
    rate: float
    delay: float
    background: np.ndarray
    source: str


def find_taps(recording: Recording) -> tuple[Tap, ...]:
    """Find the taps in a recording, in order of time.

    Returns
    -------
    tuple of Tap
        Empty where nothing rises sharply over the background and rings on.

    Notes
    -----
    The level in 40 to 1000 Hz, plain or weighted with frequency so that hum counts little, must rise by 8 dB
    within 27 ms over all that went before it for 60 ms, stand 9 dB over the background (the level below
    which a fifth of the recording lies) and still stand over it after 40 ms without having risen further.
    What rises slowly, as beating modes and rubbing hands do, is no tap.
    """
    x, rate = recording.samples, recording.rate
    from scipy.signal import butter, sosfilt  # slow to load, and only recordings need it

    band = sosfilt(butter(2, (BAND[0], min(BAND[1], 0.45 * rate)), "bandpass", fs=rate, output="sos"), x)
    hop = max(1, round(HOP * rate))
    plain = _level(band, rate, hop)
    weighted = _level(np.diff(band, prepend=0.0) * rate / BAND[1], rate, hop)
    peaks = sorted({*_sharp_rises(plain), *_sharp_rises(weighted)})
    return _ends(recording, [_attack(x, p * hop, rate) for p in peaks], plain, hop)


def _sharp_rises(level):
    """Places of a level curve (dB, at steps of `HOP`) where it rises sharply and rings on."""
    floor = np.percentile(level, 20.0)
    if level.max() < floor + OVER_FLOOR_DB:  # one tap that fills the recording from end to end
        floor = level.min()
    back, ahead = round(BEFORE_SECONDS / HOP), round(RISE_SECONDS / HOP)
    wide = np.concatenate([np.full(back, floor), level, np.full(ahead, floor)])
    before = sliding_window_view(wide, back - 2)[: len(level)].max(axis=1)
    after = sliding_window_view(wide[back:], ahead)[: len(level)].max(axis=1)
    rise = after - before
    high = np.maximum(floor + OVER_FLOOR_DB, level.max() - SPAN_DB)
    from scipy.signal import find_peaks

    peaks, _ = find_peaks(np.concatenate([[0.0], rise, [0.0]]), height=RISE_DB, distance=round(0.05 / HOP))
    for p in peaks - 1:
        later = level[min(p + round(0.04 / HOP), len(level) - 1) :][: round(0.12 / HOP)]
        rings, falls = later[: round(0.06 / HOP)].max() > floor + 5.0, later.max() < after[p] + 3.0
        if after[p] > high and rings and falls:
            yield int(p)


def _level(x, rate, hop):
    """Level of a signal, dB, at steps of hop samples."""
    return 10.0 * np.log10(uniform_filter1d(x**2, max(1, round(WINDOW * rate)))[::hop] + 1e-14)


def _attack(x, place, rate):
    """First sample near a sharp rise that is a tenth of the attack's highest, and over what went before."""
    first = max(0, place - round(0.015 * rate))
    part = np.abs(x[first : place + round(0.025 * rate)])
    before = np.abs(x[max(0, first - round(0.04 * rate)) : first]).max(initial=0.0)
    return first + int(np.argmax(part >= min(max(0.1 * part.max(), 1.3 * before), part.max())))


def _ends(recording, starts, level, hop):
    x, rate = recording.samples, recording.rate
    floor = np.percentile(level, 20.0)
    starts = sorted(set(starts))
    starts = [s for i, s in enumerate(starts) if i == 0 or s - starts[i - 1] > 0.05 * rate]
    smooth = maximum_filter1d(level, 9)  # beats may dip below the background's level
    out = []
    for i, start in enumerate(starts):
        stop = min(len(x), start + round(MOST_SECONDS * rate))
        if i + 1 < len(starts):
            stop = min(stop, starts[i + 1] - round(0.015 * rate))
        first = (start + round(0.05 * rate)) // hop
        quiet = np.flatnonzero(smooth[first : stop // hop] < floor + 1.5)
        if len(quiet):
            stop = min(stop, max((first + int(quiet[0])) * hop, start + round(0.3 * rate)))
        cut = recording.clipped[(recording.clipped[:, 0] >= start) & (recording.clipped[:, 0] < stop)]
        free = start + round(CONTACT_SECONDS * rate)
        spoiled = False
        if len(cut):
            last = int(cut[:, 1].max())
            spoiled = last - start > MAX_CLIPPED_SECONDS * rate
            free = max(free, last + round(0.003 * rate))
        peak = np.abs(x[start : start + round(0.1 * rate)]).max()
        out.append(Tap(start, stop, float(20.0 * np.log10(peak)), bool(spoiled), int(free)))
    return tuple(out)


def ringing(recordings: Recording | Sequence[Recording]) -> tuple[Ringing, ...]:
    """Take the usable taps out of one recording or several.

    Parameters
    ----------
    recordings : Recording or sequence of them
        Of one plate in one state.

    Raises
    ------
    RecordingError
        No tap at all, or none that is neither clipped nor too short; the message says how many of each.
    """
    recordings = (recordings,) if isinstance(recordings, Recording) else tuple(recordings)
    out, clipped, short, total = [], 0, 0, 0
    for recording in recordings:
        found = find_taps(recording)
        quiet = _background(recording, found)
        for tap in found:
            total += 1
            samples = recording.samples[tap.free : tap.stop]
            if tap.clipped:
                clipped += 1
            elif len(samples) < LEAST_SECONDS * recording.rate:
                short += 1
            else:
                delay = (tap.free - tap.start) / recording.rate
                out.append(Ringing(samples, recording.rate, delay, quiet, recording.source))
    if out:
        return tuple(out)
    names = ", ".join(r.source for r in recordings)
    if total == 0:
        msg = (
            f"{names}: found no tap, nothing rises sharply over the background and rings on; tap harder or "
            "nearer to the microphone, with a second of quiet between taps"
        )
    else:
        msg = (
            f"{names}: found no usable tap: of {total}, {clipped} clipped for more than "
            f"{1e3 * MAX_CLIPPED_SECONDS:.0f} ms and {short} shorter than {1e3 * LEAST_SECONDS:.0f} ms; "
            "tap more softly or move the microphone away, and let each tap ring out"
        )
    raise RecordingError(msg)


def as_ringing(taps) -> list[tuple[Ringing, ...]]:
    """Usable taps of each recording, or the taps themselves when they are given, as one group."""
    if isinstance(taps, Recording):
        return [ringing(taps)]
    taps = tuple(taps)
    return [taps] if taps and isinstance(taps[0], Ringing) else [ringing(r) for r in taps]


def _background(recording, taps):
    """Longest stretch outside all taps, or nothing."""
    edges = [0]
    for tap in taps:
        edges += [tap.start - round(0.02 * recording.rate), tap.stop]
    edges.append(len(recording.samples))
    pairs = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b > a]
    a, b = max(pairs, key=lambda p: p[1] - p[0], default=(0, 0))
    if b - a < QUIET_SECONDS * recording.rate:
        return np.zeros(0)
    return recording.samples[a:b]
