"""CSV tables of a job folder: separator, decimal comma, column names and cells; still in millimetres."""

import csv
import io
import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from platemodel.errors import Problem
from platemodel.job.toml import NOT_MEASURED, nearest, read_text, shown

MAX_ROWS = 20_000
_MAX_CELL_PROBLEMS = 5
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
#: First cell of a table written as a grid: stations x down the side, offsets y along the top.
GRID_CORNER = "x_mm|y_mm"


@dataclass(frozen=True)
class Column:
    """One column of a table: name with unit, and the allowed range in that unit.

    ``instead`` is a column that may stand in its place, where there is another way to measure the same.
    """

    name: str
    low: float
    high: float
    doc: str
    instead: "Column | None" = None


@dataclass(frozen=True)
class Table:
    """A table as read: `values` (n, k) float64 in millimetres, `lines` (n,) line numbers in the file.

    ``instead`` names the columns that stood in the place of the usual ones.
    """

    file: str
    values: np.ndarray
    lines: np.ndarray
    instead: tuple[str, ...] = ()


def read_table(
    folder: Path,
    name: str,
    columns: tuple[Column, ...],
    problems: list[Problem],
    notes: list[str],
    field: str = "",
    min_rows: int = 3,
    distinct: int = 0,
    with_fewer: str = "",
) -> Table | None:
    """Read one CSV table and check every cell.

    Parameters
    ----------
    folder, name : Path, str
        The job folder and the plain file name in it.
    columns : tuple of Column
        The columns wanted, in the order in which they are returned. When the first two are x_mm and
        y_mm the table may also be written as a grid, see `GRID_CORNER`.
    field : str
        Field of job.toml that named the file.
    min_rows : int
        Fewest rows that make sense.
    distinct : int
        Number of leading columns that together must not repeat (0: repeats are allowed).
    with_fewer : str
        What to do with fewer rows than ``min_rows``.

    Returns
    -------
    Table or None
        None when anything was wrong.
    """
    text = read_text(folder, name, problems, notes, field)
    if text is None:
        return None
    reader = _Reader(name, columns, problems)
    rows = reader.rows(text)
    if rows is None:
        return None
    if len(rows) < min_rows:
        needed = f"at least {min_rows} are needed" + f"; with fewer {with_fewer} instead" * bool(with_fewer)
        problems.append(Problem(name, "", f"{len(rows)} rows of numbers", needed))
        return None
    values = np.array([r for _, r in rows], dtype=float)
    lines = np.array([n for n, _ in rows])
    if distinct:
        kept = _drop_repeats(values, lines, distinct, name, columns, problems, notes)
        if kept is None:
            return None
        values, lines = values[kept], lines[kept]
    return Table(name, values, lines, tuple(c.name for c in reader.columns if c not in columns))


class _Reader:
    """Reads one table line by line, and lists only the first few bad cells of a file that is all wrong."""

    def __init__(self, name, columns, problems):
        self.name, self.columns, self.problems = name, columns, problems
        self.bad = 0

    def refuse(self, field, found, allowed, line=None):
        self.bad += 1
        if self.bad <= _MAX_CELL_PROBLEMS:
            self.problems.append(Problem(self.name, field, shown(found), allowed, line))

    def rows(self, text):
        """Return [(line, [numbers in the wanted order])], or None when something was wrong."""
        cells, separator = split_rows(text)
        if not cells:
            self.refuse(
                "", "an empty table", f"first line: {self._names(',')}; then one row of numbers a line"
            )
            return None
        if len(cells) > MAX_ROWS + 1:
            self.refuse("", f"{len(cells)} lines", f"at most {MAX_ROWS}; is this the right file?")
            return None
        self.comma = separator != ","
        line, header = cells[0]
        names = header_names(header)
        wide = len(self.columns) == 3 and [c.name for c in self.columns[:2]] == ["x_mm", "y_mm"]
        if wide and names[0].replace(" ", "") == GRID_CORNER:
            rows = self._grid(line, header, cells[1:])
        else:
            self.columns = tuple(_used(c, names) for c in self.columns)
            order = self._order(line, header, names)
            rows = None if order is None else self._list(order, len(names), cells[1:], separator)
        if self.bad > _MAX_CELL_PROBLEMS:
            self.problems.append(
                Problem(
                    self.name,
                    "",
                    f"{self.bad - _MAX_CELL_PROBLEMS} more of the same kind",
                    "mend the ones above first",
                )
            )
        return None if self.bad else rows

    def _names(self, separator):
        return separator.join(c.name for c in self.columns)

    def _order(self, line, header, names):
        wanted = [c.name for c in self.columns]
        if sorted(n for n in names if n not in ("", "note")) == sorted(wanted):
            return [names.index(name) for name in wanted]
        if all(_is_number(c) for c in header if c):
            hint = " The line of column names is missing."
        elif {n.partition("_")[0] for n in wanted} & set(names):
            hint = " The unit belongs in the name."
        else:
            hint = next((h for n in names if n not in wanted and (h := nearest(n, wanted))), "")
        allowed = f"the first line must name {', '.join(wanted)}, each once; a column note may follow.{hint}"
        self.refuse("column names", ", ".join(header), allowed, line)
        return None

    def _list(self, order, named, cells, separator):
        rows = []
        width = max(order) + 1
        for line, row in cells:
            if len(row) < width:
                self.refuse("", separator.join(row), f"{width} cells are needed in this row", line)
                continue
            if any(row[named:]):
                hint = "; a decimal comma needs ; between the columns" if separator == "," else ""
                self.refuse("", separator.join(row), f"{named} cells are enough in this row{hint}", line)
                continue
            numbers = [self._number(row[i], c, line) for i, c in zip(order, self.columns, strict=True)]
            rows.append((line, numbers))
        return rows

    def _grid(self, line, header, cells):
        x_column, y_column, value_column = self.columns
        while header and not header[-1]:
            header = header[:-1]
        across = [self._number(c, y_column, line) for c in header[1:]]
        rows = []
        for at, row in cells:
            x = self._number(row[0], x_column, at)
            extra = [c for c in row[len(across) + 1 :] if c]
            if extra:
                self.refuse("", extra[0], f"at most {len(across) + 1} cells in a row of this grid", at)
            for y, text in zip(across, row[1:], strict=False):
                if text:
                    rows.append((at, [x, y, self._number(text, value_column, at)]))
        return rows

    def _number(self, text, column, line):
        value = parse_number(text, self.comma)
        if value is None:
            if not text:
                hint = "a number in mm is needed; what was not measured: leave the row out"
            elif text.casefold() in NOT_MEASURED:
                hint = "what was not measured: leave the row out, or in a grid leave the cell empty"
            elif parse_number(text, True) is not None:
                hint = "use a point, or ; between the columns"
            else:
                hint = "a number in mm is needed"
            self.refuse(column.name, text or "an empty cell", hint, line)
        elif not column.low <= value <= column.high:
            self.refuse(column.name, text, self._range(value, column), line)
        else:
            return value
        return math.nan

    def _range(self, value, column):
        """Say what is allowed, and which slip of axes would explain the value."""
        text = allowed_range(value, column.low, column.high)
        names = [c.name for c in self.columns]
        if names[:2] != ["x_mm", "y_mm"] or text.endswith("?"):
            return text
        if column.name == "x_mm" and value < column.low:
            return f"{text}; x counts from the lower edge: is the origin elsewhere, or are x and y swapped?"
        if column.name == "y_mm" and value > column.high:
            return f"{text}; is the tracing turned by 90 degrees, or are the columns x and y swapped?"
        return text


