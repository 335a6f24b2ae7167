"""Wood samples compared: what is computed, its text and data."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.tables import aligned, plain, records
from platemodel.instrument.bar import Bar
from platemodel.job import Job
from platemodel.progress import Progress, no_message
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

ON_TOP_FINENESS = 0.6  # of the top's mesh: equal heights are compared, so its error cancels


@dataclass(frozen=True, eq=False)
class JobSamples:
    """Samples compared, and what they would do to a job's top.

    Attributes
    ----------
    on_top : DataFrame or None
        From `platemodel.study.wood.samples_on_top.samples_on_top`, in the order of the ranks.
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
    moisture: float | None = None,
    fineness: float = ON_TOP_FINENESS,
    answers: Callable[[TopModel, Bar], Answer] = reduced_answers,
    progress: Progress = no_message,
) -> JobSamples:
    """Compare samples, on a job's top if one is given.

    Parameters
    ----------
    purpose : Purpose, optional
        Default: the lightest bar for equal stiffness, under the bass foot of the job's top or, without a job,
        glued on a usual strip of plate.
    moisture : float, optional
        Moisture content at which to compare, fraction; default the middle of those given.
    fineness : float
        Of the top's mesh.
    answers : callable
        Makes of a top's model and the bar the function that answers for other bars.

    Raises
    ------
    ValueError
        A job without bar, or a bar whose height cannot change.
    """
    if job is None:
        return JobSamples(compare_samples(samples, purpose, moisture))
    bar = job.bar
    if bar is None:
        msg = "the job has no bar to compare the samples with; give one with [bar]"
        raise ValueError(msg)
    first = compare_samples(samples, purpose, moisture)
    progress("laying the mesh")
    model = top_model(job.top, fineness, bar=bar)
    progress("learning the top's bars")
    surface = bar_surface(answers(model, bar), bar, list(first.estimates.values()))
    comparison = first if purpose else compare_samples(samples, lightest_on_top(surface), first.moisture)
    return JobSamples(comparison, samples_on_top(comparison.estimates, surface), job, bar)


def as_text(report: JobSamples) -> str:
    """Tables for the terminal."""
    found = report.comparison
    lines = [cautions.INVENTED_PIECES] if found.invented else []
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
    lines += ["", *aligned(cells, left=(0, 1, 7))]
    remarks = [f"  {r.sample}: {r.remark}" for r in found.table.itertuples() if r.remark]
    lines += ["", "Remarks", *remarks] if remarks else []
    if report.on_top is not None:
        lines += _on_top_lines(report)
    lines += [
        "",
        "In brackets the 90 % band. Level with: cannot be told apart with 95 % certainty.",
        *cautions.SAMPLES,
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
        *aligned(cells, left=(0, 6)),
        "  The bands cover how well the sample's wood is known, not the top's.",
    ]


def _banded(row, column, digits):
    value, low, high = (row[column + end] for end in ("", "_low", "_high"))
    if not np.isfinite(value):
        return "-"
    band = f" ({low:.{digits}f}..{high:.{digits}f})" if np.isfinite(low) else " (?)"
    return f"{value:.{digits}f}{band}"


def as_data(report: JobSamples) -> dict:
    """Plain data for JSON."""
    found = report.comparison
    out = {
        "invented": found.invented,
        "purpose": found.purpose.name,
        "purpose_text": found.purpose.text,
        "moisture_percent": None if found.moisture is None else round(100 * found.moisture, 2),
        "samples": records(found.table),
        "beats": {a: {b: plain(v) for b, v in row.items()} for a, row in found.beats.T.to_dict().items()},
    }
    if report.on_top is not None:
        out["job"] = report.job.name
        out["on_top"] = records(report.on_top)
    return out
