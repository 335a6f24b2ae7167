"""Predicted taps of a job's closed body with bars of four heights: what would be heard."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.closed_body import closed_body, job_body_model
from platemodel.bench.kit.report import Report
from platemodel.bench.kit.tables import records
from platemodel.bench.kit.tones import signed
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.presets import preset_bar
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.body.sound import body_sound
from platemodel.study.body.tap_sound import BodyTap, body_tap, body_tap_sounds
from platemodel.study.top.model import top_model
from platemodel.taps import Recording, write_recording

BARS = {"no_bar": 0.0, "lower_bar": 0.8, "bar": 1.0, "higher_bar": 1.2}  # heights over the job's own


@dataclass(frozen=True, eq=False)
class JobBodySounds:
    """Taps on the bridge of a job's closed body.

    Attributes
    ----------
    heights : dict of str to float
        Of the bar, m, by the names of ``BARS``; 0 is none.
    """

    job: Job
    heights: dict[str, float]
    taps: dict[str, BodyTap]

    @cached_property
    def sounds(self) -> dict[str, Recording]:
        """To be played, by the same names; the louder one is louder."""
        return dict(zip(self.taps, body_tap_sounds(list(self.taps.values())), strict=True))

    @cached_property
    def table(self) -> pd.DataFrame:
        """A row a bar: ``bar``, ``height_mm``, ``loudness_db`` against the bar as it is, ``loudest_hz``."""
        own = self.taps["bar"].loudness
        return pd.DataFrame([
            {
                "bar": name.replace("_", " "), "height_mm": 1e3 * self.heights[name],
                "loudness_db": 10.0 * float(np.log10(tap.loudness / own)),
                "loudest_hz": ", ".join(f"{f:.0f}" for f in tap.table.nlargest(4, "level_db")["f_hz"]),
            }
            for name, tap in self.taps.items()
        ])  # fmt: skip


def job_body_sounds(job: Job, progress: Progress = no_message) -> JobBodySounds:
    """Tap a job's closed body with bars of four heights."""
    bar = job.bar or preset_bar(job.top)
    progress("laying the mesh")
    model = top_model(job.top, bar=bar)
    progress("building the body")
    body = closed_body(job, job_body_model(job, model), bar, progress).reduced
    heights = {name: share * float(bar.heights.max()) for name, share in BARS.items()}
    taps = {
        name: body_tap(body_sound(body, bar_of_height(bar, height) if height else None))
        for name, height in heights.items()
    }
    return JobBodySounds(job, heights, taps)


def as_text(result: JobBodySounds) -> str:
    """Return what is heard, for the terminal."""
    lines = [
        cautions.text_title(result.job),
        "",
        "  bar          height mm   loudness dB   loudest tones, Hz",
    ]
    for row in result.table.itertuples():
        lines.append(
            f"  {row.bar:12s} {row.height_mm:7.1f}   {signed(row.loudness_db, 1):>9s}       {row.loudest_hz}"
        )
    said = (
        "A tap on the bridge over its bass foot, heard a metre away in the open from the air that top, back "
        "and holes pump. Above some 500 Hz on a violin only pitches and losses mean something. Strings are "
        "damped, and there is no room. Listen to the difference from bar to bar, not to the sound itself."
    )
    return "\n".join([*lines, "", said]) + "\n"


def as_data(result: JobBodySounds) -> dict:
    """Return the same as plain data for JSON."""
    return {"name": result.job.name, "invented": result.job.invented, "sounds": records(result.table)}


def _writer(name):
    def write(result: JobBodySounds, path: Path) -> None:
        write_recording(path, result.sounds[name])

    return write


REPORT = Report(as_text, as_data, {f"tap_body_{name}.wav": _writer(name) for name in BARS})