def allowed_range(value: float, low: float, high: float) -> str:
    """Return 'allowed LOW to HIGH', with a hint when another unit of length would fit the range."""
    text = f"allowed {low:g} to {high:g}"
    if value >= 10.0 and value % 1.0 == 0.0 and low <= value / 10.0 <= high:
        return f"{text}; was it {value / 10.0:g}, with the decimal sign lost?"
    for factor, unit in ((1000.0, "metres"), (10.0, "centimetres"), (25.4, "inches")):
        if low <= value * factor <= high and value != 0.0:
            return f"{text}; is this in {unit}?"
    return text


def header_names(cells: list[str]) -> list[str]:
    """Return the column names of a header row as they are compared."""
    return [c.strip().strip("\"'").casefold() for c in cells]


def split_rows(text):
    """Return ([(line number, [cells])], separator), without comments, blank lines and empty rows."""
    kept = [
        (n, line) for n, line in enumerate(text.split("\n"), 1) if line.strip() and line.strip()[0] != "#"
    ]
    if not kept:
        return [], ","
    counts = {mark: kept[0][1].count(mark) for mark in ";\t,"}
    separator = max(counts, key=counts.get)
    rows = []
    for number, line in kept:
        try:
            row = next(csv.reader(io.StringIO(line), delimiter=separator, strict=False))
        except (csv.Error, StopIteration):
            row = [line]
        row = [c.strip() for c in row]
        if any(row):
            rows.append((number, row))
    return rows, separator


def _used(column, names):
    """Take the column, or the one that stands in its place in this table."""
    other = column.instead
    return other if other is not None and other.name in names and column.name not in names else column


def _is_number(text):
    return parse_number(text, True) is not None


def parse_number(text: str, comma: bool) -> float | None:
    """Read a number, with a decimal comma where that is allowed; None if it is none."""
    text = text.strip().replace("\u2212", "-")
    if comma and "," in text and "." not in text:
        text = text.replace(",", ".", 1)
    return float(text) if _NUMBER.fullmatch(text) and text.isascii() else None


def _drop_repeats(values, lines, distinct, name, columns, problems, notes):
    """Return indices of the rows to keep: a row that repeats another exactly is dropped, a clash refused."""
    first: dict[tuple, int] = {}
    kept, clash, dropped = [], 0, []
    label = ", ".join(c.name for c in columns[:distinct])
    for i, row in enumerate(values):
        key = tuple(row[:distinct])
        j = first.setdefault(key, i)
        if j == i:
            kept.append(i)
        elif np.array_equal(values[j], row):
            dropped.append(int(lines[i]))
        else:
            clash += 1
            if clash <= _MAX_CELL_PROBLEMS:
                place = ", ".join(f"{v:g}" for v in key)
                problems.append(
                    Problem(
                        name,
                        label,
                        f"{place} again, with another value",
                        f"keep one; the first is on line {lines[j]}",
                        int(lines[i]),
                    )
                )
    if dropped:
        notes.append(f"{name}: {len(dropped)} repeated row(s) left out (line {dropped[0]}).")
    return None if clash else kept
