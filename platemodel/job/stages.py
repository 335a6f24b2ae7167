"""Stages of trimming a glued bar: the table stages.csv, one row a stage in the order of the work."""

import os
from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from pathlib import Path

from platemodel.errors import JobError, Problem
from platemodel.files import locked, write_file
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_cuts import PLACES, bridge_height, cut, place_named, with_bridge_height
from platemodel.job.row_table import RowTable, format_row, header_names
from platemodel.job.tables import Column, split_rows
from platemodel.job.toml import nearest, read_text, shown

STAGES_FILE = "stages.csv"
STAGE_MODES = (1, 2, 5)
MOST_STAGES = 100
RISE = 0.3e-3  # m: more than a caliper's error; a bar does not grow
#: Columns of stages.csv with numbers, their ranges and what they are.
NUMBERS = (
    Column("height_mm", 2, 60, "height of the bar under the bridge, from the plate"),
    Column("depth_mm", 0.01, 20, "what was cut to get here, where the cut is deepest"),
    *(Column(f"f{n}_hz", 10, 900, f"mode {n} as heard, bar on, plate free") for n in STAGE_MODES),
)
#: The other columns and what they are.
WORDS = {"place": "where it was cut", "note": "anything else"}
NAMES = ("height_mm", "place", "depth_mm", *(f"f{n}_hz" for n in STAGE_MODES), "note")
_HEAD = "# Stages of trimming the glued bar, in the order of the work."
_LEAST = 0.5e-3  # m: what was cut was cut; only a height of nothing is kept off


@dataclass(frozen=True)
class StageRow:
    """One stage as written down.

    Attributes
    ----------
    height : float or None
        Under the bridge, m; None where it was not measured.
    place : str
        Name of a place of `platemodel.instrument.bar_cuts.PLACES`; empty where nothing was cut.
    depth : float or None
        Cut since the stage before, m.
    heard : dict of int to float
        Mode 1, 2, 5 to Hz.
    line : int or None
        In the file.
    """

    height: float | None = None
    place: str = ""
    depth: float | None = None
    heard: dict[int, float] = field(default_factory=dict)
    note: str = ""
    line: int | None = field(default=None, compare=False)

    def cells(self) -> dict[str, str]:
        """Return the row of `stages.csv`, by column."""
        numbers = {"height_mm": self.height, "depth_mm": self.depth}
        out = {k: "" if v is None else f"{1e3 * v:.3f}".rstrip("0").rstrip(".") for k, v in numbers.items()}
        out |= {f"f{n}_hz": f"{f:.2f}" for n, f in self.heard.items()}
        return out | {"place": self.place, "note": self.note}


def read_stages(folder: str | os.PathLike) -> tuple[StageRow, ...]:
    """Read stages.csv of a job folder.

    Returns
    -------
    tuple of StageRow
        Empty when there is no such file.

    Raises
    ------
    JobError
        Everything that is wrong with the table, at once.
    """
    folder, problems = Path(folder), []
    rows = _read(folder, problems)
    _check_order(rows, problems)
    if problems:
        raise JobError(sorted(problems, key=lambda p: p.line or 0))
    return tuple(rows)


def add_stage(folder: str | os.PathLike, row: StageRow, bar: Bar, x_bridge: float) -> Path:
    """Append a stage to stages.csv, which is made if missing; all else in it stays as it is.

    Parameters
    ----------
    folder : path
        Job folder.
    bar : Bar
        The job's, from which the stages' bars are made.
    x_bridge : float
        Bridge line, m.

    Returns
    -------
    Path
        The table.

    Raises
    ------
    JobError
        The table cannot be read, or the stage does not follow on the others; nothing is written then.
    OSError
        The folder cannot be written to.
    """
    folder = Path(folder)
    with locked(folder) if folder.is_dir() else nullcontext():
        return _add(folder, row, bar, x_bridge)


