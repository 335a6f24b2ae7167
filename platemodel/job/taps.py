"""Tap tones of a job: the table taps.csv, and the frequencies typed into job.toml, as one list."""

import csv
import io
import math
from dataclasses import dataclass
from pathlib import Path

from platemodel.errors import Problem
from platemodel.job.fields import Fields
from platemodel.job.tables import Column, allowed_range, parse_number, split_rows
from platemodel.job.toml import nearest, read_text, shown

TAPS_FILE = "taps.csv"
MODES = tuple(range(1, 7))
TYPED = "typed in"
TYPED_SD, TYPED_SD_HZ = (
    0.01,
    1.0,
)  # a typed frequency is good to 1 %, at best to 1 Hz; common practice, no source
MAX_READINGS = 100
_FLAGS = {"true": True, "yes": True, "false": False, "no": False}
_MAX_TEXT = 200

#: Columns of taps.csv with numbers, their ranges and what they are.
NUMBERS = (
    Column("mode", MODES[0], MODES[-1], "number of the mode: 1 twist, 2 cross, 5 ring, the others by pitch"),
    Column("f_hz", 10, 900, "frequency of the peak"),
    Column("sd_hz", 1e-4, 100, "its standard deviation; empty: 1 % of it, at least 1 Hz"),
    Column("loss", 1e-4, 0.5, "loss factor; empty where it is not known"),
)
#: The other columns and what they are.
WORDS = {
    "bar_on": "true when a bar was on the top, else false",
    "source": "recording it was found in",
    "note": "anything else",
}
NAMES = (*(c.name for c in NUMBERS), *WORDS)
REQUIRED = ("mode", "f_hz", "bar_on")


@dataclass(frozen=True)
class TapReading:
    """Frequency of one mode, as chosen by the user.

    Attributes
    ----------
    mode : int
    frequency : float
        Hz.
    sd : float
        Standard deviation, Hz.
    bar_on : bool
        Whether a bar was on the top.
    loss : float or None
        Loss factor.
    source : str
        Recording, or ``"typed in"``.
    note : str

    Raises
    ------
    ValueError
        A value that `taps.csv` does not allow.
    """

    mode: int
    frequency: float
    sd: float
    bar_on: bool
    loss: float | None = None
    source: str = ""
    note: str = ""

    def __post_init__(self):
        values = (self.mode, self.frequency, self.sd, self.loss)
        for column, value in zip(NUMBERS, values, strict=True):
            if value is not None and not column.low <= value <= column.high:
                msg = f"{column.name} = {value}: allowed {column.low:g} to {column.high:g}"
                raise ValueError(msg)
        for name in ("source", "note"):
            text = getattr(self, name)
            if len(text) > _MAX_TEXT or not text.isprintable():
                msg = f"{name} = {shown(text)!r}: allowed is one line of at most {_MAX_TEXT} letters"
                raise ValueError(msg)

    @property
    def state(self) -> str:
        """``with bar`` or ``without bar``."""
        return "with bar" if self.bar_on else "without bar"

    def cells(self) -> dict[str, str]:
        """Return the row of `taps.csv`, by column."""
        return {
            "mode": str(self.mode),
            "f_hz": f"{self.frequency:.3f}",
            "sd_hz": f"{max(self.sd, 1e-3):.3f}",
            "loss": "" if self.loss is None else f"{self.loss:.4f}",
            "bar_on": "true" if self.bar_on else "false",
            "source": self.source,
            "note": self.note,
        }


def typed_sd(frequency: float) -> float:
    """Return the standard deviation taken for a frequency that was typed in, Hz."""
    return max(TYPED_SD * frequency, TYPED_SD_HZ)


def typed_taps(fields: Fields) -> tuple[TapReading, ...]:
    """Return the frequencies of [measured] in job.toml."""
    bar_on = fields.get("measured.bar_on_top", False)
    given = {n: fields.get(f"measured.mode_{n}") for n in MODES}
    return tuple(TapReading(n, f, typed_sd(f), bar_on, None, TYPED) for n, f in given.items() if f)


def read_taps(
    folder: Path, problems: list[Problem], notes: list[str]
) -> tuple[tuple[TapReading, ...], tuple[int, ...]]:
    """Read taps.csv, if there is one.

    Parameters
    ----------
    folder : Path
    problems, notes : list
        Filled with what is wrong and with what was assumed.

    Returns
    -------
    readings : tuple of TapReading
    lines : tuple of int
        Where each stands in the file.
    """
    if not (folder / TAPS_FILE).exists():
        return (), ()
    text = read_text(folder, TAPS_FILE, problems, notes)
    if text is None:
        return (), ()
    found = _Rows(problems).read(text)
    return tuple(r for r, _ in found), tuple(n for _, n in found)


