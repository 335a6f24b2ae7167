"""What a stroke of plane or scraper does to a job's tones and to the foot, place by place: text and data."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
import shapely

from platemodel.bench.kit import cautions
from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.tables import aligned, records
from platemodel.bench.kit.tones import no_tone, sentence, signed
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.top.recognise import KNOWN
from platemodel.study.top.sampling import PlanGrid
from platemodel.study.top.sensitivity import SHAVING, Sensitivity, sensitivity
from platemodel.study.top.workbench import Workbench

SINK = "sink_held_m_per_n"  # of the two rims the one that a glued top is nearer to under a push straight down
PLACES = 9  # along the bar that are listed
# What is shown is for 0.1 mm off 10 cm2 of the top or 10 cm of the bar, as much as a stroke takes; it is
# computed for a tenth of that round each place and scaled: small strokes add up.
SCALE = 10.0
NOTHING = 0.02  # of the greatest change on the top: less is not named
FEW = 15e-3  # of the body length: strokes nearer to the edge than this run out over it and are not named


@dataclass(frozen=True, eq=False)
class JobStrokes:
    """Effect of small strokes on modes 1, 2 and 5 and on the sinking under the bass foot.

    Attributes
    ----------
    of : Sensitivity
        With the bar, where there is one.
    """

    job: Job
    of: Sensitivity

    @property
    def names(self) -> list[str]:
        """Columns that are shown: the tones that were recognised, and the sinking with the rim held."""
        return [name for name in self.of.names if name.startswith("f") or name == SINK]

    def in_unit(self, name: str, change: np.ndarray) -> np.ndarray:
        """Change of a value as it is shown: Hz of a tone, per cent of the sinking."""
        if name.startswith("f"):
            return change
        return 100.0 * change / self.of.values[self.of.names.index(name)]

    @cached_property
    def map(self) -> tuple[PlanGrid, pd.DataFrame]:
        """Effect of 0.1 mm off 10 cm2 inside, over the plan: see `Sensitivity.map`, in the units shown."""
        grid, table = self.of.map()
        shown = {name: SCALE * self.in_unit(name, table[name].to_numpy()) for name in self.names}
        return grid, pd.DataFrame({"x_mm": table["x_mm"], "y_mm": table["y_mm"], **shown})

    @cached_property
    def along(self) -> pd.DataFrame:
        """Effect of 0.1 mm off 10 cm of the bar, at each of its stations; empty without a bar."""
        table = self.of.bar_table()
        shown = {name: SCALE * self.in_unit(name, table[name].to_numpy()) for name in self.names}
        return pd.DataFrame({"x_mm": table["x_mm"], "height_mm": table["height_mm"], **shown})

    def all_along(self) -> dict[str, float] | None:
        """Effect of 0.1 mm off the bar all along, in the units shown; None without a bar."""
        if self.of.bar is None:
            return None
        change = self.of.planed(lambda x: np.full(len(x), SHAVING))
        return {name: float(self.in_unit(name, change[name])) for name in self.names}


def job_strokes(
    job: Job, bar: bool = True, progress: Progress = no_message, bench: Workbench | None = None
) -> JobStrokes:
    """Find what a small stroke does to a job's top, anywhere on it and along its bar.

    Parameters
    ----------
    bar : bool
        False leaves the bar out.
    """
    bench = bench or job_bench(job, progress=progress)
    model = bench.model
    progress("following a stroke over the top")
    return JobStrokes(job, sensitivity(model, job.bar if bar else None))


def label_of(name: str) -> tuple[str, str]:
    """Return what a column is and its unit, in words."""
    if name.startswith("f"):
        number = int(name[1 : name.index("_")])
        return f"mode {number}, {KNOWN[number]}", "Hz"
    return "sinking under the bass foot", "%"


def listed_places(result: JobStrokes) -> pd.DataFrame:
    """Rows of `JobStrokes.along` at a few places, evenly spread, the ends and the bridge's among them."""
    table = result.along
    if table.empty:
        return table
    x = table["x_mm"].to_numpy()
    wanted = np.append(np.linspace(x[0], x[-1], PLACES - 1), 1e3 * result.job.top.bridge.x)
    return table.iloc[sorted({int(np.abs(x - at).argmin()) for at in wanted})]


