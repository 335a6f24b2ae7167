"""A job's plate modes as text, data and files."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.ahead import begun_ahead
from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.old_bar import beside_old_bar, old_bar_lines
from platemodel.bench.kit.tables import plain, records
from platemodel.bench.kit.taps_apart import taps_finding
from platemodel.bench.kit.tones import lost_tones, sentences, signed, tone
from platemodel.bench.modes.bands import MEANING, band_lines
from platemodel.instrument.layout_checks import Finding
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.top.model import TopModel
from platemodel.study.top.plate_modes import PlateModes, compare_modes, plate_modes
from platemodel.study.top.recognise import KNOWN
from platemodel.study.top.tone_bands import ToneBands, tone_bands
from platemodel.study.top.workbench import Workbench


@dataclass(frozen=True, eq=False)
class JobModes:
    """Plate modes of a job.

    Attributes
    ----------
    taps : Finding or None
        That the taps kept in the job and the model lie apart.
    old_bar : DataFrame or None
        The old bar beside the new one; see `platemodel.study.top.old_bar.beside`.
    bands : tuple of ToneBands
        Of modes 1, 2 and 5, one for each of `rows`.
    """

    job: Job
    model: TopModel
    without: PlateModes
    with_bar: PlateModes | None
    taps: Finding | None = None
    old_bar: pd.DataFrame | None = None
    bands: tuple[ToneBands, ...] = ()

    @property
    def notes(self) -> list[str]:
        """What to know before reading the tones: taps that lie apart, and modes that cannot be told."""
        return [*sentences([] if self.taps is None else [self.taps.message]), *self.lost]

    @property
    def lost(self) -> list[str]:
        """Sentences on modes 1, 2 and 5 that no shape looks like."""
        found = []
        for label, modes in self.rows:
            tones = {n: modes.frequency(n) for n in KNOWN}
            found += lost_tones(tones, "with this bar" if label == "with bar" else label)
        return sentences(found)

    @property
    def rows(self) -> list[tuple[str, PlateModes]]:
        """Label and modes of each state of the plate."""
        out = [("without bar", self.without)]
        if self.with_bar is not None:
            out.append(("with bar", self.with_bar))
        return out


def job_modes(
    job: Job, bar: bool = True, progress: Progress = no_message, bench: Workbench | None = None
) -> JobModes:
    """Compute the plate modes of a job without and with its bar.

    Parameters
    ----------
    bar : bool
        False leaves the bar out.
    """
    bench = bench or job_bench(job, progress=progress)
    if bar:
        with begun_ahead(lambda: beside_old_bar(job, bench, progress)):
            bands = tuple(b for b in bench.bands() if b is not None)
            apart, old = taps_finding(job, bench, progress), beside_old_bar(job, bench, progress)
        return JobModes(job, bench.model, *bench.modes(), apart, old, bands)
    without = plate_modes(bench.model, band=True, progress=progress)
    bands = tone_bands([without], bench.doubt.shape, bench.doubt.top_wood)
    return JobModes(job, bench.model, without, None, taps_finding(job, bench, progress), bands=bands)


def as_table(result: JobModes) -> pd.DataFrame:
    """All modes in one table, with a column ``plate`` (without bar, with bar)."""
    return pd.concat([m.table.assign(plate=label) for label, m in result.rows], ignore_index=True)


def as_text(result: JobModes) -> str:
    """Table for the terminal."""
    job, lines = result.job, [cautions.text_title(result.job), *result.notes]
    for label, modes in result.rows:
        unknown = "" if modes.band_known else "; band of the mesh not known: a coarser one cannot be solved"
        lines += ["", f"{label.capitalize()} ({1e3 * modes.mass:.1f} g){unknown}"]
        lines.append("  mode            Hz mesh ±  moving g  hold at x, y   tap at x, y")
        for row in modes.table.itertuples():
            name = f"{row.number} {row.name}" if row.name else "-"
            band = f"{row.band_hz:7.1f}" if np.isfinite(row.band_hz) else 7 * " "
            lines.append(
                f"  {name:10s} {row.f_hz:8.1f}{band}{row.modal_mass_g:9.1f}"
                f"{_place(row.hold_x_mm, row.hold_y_mm)}{_place(row.tap_x_mm, row.tap_y_mm)}"
                f"   {row.remark}".rstrip()
            )
    for (label, _), bands in zip(result.rows, result.bands, strict=False):
        lines += ["", f"How sure the tones are, {label}", *band_lines(bands)]
    if result.with_bar is not None:
        lines += ["", "What the bar does"] + [f"  {line}" for line in _changes(result)]
    if job.taps:
        lines += ["", "Your taps against the model"] + [f"  {line}" for line in _taps(result)]
    lines += ["", *old_bar_lines(result.old_bar)] if result.old_bar is not None else []
    lines += [
        "",
        "x from the lower edge, y from the axis, minus on the bass side, mm.",
        MEANING,
        "An estimate for the free plate without varnish, not an instruction to cut; the maker decides.",
    ]
    return "\n".join(lines) + "\n"


def _place(x, y):
    return f"{round(x):9d},{round(y):+5d}"


def _changes(result):
    table = compare_modes(result.without, result.with_bar)
    for number in KNOWN:
        before, after = result.without.frequency(number), result.with_bar.frequency(number)
        if np.isfinite(after - before):
            step = round(after, 1) - round(before, 1)  # of what is printed, so that it adds up
            yield f"mode {number}: {before:.1f} -> {after:.1f} Hz ({signed(step, 1)})"
        else:
            yield f"mode {number}: {tone(before, '.1f')} -> {tone(after, '.1f')}"
    lost = table[(table["likeness"] < 0.5) & (table["name"] != "")]
    for row in lost.itertuples():
        yield f"with the bar the {row.name} shape spreads over several modes (likeness {row.likeness:.2f})"


def _taps(result):
    for label, modes in result.rows:
        for number, reading in result.job.heard(label == "with bar").items():
            computed = modes.frequency(number)
            if np.isfinite(computed):
                share = reading.frequency / computed - 1  # the same way round as in `taps_finding`
                yield f"mode {number} {label}: heard {reading.frequency:.1f} Hz, {_apart(share, computed)}"


def _apart(share, computed):
    text = f"{100 * abs(share):.1f} %"
    if text == "0.0 %":
        return "as computed"
    return f"{text} {'above' if share > 0 else 'below'} the {computed:.1f} Hz computed"


def as_data(result: JobModes) -> dict:
    """Plain data for JSON; lengths in mm, masses in g."""
    out = {**cautions.data_title(result.job), "notes": result.notes}
    for label, modes in result.rows:
        out[label.replace(" ", "_")] = {"mass_g": plain(1e3 * modes.mass), "modes": records(modes.table)}
    if result.old_bar is not None:
        out["old_bar"] = records(result.old_bar)
    for (label, _), bands in zip(result.rows, result.bands, strict=False):
        part = out[label.replace(" ", "_")]
        part["bands"] = [{**row, "measure_again": bands.where[row["number"]]} for row in records(bands.table)]
    return out
