"""A sound recording: read from and written to WAV files, with what was clipped in it."""

import io
import os
import struct
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.io import wavfile

from platemodel.errors import RecordingError
from platemodel.files import write_file

MIN_RATE = 4000  # Hz; a plate's low modes need a few hundred
MIN_SECONDS = 0.2
MAX_SECONDS = 300.0  # a hundred taps; a recorder left running fills the memory instead
MAX_BYTES = 250_000_000
MAX_SAMPLE = 100.0  # of full scale; float files may exceed 1, but not like this
SILENCE = 1e-4  # of full scale; three steps of 16 bit
LEAST_CLIPPING = 0.02  # of full scale; flat tops below it are coarse steps of a soft recording
FLAT_SECONDS = 60e-6  # a wave of 80 Hz stays within a step of 16 bit of its top for half as long
_FLAT = 3  # samples in a row
_CUT = "cut out the part with the taps and give that"
_EXPORT = (
    "export it as WAV, uncompressed (PCM), 16 bit or more, from the phone's recorder or a sound editor, "
    "and give that file"
)
#: First bytes of what a phone may save instead, from the formats' own definitions.
_OTHER = (
    (4, b"ftyp", "an M4A / AAC file"),
    (0, b"ID3", "an MP3 file"),
    (0, b"\xff\xfb", "an MP3 file"),
    (0, b"\xff\xf3", "an MP3 file"),
    (0, b"\xff\xf1", "an AAC file"),
    (0, b"\xff\xf9", "an AAC file"),
    (0, b"OggS", "an OGG file"),
    (0, b"fLaC", "a FLAC file"),
    (0, b"caff", "a CAF file"),
    (0, b"FORM", "an AIFF file"),
    (0, b"#!AMR", "an AMR file"),
    (0, b"\x1aE\xdf\xa3", "a WebM or Matroska file"),
)


@dataclass(frozen=True, eq=False)
class Recording:
    """One channel of sound.

    Attributes
    ----------
    samples : array (n,)
        Between -1 and 1 (full scale); float files may exceed it.
    rate : float
        Samples a second, Hz.
    source : str
        File name, or what made it.
    clipped : int array (k, 2)
        Stretches cut off at the top or bottom: first sample and the one after the last.
    """

    samples: np.ndarray
    rate: float
    source: str
    clipped: np.ndarray

    @property
    def seconds(self) -> float:
        """Length, s."""
        return len(self.samples) / self.rate


def read_recording(path: str | os.PathLike) -> Recording:
    """Read a WAV file: 8, 16, 24 or 32 bit or float, plain or extensible header, any number of channels.

    Channels are averaged, but one that is silent or clipped is left out where another is sound, and the
    loudest alone is taken where two would cancel each other.

    Raises
    ------
    RecordingError
        No WAV file, damaged, compressed, empty, silent, shorter than `MIN_SECONDS` or sampled below
        `MIN_RATE`; the message says what to do.
    """
    path = Path(path)
    _check_file(path)
    rate, raw = _read_wav(path)
    channels, step = _to_float(raw, path)
    if channels.shape[0] == 0:
        _refuse(path, "no samples in it", "record again, and check that the recorder was running")
    if rate < MIN_RATE:
        _refuse(path, f"a sampling rate of {rate} Hz", f"at least {MIN_RATE} Hz; 44100 or 48000 is usual")
    if channels.shape[0] > MAX_SECONDS * rate:
        _refuse(path, f"{channels.shape[0] / rate:.0f} s of sound", f"at most {MAX_SECONDS:.0f} s; {_CUT}")
    if channels.shape[0] < MIN_SECONDS * rate:
        _refuse(
            path,
            f"only {channels.shape[0] / rate:.3f} s of sound",
            f"at least {MIN_SECONDS:g} s; let each tap ring out before you stop",
        )
    peak = np.abs(channels).max()
    if not np.isfinite(peak):
        _refuse(path, "samples that are no numbers", "the file is damaged; export it again")
    if peak > MAX_SAMPLE:
        _refuse(path, f"a sample of {peak:.3g} of full scale", "damaged or oddly scaled; export it again")
    samples, clipped = _one_channel(channels, rate, step)
    if np.ptp(samples) < SILENCE:
        _refuse(path, "silence", "no sound reached the recorder; check the microphone and record again")
    return Recording(samples - np.median(samples), float(rate), path.name, clipped)


def write_recording(path: str | os.PathLike, recording: Recording) -> Path:
    """Write a WAV file of 16 bit, one channel; the file appears complete or not at all.

    Parameters
    ----------
    path : path
        Replaced when it is there.
    recording : Recording
        Samples beyond full scale are refused, not cut.

    Raises
    ------
    RecordingError
        Samples beyond full scale or not finite.
    OSError
        The place cannot be written to.
    """
    path = Path(path)
    peak = np.abs(recording.samples).max(initial=0.0)
    if not peak <= 1.0:
        _refuse(path, f"a sample of {peak:.3g} of full scale", "at most 1; make it softer")
    raw = np.round(recording.samples * 32767.0).astype("<i2")
    file = io.BytesIO()
    wavfile.write(file, round(recording.rate), raw)
    return write_file(path, file.getvalue())