def greatest(result: JobStrokes, name: str) -> list[tuple[float, float, float]]:
    """Where on the top a stroke inside lowers and where it raises a value most.

    Returns
    -------
    list of (float, float, float)
        x and y in mm and the change, the lowering first; one that does not occur is left out.
    """
    (grid, table), top = result.map, result.job.top
    clear = top.plan.buffer(-FEW * top.outline.body_length)
    inside = shapely.contains_xy(clear, *grid.points)
    values = np.where(inside, table[name].to_numpy(), 0.0)
    out = []
    for at, sign in ((int(values.argmin()), -1.0), (int(values.argmax()), 1.0)):
        if sign * values[at] > NOTHING * np.abs(values).max():
            out.append((float(table["x_mm"].iloc[at]), float(table["y_mm"].iloc[at]), float(values[at])))
    return out


def change_text(name: str, change: float) -> str:
    """Change with its sign and unit."""
    return f"{signed(change)} {label_of(name)[1]}"


def top_lines(result: JobStrokes) -> list[str]:
    """Sentences: where a stroke on the top does most."""
    out = []
    for name in result.names:
        parts = [
            f"{change_text(name, change)} at x {x:.0f}, y {y:+.0f}" for x, y, change in greatest(result, name)
        ]
        out.append(f"{label_of(name)[0]}: {' and '.join(parts)}")
    return out


def missing_lines(result: JobStrokes) -> list[str]:
    """Sentences on tones that the plate does not have."""
    state = "without bar" if result.of.bar is None else "with this bar"
    return [sentence(no_tone(number, state)) for number in KNOWN if f"f{number}_hz" not in result.names]


def bar_line(result: JobStrokes) -> str:
    """Sentence: what 0.1 mm off the whole bar does; empty without a bar."""
    found = result.all_along()
    if found is None:
        return ""
    parts = [f"{label_of(name)[0]} {change_text(name, change)}" for name, change in found.items()]
    return f"0.1 mm off the bar from end to end: {', '.join(parts)}."


def as_table(result: JobStrokes) -> pd.DataFrame:
    """Effect along the bar and over the top: a row a place, ``part`` says which."""
    table = result.map[1]
    parts = [result.along.assign(part="bar"), table.assign(part="top", height_mm=np.nan)]
    names = {SINK: "sink_percent"}
    whole = pd.concat([p for p in parts if len(p)], ignore_index=True).rename(columns=names)
    first = ["part", "x_mm", "y_mm", "height_mm"]
    whole = whole.reindex(columns=[*first, *(names.get(n, n) for n in result.names)])
    return whole


def as_text(result: JobStrokes) -> str:
    """Tables and sentences for the terminal."""
    lines = [cautions.text_title(result.job)]
    if len(result.along):
        lines += ["", "Along the bar: 0.1 mm off 10 cm of its length"]
        heads = [
            " ".join(label_of(name)).replace("sinking under the bass foot", "sinking")
            for name in result.names
        ]
        cells = [
            (f"{row['x_mm']:.0f}", f"{row['height_mm']:.1f}", *(signed(row[name]) for name in result.names))
            for _, row in listed_places(result).iterrows()
        ]
        lines += aligned([("x mm", "height mm", *heads), *cells], left=())
        lines += ["", bar_line(result)]
    lines += ["", "On the top: 0.1 mm off 10 cm² inside, a patch like a matchbox, does most to"]
    lines += [f"  {line}" for line in top_lines(result)]
    lines += ["", *missing_lines(result)] if missing_lines(result) else []
    lines += [
        "",
        "x from the lower edge, y from the axis, minus on the bass side, mm.",
        "",
        *cautions.STROKES,
    ]
    return "\n".join(lines) + "\n"


def as_data(result: JobStrokes) -> dict:
    """Plain data for JSON; mm, Hz, per cent."""
    return {
        **cautions.data_title(result.job),
        "along_the_bar": records(result.along.rename(columns={SINK: "sink_percent"})),
        "all_along_the_bar": result.all_along(),
        "on_the_top": {
            name: [
                dict(zip(("x_mm", "y_mm", "change"), place, strict=True)) for place in greatest(result, name)
            ]
            for name in result.names
        },
    }
