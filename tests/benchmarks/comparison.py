"""The same top in the shell and in general-purpose tools, without and with its bar: what it costs."""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from platemodel.fem.section import Section
from platemodel.fem.shell import Shell
from platemodel.fem.system import System
from platemodel.job import read_job
from platemodel.resources import data_path
from platemodel.study.top.meshed_top import bar_rib
from platemodel.study.top.model import top_model
from tests.benchmarks.tools import ccx, ngs
from tests.benchmarks.tools.ccx import Found
from tests.benchmarks.tools.plan import Body, plan_mesh

COUNT = 8
OURS, BRICKS, SHELLS, WEDGES = "platemodel", "CalculiX C3D20R", "CalculiX S8R", "NGSolve"
FINENESS = (0.5, 0.7, 1.0, 1.5, 2.5)


@dataclass(frozen=True)
class Run:
    """One mesh in one tool.

    Attributes
    ----------
    tool : str
    mesh : str
        In words.
    found : Found
    """

    tool: str
    mesh: str
    found: Found


@dataclass(frozen=True)
class Comparison:
    """Runs on one body.

    Attributes
    ----------
    title : str
    runs : tuple of Run
    reference : Run or None
        The finest solid mesh; None without any tool.
    check : Run or None
        The finest mesh of another tool: how sure the reference is.
    """

    title: str
    runs: tuple[Run, ...]
    reference: Run | None
    check: Run | None

    def errors(self, run: Run) -> np.ndarray | None:
        """Of each mode against the reference, percent."""
        if self.reference is None:
            return None
        return 100 * (run.found.frequencies / self.reference.found.frequencies - 1)

    def own(self, run: Run) -> np.ndarray:
        """Of each mode against the same tool's finest mesh, percent."""
        finest = [r for r in self.runs if r.tool == run.tool][-1]
        return 100 * (run.found.frequencies / finest.found.frequencies - 1)

    def of(self, tool: str) -> list[Run]:
        """Runs of one tool, coarse to fine."""
        return [r for r in self.runs if r.tool == tool]


def bodies() -> tuple[Body, Body]:
    """Demo violin top without and with its bar, whose section is taken square."""
    job = read_job(data_path("jobs", "modern_violin"))
    return Body(job.top), Body(job.top, replace(job.bar, section_fill=1.0))


def solve(body: Body, fineness: float, band=None, axes="carved") -> Found:
    """Modes by the shell; median of several goes, without meshing."""
    model, seconds = top_model(body.top, fineness, bar=band or body.bar), []
    mesh, surface, section = model.shell.mesh, model.shell.surface, model.shell.section
    if axes != "carved":
        section = Section(
            body.top.thickness.value, body.top.wood.compliance(), body.top.wood.density, axes=None
        )
    while not seconds or (sum(seconds) < 3 and len(seconds) < 5):
        start = time.process_time()
        kept = replace(model, shell=Shell(mesh, surface, section))
        system = System(kept.shell, () if body.bar is None else (bar_rib(kept, body.bar),))
        found = system.modes(COUNT).frequencies
        seconds.append(time.process_time() - start)
    return Found(found, system.n_dofs, float(np.median(seconds)))


def own_runs(body: Body, band) -> list[Run]:
    """Run the shell on every fineness."""
    return [Run(OURS, f"fineness {f:g}", solve(body, f, band)) for f in FINENESS]


def brick_runs(body: Body, meshes) -> list[Run]:
    """Run 20-node bricks on meshes given as (size, under the bar, layers, layers of the bar)."""
    out = []
    for size, under, layers, up in meshes:
        words = f"{1e3 * size:g} mm triangles in three, {layers} layer{'s' if layers > 1 else ''}"
        deck = ccx.solid_deck(body, plan_mesh(body, size, under), layers, up)
        out.append(Run(BRICKS, words + (f", bar {up}" if body.bar else ""), ccx.run(deck)))
    return out


def wedge_runs(body: Body, meshes) -> list[Run]:
    """Run wedges of high order on meshes given as (size, under the bar, order, layers, layers of the bar)."""
    out = []
    for size, under, order, layers, up in meshes:
        words = f"{1e3 * size:g} mm, order {order}, {layers} layer{'s' if layers > 1 else ''}"
        found = ngs.run(body, plan_mesh(body, size, under), order, layers, up)
        out.append(Run(WEDGES, words + (f", bar {up}" if body.bar else ""), found))
    return out


def compare(title: str, body: Body, band, bricks, wedges, tell: Callable[[str], None]) -> Comparison:
    """Run everything that is installed on one body."""
    tell(f"{title}: platemodel")
    runs = own_runs(body, band)
    finest = []
    if ngs.version():
        tell(f"{title}: {WEDGES}")
        runs += wedge_runs(body, wedges)
        finest.append(runs[-1])
    if ccx.version():
        tell(f"{title}: {BRICKS}")
        runs += brick_runs(body, bricks)
        finest.append(runs[-1])
    reference, check = [*finest, None, None][:2]
    return Comparison(title, tuple(runs), reference, check)


def compare_shells(body: Body, band, sizes, solid, tell: Callable[[str], None]) -> Comparison | None:
    """Shells of CalculiX, our shell and bricks, all with the grain along the surface; None without CalculiX.

    The solver lays the axes of a shell's wood into its surface, whatever orientation is given, so that a
    carved top cannot be put to it; this comparison bends the grain in all three.
    """
    if not ccx.version():
        return None
    tell(f"grain along the surface: {SHELLS}")
    runs = [Run(OURS, f"fineness {f:g}", solve(body, f, band, axes="bent")) for f in FINENESS]
    for size in sizes:
        deck = ccx.shell_deck(body, plan_mesh(body, size))
        runs.append(Run(SHELLS, f"{1e3 * size:g} mm triangles in three", ccx.run(deck)))
    size, layers = solid
    deck = ccx.solid_deck(body, plan_mesh(body, size), layers, bent=True)
    reference = Run(BRICKS, f"{1e3 * size:g} mm triangles in three, {layers} layers", ccx.run(deck))
    return Comparison("Top without bar, grain along the surface", (*runs, reference), reference, None)
