"""How far the default mesh of the demo tops is from a mesh refined until it hardly moves.

Run ``python -m tests.benchmarks.mesh_convergence``; takes some minutes.
"""

import sys

import numpy as np

from platemodel.job import read_job
from platemodel.resources import data_path
from platemodel.study.top.model import top_model
from platemodel.study.top.plate_modes import plate_modes

STEPS = (1.0, 1.6, 2.5)


def frequencies(job, fineness):
    """Modes 1 to 8 without and with the bar: (2, 8), Hz, and the number of unknowns."""
    model = top_model(job.top, fineness, bar=job.bar)
    found = [model.free_modes(bar, 8).frequencies for bar in (None, job.bar)]
    return np.array(found), model.shell.n_dofs


def main():
    """Print, for each demo, the difference in percent from the finest mesh."""
    for name in ("modern_violin", "old_viola"):
        job = read_job(data_path("jobs", name))
        found = [frequencies(job, step) for step in STEPS]
        finest = found[-1][0]
        print(f"{name}: percent from fineness {STEPS[-1]}, modes 1 to 8 without and with the bar")
        for step, (values, unknowns) in zip(STEPS, found, strict=True):
            print(f"  fineness {step}, {unknowns} unknowns")
            for row in 100 * (values / finest - 1):
                print("    " + " ".join(f"{v:6.2f}" for v in row))
        for label, bar, exact in (("without", None, finest[0]), ("with", job.bar, finest[1])):
            table = plate_modes(job.top, bar, band=True).table
            share = (table["f_hz"] - exact).abs() / table["band_hz"]
            print(f"  {label} bar: error over printed band " + " ".join(f"{v:5.2f}" for v in share))
        sys.stdout.flush()


if __name__ == "__main__":
    main()
