"""How far the top's wood leaves the stiffness under the foot and the sinking open, as a sentence."""

import numpy as np

from platemodel.instrument.bar import Bar
from platemodel.job import Job
from platemodel.study.choosing.wood_bands import by_top_wood
from platemodel.study.top.figures import TopFigures
from platemodel.study.top.workbench import Workbench
from platemodel.wood.estimate import HALF_WIDTH


def wood_spread(job: Job, bench: Workbench, bar: Bar | None) -> float:
    """Relative standard deviation that the top's wood leaves in the stiffness under the bass foot.

    Parameters
    ----------
    bench : Workbench
        Of the job.
    """

    def spread():
        row = by_top_wood(TopFigures(bench.model), bar).loc["foot_n_per_mm"].to_numpy()
        return float(np.sqrt(row @ job.top_wood.log_cov @ row))

    return bench.kept(("wood spread", bar is not None), spread)


def wood_doubt_line(job: Job, bench: Workbench, bar: Bar | None) -> str:
    """Say what the doubt of the top's wood leaves open under the bass foot, and where it comes from.

    Parameters
    ----------
    bench : Workbench
        Of the job.
    """
    percent = 100.0 * HALF_WIDTH * wood_spread(job, bench, bar)
    source = "as found from readings" if job.found_wood is not None else "by its species and job.toml"
    more = "" if job.found_wood is not None else "; `wood --keep` narrows it"
    return (
        f"The wood of the top, {source}, leaves ± {percent:.0f} % (90 of 100) in the stiffness under the "
        f"bass foot and in its sinking{more}."
    )