def check_clashes(
    kept: tuple[TapReading, ...],
    lines: tuple[int, ...],
    typed: tuple[TapReading, ...],
    problems: list[Problem],
) -> None:
    """Append a problem for each mode that has two readings in the same state of the bar."""
    first = {
        (r.mode, r.bar_on): f"{TAPS_FILE}, line {n}" for r, n in zip(kept[::-1], lines[::-1], strict=True)
    }
    for reading, line in zip(kept, lines, strict=True):
        place = first[reading.mode, reading.bar_on]
        if place != f"{TAPS_FILE}, line {line}":
            problems.append(_clash(reading, f"keep one; the first is on line {place.split()[-1]}", line))
    for reading in typed:
        place = first.get((reading.mode, reading.bar_on))
        if place is not None:
            line = int(place.split()[-1])
            allowed = (
                f"measured.mode_{reading.mode}_hz in job.toml says {reading.frequency:g} Hz for the same "
                "mode and state; keep one of the two"
            )
            match = next(r for r, n in zip(kept, lines, strict=True) if n == line)
            problems.append(_clash(match, allowed, line))


def _clash(reading, allowed, line):
    found = f"mode {reading.mode} {reading.state} at {reading.frequency:g} Hz"
    return Problem(TAPS_FILE, "mode", found, allowed, line)


class _Rows:
    """Walks over the rows; one problem a wrong cell."""

    def __init__(self, problems):
        self.problems = problems

    def refuse(self, field, found, allowed, line=None):
        self.problems.append(Problem(TAPS_FILE, field, shown(found) or "an empty cell", allowed, line))

    def read(self, text):
        cells, separator = split_rows(text)
        if not cells:
            return []
        if len(cells) > MAX_READINGS + 1:
            self.refuse("", f"{len(cells) - 1} rows", f"at most {MAX_READINGS}; is this the right file?")
            return []
        self.comma = separator != ","
        line, header = cells[0]
        names = header_names(header)
        if not self._header(line, names):
            return []
        rows = [(self._row(at, row, names, separator), at) for at, row in cells[1:]]
        return [(reading, at) for reading, at in rows if reading is not None]

    def _header(self, line, names):
        before = len(self.problems)
        for name in dict.fromkeys(n for n in names if n):
            if name not in NAMES:
                self.refuse("column names", name, f"allowed: {', '.join(NAMES)}.{nearest(name, NAMES)}", line)
            elif names.count(name) > 1:
                self.refuse("column names", f"{name} twice", "each column once", line)
        missing = [n for n in REQUIRED if n not in names]
        if missing:
            self.refuse("column names", ", ".join(names), f"{', '.join(missing)} must be there too", line)
        return len(self.problems) == before

    def _row(self, line, row, names, separator):
        before = len(self.problems)
        if any(row[len(names) :]):
            hint = "; a decimal comma needs ; between the columns" if separator == "," else ""
            self.refuse("", separator.join(row), f"{len(names)} cells are enough in this row{hint}", line)
            return None
        got = {n: c for n, c in zip(names, row, strict=False) if n}
        numbers = {c.name: self._number(c, got.get(c.name, ""), line) for c in NUMBERS}
        flag = _FLAGS.get(got.get("bar_on", "").casefold())
        if flag is None:
            self.refuse("bar_on", got.get("bar_on", ""), "true (a bar was on the top) or false", line)
        for name in ("source", "note"):
            cell = got.get(name, "")
            if len(cell) > _MAX_TEXT or not cell.isprintable():
                self.refuse(name, cell, f"at most {_MAX_TEXT} letters, no control characters", line)
        if len(self.problems) > before:
            return None
        f = numbers["f_hz"]
        sd = typed_sd(f) if numbers["sd_hz"] is None else numbers["sd_hz"]
        source, note = got.get("source", ""), got.get("note", "")
        return TapReading(int(numbers["mode"]), f, sd, flag, numbers["loss"], source, note)

    def _number(self, column, text, line):
        if not text and column.name not in REQUIRED:
            return None
        value = parse_number(text, self.comma)
        if value is None:
            comma = parse_number(text, True) is not None
            allowed = "use a point, or ; between the columns" if comma else "a number is needed"
            self.refuse(column.name, text, allowed, line)
        elif not column.low <= value <= column.high or not math.isfinite(value):
            self.refuse(column.name, text, allowed_range(value, column.low, column.high).split(";")[0], line)
        elif column.name == "mode" and value != int(value):
            self.refuse(column.name, text, "a whole number", line)
        return value


def header_names(cells: list[str]) -> list[str]:
    """Return the column names of a header row as they are compared."""
    return [c.strip().strip("\"'").casefold() for c in cells]


def format_row(cells: list[str], separator: str) -> str:
    """Write one row of CSV, quoted where needed, without a line end."""
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="").writerow(cells)
    return out.getvalue()
