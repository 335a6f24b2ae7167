"""How a job's top should flex, beside what was read: as text and data."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.tables import aligned, plain, records
from platemodel.errors import PlatemodelError
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.flex_test import KINDS, RIM_KIND, FlexReading, on_its_rim, usual_flex_test
from platemodel.instrument.strings import KGF
from platemodel.job import Job
from platemodel.job.states import state_name
from platemodel.progress import Progress, no_message
from platemodel.study.top.flex import Flex, flexes
from platemodel.study.top.workbench import Workbench
from platemodel.study.trimming.flex_stops import light_weight

STEP = 0.08  # of the bar's height: 1 mm of a violin's, 2 of a cello's
AGREES = 2.0  # standard deviations within which a reading and the model agree


@dataclass(frozen=True, eq=False)
class JobFlex:
    """Flex tests of a job's top.

    Attributes
    ----------
    without : list of Flex
        The usual tests on the bare plate: one a kind on pegs, last the foot with the rim resting all round.
    by_height : DataFrame
        ``height_mm`` and the sag of each kind on pegs, mm per 100 g, for bars a little lower and higher;
        empty without a bar or where its height cannot change alone.
    readings : list of (FlexReading, Flex)
        What was read, and the same test by the model; in the order of flexes.csv.
    with_old_bar : list of Flex or None
        The usual tests with the bar that was on before.
    """

    job: Job
    without: list[Flex]
    with_bar: list[Flex] | None
    by_height: pd.DataFrame
    readings: list[tuple[FlexReading, Flex]]
    with_old_bar: list[Flex] | None = None

    @property
    def rows(self) -> list[tuple[str, list[Flex]]]:
        """Label and tests of each state of the plate."""
        out = [("without bar", self.without)]
        if self.with_bar is not None:
            out.append(("with bar", self.with_bar))
        if self.with_old_bar is not None:
            out.append(("with the old bar", self.with_old_bar))
        return out


def job_flex(
    job: Job, bar: bool = True, progress: Progress = no_message, bench: Workbench | None = None
) -> JobFlex:
    """Compute the flex tests of a job's top, bare and with its bar.

    Parameters
    ----------
    bar : bool
        False leaves the bar out; readings taken with a bar are then left out as well.
    """
    bench = bench or Workbench(job.top, job.bar, progress=progress)
    model = bench.model
    pegs = [usual_flex_test(job.top, kind) for kind in KINDS]
    usual = [*pegs, on_its_rim(usual_flex_test(job.top, RIM_KIND))]
    on_it = {state.name: job.bar_in(state) for state in job.states}
    read = [(r, on_it[r.state or state_name(r.bar_on)]) for r in job.flexes]
    done = {}

    def flexed(tests, words, one):
        """Flex with one bar, what was read with it on the way."""
        progress(f"flexing the top {words}")
        mine = [k for k, (r, there) in enumerate(read) if there is one and r.bar_on == (one is not None)]
        found = flexes(model, [*tests, *(read[k][0].test for k in mine)], one)
        done.update({k: (read[k][0], flex) for k, flex in zip(mine, found[len(tests) :], strict=True)})
        return found[: len(tests)]

    without, with_bar, with_old, heights = flexed(usual, "without bar", None), None, None, pd.DataFrame()
    if bar and job.bar is not None:
        with_bar = flexed(usual, "with its bar", job.bar)
        progress("flexing it with a lower and a higher bar")
        heights = _by_height(model, job.bar, pegs, with_bar[: len(pegs)])
    if bar and job.old_bar is not None:
        with_old = flexed(usual, "with the old bar", job.old_bar)
    for state in job.states if bar else ():
        if state.height is not None and job.felt_in(state):
            flexed([], f"as in {state.words}", on_it[state.name])
    return JobFlex(job, without, with_bar, heights, [done[k] for k in sorted(done)], with_old)


def _by_height(model, bar, tests, as_it_is):
    top = float(bar.heights.max())
    rows = []
    for share in (1.0 - STEP, 1.0, 1.0 + STEP):
        try:
            found = as_it_is if share == 1.0 else flexes(model, tests, bar_of_height(bar, share * top))
        except (ValueError, PlatemodelError):
            continue  # a bar that is highest at an end has no height to change
        rows.append({"height_mm": 1e3 * share * top} | {f.test.kind: sag_mm(f, 100) for f in found})
    return pd.DataFrame(rows) if len(rows) > 1 else pd.DataFrame()


def sag_mm(flex: Flex, weight_g: float) -> float:
    """Sag under a weight in grams, mm."""
    return 1e3 * flex.flexibility * 1e-3 * weight_g * KGF


def as_table(result: JobFlex) -> pd.DataFrame:
    """Return the expected flexes: a row a kind and state of the plate."""
    rows = [
        {
            "plate": label,
            "kind": f.test.kind,
            "support": f.test.support,
            "sag_mm_per_100_g": sag_mm(f, 100),
            "stiffness_n_per_mm": 1e-3 * f.stiffness,
            "most_weight_g": 1e3 * f.most_force / KGF,
            "weight_g": light_weight(f),
            "sag_mm": sag_mm(f, light_weight(f)),
            "weight_x_mm": 1e3 * f.test.load[0],
            "weight_y_mm": 1e3 * f.test.load[1],
            **{
                f"peg{k}_{axis}_mm": 1e3 * value
                for k, peg in enumerate(f.test.pegs, 1)
                for axis, value in zip("xy", peg, strict=True)
            },
        }
        for label, found in result.rows
        for f in found
    ]
    return pd.DataFrame(rows)


def readings_table(result: JobFlex) -> pd.DataFrame:
    """Set the readings beside the model: a row a reading."""
    rows, names = [], {state.name: state.words for state in result.job.states}
    for reading, flex in result.readings:
        expected = reading.force * flex.flexibility
        away = (reading.sag - expected) / reading.sd
        rows.append(
            {
                "plate": names[reading.state or state_name(reading.bar_on)],
                "kind": reading.test.name,
                "weight_g": 1e3 * reading.force / KGF,
                "read_mm": 1e3 * reading.sag,
                "sd_mm": 1e3 * reading.sd,
                "model_mm": 1e3 * expected,
                "softer_percent": 100 * (reading.sag / expected - 1),
                "agrees": abs(away) < AGREES,
            }
        )
    return pd.DataFrame(rows)


def as_text(result: JobFlex) -> str:
    """Tables for the terminal."""
    lines = [cautions.text_title(result.job)]
    for label, found in result.rows:
        lines += ["", label.capitalize()]
        head = ("flex", "sag, mm per 100 g", "N/mm", "at most, g", "try, g", "and read, mm")
        cells = [
            (f.test.name, f"{sag_mm(f, 100):.3f}", f"{1e-3 * f.stiffness:.2f}",
             f"{1e3 * f.most_force / KGF:.0f}", *_trial(f))
            for f in found
        ]  # fmt: skip
        lines += aligned([head, *cells])
    if len(result.by_height):
        lines += ["", "What the bar's height does (sag, mm per 100 g)"]
        table = result.by_height
        cells = [
            (f"{r.height_mm:.1f} mm", *(f"{getattr(r, k):.3f}" for k in KINDS)) for r in table.itertuples()
        ]
        lines += aligned([("bar", *KINDS), *cells])
        lines += [f"  {line}" for line in height_lines(result)]
    if result.readings:
        lines += ["", "What was read"] + [f"  {line}" for line in reading_lines(result)]
    else:
        lines += ["", "No readings yet: write them into flexes.csv (docs/flex.md), and `wood` uses them."]
    return "\n".join([*lines, "", *cautions.FLEX]) + "\n"


def _trial(flex):
    weight = light_weight(flex)
    return ("-", "-") if np.isnan(weight) else (f"{weight:.0f}", f"{sag_mm(flex, weight):.2f}")


def height_lines(result: JobFlex) -> list[str]:
    """Sentences on what a millimetre of bar does to each flex."""
    table = result.by_height
    if not len(table):
        return []
    first, last = table.iloc[0], table.iloc[-1]
    rise = last["height_mm"] - first["height_mm"]
    change = {k: 100 * np.log(first[k] / last[k]) / rise for k in KINDS}
    each = ", ".join(f"{k} {change[k]:.1f} %" for k in KINDS)
    return [f"Each millimetre off the bar lets the plate sag more: {each}."]


def reading_lines(result: JobFlex) -> list[str]:
    """Say of each reading how it stands beside the model."""
    out = []
    for row in readings_table(result).itertuples():
        if row.agrees:
            words = "as computed, within the doubt of the reading"
        else:
            side = "softer" if row.softer_percent > 0 else "stiffer"
            words = f"{abs(row.softer_percent):.0f} % {side} than computed"
        out.append(
            f"{row.kind}, {row.plate}, {row.weight_g:.0f} g: read {row.read_mm:.2f} ± {row.sd_mm:.2f} mm, "
            f"computed {row.model_mm:.2f} mm: {words}"
        )
    return out


def as_data(result: JobFlex) -> dict:
    """Plain data for JSON; mm, g, N."""
    return {
        **cautions.data_title(result.job),
        "expected": records(as_table(result)),
        "by_height": records(result.by_height),
        "readings": [{k: plain(v) for k, v in row.items()} for row in records(readings_table(result))],
    }
