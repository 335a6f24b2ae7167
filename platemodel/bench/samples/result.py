"""Wood samples as text, data and files: one piece, or a table of many."""

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from platemodel.bench.kit.page import A4_MM, save_figure
from platemodel.bench.kit.plots import INK
from platemodel.bench.samples.plots import draw_samples
from platemodel.files import free_targets, written_together
from platemodel.instrument.bar import Bar
from platemodel.job import Job
from platemodel.study.top.model import TopModel, top_model
from platemodel.study.wood.samples import Purpose, SampleComparison, compare_samples
from platemodel.study.wood.samples_on_top import (
    Answer,
    bar_surface,
    lightest_on_top,
    reduced_answers,
    samples_on_top,
)
from platemodel.wood.sample import Sample

CAUTION = (
    "Estimates from the readings given, with 90 % bands; not an instruction to cut: the maker decides.",
    "An original or early bar or a valuable instrument goes to a qualified restorer first.",
)
ON_TOP_FINENESS = 0.6  # of the top's mesh: equal heights are compared, so its error cancels


@dataclass(frozen=True, eq=False)
class SampleReport:
    """Samples compared, and what they would do to a job's top.

    Attributes
    ----------
    comparison : SampleComparison
    on_top : DataFrame or None
        From `platemodel.study.wood.samples_on_top.samples_on_top`, in the order of the ranks.
    job : Job or None
    bar : Bar or None
        The bar they are set against.
    """

    comparison: SampleComparison
    on_top: pd.DataFrame | None = None
    job: Job | None = None
    bar: Bar | None = None


def job_samples(
    samples: tuple[Sample, ...],
    purpose: Purpose | None = None,
    job: Job | None = None,
    bar: Bar | None = None,
    moisture: float | None = None,
    fineness: float = ON_TOP_FINENESS,
    answers: Callable[[TopModel, Bar], Answer] = reduced_answers,
    progress: Callable[[str], None] | None = None,
) -> SampleReport:
    """Compare samples, on a job's top if one is given.

    Parameters
    ----------
    samples : tuple of Sample
    purpose : Purpose, optional
        Default: the lightest bar for equal stiffness, under the bass foot of the job's top or, without a job,
        glued on a usual strip of plate.
    job : Job, optional
    bar : Bar, optional
        Bar that the samples are set against; default the job's.
    moisture : float, optional
        Moisture content at which to compare, fraction; default the middle of those given.
    fineness : float
        Of the top's mesh.
    answers : callable
        Makes of a top's model and the bar the function that answers for other bars.
    progress : callable, optional
        Told in words what is being done.

    Raises
    ------
    ValueError
        A job without bar and no bar given, or a bar whose height cannot change.
    """
    tell = progress or (lambda _: None)
    if job is None:
        return SampleReport(compare_samples(samples, purpose, moisture))
    bar = bar or job.bar
    if bar is None:
        msg = "the job has no bar to set the samples against; give one, or a job with [bar]"
        raise ValueError(msg)
    first = compare_samples(samples, purpose, moisture)
    tell("laying the mesh")
    model = top_model(job.top, fineness, bar=bar)
    tell("learning the top's bars")
    surface = bar_surface(answers(model, bar), bar, list(first.estimates.values()))
    comparison = first if purpose else compare_samples(samples, lightest_on_top(surface), first.moisture)
    return SampleReport(comparison, samples_on_top(comparison.estimates, surface), job, bar)


def as_text(report: SampleReport) -> str:
    """Tables for the terminal."""
    found = report.comparison
    lines = ["INVENTED DATA, no real pieces."] if found.invented else []
    lines.append(f"Ranked: {found.purpose.name} ({found.purpose.text}).")
    if found.moisture is not None:
        lines.append(f"All at {100 * found.moisture:.1f} % moisture.")
    column = found.purpose.column
    cells = [["", "", column, "kg/m3", "E_L GPa", "c m/s", "c/density", "level with"]]
    for row in found.table.to_dict("records"):
        figures = ((column, 2), ("density_kg_m3", 0), ("E_L_gpa", 1), ("c_L_m_s", 0))
        banded = [_banded(row, name, digits) for name, digits in figures]
        cells.append(
            [str(row["rank"]), row["sample"], *banded, f"{row['radiation_ratio']:.1f}", row["level_with"]]
        )
    lines += ["", *_aligned(cells)]
    remarks = [f"  {r.sample}: {r.remark}" for r in found.table.itertuples() if r.remark]
    lines += ["", "Remarks", *remarks] if remarks else []
    if report.on_top is not None:
        lines += _on_top_lines(report)
    lines += [
        "",
        "In brackets the 90 % band. Level with: not told apart with a chance of 95 %.",
        *CAUTION,
    ]
    return "\n".join(lines) + "\n"


