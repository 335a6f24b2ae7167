"""Taps of a job as text and data: what the recordings hold, what the model expects, how to keep a choice."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.tables import plain, records
from platemodel.bench.kit.tones import signed
from platemodel.errors import RecordingError
from platemodel.job import Job, TapReading
from platemodel.progress import Progress, no_message
from platemodel.study.top.plate_modes import PlateModes, plate_modes
from platemodel.study.top.workbench import Workbench
from platemodel.study.wood.reading_doubts import HANDLING
from platemodel.study.wood.tap_offers import BAND, common_shift, offer_peaks
from platemodel.taps import STEADY, Recording, Tap, find_taps, tap_peaks

NEAR = 0.01  # relative distance within which a frequency given by the user means a peak
LOWEST_HZ = 30.0  # from which peaks are looked for on a violin; goes down with the body's length


@dataclass(frozen=True, eq=False)
class JobTaps:
    """What was found in recordings of one top in one state.

    Attributes
    ----------
    taps : tuple of tuple of Tap
        For each recording.
    peaks : DataFrame
        See `platemodel.taps.tap_peaks`; modes only.
    steady : DataFrame
        Tones that do not decay, left out of the modes.
    modes : PlateModes or None
        Predicted, None without the model.
    offers : DataFrame or None
        See `platemodel.study.wood.tap_offers.offer_peaks`.
    kept : tuple of TapReading
        What was chosen of the peaks and written into the job folder.
    """

    job: Job
    recordings: tuple[Recording, ...]
    taps: tuple[tuple[Tap, ...], ...]
    peaks: pd.DataFrame
    steady: pd.DataFrame
    bar_on: bool
    modes: PlateModes | None = None
    offers: pd.DataFrame | None = None
    kept: tuple[TapReading, ...] = ()

    @property
    def state(self) -> str:
        """``with bar`` or ``without bar``."""
        return "with bar" if self.bar_on else "without bar"


def job_taps(
    job: Job,
    recordings: Sequence[Recording],
    bar_on: bool,
    model: bool = True,
    progress: Progress = no_message,
    bench: Workbench | None = None,
) -> JobTaps:
    """Find taps and peaks, and set them beside the job's predicted modes.

    Parameters
    ----------
    recordings : sequence of Recording
        Of the top in one state.
    bar_on : bool
        Whether the bar was on it.
    model : bool
        Predict the modes (some seconds).

    Raises
    ------
    RecordingError
        No usable tap; or the bar was on, but the job has none and a prediction is asked for.
    """
    if model and bar_on and job.bar is None:
        msg = "tapped with the bar on, but job.toml has no table [bar]; add it, or use --no-model"
        raise RecordingError(msg)
    recordings = tuple(recordings)
    progress("looking for taps")
    taps = tuple(find_taps(r) for r in recordings)
    low = LOWEST_HZ * min(1.0, 1.0 / job.top.outline.scale)  # the twist of a cello lies near 30 Hz
    every = tap_peaks(recordings, low, steady=True)
    still = every["loss"] < STEADY
    peaks, steady = (every[m].reset_index(drop=True) for m in (~still, still))
    if not model:
        return JobTaps(job, recordings, taps, peaks, steady, bar_on)
    mesh = (bench or job_bench(job, progress=progress)).model
    bar = job.bar if bar_on else None
    modes = plate_modes(mesh, bar, band=True, progress=progress)
    return JobTaps(job, recordings, taps, peaks, steady, bar_on, modes, offer_peaks(peaks, modes))


def chosen_readings(result: JobTaps, choice: Mapping[int, float]) -> tuple[TapReading, ...]:
    """Turn the user's choice into readings: of each mode the peak nearest to the frequency that was given.

    Parameters
    ----------
    choice : mapping of int to float
        Mode number to frequency, Hz.

    Raises
    ------
    RecordingError
        No peak within `NEAR`, or one peak for two modes.
    """
    source = ", ".join(r.source for r in result.recordings)
    out, used = [], {}
    heard = result.peaks["f_hz"].to_numpy(dtype=float)
    for number, wanted in choice.items():
        k = int(np.argmin(np.abs(heard - wanted))) if len(heard) else -1
        if k < 0 or abs(heard[k] / wanted - 1.0) > NEAR:
            near = f"the nearest is {heard[k]:.2f} Hz" if k >= 0 else "there are no peaks"
            msg = (
                f"mode {number}: no peak within {100 * NEAR:.0f} % of {wanted:g} Hz, {near}; write a "
                f"frequency that you heard elsewhere into job.toml, as mode_{number}_hz"
            )
            raise RecordingError(msg)
        if k in used:
            msg = f"modes {used[k]} and {number}: the peak at {heard[k]:.2f} Hz can be only one of them"
            raise RecordingError(msg)
        used[k] = number
        row = result.peaks.iloc[k]
        out.append(
            TapReading(
                number,
                round(float(row["f_hz"]), 3),
                round(believed(row["f_hz"], row["sd_hz"]), 3),
                result.bar_on,
                round(float(row["loss"]), 4),
                source if len(source) <= 200 else f"{len(result.recordings)} recordings",
                row["remark"],
            )
        )
    return tuple(out)


def as_text(result: JobTaps) -> str:
    """Return what was found, for the terminal."""
    lines = [cautions.text_title(result.job), f"Tapped {result.state}."]
    lines += ["", "Recordings"]
    for recording, taps in zip(result.recordings, result.taps, strict=True):
        spoiled = sum(t.clipped for t in taps)
        extra = f", {spoiled} clipped too long and left out" if spoiled else ""
        at = ", ".join(f"{t.start / recording.rate:.2f}" for t in taps)
        length = f"{recording.seconds:.1f} s at {recording.rate:.0f} Hz"
        lines.append(f"  {recording.source}: {length}, {len(taps)} taps{extra}")
        lines += [f"    at {at} s"] if taps else []
    lines += ["", "Peaks", "        Hz       ±    loss factor ±        dB   taps"]
    for row in result.peaks.itertuples():
        lines.append(
            f"  {row.f_hz:8.2f} {believed(row.f_hz, row.sd_hz):7.2f}   {row.loss:8.4f} {row.loss_sd:7.4f}  "
            f"{row.level_db:6.1f} {row.taps:5d}   {row.remark}".rstrip()
        )
    for row in result.steady.itertuples():
        lines.append(f"  left out: {row.f_hz:.2f} Hz does not die away (hum or another steady tone)")
    if result.offers is not None:
        lines += _offers(result)
    lines += ["", *_how_to_keep(result)]
    lines.append(
        f"± is one standard deviation, at least {100 * HANDLING:g} % of the pitch: a plate that is held and "
        "tapped again differs by that much, however well one recording fits. Humidity is not in it."
    )
    return "\n".join(lines) + "\n"


def believed(f: float, sd: float) -> float:
    """Doubt of a tap in Hz: a recording's own, but no less than holds and strikes scatter."""
    return max(float(sd), HANDLING * float(f))


