"""The benchmark page from what was measured: tables, sentences and the picture."""

import io
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tests.benchmarks.comparison import BRICKS, OURS, SHELLS, WEDGES, Comparison, Run
from tests.benchmarks.growth import Cost, exponent

COMMAND = "python -m tests.benchmarks.yardstick"
PICTURE = "benchmarks.svg"
STYLES = {OURS: ("o", "-"), WEDGES: ("s", "--"), BRICKS: ("^", ":"), SHELLS: ("D", "-.")}
GOALS = (1.0, 0.5, 0.25)  # percent


@dataclass(frozen=True)
class Measured:
    """All of one run of the command.

    Attributes
    ----------
    versions : dict of str to str
    cores : int
    busy : float
        Processor seconds of all single-threaded runs over their seconds on the clock: 1 on an idle machine.
    missing : tuple of str
        Sentences on tools that are not installed.
    comparisons : tuple of Comparison
        Without and with the bar.
    shells : Comparison or None
    costs : list of Cost
    costs_mesh : dict of str to str
        Mesh of each tool in ``costs``, and its error.
    made : float
        Processor seconds to make the reduced model.
    fineness, bars, workers : DataFrame
    """

    versions: dict
    cores: int
    busy: float
    missing: tuple
    comparisons: tuple[Comparison, ...]
    shells: Comparison | None
    costs: list[Cost]
    costs_mesh: dict
    made: float
    fineness: pd.DataFrame
    bars: pd.DataFrame
    workers: pd.DataFrame


def table(head, rows) -> str:
    """Write a table.

    Parameters
    ----------
    head : sequence of str
    rows : sequence of sequence of str
    """
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(str(cell) for cell in line) + " |" for line in lines) + "\n"


def number(value, digits=2) -> str:
    """Value to some significant digits, thousands set off, no exponent; a dash for what is missing."""
    if value is None or not np.isfinite(value):
        return "-"
    if value == 0:
        return "0"
    places = max(digits - 1 - int(np.floor(np.log10(abs(value)))), 0)
    return f"{round(value, digits - 1 - int(np.floor(np.log10(abs(value))))):,.{places}f}"


def percent(errors) -> tuple[str, str]:
    """Mean and largest size of some errors, percent."""
    if errors is None:
        return "-", "-"
    size = np.abs(errors)
    return f"{size.mean():.2f}", f"{size.max():.2f}"


def accuracy_table(comparison: Comparison) -> str:
    """Unknowns, seconds and errors of every run."""
    rows = []
    for run in comparison.runs:
        own, finest = comparison.own(run), run is comparison.of(run.tool)[-1]
        errors = ("reference", "") if run is comparison.reference else percent(comparison.errors(run))
        rows.append((
            run.tool, run.mesh, f"{run.found.unknowns:,}", number(run.found.seconds), *errors,
            "finest" if finest else percent(own)[1],
        ))  # fmt: skip
    head = ("tool", "mesh", "unknowns", "s", "mean error, %", "largest, %", "largest from own finest, %")
    return table(head, rows)


def frequency_table(comparison: Comparison) -> str:
    """Frequencies of modes 1 to 8 of every run, Hz."""
    rows = [(r.tool, r.mesh, *(f"{f:.2f}" for f in r.found.frequencies)) for r in comparison.runs]
    return table(("tool", "mesh", *(str(k) for k in range(1, 9))), rows)


def goal_table(comparison: Comparison) -> str:
    """Quickest run of each tool whose mean error is within a goal."""
    tools = list(dict.fromkeys(r.tool for r in comparison.runs))
    rows = []
    for goal in GOALS:
        cells, base = [], None
        for tool in tools:
            best = quickest(comparison, tool, goal)
            if best is None:
                cells.append("not reached")
                continue
            base = best.found.seconds if tool == OURS else base
            ratio = (
                "" if tool == OURS or base is None else f", {number(best.found.seconds / base)} times ours"
            )
            cells.append(f"{number(best.found.seconds)} s{ratio}; {best.found.unknowns:,}")
        rows.append((f"{goal:g} %", *cells))
    return table(("mean error within", *tools), rows)


def worst(comparison: Comparison) -> str:
    """What our finest mesh is off by: sentence."""
    run = comparison.of(OURS)[-1]
    errors = comparison.errors(run)
    if errors is None:
        return "No reference: none of the tools is installed.\n"
    signed = ", ".join(f"{v:+.2f}" for v in errors)
    side = "all too low" if errors.max() < 0 else "all too high" if errors.min() > 0 else "on both sides"
    text = (
        f"platemodel on its finest mesh less the reference, modes 1 to 8, percent: {signed}; {side}. That is "
        "what the shell and rib theory leaves, and what the reference lacks; no finer mesh takes it away."
    )
    if np.abs(errors).mean() > min(np.abs(comparison.errors(r)).mean() for r in comparison.of(OURS)):
        text += (
            " Coarser meshes of ours come nearer by chance: their frequencies are raised by the mesh, which "
            "hides part of what the theory lowers."
        )
    if comparison.check is not None:
        other = np.abs(comparison.errors(comparison.check)).max()
        text += (
            f" The finest mesh of the other tool ({comparison.check.tool}) is within {other:.2f} % of the "
            "reference; differences below that decide nothing."
        )
    return text + "\n"


