"""Every figure of a job at either end of its range: what `check` accepts is solved, or refused by name.

Each case runs in a copy of the process, so that one that hangs or dies is told like any other.
"""

import datetime
import json
import os
import shutil
import signal
import time
import tomllib
from dataclasses import dataclass

import numpy as np

from platemodel.errors import AccuracyError, GeometryError, JobError, PlatemodelError
from platemodel.job import read_job
from platemodel.job.report import report
from platemodel.job.schema import SECTIONS
from platemodel.study.top.model import top_model
from platemodel.study.top.plate_modes import plate_modes
from tests.job_folders import VIOLIN, write
from tests.quick import quick_model
from tests.unlike_jobs import UNLIKE

# Tables whose figures shape what `modes` solves; those of the others are only read.
SHAPING = (
    "outline", "arching", "thickness", "sound_holes", "sound_holes.bass", "sound_holes.treble", "wood.top",
    "wood.bar", "wood.old_bar", "bridge", "bar", "old_bar",
)  # fmt: skip
SECONDS = 120  # after which a case counts as hung; one takes a second or two
# what a bar over a sound hole asks for, and what the coarsest mesh may need beside one
FINER, FINENESS = ("take a greater fineness", "another fineness"), 0.7
BY_CHECK, REFUSED, SOLVED = "refused by check", "refused when solved", "solved"
# Words that a sentence may use for a figure, besides those of its own name.
ALSO = {
    "sound_holes": ("hole", "eye"), "outline": ("bout", "body"), "wood": ("wood",),
    "thickness": ("thick", "thin"), "arching": ("arch",), "bridge": ("foot", "feet"), "bar": ("bar",),
    "old_bar": ("bar",),
}  # fmt: skip


@dataclass(frozen=True)
class Case:
    """A usual violin, or one of `UNLIKE`, with some figures of its own: (table, field, value)."""

    figures: tuple
    job: str = ""

    def __str__(self):
        told = ", ".join(f"{table}.{key} = {_toml(value)}" for table, key, value in self.figures)
        return f"{self.job}: {told}" if self.job else told

    def laid(self, folder):
        """Lay the job folder."""
        if not self.job:
            tables = tomllib.loads(VIOLIN + "[bar]\n")
        else:
            laid = UNLIKE[self.job](folder)
            for path in laid.glob("*.csv"):
                if laid != folder:
                    shutil.copy(path, folder)
            tables = tomllib.loads((laid / "job.toml").read_text(encoding="utf-8"))
        for table, key, value in self.figures:
            into = tables
            for name in table.split("."):
                into = into.setdefault(name, {})
            into[key] = value
        return write(folder, "\n".join(_lines(tables)) + "\n")


def _lines(tables, above=""):
    """Lines of TOML of nested tables, a table's own fields before those below it."""
    inner = {name: value for name, value in tables.items() if isinstance(value, dict)}
    if above:
        yield f"[{above}]"
    yield from (f"{key} = {_toml(value)}" for key, value in tables.items() if key not in inner)
    for name, value in inner.items():
        yield from _lines(value, f"{above}.{name}" if above else name)


def _toml(value):
    return value.isoformat() if isinstance(value, datetime.date) else json.dumps(value)


@dataclass(frozen=True)
class Outcome:
    """What became of a case: solved, refused, or the name of what went wrong; and in what words."""

    kind: str
    text: str = ""


def ends():
    """One case for each end of each figure that shapes the top."""
    return [
        Case(((section.name, field.key, float(value)),))
        for section in SECTIONS
        if section.name in SHAPING
        for field in section.fields
        if field.kind == "number"
        for value in (field.low, field.high)
    ]


def draws(count, seed):
    """Two or three figures at once, at an end of their ranges or between, on jobs of unlike kind."""
    rng, out = np.random.default_rng(seed), []
    fields = [(s.name, f) for s in SECTIONS if s.name in SHAPING for f in s.fields if _values(f)]
    for _ in range(count):
        drawn = rng.choice(len(fields), size=rng.integers(2, 4), replace=False)
        figures = tuple((fields[k][0], fields[k][1].key, _drawn(fields[k][1], rng)) for k in drawn)
        out.append(Case(figures, list(UNLIKE)[rng.integers(len(UNLIKE))]))
    return out


def _drawn(field, rng):
    """One of the ends or choices, or as often a figure between the ends, with three digits."""
    values = _values(field)
    if field.kind == "number" and rng.random() < 0.5:
        return float(f"{rng.uniform(*values):.3g}")
    return values[rng.integers(len(values))]


def _values(field):
    if field.kind == "number":
        return float(field.low), float(field.high)
    return tuple(field.choices) if field.kind == "choice" else ()


def outcome(case, folder):
    """Read a case and solve its modes without and with the bars, in a copy of this process."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        try:
            found = _outcome(case, folder)
        except BaseException as error:
            found = Outcome(type(error).__name__, str(error))
        os.write(writer, json.dumps([found.kind, found.text[:2000]]).encode())
        os._exit(0)
    os.close(writer)
    until = time.monotonic() + SECONDS
    while not (ended := os.waitpid(child, os.WNOHANG)[0]) and time.monotonic() < until:
        time.sleep(0.02)
    if not ended:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    with os.fdopen(reader) as pipe:
        told = pipe.read()
    if not ended:
        return Outcome("hung")
    return Outcome(*json.loads(told)) if told else Outcome("died")


def _outcome(case, folder):
    try:
        job = read_job(case.laid(folder))
        report(job)
        try:
            tones = _tones(job, quick_model(job.top, job.bar))
        except (AccuracyError, GeometryError) as error:
            if isinstance(error, GeometryError) and not any(words in str(error) for words in FINER):
                raise
            tones = _tones(job, top_model(job.top, FINENESS, bar=job.bar))
    except JobError as error:
        return Outcome(BY_CHECK, "; ".join(map(str, error.problems)))
    except AccuracyError as error:  # the command line then tells what is unusual
        return Outcome(REFUSED, "; ".join([str(error), *(f"{f.where}: {f.message}" for f in job.findings)]))
    except PlatemodelError as error:
        return Outcome(REFUSED, str(error))
    sound = all(np.isfinite(f).all() and f.min() > 0 for f in tones)
    return Outcome(SOLVED) if sound else Outcome("nonsense", str(tones))


def _tones(job, model):
    bars = [None, *(bar for bar in (job.bar, job.old_bar) if bar is not None)]
    return [plate_modes(model, one, count=6).table["f_hz"].to_numpy() for one in bars]


def fault(case, found):
    """What is wrong with an outcome, in words; empty where it is as it should be."""
    if found.kind in (SOLVED, BY_CHECK):  # a problem of `check` has its file, field and value of itself
        return ""
    if found.kind != REFUSED:
        return f"{case}: {found.kind}: {found.text}"
    text = found.text.lower()
    for table, key, _ in case.figures:
        words = [w for w in key.lower().split("_") if len(w) > 2]
        if any(w in text for w in (*words, *ALSO.get(table.partition(".")[0], ()))):
            return ""
    return f"{case}: refused without its name: {found.text}"
