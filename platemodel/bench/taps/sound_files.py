"""Predicted taps of a job as WAV files."""

import os
from collections.abc import Callable
from pathlib import Path

import pandas as pd

from platemodel.files import free_targets, written_together
from platemodel.job import Job
from platemodel.study.top.model import top_model
from platemodel.study.top.plate_modes import PlateModes, plate_modes
from platemodel.study.top.recognise import KNOWN
from platemodel.study.top.tap_sound import place_of, tap_sound, tap_table
from platemodel.taps import write_recording

COUNT = 16  # modes in a sound; what lies above is missing in it
_STATES = (("without bar", "without_bar"), ("with bar", "with_bar"))


def sound_modes(
    job: Job, bar: bool = True, progress: Callable[[str], None] | None = None
) -> dict[str, PlateModes]:
    """Modes of a job's top for making sounds, by state (``without bar``, ``with bar``)."""
    tell = progress or (lambda _: None)
    tell("laying the mesh")
    model = top_model(job.top, bar=job.bar)
    out = {"without bar": plate_modes(model, None, count=COUNT, progress=progress)}
    if bar and job.bar is not None:
        out["with bar"] = plate_modes(model, job.bar, count=COUNT, progress=progress)
    return out


def sound_names(bar: bool = True) -> dict[tuple[str, int], str]:
    """File name of each state and mode."""
    states = _STATES if bar else _STATES[:1]
    return {(state, number): f"tap_mode_{number}_{word}.wav" for state, word in states for number in KNOWN}


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
            table = tap_table(modes, tap, hold)
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


def target_files(folder: str | os.PathLike, bar: bool, force: bool = False) -> list[Path]:
    """Name the files that may be written.

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set.
    """
    return free_targets(folder, sound_names(bar).values(), force)


def write_sounds(plates: dict[str, PlateModes], folder: str | os.PathLike, force: bool = False) -> list[Path]:
    """Write one WAV for each state and each of modes 1, 2 and 5 that was told by its shape; all or none.

    Parameters
    ----------
    plates : dict of str to PlateModes
        As from `sound_modes`.
    folder : path
        Made if missing.
    force : bool
        Replace files that are there.

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set.
    OSError
        The folder cannot be written to.
    """
    names = sound_names("with bar" in plates)
    target_files(folder, "with bar" in plates, force)
    wanted = {
        names[state, int(number)]: (modes, int(number))
        for state, modes in plates.items()
        for number in modes.table["number"].dropna()
    }
    targets = [Path(folder) / name for name in wanted]
    with written_together(targets) as drafts:
        for draft, (modes, number) in zip(drafts, wanted.values(), strict=True):
            write_recording(draft, tap_sound(modes, number, taps=2, rate=22050.0))
    return targets


def as_text(job: Job, table: pd.DataFrame) -> str:
    """Return what is heard, for the terminal."""
    lines = [job.name + (". INVENTED DATA, no real instrument." if job.invented else "")]
    lines += ["", "  plate        mode        Hz    loss   tap at x, y   hold at x, y   also heard, Hz"]
    for row in table.itertuples():
        soft = f" ({row.below_loudest_db:.0f} dB below the loudest)" if row.below_loudest_db > 6 else ""
        lines.append(
            f"  {row.plate:12s} {row.number}     {row.f_hz:9.1f} {row.loss:7.3f}"
            f"{round(row.tap_x_mm):8d},{round(row.tap_y_mm):+5d}{round(row.hold_x_mm):9d},"
            f"{round(row.hold_y_mm):+5d}   {row.also}{soft}"
        )
    lines += [
        "",
        "x from the lower edge, y from the axis, minus on the bass side, mm. Sounds of the model: a free",
        "plate, no room, nothing above its sixteen lowest modes, damping of spruce and of two light fingers.",
    ]
    return "\n".join(lines) + "\n"


def as_data(job: Job, table: pd.DataFrame) -> dict:
    """Return the same as plain data for JSON."""
    return {"name": job.name, "invented": job.invented, "sounds": table.round(4).to_dict("records")}