def _add(folder, row, bar, x_bridge):
    before = read_stages(folder)
    text = (read_text(folder, STAGES_FILE, [], []) or "") if (folder / STAGES_FILE).exists() else ""
    rows, separator = split_rows(text)
    names = header_names(rows[0][1]) if rows else list(NAMES)
    lines = text.rstrip().split("\n") if text.strip() else []
    if not rows:
        lines, separator = [*lines, *([] if lines else [_HEAD]), ",".join(NAMES)], ","
    cells = {
        k: v.replace(".", ",") if separator == ";" and k in _NUMBER else v for k, v in row.cells().items()
    }
    problems = [
        Problem(
            STAGES_FILE, name, shown(cells[name]), f"the table has no column {name}; add it to its first row"
        )
        for name in cells
        if cells[name] and name not in names
    ]
    lines.append(format_row([cells.get(n, "") for n in names], separator))
    checked = _StageRows(problems).read("\n".join(lines) + "\n")
    _check_order(checked, problems)
    if problems:
        raise JobError(problems)
    stage_bars(bar, [*before, checked[-1]], x_bridge)
    return write_file(folder / STAGES_FILE, "\n".join(lines) + "\n")


def stage_bars(bar: Bar, rows: Sequence[StageRow], x_bridge: float) -> list[Bar]:
    """Make the bar of each stage: the job's at the first height, then the cuts, scaled to measured heights.

    Parameters
    ----------
    bar : Bar
        The job's.
    x_bridge : float
        Bridge line, m.

    Raises
    ------
    JobError
        A height that the bar's ends do not allow.
    """
    out: list[Bar] = []
    for row in rows:
        now = out[-1] if out else bar
        if row.depth is not None:
            now = cut(now, place_named(row.place), row.depth, x_bridge, min(_LEAST, now.heights.min()))
        if row.height is not None and abs(row.height - bridge_height(now, x_bridge)) > 1e-9:
            try:
                now = with_bridge_height(now, row.height, x_bridge)
            except ValueError as error:
                found = f"{1e3 * row.height:g}"
                raise JobError([Problem(STAGES_FILE, "height_mm", found, str(error), row.line)]) from error
        out.append(now)
    return out


def _read(folder, problems):
    if folder.is_dir() and not (folder / STAGES_FILE).exists():
        return []
    text = read_text(folder, STAGES_FILE, problems, []) if folder.is_dir() else None
    if text is None:
        if not problems:
            problems.append(Problem(str(folder), "", "no such folder", "give the job folder"))
        return []
    return _StageRows(problems).read(text)


def _check_order(rows, problems):
    """Check each row against the rows before it."""

    def refuse(row, name, found, allowed):
        problems.append(Problem(STAGES_FILE, name, found, allowed, row.line))

    last = None
    for k, row in enumerate(rows):
        if k == 0 and row.height is None:
            refuse(row, "height_mm", "an empty cell", "the first stage needs the height under the bridge")
        if k == 0 and row.place:
            refuse(
                row, "place", row.place, "nothing was cut before the first stage; leave place, depth_mm empty"
            )
        if last is not None and row.height is not None and row.height > last + RISE:
            allowed = f"the stage before had {1e3 * last:g} mm and wood does not grow; measure again"
            refuse(row, "height_mm", f"{1e3 * row.height:g}", allowed)
        last = row.height if row.height is not None else last


class _StageRows(RowTable):
    file, names, required = STAGES_FILE, NAMES, ("height_mm",)
    numbers, most = NUMBERS, MOST_STAGES

    def check(self, line, got, numbers):
        place = got.get("place", "")
        self.check_text(got, "note", line)
        known = [p.name for p in PLACES]
        if place and place not in known:
            self.refuse("place", place, f"allowed: {', '.join(known)}.{nearest(place, known)}", line)
        if place and "depth_mm" not in got:
            self.refuse("depth_mm", "", "a cut needs both place and depth_mm", line)
        if "depth_mm" in got and not place:
            self.refuse("place", "", f"a cut needs a place: {', '.join(known)}", line)
        if not set(got) - {"note"}:
            self.refuse(
                "", "a row without height, cut and taps", "give one of them or take the row out", line
            )

    def make(self, line, got, numbers):
        height, depth = (None if (v := numbers[n]) is None else 1e-3 * v for n in ("height_mm", "depth_mm"))
        heard = {n: f for n in STAGE_MODES if (f := numbers[f"f{n}_hz"]) is not None}
        return StageRow(height, got.get("place", ""), depth, heard, got.get("note", ""), line)


_NUMBER = {c.name for c in NUMBERS}