def _on_top_lines(report):
    usual = 1e3 * report.bar.heights.max()
    name = report.job.name
    figures = {"height mm": ("height_mm", 1), "bar g": ("bar_g", 2)}
    figures |= {f"mode {n} Hz": (f"f{n}_hz", 1) for n in (1, 2, 5)}
    cells = [["", *figures, ""]]
    for row in report.on_top.to_dict("records"):
        cells.append([row["sample"], *(_banded(row, *f) for f in figures.values()), row["remark"]])
    return [
        "",
        f"On {name}, as stiff under the bass foot as a bar of {usual:.1f} mm of its own wood",
        *_aligned(cells),
        "  The bands hold the doubt of the sample's wood, not of the top.",
    ]


def _aligned(cells):
    """Columns of equal width, the first text and the last to the left."""
    widths = [max(len(row[k]) for row in cells) for k in range(len(cells[0]))]
    last = len(widths) - 1
    for row in cells:
        left = [k == last or (k < 2 and not cells[0][k]) for k in range(len(row))]
        padded = [c.ljust(w) if a else c.rjust(w) for c, w, a in zip(row, widths, left, strict=True)]
        yield ("  " + "  ".join(padded)).rstrip()


def _banded(row, column, digits):
    value, low, high = (row[column + end] for end in ("", "_low", "_high"))
    if not np.isfinite(value):
        return "-"
    band = f" ({low:.{digits}f}..{high:.{digits}f})" if np.isfinite(low) else " (?)"
    return f"{value:.{digits}f}{band}"


def as_data(report: SampleReport) -> dict:
    """Plain data for JSON."""
    found = report.comparison
    out = {
        "invented": found.invented,
        "purpose": found.purpose.name,
        "purpose_text": found.purpose.text,
        "moisture_percent": None if found.moisture is None else round(100 * found.moisture, 2),
        "samples": _records(found.table),
        "beats": {a: {b: _plain(v) for b, v in row.items()} for a, row in found.beats.T.to_dict().items()},
    }
    if report.on_top is not None:
        out["job"] = report.job.name
        out["on_top"] = _records(report.on_top)
    return out


def _records(table):
    return [{k: _plain(v) for k, v in row.items()} for row in table.to_dict("records")]


def _plain(value):
    if isinstance(value, float):
        return float(f"{value:.6g}") if np.isfinite(value) else None
    return value


def target_files(folder: str | os.PathLike, on_top: bool, force: bool = False) -> list[Path]:
    """Name the files that `write_files` writes.

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set.
    """
    names = ["samples.csv", "samples.pdf"] + ["samples_on_top.csv"] * on_top
    return free_targets(folder, names, force)


def write_files(report: SampleReport, folder: str | os.PathLike, force: bool = False) -> list[Path]:
    """Write the tables and the picture; nothing is written unless all can be.

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set.
    OSError
        The folder cannot be written to.
    """
    targets = target_files(folder, report.on_top is not None, force)
    with written_together(targets) as drafts:
        report.comparison.table.round(4).to_csv(drafts[0], index=False, lineterminator="\n")
        save_figure(sample_page(report), drafts[1])
        if report.on_top is not None:
            report.on_top.round(4).to_csv(drafts[2], index=False, lineterminator="\n")
    return targets


def sample_page(report: SampleReport) -> Figure:
    """Lay out the picture: A4, sideways."""
    figure = Figure(figsize=tuple(mm / 25.4 for mm in A4_MM))
    ax = figure.add_axes((0.08, 0.2, 0.88, 0.7))
    top = None if report.job is None else report.job.top.wood
    draw_samples(report.comparison, ax, top, "this top")
    figure.text(0.08, 0.945, "Samples of wood", fontsize=14, weight="bold", color=INK)
    for line, y in zip(
        (f"Ranked by {report.comparison.purpose.text}.", *CAUTION), (0.075, 0.05, 0.028), strict=True
    ):
        figure.text(0.04, y, line, fontsize=7, color=INK)
    return figure
