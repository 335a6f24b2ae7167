"""The wood that was found from readings, with its doubt: the table wood_found.csv."""

import csv
import io
from pathlib import Path

import numpy as np

from platemodel.errors import Problem
from platemodel.job.tables import parse_number, split_rows
from platemodel.job.toml import read_text, shown
from platemodel.wood import CONSTANTS, Orthotropic, WoodEstimate

WOOD_FILE = "wood_found.csv"
#: Columns of wood_found.csv and what they are.
COLUMNS = {
    "constant": "one of the ten, each once",
    "value": "its median; GPa, kg/m3, Poisson's ratios without unit",
    "sd_percent": "its standard deviation",
    **{f"with_{name}": f"correlation with {name}" for name in CONSTANTS},
}
# Of the constants of job.toml from those of the table: farther off, it is another wood. They are written to
# four digits.
SAME = 2e-3
MOST_SD = 100.0  # percent
_HEAD = (
    "# The wood of the top as found from readings, with its doubt. Written by the tool. It counts as long\n"
    "# as [wood.top] in job.toml states these values; change them there, and this table is set aside.\n"
)


def wood_table(estimate: WoodEstimate) -> str:
    """Write an estimate as the text of wood_found.csv."""
    out = io.StringIO()
    out.write(_HEAD + f"# From: {shown(estimate.source, 400)}\n")
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    for name in CONSTANTS:
        correlations = [f"{estimate.correlation(name, other):.6f}" for other in CONSTANTS]
        value = f"{_unit(name) * getattr(estimate.wood, name):.5g}"
        rows.writerow([name, value, f"{100.0 * estimate.sd(name):.6g}", *correlations])
    return out.getvalue()


def read_wood_found(
    folder: Path, wood: Orthotropic, problems: list[Problem], notes: list[str]
) -> WoodEstimate | None:
    """Read wood_found.csv, if there is one and job.toml still states that wood.

    Parameters
    ----------
    wood : Orthotropic
        Of job.toml.

    Returns
    -------
    WoodEstimate or None
        Its middle is the wood of job.toml.
    """
    if not (folder / WOOD_FILE).exists():
        return None
    text = read_text(folder, WOOD_FILE, problems, notes)
    rows = {} if text is None else _rows(text, problems)
    if rows is None or not rows:
        return None
    stated = [name for name in CONSTANTS if not name.startswith("nu")]  # Poisson ratios job.toml has none of
    off = [n for n in stated if abs(rows[n][0] / (_unit(n) * getattr(wood, n)) - 1.0) > SAME]
    if off:
        notes.append(f"{WOOD_FILE}: set aside, because job.toml states another {off[0]} than was found.")
        return None
    sd = np.array([rows[name][1] for name in CONSTANTS]) / 100.0
    together = np.array([rows[name][2:] for name in CONSTANTS])
    cov = 0.5 * (together + together.T) * np.outer(sd, sd)
    size, turn = np.linalg.eigh(cov)  # rounding may leave one a little below 0
    source = next((line[8:] for line in text.split("\n") if line.startswith("# From: ")), WOOD_FILE)
    return WoodEstimate(wood, (turn * np.maximum(size, 0.0)) @ turn.T, source)


def _unit(name):
    return 1e-9 if name[0] in "EG" else 1.0


def _rows(text, problems):
    """Value, sd and correlations by constant; None if the table has a problem."""

    def refuse(field, found, allowed, line=None):
        problems.append(Problem(WOOD_FILE, field, found, allowed, line))

    cells, separator = split_rows(text)
    again = "`platemodel wood FOLDER --keep` writes it; take the file away otherwise"
    if not cells or cells[0][1] != list(COLUMNS):
        refuse("column names", shown(separator.join(cells[0][1]) if cells else "nothing"), again)
        return None
    found = {}
    for line, row in cells[1:]:
        numbers = [parse_number(cell, separator != ",") for cell in row[1:]]
        if row[0] not in CONSTANTS or row[0] in found or len(numbers) != len(COLUMNS) - 1 or None in numbers:
            refuse("constant", shown(row[0]), again, line)
            return None
        value, sd, *together = numbers
        if not value > 0 or not 0 <= sd <= MOST_SD or np.abs(together).max() > 1.0:
            refuse(row[0], shown(separator.join(row)), "value above 0, sd_percent 0 to 100, -1 to 1", line)
            return None
        found[row[0]] = numbers
    if len(found) < len(CONSTANTS):
        refuse("constant", f"{len(found)} rows", f"{len(CONSTANTS)} are needed; {again}")
        return None
    return found
