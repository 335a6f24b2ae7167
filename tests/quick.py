"""The coarsest mesh that can be laid, for tests of what holds on any mesh: words, pages, laws, stores.

It has no slender row along outline and holes. What that leaves out, the edge layer of the twist, moves modes
1, 2 and 5 of a violin by less than 1 %; with a fifth fewer unknowns it takes two thirds of the time.
"""

from platemodel.bench.kit.needs import job_bench
from platemodel.study.top.model import top_model
from platemodel.study.top.workbench import Workbench

FINENESS = 0.4


def quick_model(top, bar=None):
    """Model of a top on that mesh."""
    return top_model(top, FINENESS, bar=bar, edge_row=False)


class QuickBench(Workbench):
    """A workbench with that mesh for everything, whatever mesh is asked for."""

    def __init__(self, top, bar=None, set_up=None, progress=None, doubt=None):
        super().__init__(top, bar, set_up, FINENESS, progress, doubt)

    @property
    def model(self):
        return self._kept.get("model", lambda: quick_model(self.top, self.bar))

    def on_mesh(self, fineness):
        return self


def quick_bench(job, fineness=1.0, progress=None):
    """Workbench of a job; to be put in the place of ``job_bench``."""
    return QuickBench(job.top, job.bar, job.set_up, progress, job_bench(job).doubt)
