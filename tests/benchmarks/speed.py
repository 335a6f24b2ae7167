"""Where the time goes from a job folder to 12 modes with the bar, and how long the command line takes.

Run ``python -m tests.benchmarks.speed``. Seconds depend on the machine; ratios to a yardstick taken in the
same run (a sparse factorisation of a plain Laplacian of 90,000 unknowns) do so much less.
"""

import subprocess
import sys
import time

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from platemodel.fem.system import System
from platemodel.job import read_job
from platemodel.resources import data_path
from platemodel.study.top.meshed_top import bar_rib
from platemodel.study.top.model import top_model
from platemodel.study.top.plate_modes import plate_modes


def yardstick():
    """Seconds for the factorisation that the other times are compared with."""
    line = sparse.diags([-1.0, 2.0, -1.0], [-1, 0, 1], shape=(300, 300))
    one = sparse.identity(300)
    matrix = (sparse.kron(line, one) + sparse.kron(one, line)).tocsc()
    start = time.perf_counter()
    splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    return time.perf_counter() - start


def stages(job):
    """Seconds of each stage, job in memory: dict."""
    clock = [time.perf_counter()]

    def lap():
        clock.append(time.perf_counter())
        return clock[-1] - clock[-2]

    job.top.__dict__.pop("_midsurface", None)  # computed once a top: count it
    model = top_model(job.top, bar=job.bar)
    out = {"mesh and shell": lap()}
    job.top.arching.derivatives(*np.random.default_rng(3).uniform([0.05, -0.05], [0.3, 0.05], (20000, 2)).T)
    out["(arching at 20,000 points, six derivatives)"] = lap()
    rib = bar_rib(model, job.bar)
    out["bar on its seat"] = lap()
    system = System(model.shell, (rib,))
    assert system.matrices
    out["sum of matrices"] = lap()
    system.modes(12)
    out["12 modes"] = lap()
    plate_modes(model, job.bar, count=1)
    out["(one more bar, 1 mode, with picture points)"] = lap()
    return out, model


def main():
    """Print the tables."""
    unit = np.median([yardstick() for _ in range(3)])
    print(f"yardstick {unit:.3f} s")
    read_job(data_path("jobs", "modern_violin"))  # warm
    for name in ("modern_violin", "old_viola"):
        start = time.perf_counter()
        job = read_job(data_path("jobs", name))
        reading = time.perf_counter() - start
        stages(job)
        found, model = stages(job)
        total = sum(v for k, v in found.items() if not k.startswith("("))
        print(f"{name}: {model.shell.n_dofs} unknowns; job in memory to 12 modes with bar {total:.2f} s")
        for stage, seconds in {"reading the folder": reading, **found}.items():
            print(f"  {stage:46s}{seconds:7.2f} s {seconds / unit:7.1f} yardsticks")
    command = [sys.executable, "-m", "platemodel", "modes", str(data_path("jobs", "old_viola")), "--quiet"]
    for _ in range(2):
        start = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        seconds = time.perf_counter() - start
        print(f"cold command line, both plates with bands: {seconds:.2f} s, {seconds / unit:.1f} yardsticks")


if __name__ == "__main__":
    main()
