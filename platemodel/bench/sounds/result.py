"""Predicted taps of a job's top: what would be heard."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.tables import records
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.top.plate_modes import PlateModes, plate_modes
from platemodel.study.top.tap_sound import Take, Tapping, place_of, tap_sound, tap_table
from platemodel.study.top.workbench import Workbench
from platemodel.taps import write_recording

COUNT = 16  # modes in a sound; what lies above is missing in it
RATE = 22050.0  # samples a second
STATES = ("without bar", "with bar")


@dataclass(frozen=True, eq=False)
class JobSounds:
    """Predicted taps of a job's top.

    Attributes
    ----------
    plates : dict of str to PlateModes
        By state, ``without bar`` and ``with bar``.
    """

    job: Job
    plates: dict[str, PlateModes]

    @cached_property
    def table(self) -> pd.DataFrame:
        """What is heard in each sound, see `sound_table`."""
        return sound_table(self.plates)


def job_sounds(
    job: Job, bar: bool = True, progress: Progress = no_message, bench: Workbench | None = None
) -> JobSounds:
    """Compute the modes of a job's top for making sounds.

    Parameters
    ----------
    bar : bool
        False leaves the bar out.
    """
    model = (bench or job_bench(job, progress=progress)).model
    plates = {"without bar": plate_modes(model, None, count=COUNT, progress=progress)}
    if bar and job.bar is not None:
        plates["with bar"] = plate_modes(model, job.bar, count=COUNT, progress=progress)
    return JobSounds(job, plates)


def sound_name(state: str, number: int) -> str:
    """File name of the sound of a mode in a state of the plate."""
    return f"tap_mode_{number}_{state.replace(' ', '_')}.wav"


def write_sound(result: JobSounds, state: str, number: int, path: Path) -> None:
    """Write the sound of the top held and tapped for a mode, as WAV."""
    write_recording(path, tap_sound(result.plates[state], number, take=Take(taps=2, rate=RATE)))


def sound_table(plates: dict[str, PlateModes]) -> pd.DataFrame:
    """List what is heard in each sound: the mode held and tapped for, and the two loudest others.

    Returns
    -------
    DataFrame
        ``plate``, ``number``, ``f_hz``, ``loss``, ``below_loudest_db``, ``tap_x_mm``, ``tap_y_mm``,
        ``hold_x_mm``, ``hold_y_mm``, ``also`` (the loudest other modes, Hz).
    """
    rows = []
    for state, modes in plates.items():
        for number in modes.table["number"].dropna():
            tap, hold = place_of(modes, int(number))
            table = tap_table(modes, Tapping(tap, hold))
            own = table[table["number"].eq(number).fillna(False)].iloc[0]
            others = table[table["mode"] != own["mode"]].nlargest(2, "level_db")
            rows.append(
                {
                    "plate": state,
                    "number": int(number),
                    "f_hz": own["f_hz"],
                    "loss": own["loss"],
                    "below_loudest_db": -own["level_db"],
                    "tap_x_mm": 1e3 * tap[0],
                    "tap_y_mm": 1e3 * tap[1],
                    "hold_x_mm": 1e3 * hold[0],
                    "hold_y_mm": 1e3 * hold[1],
                    "also": ", ".join(f"{f:.0f}" for f in others["f_hz"]),
                }
            )
    return pd.DataFrame(rows)


def as_text(result: JobSounds) -> str:
    """Return what is heard, for the terminal."""
    lines = [cautions.text_title(result.job)]
    lines += ["", "  plate        mode        Hz    loss   tap at x, y   hold at x, y   also heard, Hz"]
    for row in result.table.itertuples():
        soft = f" ({row.below_loudest_db:.0f} dB below the loudest)" if row.below_loudest_db > 6 else ""
        lines.append(
            f"  {row.plate:12s} {row.number}     {row.f_hz:9.1f} {row.loss:7.3f}"
            f"{round(row.tap_x_mm):8d},{round(row.tap_y_mm):+5d}{round(row.hold_x_mm):9d},"
            f"{round(row.hold_y_mm):+5d}   {row.also}{soft}"
        )
    lines += [
        "",
        "x from the lower edge, y from the axis, minus on the bass side, mm. These are the model's sounds: a "
        "free plate, no room, only its sixteen lowest modes, damped by the spruce and two light fingers.",
    ]
    return "\n".join(lines) + "\n"


def as_data(result: JobSounds) -> dict:
    """Return the same as plain data for JSON."""
    return {**cautions.data_title(result.job), "sounds": records(result.table)}
