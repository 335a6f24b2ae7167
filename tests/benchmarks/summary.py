"""The benchmark page in a few sentences, from its numbers."""

import numpy as np

from tests.benchmarks import page
from tests.benchmarks.comparison import BRICKS, OURS, WEDGES
from tests.benchmarks.growth import exponent


def summary(measured: page.Measured) -> str:
    """Return the page in a few lines, from its numbers."""
    lines = [line for comparison in measured.comparisons for line in _summary_of(comparison)]
    kept = next(c.seconds for c in measured.costs if c.way == "platemodel, kept mesh")
    quick = next(c.seconds for c in measured.costs if c.way == "reduced model")
    tools = [c for c in measured.costs if c.way in (BRICKS, WEDGES)]
    lines.append(
        f"One more bar, 8 modes: platemodel on the kept mesh {page.number(kept)} s; "
        + "".join(f"{c.way} {page.number(c.seconds / kept)} times that; " for c in tools)
        + f"the reduced model 1/{page.number(kept / quick)} of it."
    )
    whole = measured.fineness[["assembly", "bar", "factorisation", "8 modes"]].sum(axis=1)
    power = exponent(measured.fineness["unknowns"], whole)
    last, again = measured.bars.iloc[-1], measured.workers["again"]
    several, faster = measured.workers["workers"].iloc[-1], page.number(again.iloc[0] / again.iloc[-1])
    lines.append(
        f"platemodel's seconds grow as the unknowns to the power of {power:.1f}; {int(last['bars']):,} bars "
        f"on the reduced model take {page.number(last['a bar, ms'])} ms each; {several} workers are {faster} "
        "times as fast as none."
    )
    return "\n".join(f"- {line}" for line in lines) + "\n"


def _summary_of(comparison):
    """What one comparison comes to: the quickest runs within the middle goal, and what is left at the end."""
    if comparison.reference is None:
        return
    best = {
        tool: page.quickest(comparison, tool, page.GOALS[1])
        for tool in dict.fromkeys(r.tool for r in comparison.runs)
    }
    ours = best.pop(OURS)
    if ours is not None:
        text = f"{comparison.title}, mean error within {page.GOALS[1]:g} %: "
        text += f"platemodel {page.number(ours.found.seconds)} s"
        for tool, run in best.items():
            if run is None:
                text += f"; {tool} does not reach it here"
                continue
            seconds, unknowns = (
                page.number(getattr(run.found, n) / getattr(ours.found, n)) for n in ("seconds", "unknowns")
            )
            text += f"; {tool} {seconds} times the seconds with {unknowns} times the unknowns"
        yield text + "."
    errors = comparison.errors(comparison.of(OURS)[-1])
    k = int(np.abs(errors).argmax())
    text = (
        f"{comparison.title}: what platemodel's finest mesh leaves is {np.abs(errors).mean():.2f} % in the "
        f"mean, at most {errors[k]:+.2f} % (mode {k + 1})"
    )
    if comparison.check is not None:
        left = np.abs(comparison.errors(comparison.check))
        text += f"; {comparison.check.tool} on its finest {left.mean():.2f} %, at most {left.max():.2f} %"
        if left.mean() < np.abs(errors).mean():
            text += ": whoever has the time gets nearer with solids"
    yield text + "."
