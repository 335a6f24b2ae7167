"""Seconds of the closed body beside those of the loose top, in one run.

Run ``python -m tests.benchmarks.closed_body``.
The first bar is everything from the meshed top on: body, air, statics under the strings, and what is learnt
of it for other bars. Another bar is statics and modes from what was learnt.
"""

import os
import time

import numpy as np

from platemodel.bench.kit.closed_body import closed_body, job_body_model
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.job import read_job
from platemodel.resources import data_path
from platemodel.study.body.sound import body_sound
from platemodel.study.body.statics import body_load
from platemodel.study.top.model import top_model
from tests.benchmarks.verbs import unit

JOBS = ("modern_violin", "old_viola")
BARS = 12


def main() -> None:
    """Print the table."""
    one = unit()
    print(f"unit: {one:.2f} s, the loose top with its bar, 12 modes; {os.cpu_count()} cores")
    print("job             built, s  statics, s  learnt, s  first bar, s  units  another bar, ms  modes")
    for name in JOBS:
        job = read_job(data_path("jobs", name))
        model = top_model(job.top, bar=job.bar)
        clock = [time.perf_counter()]
        whole = job_body_model(job, model)
        clock.append(time.perf_counter())
        body_load(whole, job.bar)
        clock.append(time.perf_counter())
        reduced = closed_body(job, whole, job.bar).reduced
        sound = body_sound(reduced, job.bar)
        clock.append(time.perf_counter())
        top, seconds = float(job.bar.heights.max()), []
        for share in np.linspace(0.8, 1.2, BARS):
            start = time.perf_counter()
            other = reduced.solved(bar_of_height(job.bar, share * top))
            other.sinking()
            seconds.append(time.perf_counter() - start)
        built, statics, learnt = np.diff(clock)
        first = clock[-1] - clock[0]
        print(
            f"{name:15s}{built:9.2f}{statics:12.2f}{learnt:11.2f}{first:14.2f}{first / one:7.1f}"
            f"{1e3 * np.median(seconds):17.1f}{len(sound.frequencies):7d}"
        )


if __name__ == "__main__":
    main()