def picture(comparisons) -> str:
    """Error over seconds and over unknowns, as SVG text."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 3.6 * len(comparisons)), layout="constrained")
    axes = figure.subplots(len(comparisons), 2, squeeze=False, sharey=True)
    for row, comparison in zip(axes, comparisons, strict=True):
        for ax, name in zip(row, ("seconds", "unknowns"), strict=True):
            for tool, (marker, line) in STYLES.items():
                runs = [r for r in comparison.of(tool) if r is not comparison.reference]
                if not runs or comparison.reference is None:
                    continue
                x = [getattr(r.found, name) for r in runs]
                y = [np.abs(comparison.errors(r)).mean() for r in runs]
                ax.loglog(x, y, marker=marker, linestyle=line, label=tool)
            ax.set_xlabel(name)
            ax.set_title(comparison.title, fontsize="medium")
            ax.grid(True, which="both", alpha=0.3)
        row[0].set_ylabel("mean error of modes 1 to 8, %")
        if row[0].get_lines():
            row[0].legend()
    out = io.StringIO()
    with mpl.rc_context({"svg.hashsalt": "benchmarks", "svg.fonttype": "none"}):
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": "platemodel"})
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines()) + "\n"


def alt_text(comparisons) -> str:
    """Return the picture in words, from its numbers."""
    parts = []
    for comparison in comparisons:
        for tool in STYLES:
            runs = [r for r in comparison.of(tool) if r is not comparison.reference]
            if runs and comparison.reference is not None:
                ends = (runs[0], runs[-1])
                sizes = [
                    f"{np.abs(comparison.errors(r)).mean():.2f} % at {number(r.found.seconds)} s"
                    for r in ends
                ]
                parts.append(f"{comparison.title}, {tool}: " + " to ".join(sizes))
    return "Mean error over seconds (left) and unknowns (right), both logarithmic. " + "; ".join(parts)


def quickest(comparison: Comparison, tool: str, goal: float) -> Run | None:
    """Quickest run of a tool whose mean error, and its finer meshes', is within a goal, percent; or None."""
    good = []
    for run in reversed([r for r in comparison.of(tool) if r is not comparison.reference]):
        if np.abs(comparison.errors(run)).mean() > goal:
            break
        good.append(run)
    return min(good, key=lambda r: r.found.seconds, default=None)


def cost_table(costs: list[Cost], meshes: dict) -> str:
    """One more bar, every way, with ratios to the quickest answer of the same kind by the full model."""
    base = next(c.seconds for c in costs if c.way == "platemodel, kept mesh")
    rows = [
        (c.way, meshes.get(c.way, "fineness 1"), c.what, number(c.seconds), number(c.seconds / base))
        for c in costs
    ]
    return table(("way", "mesh", "done for the new bar", "s", "over the kept mesh"), rows)


def fineness_table(frame: pd.DataFrame) -> str:
    """Seconds of the stages on finer meshes, and the power of the unknowns that each grows with."""
    stages = ["assembly", "bar", "factorisation", "8 modes"]
    rows = [
        (f"{r['fineness']:g}", f"{r['triangles']:,}", f"{r['unknowns']:,}", *(number(r[s]) for s in stages),
         number(sum(r[s] for s in stages)), f"{r['entries'] / 1e6:.1f}")
        for r in frame.to_dict("records")
    ]  # fmt: skip
    whole = frame[stages].sum(axis=1)
    powers = [exponent(frame["unknowns"], frame[s].clip(lower=1e-4)) for s in stages]
    powers += [exponent(frame["unknowns"], values) for values in (whole, frame["entries"])]
    rows.append(("power of the unknowns", "", "", *(f"{p:.1f}" for p in powers)))
    timed = [f"{s}, s" for s in stages]
    head = ("fineness", "triangles", "unknowns", *timed, "all, s", "factor's entries, millions")
    return table(head, rows)


def bars_table(frame: pd.DataFrame, full: float) -> str:
    """Seconds of sweeps over more bars."""
    rows = [
        (f"{r['bars']:,}", number(r["seconds"]), number(r["a bar, ms"]),
         number(1e-3 * r["a bar, ms"] / full), f"{r['largest estimated error']:.0e}", r["in full"])
        for r in frame.to_dict("records")
    ]  # fmt: skip
    return table(
        ("bars", "s", "ms a bar", "of a bar in full", "largest estimated error", "solved in full"), rows
    )


def workers_table(frame: pd.DataFrame) -> str:
    """Seconds of a sweep on worker processes."""
    alone = frame["first"].iloc[0]
    rows = [
        (
            r["workers"],
            number(r["first"]),
            number(alone / r["first"]),
            number(r["again"]),
            number(alone / r["again"]),
        )
        for r in frame.to_dict("records")
    ]
    return table(
        (
            "workers",
            "s with their start, clock",
            "times faster",
            "s when they run already, clock",
            "times faster",
        ),
        rows,
    )