def _offers(result):
    yield ""
    yield f"Which peak may be which mode? The wood may shift a mode by {100 * BAND:.0f} %, and you decide."
    yield "  mode         computed      heard     off   score"
    shift = common_shift(result.offers)
    if shift is not None:
        side = "above" if shift > 0 else "below"
        yield f"  All peaks lie {100 * abs(shift):.0f} % {side} the model: wood or thickness, not a slip"
    for row in result.offers.itertuples():
        name = f"{row.number} {row.name}".strip()
        head = f"  {name:10s} {row.predicted_hz:8.1f} Hz" if row.rank < 2 else " " * 23
        if row.rank == 0:
            if row.name:
                yield f"{head}   {row.mark}"
            continue
        off = signed(row.off_percent, 1)
        yield f"{head} {row.f_hz:9.2f} {off:>6s} % {row.score:6.2f}   {row.mark}".rstrip()


def _how_to_keep(result):
    if result.kept:
        yield "Kept in taps.csv: " + ", ".join(
            f"mode {r.mode} {r.frequency:.2f} ± {believed(r.frequency, r.sd):.2f} Hz {r.state}"
            for r in result.kept
        )
        return
    if result.offers is not None:
        nearest = result.offers[(result.offers["rank"] == 1) & (result.offers["name"] != "")]
        example = ",".join(f"{r.number}={r.f_hz:.1f}" for r in nearest.itertuples())
    else:
        example = ""
    example = example or "MODE=HZ"
    yield f"Nothing has been kept. If a peak is the mode you held and tapped for: --keep {example}"


def as_data(result: JobTaps) -> dict:
    """Return the same as plain data for JSON."""
    return {
        **cautions.data_title(result.job),
        "bar_on": result.bar_on,
        "recordings": [
            {
                "source": r.source,
                "seconds": plain(r.seconds),
                "rate_hz": r.rate,
                "taps": [
                    {
                        "at_s": plain(t.start / r.rate),
                        "level_db": plain(t.level_db),
                        "clipped": t.clipped,
                    }
                    for t in taps
                ],
            }
            for r, taps in zip(result.recordings, result.taps, strict=True)
        ],
        "peaks": records(result.peaks),
        "steady": records(result.steady),
        "offers": records(result.offers),
        "kept": [r.cells() for r in result.kept],
    }
