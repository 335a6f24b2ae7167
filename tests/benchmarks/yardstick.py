"""Writes docs/benchmarks.md: the shell beside general-purpose tools, and how its cost grows.

Run ``python -m tests.benchmarks.yardstick``; takes some minutes. Tools that are not installed (``ccx`` of
CalculiX, ``ngsolve``) are left out and said to be.
"""

import os
import platform
import sys
import time
from importlib import metadata
from pathlib import Path

import numpy as np

from tests.benchmarks import page
from tests.benchmarks.comparison import BRICKS, WEDGES, bodies, compare, compare_shells
from tests.benchmarks.growth import by_bars, by_fineness, by_workers, one_more_bar, reduced_model
from tests.benchmarks.page_text import write
from tests.benchmarks.tools import ccx, ngs

DOCS = Path(__file__).parents[2] / "docs"
LIBRARIES = ("numpy", "scipy", "scikit-fem", "netgen-mesher", "pandas")
# size, under the bar (m), layers, layers of the bar
BARE_BRICKS = ((30e-3, 0, 1, 0), (30e-3, 0, 2, 0), (16e-3, 0, 2, 0), (10e-3, 0, 2, 0))
BARRED_BRICKS = ((30e-3, 8e-3, 1, 2), (30e-3, 5.5e-3, 2, 3), (16e-3, 5.5e-3, 2, 3))
# size, under the bar (m), order, layers, layers of the bar
BARE_WEDGES = ((30e-3, 0, 2, 1, 0), (30e-3, 0, 3, 1, 0), (16e-3, 0, 3, 1, 0), (16e-3, 0, 4, 1, 0))
BARRED_WEDGES = (
    (30e-3, 8e-3, 2, 1, 2),
    (30e-3, 8e-3, 3, 1, 2),
    (16e-3, 5.5e-3, 3, 1, 2),
    (16e-3, 5.5e-3, 4, 1, 2),
)
SHELLS, BENT_BRICKS = (30e-3, 20e-3, 12e-3), (16e-3, 2)
ONE_BRICK, ONE_WEDGE = 1, 1  # which of the barred meshes answers for one more bar


def versions() -> dict[str, str]:
    """Names and versions of what was used."""
    out = {"platemodel": metadata_version("platemodel"), "Python": platform.python_version()}
    out |= {name: metadata_version(name) for name in LIBRARIES}
    out |= {"CalculiX ccx": ccx.version(), "NGSolve": ngs.version()}
    return {name: value for name, value in out.items() if value}


def metadata_version(name):
    if name == "platemodel":
        import platemodel

        return platemodel.__version__
    return metadata.version(name)


def missing() -> tuple[str, ...]:
    """Sentences on tools that are not there."""
    out = []
    if not ccx.version():
        out.append("CalculiX is left out: `ccx` is not on the path (Debian: `calculix-ccx`).")
    if not ngs.version():
        out.append("NGSolve is left out: `ngsolve` is not installed (`pip install ngsolve`).")
    return tuple(out)


def main():
    """Measure, then write page and picture."""
    began = time.perf_counter()

    def tell(text):
        print(f"{time.perf_counter() - began:6.0f} s  {text}", file=sys.stderr, flush=True)

    for line in missing():
        tell(line)
    bare, barred = bodies()
    found = (
        compare("Top without bar", bare, barred.bar, BARE_BRICKS, BARE_WEDGES, tell),
        compare("Top with bar", barred, barred.bar, BARRED_BRICKS, BARRED_WEDGES, tell),
    )
    for comparison in found:
        tell(f"{comparison.title}\n{page.accuracy_table(comparison)}")
    shells = compare_shells(bare, barred.bar, SHELLS, BENT_BRICKS, tell)
    tell("reduced model")
    reduced, made = reduced_model(barred)
    tell("one more bar")
    costs = one_more_bar(barred, reduced, BARRED_BRICKS[ONE_BRICK], BARRED_WEDGES[ONE_WEDGE])
    tell("\n".join(f"{cost.way}, {cost.what}: {page.number(cost.seconds)} s" for cost in costs))
    meshes = {}
    for tool, which in ((BRICKS, ONE_BRICK), (WEDGES, ONE_WEDGE)):
        if runs := found[1].of(tool):
            errors = found[1].errors(runs[which])
            meshes[tool] = f"{runs[which].mesh}; mean error {np.abs(errors).mean():.2f} %"
    tell("finer meshes")
    fineness = by_fineness(barred)
    tell("more bars")
    bars = by_bars(reduced, barred.bar)
    busy = sum(os.times()[:4]) / (time.perf_counter() - began)
    tell("workers")
    workers = by_workers(reduced, barred.bar)
    measured = page.Measured(
        versions(),
        os.cpu_count(),
        busy,
        missing(),
        found,
        shells,
        costs,
        meshes,
        made,
        fineness,
        bars,
        workers,
    )
    tell("writing")
    for name, text in (("benchmarks.md", write(measured)), (page.PICTURE, page.picture(found))):
        part = DOCS / f"{name}.part"
        part.write_text(text, encoding="utf-8")
        part.replace(DOCS / name)
    tell(f"written: docs/benchmarks.md, docs/{page.PICTURE}")


if __name__ == "__main__":
    main()
