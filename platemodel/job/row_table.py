"""Tables of rows that a workshop writes by hand: taps, stages of trimming, flexes, gaps, samples of wood."""

import csv
import io
import math
from collections.abc import Sequence
from pathlib import Path

from platemodel.errors import Problem
from platemodel.job.tables import Column, allowed_range, header_names, parse_number, split_rows
from platemodel.job.toml import nearest, read_text, shown

MAX_TEXT = 200


def format_row(cells: list[str], separator: str) -> str:
    """Write one row of CSV, quoted where needed, without a line end."""
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="").writerow(cells)
    return out.getvalue()


class RowTable:
    """Reads a table row by row; each wrong cell is one problem. A subclass says what a row means.

    Parameters
    ----------
    problems : list of Problem
        Filled with what is wrong.
    """

    file: str
    names: Sequence[str]
    required: Sequence[str]  # columns
    filled: Sequence[str] = ()  # numbers that no row may leave out
    numbers: Sequence[Column]
    most: int

    def __init__(self, problems: list[Problem]):
        self.problems = problems

    def check(self, line: int, got: dict[str, str], numbers: dict[str, float | None]) -> None:
        """Refuse what is wrong with a row besides its numbers."""
        raise NotImplementedError

    def make(self, line: int, got: dict[str, str], numbers: dict[str, float | None]):
        """Turn the cells of a sound row, and its numbers, into what it means."""
        raise NotImplementedError

    def refuse(self, field, found, allowed, line=None):
        """Note a problem."""
        self.problems.append(Problem(self.file, field, shown(found) or "an empty cell", allowed, line))

    def read_file(self, folder: Path, notes: list[str]) -> list:
        """Read the table of a job folder; no rows where there is none, or none that can be read."""
        if not (folder / self.file).exists():
            return []
        text = read_text(folder, self.file, self.problems, notes)
        return [] if text is None else self.read(text)

    def read(self, text: str) -> list:
        """Read a table, without the rows that cannot be used."""
        cells, separator = split_rows(text)
        if not cells:
            return []
        if len(cells) > self.most + 1:
            self.refuse("", f"{len(cells) - 1} rows", f"at most {self.most}; is this the right file?")
            return []
        line, header = cells[0]
        names = header_names(header)
        if not self._header(line, names):
            return []
        rows = [self._row(at, row, names, separator) for at, row in cells[1:]]
        return [row for row in rows if row is not None]

    def check_text(self, got: dict[str, str], name: str, line: int) -> None:
        """Refuse a cell of words that is too long or holds control characters."""
        cell = got.get(name, "")
        if len(cell) > MAX_TEXT or not cell.isprintable():
            self.refuse(name, cell, f"at most {MAX_TEXT} letters, no control characters", line)

    def _header(self, line, names):
        before = len(self.problems)
        for name in dict.fromkeys(n for n in names if n):
            if name not in self.names:
                allowed = f"no such column; allowed: {', '.join(self.names)}.{nearest(name, self.names)}"
                self.refuse("column names", name, allowed, line)
            elif names.count(name) > 1:
                self.refuse("column names", f"{name} twice", "each column once", line)
        missing = [n for n in self.required if n not in names]
        if missing:
            self.refuse("column names", ", ".join(names), f"{', '.join(missing)} must be there too", line)
        return len(self.problems) == before

    def _row(self, line, row, names, separator):
        before = len(self.problems)
        if any(row[len(names) :]):
            hint = "; a decimal comma needs ; between the columns" if separator == "," else ""
            self.refuse("", separator.join(row), f"{len(names)} cells are enough in this row{hint}", line)
            return None
        got = {n: c for n, c in zip(names, row, strict=False) if n and c}
        comma = separator != ","
        numbers = {c.name: self._number(c, got.get(c.name, ""), comma, line) for c in self.numbers}
        self.check(line, got, numbers)
        return self.make(line, got, numbers) if len(self.problems) == before else None

    def _number(self, column, text, comma, line):
        if not text and column.name not in self.filled:
            return None
        value = parse_number(text, comma)
        if value is None:
            other = parse_number(text, True) is not None
            allowed = "use a point, or ; between the columns" if other else "a number is needed"
            self.refuse(column.name, text, allowed, line)
        elif not column.low <= value <= column.high or not math.isfinite(value):
            hint = allowed_range(value, column.low, column.high)
            # a pitch in the wrong unit is no length in the wrong unit
            self.refuse(column.name, text, hint if column.name.endswith("_mm") else hint.split(";")[0], line)
        else:
            return value
        return None
