"""Seconds and memory of the verbs from the shell, page included, against one solution of the same top.

Run ``python -m tests.benchmarks.verbs``; takes some minutes. The unit is one warm solution of the old viola's
top with its bar, 12 modes, measured in the same run: it takes the machine out of the ratios, not what else
runs on it meanwhile. Each verb runs in a process of its own, at first with an empty cache folder, then again
with what the first run left there.
"""

import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from platemodel.fem.kept import Kept
from platemodel.job import read_job
from platemodel.resources import data_path
from platemodel.study.top.model import top_model
from platemodel.study.top.plate_modes import plate_modes

JOB = data_path("jobs", "old_viola")
#: Verb, further arguments, goal in units (with a cache where it learns a reduced model).
VERBS = (
    ("modes", (), 2, 2),
    ("load", (), 2, 2),
    ("trim", ("--goal", "5=215", "--heard", "5=220", "--height-mm", "14"), 3, 2),
    ("choose", (), 5, 2),
    ("plan", (), 5, 5),
)
MB_PER_KB = 1.0 / 1024.0


def unit(repeats: int = 3) -> float:
    """Seconds of one warm solution: the best of some."""
    job = read_job(JOB)
    model = top_model(job.top, bar=job.bar)
    plate_modes(model, job.bar, count=12)  # warms caches and loads libraries
    out = []
    for _ in range(repeats):
        fresh = replace(model, answers=Kept())  # nothing solved yet
        start = time.perf_counter()
        plate_modes(fresh, job.bar, count=12)
        out.append(time.perf_counter() - start)
    return min(out)


def run(verb: str, more: tuple[str, ...], cache: Path) -> tuple[float, float, float]:
    """Run a verb in a process of its own: seconds, seconds of processor, peak memory in MB."""
    with tempfile.TemporaryDirectory() as draft:
        folder = Path(draft) / "job"
        shutil.copytree(JOB, folder)
        command = [sys.executable, "-m", "platemodel", verb, str(folder), *more, "--quiet"]
        command += ["--out", str(Path(draft) / "out")]
        environment = os.environ | {"PLATEMODEL_CACHE": str(cache)}
        start = time.perf_counter()
        child = subprocess.Popen(
            command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
        )
        said = child.stderr.read()
        _, status, used = os.wait4(child.pid, 0)
        took = time.perf_counter() - start
        child.returncode = os.waitstatus_to_exitcode(status)
        child.stderr.close()
    if child.returncode:
        msg = f"{verb}: {said}"
        raise RuntimeError(msg)
    return took, used.ru_utime + used.ru_stime, MB_PER_KB * used.ru_maxrss


def main() -> None:
    """Print the table."""
    one = unit()
    print(f"unit: {one:.2f} s, a warm solution of the top with its bar, 12 modes; {os.cpu_count()} cores")
    print(f"load of the machine at the start: {os.getloadavg()[0]:.1f}")
    print("                 cold                               with cache")
    print("verb     units   goal    s    CPU s   MB      units   goal    s    CPU s   MB")
    for verb, more, goal, goal_again in VERBS:
        with tempfile.TemporaryDirectory() as cache:
            cells = []
            for wanted in (goal, goal_again):
                seconds, cpu, peak = run(verb, more, Path(cache))
                cells.append(f"{seconds / one:6.1f}{wanted:6d}{seconds:8.1f}{cpu:8.1f}{peak:7.0f}")
        print(f"{verb:7s}{cells[0]}   {cells[1]}", flush=True)
    print(f"this process: {MB_PER_KB * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss:.0f} MB")


if __name__ == "__main__":
    main()
