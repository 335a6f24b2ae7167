"""The words of the benchmark page around its tables."""

import re
import textwrap

import numpy as np

from tests.benchmarks import page
from tests.benchmarks.comparison import BRICKS, OURS, SHELLS
from tests.benchmarks.summary import summary

TOP = """# Benchmarks

Made by `{command}` in one go; do not edit. "s" are seconds of one processor, which on an idle machine are
those of the clock. {cores} cores; these runs, one thread each (`OPENBLAS_NUM_THREADS=1` and the like), got
{busy:.0%} of one. Seconds depend on the machine and on what else it does, ratios much less.
Versions: {versions}.
{missing}
Other benchmarks: `python -m tests.benchmarks.mesh_convergence`, `python -m tests.benchmarks.reduced`,
`python -m tests.benchmarks.speed`. What the mechanics is checked against:
[verification.md](verification.md).

## What is compared

The demo violin top (`data/jobs/modern_violin`; invented), free, modes 1 to 8, without and with its bar.
Same outline, sound holes, arching, thickness from point to point, wood and carved grain in all tools; the
bar's section is taken as a full rectangle. Only functions of the plan are shared, no mesh and no element:

- **platemodel**: quintic shell triangles with the rib on its seat, [theory.md](theory.md). Seconds:
  assembly of the shell, placing the bar, 8 modes; median of up to five goes.
- **CalculiX C3D20R**: 20-node bricks with reduced integration, swept from the inner to the outer face; each
  plan triangle is cut into three quadrilaterals; the bar's bricks share the plate's nodes. Seconds: the
  solver's whole run, reading of its input included.
- **CalculiX S8R**: 8-node shells, which the solver turns into one layer of such bricks; without bar only,
  for it cannot be joined to the shell's faces on its width without ties or constraints.
- **NGSolve**: wedges of polynomial order 2 to 4 through the whole thickness, full integration, rims and
  faces curved by polynomials of the same order; its sparse Cholesky factors under scipy's Lanczos. Seconds:
  assembly, factors, 8 modes.

Meshes are a mesher's, as they come; one laid by hand would need fewer bricks. Meshing, curving and loading
of libraries are not counted, for anyone. Errors are of frequencies, over modes
1 to 8.
"""

REFERENCE = """The reference is the finest mesh of {tool}: {mesh}, {unknowns:,} unknowns.
"""

KNOWN = """What is known of these differences:
[theory.md](theory.md#15-what-departs-from-the-first-design-and-why-measured), (e).
"""

SHELLS_TEXT = """## Shells against shells

The solver lays the wood's axes of a shell into its surface, whatever orientation is given. Put as it
stands, the top carved from a block comes out too stiff: S8R on its finest mesh is {low:.1f} to {high:.1f} %
above the carved reference in modes 1 to 8, and no mesh helps. Here the grain is bent along the surface in
all three tools (platemodel with `axes=None`, bricks with axes of their own in every column), so that the
elements are compared and not the wood. "Along the surface" is not quite the same direction in the three.

"""

COST_TEXT = """## One more bar

The same top, a bar of another height. A general tool meshes and solves anew; platemodel keeps mesh and
shell and adds the rib; the reduced model ([reduced-model.md](reduced-model.md)) keeps a basis as well.
Meshing is counted here.

"""

GROWTH_TEXT = """## How the cost grows

### With the mesh

Top with bar, meshing left out. "bar": rib, seat, junction and the sum of the matrices; "8 modes": with a
factorisation of their own.

"""

BARS_TEXT = """### With the number of bars

Heights on one line by `study.sweep`, on a reduced model whose making took {made} s ({ratio} bars of the
full model) and is not in the table. A sweep has a fixed cost (its line, its check of every bar, its
packing).

"""

WORKERS_TEXT = """### With the number of workers

The longest of these sweeps on worker processes (`study.local_workers`), tasks of 125 bars, by the clock, so
that other work on the machine counts here. Starting a process loads the libraries anew.

"""


def write(measured: page.Measured) -> str:
    """Return the whole page."""
    versions = ", ".join(f"{name} {value}" for name, value in measured.versions.items())
    missing = "".join(f"\n{line}\n" for line in measured.missing)
    parts = [
        TOP.format(
            command=page.COMMAND, cores=measured.cores, busy=measured.busy, versions=versions, missing=missing
        )
    ]
    parts.append(f"## In short\n\n{summary(measured)}")
    parts.append("## Accuracy a second and an unknown\n")
    parts.append(f"![{page.alt_text(measured.comparisons)}]({page.PICTURE})\n")
    for comparison in measured.comparisons:
        parts.append(f"### {comparison.title}\n")
        parts += _accuracy(comparison)
    parts.append(KNOWN)
    parts += _shells(measured)
    full = measured.costs[-3].seconds
    parts += [COST_TEXT + page.cost_table(measured.costs, measured.costs_mesh)]
    parts += [GROWTH_TEXT + page.fineness_table(measured.fineness)]
    text = BARS_TEXT.format(made=page.number(measured.made), ratio=page.number(measured.made / full))
    parts += [
        text + page.bars_table(measured.bars, full),
        WORKERS_TEXT + page.workers_table(measured.workers),
    ]
    parts.append("## Frequencies\n")
    for comparison in (*measured.comparisons, *([measured.shells] if measured.shells else [])):
        parts.append(f"{comparison.title}, Hz.\n\n{page.frequency_table(comparison)}")
    return "\n".join(wrapped(part) for part in parts)


def wrapped(text: str) -> str:
    """Text with paragraphs and list items broken into lines; tables, headings and pictures as they are."""
    out = []
    for block in text.split("\n\n"):
        items = re.split(r"\n(?=- )", block.rstrip("\n"))
        whole = block.startswith(("|", "#", "![")) or not block.strip()
        filled = items if whole else [_fill(item) for item in items]
        out.append("\n".join(filled) + "\n" * (len(block) - len(block.rstrip("\n"))))
    return "\n\n".join(out)


def _fill(item):
    indent = "  " if item.startswith("- ") else ""
    # code is not broken: its spaces are set apart meanwhile
    whole = re.sub(r"`[^`]*`", lambda code: code.group().replace(" ", "\0"), " ".join(item.split()))
    filled = textwrap.fill(
        whole, 118, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )
    return filled.replace("\0", " ")


def _accuracy(comparison):
    out, reference = [], comparison.reference
    if reference is not None:
        out.append(
            REFERENCE.format(tool=reference.tool, mesh=reference.mesh, unknowns=reference.found.unknowns)
        )
    out.append(page.accuracy_table(comparison))
    if reference is not None:
        out += [
            "Quickest run within an error that finer meshes keep, with its unknowns:\n",
            page.goal_table(comparison),
        ]
    return [*out, page.worst(comparison)]


def _shells(measured):
    shells, carved = measured.shells, measured.comparisons[0].reference
    if shells is None or carved is None:
        return []
    finest = shells.of(SHELLS)[-1].found.frequencies
    above = 100 * (finest / carved.found.frequencies - 1)
    ours = np.abs(shells.errors(shells.of(OURS)[-1])).max()
    return [
        SHELLS_TEXT.format(low=above.min(), high=above.max()) + page.accuracy_table(shells),
        f"platemodel's finest mesh is within {ours:.2f} % of the {BRICKS.split()[-1]} bricks, S8R's within "
        f"{np.abs(shells.errors(shells.of(SHELLS)[-1])).max():.2f} %.\n",
    ]
