"""A practice top's decisive day: what the model expects at each height of the bar, and what was read."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.needs import job_bench, needed_bar
from platemodel.bench.kit.tables import aligned, records
from platemodel.bench.kit.tones import cell
from platemodel.errors import JobError, Problem
from platemodel.instrument.bar_cuts import with_bridge_height
from platemodel.instrument.bar_range import BarRange
from platemodel.job import Job
from platemodel.job.day import DAY_FILE, FLEXED, MODES, DayRow
from platemodel.progress import Progress, no_message
from platemodel.study.top.figures import TopFigures
from platemodel.study.top.workbench import Workbench
from platemodel.study.trimming.bar_day import BELIEF, as_readings, gluing_on, judge_day
from platemodel.wood.moisture import equilibrium_moisture

HEIGHTS = tuple(range(16, 9, -1))  # mm, on a violin
FINENESS, TOLERANCE = 0.5, 1e-2  # only the change from height to height is asked
NAMES = (*(f"f{n}_hz" for n in MODES), *(f"flex_{kind}_mm" for kind in FLEXED))
SHORT = {f"f{n}_hz": f"mode {n}" for n in MODES} | {f"flex_{k}_mm": f"flex {k}" for k in FLEXED}


@dataclass(frozen=True, eq=False)
class JobDay:
    """A decisive day.

    Attributes
    ----------
    rows : tuple of DayRow
        As read; empty before the day.
    model : DataFrame
        ``height_mm`` (0 without bar) and modes and sags under 100 g by the model.
    judged : DataFrame
        See `platemodel.study.trimming.bar_day.judge_day`; empty before the day.
    gluing : tuple or None
        Percent that mode 1 rose when the bar went on, its band, and the model's.
    """

    job: Job
    rows: tuple[DayRow, ...]
    model: pd.DataFrame
    judged: pd.DataFrame
    gluing: tuple[float, float, float] | None


def day_heights(job: Job) -> tuple[float, ...]:
    """Heights of the day, mm: 16 to 10 on a violin, in proportion on others, whole millimetres."""
    scale = job.top.outline.body_length / 0.355
    top, low = round(HEIGHTS[0] * scale), round(HEIGHTS[-1] * scale)
    step = max(1, round(scale))
    return tuple(float(h) for h in range(top, low - 1, -step))


def job_day(
    job: Job, rows: Sequence[DayRow] = (), progress: Progress = no_message, bench: Workbench | None = None
) -> JobDay:
    """Compute what a job's bar does at each height, and judge a day's readings.

    Parameters
    ----------
    job : Job
        With a bar: its line, wood, ends and profile.
    rows : sequence of DayRow
        Of `platemodel.job.day.read_day`; empty before the day.
    bench : Workbench, optional
        Of the job, where others have computed on it already; its mesh then counts.

    Raises
    ------
    JobError
        No bar, or a height that its ends do not allow.
    """
    bar = needed_bar(job, "the decisive day")
    x_bridge = job.top.bridge.x
    read = {round(1e3 * r.height, 3) for r in rows if r.height > 0}
    heights = np.array(sorted({*day_heights(job), *read}))
    bars = []
    for h in heights:
        try:
            bars.append(with_bridge_height(bar, 1e-3 * h, x_bridge))
        except ValueError as error:
            raise JobError([Problem(DAY_FILE, "height_mm", f"{h:g}", str(error))]) from error
    tops = [float(b.heights.max()) for b in bars]
    ends = [float(f(b.heights[0] for b in bars)) for f in (min, max)]
    span = BarRange(
        (0.98 * min(tops), 1.02 * max(tops)), (0.9 * ends[0], 1.1 * ends[1]), (1.0, 4.0), (1, 1), (1, 1)
    )
    bench = bench or job_bench(job, FINENESS, progress)
    figures = TopFigures(bench.reduced(span, TOLERANCE), flexes=bench.bar_flexes(span))
    progress("going through the heights")
    found = [figures.of(one) for one in (None, *bars)]
    model = pd.DataFrame([{name: f[name] for name in NAMES} for f in found])
    model.insert(0, "height_mm", [0.0, *heights])
    judged = judge_day(_readings(rows), model.iloc[1:])
    return JobDay(job, tuple(rows), model, judged, _gluing(rows, model))


def _readings(rows):
    barred = [r for r in rows if r.height > 0]
    out = {}
    for n in MODES:
        mine = [r for r in barred if n in r.taps]
        if mine:
            out[f"f{n}_hz"] = as_readings(_mm(mine), [r.taps[n] for r in mine], _moisture(mine))
    for kind in FLEXED:
        mine = [r for r in barred if kind in r.sags]
        if mine:
            grams, sags = np.array([r.sags[kind] for r in mine]).T
            out[f"flex_{kind}_mm"] = as_readings(_mm(mine), 100.0 * sags / grams, _moisture(mine), sags)
    return out


def _mm(rows):
    return [1e3 * r.height for r in rows]


def _moisture(rows):
    return [
        np.nan if r.relative_humidity is None else equilibrium_moisture(r.relative_humidity, r.temperature)
        for r in rows
    ]


def _gluing(rows, model):
    bare = next((r for r in rows if r.height == 0 and 1 in r.taps), None)
    barred = [r for r in rows if r.height > 0 and 1 in r.taps]
    if bare is None or not barred:
        return None
    first = max(barred, key=lambda r: r.height)
    rise, band = gluing_on({"f1_hz": bare.taps[1]}, {"f1_hz": first.taps[1]})
    at = model.set_index("height_mm")["f1_hz"]
    return rise, band, 100.0 * (float(at[round(1e3 * first.height, 3)]) / float(at[0.0]) - 1.0)


def verdict_lines(result: JobDay) -> list[str]:
    """Say in sentences what the readings decide."""
    out = []
    if result.gluing is not None:
        rise, band, model = result.gluing
        out.append(
            f"When the bar went on, mode 1 rose by {rise:.1f} ± {band:.1f} %; the model says {model:.1f} %."
        )
    low, high = BELIEF
    words = {
        "model": "the model is borne out",
        "belief": "the bench's belief is borne out, not the model",
        "neither": "neither the model nor the belief is borne out: look for slips, then report it",
        "open": "these readings cannot decide",
    }
    for row in result.judged.itertuples():
        believed = f" (many benches say {low:g} to {high:g} Hz on a violin)" if row.figure == "f5_hz" else ""
        out.append(
            f"{SHORT[row.figure]}: {row.read_per_mm:+.2f} ± {row.band_per_mm:.2f} % a millimetre, the model "
            f"{row.model_per_mm:+.2f} %{believed}: {words[row.verdict]}."
        )
        if row.scatter > 2.0:
            out.append(
                f"  The readings of {SHORT[row.figure]} scatter {row.scatter:.1f} times as much as expected."
            )
    judged = set(result.judged["figure"])
    out += [
        f"{SHORT[name]}: too few readings where the model knows it; nothing to decide."
        for name in _readings(result.rows)
        if name not in judged
    ]
    return out


def as_text(result: JobDay) -> str:
    """Tables for the terminal."""
    lines = [cautions.text_title(result.job), "", "Expected by the model (Hz; sag in mm under 100 g)"]
    cells = [("bar, mm", *(SHORT[n] for n in NAMES))]
    for row in result.model.to_dict("records"):
        height = f"{row['height_mm']:.1f}" if row["height_mm"] else "none"
        found = (cell(row[n], ".4f" if n.startswith("flex_") else ".1f") for n in NAMES)
        cells.append((height, *found))
    lines += aligned(cells)
    if result.rows:
        lines += ["", "What the day decides"]
        lines += [f"  {line}" for line in verdict_lines(result)]
    else:
        lines += ["", "No readings yet: print the sheet (--out), fill in day.csv, and run this again."]
    return "\n".join([*lines, "", *cautions.DAY]) + "\n"


def as_table(result: JobDay) -> pd.DataFrame:
    """Return what the model expects, a row a height."""
    return result.model


def as_data(result: JobDay) -> dict:
    """Plain data for JSON; mm, Hz, mm under 100 g."""
    return {
        **cautions.data_title(result.job),
        "expected": records(result.model),
        "judged": records(result.judged),
        "gluing_percent": None if result.gluing is None else list(result.gluing),
        "verdicts": verdict_lines(result),
    }