def find_clipping(samples: np.ndarray, rate: float, step: float) -> np.ndarray:
    """Stretches where a signal was cut off at the top or bottom.

    Parameters
    ----------
    samples : array (n,)
    rate : float
        Hz.
    step : float
        Size of one step of the file's numbers, of full scale.

    Returns
    -------
    int array (k, 2)
        First sample and the one after the last.

    Notes
    -----
    A free decay reaches its extreme once and stays there for an instant; a flat top at full scale, or flat
    tops at one level below it again and again, were cut off.
    """
    runs = []
    for side in (samples, -samples):
        top = side.max()
        if top < LEAST_CLIPPING:
            continue
        at_rail = 1.0 - 3.0 * max(step, 2.0**-15) <= top <= 1.0
        slack = max(1.5 * step, 1e-5 * top)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], side >= top - slack, [0]]).astype(np.int8)))
        stretches = edges.reshape(-1, 2)
        length = np.diff(stretches, axis=1)[:, 0]
        keep = length >= (_FLAT if at_rail else max(_FLAT, int(np.ceil(FLAT_SECONDS * rate))))
        if not at_rail:
            keep &= _abrupt(side, top, stretches, length, slack)
        if keep.sum() >= (1 if at_rail else 2):
            runs.append(stretches[keep])
    out = np.concatenate(runs) if runs else np.zeros((0, 2), dtype=int)
    return out[np.argsort(out[:, 0], kind="stable")]


def _abrupt(side, top, stretches, length, slack):
    """Whether a flat stretch ends in a corner; half its length beyond, a round top has sunk by 3 slacks."""
    n = len(side)
    before = side[np.maximum(stretches[:, 0] - 1 - length // 2, 0)]
    after = side[np.minimum(stretches[:, 1] + length // 2, n - 1)]
    return top - np.maximum(before, after) > 12.0 * slack


def _refuse(path, found, allowed):
    msg = f"{path.name}: found {found}; {allowed}"
    raise RecordingError(msg)


def _check_file(path):
    try:
        size = path.stat().st_size
        if not path.is_file():
            _refuse(path, "a folder or device", "a WAV file is needed")
        with path.open("rb") as file:
            head = file.read(4096)
    except FileNotFoundError:
        _refuse(path, "no such file", "give the path of a WAV file")
    except OSError as error:
        _refuse(path, f"a file that cannot be opened ({error.strerror})", "check its name and permissions")
    if size == 0:
        _refuse(path, "an empty file", "copy it from the recorder again")
    if size > MAX_BYTES:
        _refuse(path, f"{size / 1e6:.0f} MB", f"at most {MAX_BYTES / 1e6:.0f} MB; {_CUT}")
    if head[:4] not in (b"RIFF", b"RIFX", b"RF64"):
        kind = next((name for at, mark, name in _OTHER if head[at : at + len(mark)] == mark), "no WAV file")
        _refuse(path, kind, _EXPORT)
    _check_length(path, head, size)


def _check_length(path, head, size):
    """Refuse a recording that is too long before it is read, by the bytes a second that its header names."""
    at = head.find(b"fmt ")
    if head[:4] == b"RIFX" or at < 0 or len(head) < at + 20:
        return
    (rate,) = struct.unpack_from("<I", head, at + 16)
    if rate and size / rate > MAX_SECONDS:
        _refuse(path, f"{size / rate:.0f} s of sound", f"at most {MAX_SECONDS:.0f} s; {_CUT}")


def _read_wav(path):
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", wavfile.WavFileWarning)  # extra chunks, file cut short
            return wavfile.read(path)
    except (
        ValueError,
        EOFError,
        TypeError,
        ArithmeticError,
        MemoryError,
        LookupError,
        UnboundLocalError,
        struct.error,
    ) as error:
        what = "a WAV file that cannot be read"
        if "format" in str(error).lower():
            what = "a WAV file in a compressed or unusual format"
        msg = f"{path.name}: found {what} ({str(error).splitlines()[0][:90] or 'damaged'}); {_EXPORT}"
        raise RecordingError(msg) from error


def _to_float(raw, path):
    """Channels in columns, full scale 1, and the size of one step."""
    kind, size = raw.dtype.kind, raw.dtype.itemsize
    channels = raw.reshape(len(raw), -1) if raw.size else np.zeros((0, 1))
    if kind == "u" and size == 1:
        return (channels.astype(float) - 128.0) / 128.0, 2.0**-7
    if kind == "i" and size in (2, 4):
        # 24 bit come left-justified in 32: a step is then 256 times larger
        return channels.astype(float) / 2.0 ** (8 * size - 1), 2.0**-15 if size == 2 else 2.0**-23
    if kind == "f":
        with np.errstate(invalid="ignore"):  # damaged numbers are looked for later
            return channels.astype(float), 2.0**-23
    return _refuse(path, f"numbers of the kind {raw.dtype}", _EXPORT)


def _one_channel(channels, rate, step):
    """Mean of the sound channels, and what was clipped in them."""
    channels = channels.T
    clipped = [find_clipping(c, rate, step) for c in channels]
    level = np.array([np.std(c) for c in channels])
    cut = np.array([np.diff(c, axis=1).sum() for c in clipped])
    loud = level > 0.05 * level.max()
    good = loud & (cut == 0) if np.any(loud & (cut == 0)) else loud & (cut == cut[loud].min(initial=0))
    if not good.any():
        good = level == level.max()
    chosen = np.flatnonzero(good)
    mean = channels[chosen].mean(axis=0)
    if np.std(mean) < 0.5 * level[chosen].max():  # microphones in opposite phase
        chosen = chosen[[np.argmax(level[chosen])]]
        mean = channels[chosen[0]]
    runs = np.concatenate([clipped[c] for c in chosen])
    return mean, runs[np.argsort(runs[:, 0], kind="stable")]
