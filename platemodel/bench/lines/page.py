"""The page of lines that a bar could have: A4, upright, one column a line."""

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.finding_words import short
from platemodel.bench.kit.page import A4_UPRIGHT
from platemodel.bench.kit.paper import new_page
from platemodel.bench.kit.typeset import HEAD, LINE, TEXT, TITLE, Item, Slot, broken, write, write_broken
from platemodel.bench.lines.result import DISTANCES, FIGURES, OLD_NOTE, JobLines, choice_note, shown
from platemodel.bench.sheets.plan_view import draw_plan_view, plan_scale

LEFT, RIGHT, LABELS = 15.0, 195.0, 42.0  # mm
TALL = 64.0  # mm, of the small plans at most
WORDS = (
    "Each line is drawn from inside, the bass side right, with its distances from the axis to the bar's "
    "inner edge. All are solved alike; a difference of less than 1 % in stiffness or pitch is none. The "
    "program does not choose: a bar under its foot, a bar clear of the hole and a bar off a crack are "
    "weighed by the maker."
)


def lines_page(result: JobLines) -> Figure:
    """Lay out the page.

    Parameters
    ----------
    result : JobLines

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4.
    """
    job, found = result.job, result.candidates
    figure, ax = new_page(*A4_UPRIGHT)
    y = write_broken(ax, LEFT, 284.0, f"Where the bar could go: {job.name}", RIGHT - LEFT, TITLE, bold=True)
    notes = [cautions.invented_note(job), WORDS, OLD_NOTE if job.old_bar is not None else ""]
    y = write_broken(ax, LEFT, y, " ".join(filter(None, notes)), RIGHT - LEFT) - 3.0
    wide = (RIGHT - LEFT - LABELS) / len(found)
    edges = [LEFT + LABELS + k * wide for k in range(len(found))]
    names = [broken(c.name, wide - 3.0, HEAD, bold=True) for c in found]
    for x, lines in zip(edges, names, strict=True):
        for n, line in enumerate(lines):
            write(ax, x, y - LINE[HEAD] * n, line, HEAD, bold=True)
    y -= LINE[HEAD] * max(map(len, names)) + 2.0
    room = (wide - 3.0, TALL)
    for x, candidate in zip(edges, found, strict=True):
        draw_plan_view(ax, job.top, candidate.bar, job.marks, (x, y), room)
    y -= 1e3 * job.top.outline.body_length / plan_scale(job.top, room) + 9.0
    y = _rows(ax, result, DISTANCES, "Distances, mm", edges, y)
    y = _rows(ax, result, {k: v[0] for k, v in FIGURES.items()}, "What it does", edges, y)
    y = _blocks(
        ax, "In the way", edges, wide, y, [[short(f) for f in c.conflicts] or ["nothing"] for c in found]
    )
    _typed(ax, found, edges, y)
    write(ax, LEFT, 19.0, choice_note(result))
    write(ax, LEFT, 19.0 - LINE[TEXT], cautions.ESTIMATE)
    return figure


def _typed(ax, found, edges, y):
    """Write what to type for each line: the names once, at the left, the values below each."""
    write(ax, LEFT, y, "To type in [bar]", HEAD, bold=True)
    y -= LINE[HEAD] + 1.0
    typed = [dict(line.split(" = ") for line in c.lines) for c in found]
    for name in dict.fromkeys(name for values in typed for name in values):
        write(ax, LEFT, y, name)
        for x, values in zip(edges, typed, strict=True):
            write(ax, x, y, values.get(name, "as it is"))
        y -= LINE[TEXT] + 0.4


def _rows(ax, result, labels, title, edges, y):
    write(ax, LEFT, y, title, HEAD, bold=True)
    y -= LINE[HEAD] + 1.0
    for name, label in labels.items():
        lines = broken(label, LABELS - 3.0)
        for n, line in enumerate(lines):
            write(ax, LEFT, y - LINE[TEXT] * n, line)
        for k, x in enumerate(edges):
            write(ax, x, y, shown(result, k, name), bold=k == 0)
        y -= LINE[TEXT] * len(lines) + 1.1
        ax.plot([LEFT, RIGHT], [y + 0.9, y + 0.9], color=INK, lw=0.25)
    return y - 2.5


def _blocks(ax, title, edges, wide, y, texts):
    """Texts below each line's column; the height below the longest."""
    for n, line in enumerate(broken(title, LABELS - 3.0, HEAD, bold=True)):
        write(ax, LEFT, y - LINE[HEAD] * n, line, HEAD, bold=True)
    slots = [Slot(ax, x, y, 0.0, wide - 3.0) for x in edges]
    for slot, parts in zip(slots, texts, strict=True):
        slot.put([Item(part) for part in parts])
    return float(np.min([s.y for s in slots])) - 3.0
