"""Reads gaps between bar and plate from a CSV table; millimetres become metres here."""

import os
from pathlib import Path

import numpy as np

from platemodel.errors import JobError, Problem
from platemodel.instrument.gaps import FEWEST, Gaps
from platemodel.job.row_table import RowTable
from platemodel.job.tables import Column
from platemodel.job.toml import read_text

GAPS_FILE = "gaps.csv"
SIDES = ("inner", "outer")
NUMBERS = (
    Column("x_mm", 0.0, 700.0, "from the bar's lower end, along the bar"),
    Column("gap_mm", 0.0, 10.0, "between bar and plate"),
)
MOST_ROWS = 200


def read_gaps(path: str | os.PathLike, bar_length: float) -> Gaps:
    """Read a table of gaps.

    Parameters
    ----------
    path : path
        Columns ``x_mm`` (from the bar's lower end, along the bar), ``gap_mm``, and if wanted ``side``
        (``inner`` or ``outer`` flank; empty: over the whole width) and ``note``.
    bar_length : float
        m; no place may lie beyond.

    Returns
    -------
    Gaps
        Where both flanks were read: their mean, and their difference as ``uneven``.

    Raises
    ------
    JobError
        Everything that is wrong with the table, at once.
    """
    path = Path(path)
    problems: list[Problem] = []
    text = None
    if path.parent.is_dir():
        text = read_text(path.parent, path.name, problems, [])
    else:
        problems.append(Problem(path.name, "", "no such folder", "give the path of a CSV table of gaps"))
    if text is None:
        raise JobError(problems)
    table = _GapRows(path.name, bar_length, problems)
    table.read(text)
    if not problems and len(table.found) < FEWEST:
        table.refuse("", f"{len(table.found)} places", f"at least {FEWEST}: both ends and one between")
    if problems:
        raise JobError(problems)
    return _as_gaps(table.found, bar_length)


class _GapRows(RowTable):
    names, required, filled = ("x_mm", "gap_mm", "side", "note"), ("x_mm", "gap_mm"), ("x_mm", "gap_mm")
    numbers, most = NUMBERS, MOST_ROWS

    def __init__(self, file, bar_length, problems):
        super().__init__(problems)
        self.file, self.bar_length = file, bar_length
        self.found: dict[float, dict] = {}  # place, mm, to side to gap, mm

    def check(self, line, got, numbers):
        self.check_text(got, "note", line)
        side, x = got.get("side", "").casefold(), numbers["x_mm"]
        if side and side not in SIDES:
            self.refuse("side", side, "allowed are inner, outer, or an empty cell for the whole width", line)
        if x is not None and x > 1e3 * self.bar_length + 0.5:
            long = f"the bar is {1e3 * self.bar_length:.1f} mm long, from its lower end"
            self.refuse("x_mm", got["x_mm"], long, line)

    def make(self, line, got, numbers):
        side, at = got.get("side", "").casefold(), self.found.setdefault(numbers["x_mm"], {})
        if side in at or (at and "" in (side, *at)):
            self.refuse("x_mm", got["x_mm"], "one reading a place, or one for each flank", line)
        at[side] = numbers["gap_mm"]


def _as_gaps(found, bar_length):
    places = sorted(found)
    gap = [float(np.mean(list(found[x].values()))) for x in places]
    uneven = [found[x].get("inner", 0.0) - found[x]["outer"] if len(found[x]) == 2 else 0.0 for x in places]
    s = np.minimum(1e-3 * np.array(places), bar_length)
    return Gaps(s, 1e-3 * np.array(gap), 1e-3 * np.array(uneven))
