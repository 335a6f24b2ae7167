"""What one more bar costs, and how our cost grows with the mesh, the number of bars and of workers."""

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.fem.eigen import shifted
from platemodel.fem.factors import factorise
from platemodel.fem.shell import Shell
from platemodel.fem.system import System
from platemodel.study import bar_of_height, bar_response, local_workers, reduced_top, sweep, top_model
from platemodel.study.top.meshed_top import bar_rib
from tests.benchmarks.tools import ccx, ngs
from tests.benchmarks.tools.plan import Body, plan_mesh

COUNT = 8
FINENESS = (0.5, 0.7, 1.0, 1.5, 2.5)
BARS = (1, 10, 100, 1000)
WORKERS = (1, 2)


@dataclass(frozen=True)
class Cost:
    """Seconds of one way to ask for one more bar.

    Attributes
    ----------
    way : str
    what : str
        Done anew, in words.
    seconds : float
        Of one processor.
    """

    way: str
    what: str
    seconds: float


def spent() -> float:
    """Processor seconds of this process and of the programs that it has run."""
    return time.process_time() + ccx.spent()


def clock(act: Callable, goes: int = 1, now: Callable[[], float] = spent) -> float:
    """Median processor seconds of an act."""
    seconds = []
    for k in range(goes):
        start = now()
        act(k)
        seconds.append(now() - start)
    return float(np.median(seconds))


def one_more_bar(body: Body, reduced, brick, wedge) -> list[Cost]:
    """Every way to ask for a bar of another height."""
    heights = np.linspace(0.85, 1.15, 31) * body.bar.heights.max()
    bars = [bar_of_height(body.bar, h) for h in heights]

    def bricks(k):
        other = Body(body.top, bars[k])
        size, under, layers, up = brick
        ccx.run(ccx.solid_deck(other, plan_mesh(other, size, under), layers, up))

    def wedges(k):
        other = Body(body.top, bars[k])
        size, under, order, layers, up = wedge
        ngs.run(other, plan_mesh(other, size, under), order, layers, up)

    def modes(model):
        return lambda k: System(model.shell, (bar_rib(model, bars[k]),)).modes(COUNT)

    full, out = reduced.full, []
    if ccx.version():
        out.append(Cost("CalculiX C3D20R", "mesh, input file, 8 modes", clock(bricks)))
    if ngs.version():
        out.append(Cost("NGSolve", "mesh, curving, 8 modes", clock(wedges)))
    anew = clock(lambda k: modes(top_model(body.top, 1.0, bar=bars[k]))(k), 3)
    out += [
        Cost("platemodel, all anew", "mesh, shell, bar, 8 modes", anew),
        Cost("platemodel, kept mesh", "bar, 8 modes", clock(modes(full), 3)),
        Cost(
            "platemodel, kept mesh",
            "bar, modes 1, 2, 5, two stiffnesses",
            clock(lambda k: bar_response(full, bars[k]), 2),
        ),
    ]
    bar_response(reduced, bars[0])
    reduced.modes(bars[0])
    out += [
        Cost("reduced model", "8 modes", clock(lambda k: reduced.modes(bars[k]), 31)),
        Cost(
            "reduced model",
            "modes 1, 2, 5, two stiffnesses",
            clock(lambda k: bar_response(reduced, bars[k]), 31),
        ),
    ]
    return out


def by_fineness(body: Body) -> pd.DataFrame:
    """Seconds of each stage on finer and finer meshes; a row a mesh."""
    rows = []
    for fineness in FINENESS:
        model = top_model(body.top, fineness, bar=body.bar)
        mesh, surface, section = model.shell.mesh, model.shell.surface, model.shell.section
        assembly = clock(lambda _: Shell(mesh, surface, section), 2)  # noqa: B023
        start = spent()
        system = System(model.shell, (bar_rib(model, body.bar),))
        stiffness, mass = system.matrices
        ready = spent()
        factors = factorise(shifted(stiffness, mass, system.shift()))
        factored = spent()
        system.modes(COUNT)
        done = spent()
        rows.append({
            "fineness": fineness, "triangles": mesh.nelements, "unknowns": system.n_dofs,
            "assembly": assembly, "bar": ready - start,
            "factorisation": factored - ready, "8 modes": done - factored, "entries": factors.lower.nnz,
        })  # fmt: skip
    return pd.DataFrame(rows)


def by_bars(reduced, bar) -> pd.DataFrame:
    """Seconds of a sweep over more and more heights."""
    rows = []
    for count in BARS:
        start = spent()
        table = sweep(reduced, bar, heights(bar, count))
        seconds = spent() - start
        rows.append({
            "bars": count, "seconds": seconds, "a bar, ms": 1e3 * seconds / count,
            "largest estimated error": table["error"].max(),
            "in full": int((table["source"] == "full").sum()),
        })  # fmt: skip
    return pd.DataFrame(rows)


def by_workers(reduced, bar) -> pd.DataFrame:
    """Seconds on the clock of the largest sweep, here and on processes started for it or running already."""
    count, watch = BARS[-1], time.perf_counter
    alone = clock(lambda k: sweep(reduced, bar, heights(bar, count, k)), now=watch)
    rows = [{"workers": "none, here", "first": alone, "again": alone}]
    for workers in WORKERS:
        with local_workers(workers) as pool:
            first, again = (
                clock(lambda _, k=k: sweep(reduced, bar, heights(bar, count, k), executor=pool), now=watch)
                for k in (0, 1)
            )
        rows.append({"workers": str(workers), "first": first, "again": again})
    return pd.DataFrame(rows)


def heights(bar, count, shift=0):
    """Grid of heights, in two hundredths of a millimetre moved by ``shift``."""
    top = 1e3 * bar.heights.max()
    return {"height_mm": np.linspace(0.85, 1.15, count) * top + 0.02 * shift}


def reduced_model(body: Body):
    """Reduced model of the top on the default mesh, and the processor seconds to make it."""
    model = top_model(body.top, 1.0, bar=body.bar)
    start = spent()
    reduced = reduced_top(model, body.bar)
    return reduced, spent() - start


def exponent(size, seconds) -> float:
    """Slope of log seconds over log size."""
    return float(np.polyfit(np.log(size), np.log(seconds), 1)[0])
