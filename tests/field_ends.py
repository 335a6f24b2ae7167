"""Every figure of a job at either end of its range: what `check` accepts is solved, or refused by name.

Each case runs in a copy of the process, so that one that hangs or dies is told like any other.
"""

import json
import os
import signal
import time
from dataclasses import dataclass

import numpy as np

from platemodel.errors import JobError, PlatemodelError
from platemodel.job import read_job
from platemodel.job.report import report
from platemodel.job.schema import SECTIONS
from platemodel.study.top.plate_modes import plate_modes
from tests.job_folders import VIOLIN, write
from tests.quick import quick_model

# Tables whose figures shape what `modes` solves; those of the others are only read.
SHAPING = (
    "outline", "arching", "thickness", "sound_holes", "sound_holes.bass", "sound_holes.treble", "wood.top",
    "wood.bar", "bridge", "bar",
)  # fmt: skip
SECONDS = 120  # after which a case counts as hung; one takes a second or two
BY_CHECK, REFUSED, SOLVED = "refused by check", "refused when solved", "solved"
# Words that a sentence may use for a figure, besides those of its own name.
ALSO = {
    "sound_holes": ("hole", "eye"), "outline": ("bout", "body"), "wood": ("wood",),
    "thickness": ("thick", "thin"), "arching": ("arch",), "bridge": ("foot", "feet"), "bar": ("bar",),
}  # fmt: skip


@dataclass(frozen=True)
class Case:
    """Figures of a violin of usual shape that are not left to their usual values: (table, field, value)."""

    figures: tuple

    def __str__(self):
        return ", ".join(f"{table}.{key} = {value:g}" for table, key, value in self.figures)

    def toml(self):
        """Text of job.toml."""
        tables = {"bar": []}
        for table, key, value in self.figures:
            tables.setdefault(table, []).append(f"{key} = {value!r}")
        return VIOLIN + "".join(f"[{name}]\n" + "\n".join([*rows, ""]) for name, rows in tables.items())


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


def pairs(count, seed):
    """Two figures of different names at an end of their ranges each."""
    rng, single, out = np.random.default_rng(seed), ends(), []
    while len(out) < count:
        one, two = (single[k].figures[0] for k in rng.integers(len(single), size=2))
        if one[:2] != two[:2]:
            out.append(Case((one, two)))
    return out


def outcome(case, folder):
    """Read a case and solve its modes without and with the bar, in a copy of this process."""
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
        job = read_job(write(folder, case.toml()))
        report(job)
        model = quick_model(job.top, job.bar)
        tones = [plate_modes(model, one, count=6).table["f_hz"].to_numpy() for one in (None, job.bar)]
    except JobError as error:
        return Outcome(BY_CHECK, "; ".join(map(str, error.problems)))
    except PlatemodelError as error:
        return Outcome(REFUSED, str(error))
    sound = all(np.isfinite(f).all() and f.min() > 0 for f in tones)
    return Outcome(SOLVED) if sound else Outcome("nonsense", str(tones))


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
