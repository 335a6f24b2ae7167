"""Seconds of the closed body beside those of the loose top, in one run.

Run ``python -m tests.benchmarks.closed_body``.
The full model is statics under the strings and 20 modes of the first bar. Ready is everything from the meshed
top on: body, air, statics, and what is learnt for other bars. Another bar is statics and modes from that.
"""

import os
import time

import numpy as np

from platemodel.bench.kit.closed_body import job_body_model, strung_and_closed
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.job import read_job
from platemodel.resources import data_path
from platemodel.study.body.sound import body_sound
from platemodel.study.body.statics import body_load
from platemodel.study.top.model import top_model
from tests.benchmarks.verbs import unit

JOBS = ("modern_violin", "old_viola")
BARS = 12
COUNT = 20  # modes by the full model


def main() -> None:
    """Print the table."""
    one = unit()
    print(f"unit: {one:.2f} s, the loose top with its bar, 12 modes; {os.cpu_count()} cores")
    print("job             built, s  full model, s  units  ready, s  units  another bar, ms  modes")
    for name in JOBS:
        job = read_job(data_path("jobs", name))
        model = top_model(job.top, bar=job.bar)
        start = time.perf_counter()
        whole = job_body_model(job, model)
        built = time.perf_counter() - start
        _, closed = strung_and_closed(job, whole, job.bar)
        reduced = closed.reduced
        sound = body_sound(reduced, job.bar)
        ready = time.perf_counter() - start
        start = time.perf_counter()
        body_load(whole, job.bar)
        whole.with_bar(job.bar).modes(COUNT)
        full = built + time.perf_counter() - start
        top, seconds = float(job.bar.heights.max()), []
        for share in np.linspace(0.8, 1.2, BARS):
            start = time.perf_counter()
            other = reduced.solved(bar_of_height(job.bar, share * top))
            other.sinking()
            seconds.append(time.perf_counter() - start)
        print(
            f"{name:15s}{built:9.2f}{full:15.2f}{full / one:7.1f}{ready:10.2f}{ready / one:7.1f}"
            f"{1e3 * np.median(seconds):17.1f}{len(sound.frequencies):7d}"
        )


if __name__ == "__main__":
    main()
