"""Reads gaps between bar and plate from a CSV table; millimetres become metres here."""

import os
from pathlib import Path

import numpy as np

from platemodel.errors import JobError, Problem
from platemodel.instrument.gaps import FEWEST, Gaps
from platemodel.job.tables import allowed_range, parse_number, split_rows
from platemodel.job.toml import nearest, read_text, shown

GAPS_FILE = "gaps.csv"
SIDES = ("inner", "outer")
RANGES = {"x_mm": (0.0, 700.0), "gap_mm": (0.0, 10.0)}
_COLUMNS = ("x_mm", "gap_mm", "side", "note")
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

    def refuse(field, found, allowed, line=None):
        problems.append(Problem(path.name, field, shown(found), allowed, line))

    text = read_text(path.parent, path.name, problems, []) if path.parent.is_dir() else None
    if text is None:
        if not problems:
            refuse("", "no such folder", "give the path of a CSV table of gaps")
        raise JobError(problems)
    rows, separator = split_rows(text)
    if len(rows) > MOST_ROWS + 1:
        refuse("", f"{len(rows)} lines", f"at most {MOST_ROWS} readings")
        raise JobError(problems)
    names = [c.strip("\"'").casefold() for c in rows[0][1]] if rows else []
    for name in names:
        if name not in _COLUMNS:
            allowed = f"no such column.{nearest(name, _COLUMNS)}"
            refuse("column names", name or "an empty name", allowed, rows[0][0])
    if len(set(names)) < len(names) or not {"x_mm", "gap_mm"} <= set(names):
        refuse("column names", ", ".join(names) or "none", "x_mm and gap_mm once each; side, note if wanted")
    if problems:
        raise JobError(problems)
    found: dict[float, dict] = {}
    for line, cells in rows[1:]:
        row = dict(zip(names, cells, strict=False))
        if len(cells) > len(names):
            hint = "; a decimal comma needs ; between the columns" if separator == "," else ""
            refuse("", separator.join(cells), f"at most {len(names)} cells{hint}", line)
            continue
        numbers = {}
        for name, (low, high) in RANGES.items():
            value = parse_number(row.get(name, ""), separator != ",")
            if value is None:
                refuse(name, row.get(name) or "an empty cell", "a number in mm is needed", line)
            elif not low <= value <= high:
                refuse(name, row[name], allowed_range(value, low, high), line)
            else:
                numbers[name] = value
        side = row.get("side", "").casefold()
        if side and side not in SIDES:
            refuse("side", side, "allowed are inner, outer, or an empty cell for the whole width", line)
        if len(numbers) < len(RANGES) or (side and side not in SIDES):
            continue
        if numbers["x_mm"] > 1e3 * bar_length + 0.5:
            refuse(
                "x_mm", row["x_mm"], f"the bar is {1e3 * bar_length:.1f} mm long, from its lower end", line
            )
            continue
        at = found.setdefault(numbers["x_mm"], {})
        if side in at or (at and "" in (side, *at)):
            refuse("x_mm", row["x_mm"], "one reading a place, or one for each flank", line)
        at[side] = numbers["gap_mm"]
    if not problems and len(found) < FEWEST:
        refuse("", f"{len(found)} places", f"at least {FEWEST}: both ends and one between")
    if problems:
        raise JobError(problems)
    return _as_gaps(found, bar_length)


def _as_gaps(found, bar_length):
    places = sorted(found)
    gap = [float(np.mean(list(found[x].values()))) for x in places]
    uneven = [found[x].get("inner", 0.0) - found[x]["outer"] if len(found[x]) == 2 else 0.0 for x in places]
    s = np.minimum(1e-3 * np.array(places), bar_length)
    return Gaps(s, 1e-3 * np.array(gap), 1e-3 * np.array(uneven))
