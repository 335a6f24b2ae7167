"""Marks on the top of a job: the table marks.csv."""

from pathlib import Path

import numpy as np
import shapely

from platemodel.errors import GeometryError, Problem
from platemodel.instrument.bar import Bar
from platemodel.instrument.dimensions import Dimensions
from platemodel.instrument.marks import CLEAT, CRACK, KINDS, LINES, OLD_BAR, Mark, place
from platemodel.instrument.outline import Outline
from platemodel.job.row_table import RowTable
from platemodel.job.tables import Column

MARKS_FILE = "marks.csv"
MAX_MARKS = 100
POINTS = (1, 2, 3, 4)
CLEAT_SIZE = 12e-3  # m for a violin, where none is given; common practice, no source
OFF = 3e-3  # m for a violin, that a point may lie beyond the edge
MM = 1e-3

#: Columns of marks.csv with numbers, their ranges and what they are.
NUMBERS = (
    *(
        Column(f"{axis}{k}_mm", *limits, doc)
        for k, name in zip(POINTS, ("first", "second", "third", "fourth"), strict=True)
        for axis, limits, doc in (
            ("x", (-5, 810), f"{name} point, from the lower edge along the axis"),
            ("y", (-270, 270), "from the axis; minus on the bass side"),
        )
    ),
    Column(
        "length_mm", 0.5, 750, "along the body: of a place about its point, or of a crack up from its point"
    ),
    Column("width_mm", 0.5, 200, "across: of a place about its point, or of an old bar"),
)
#: The other columns and what they are.
WORDS = {"kind": f"one of {', '.join(KINDS)}", "note": "anything else"}
NAMES = ("kind", *(c.name for c in NUMBERS), "note")
REQUIRED = ("kind", "x1_mm", "y1_mm")


def read_marks(
    folder: Path, outline: Outline, dims: Dimensions, problems: list[Problem], notes: list[str]
) -> tuple[Mark, ...]:
    """Read marks.csv, if there is one.

    Parameters
    ----------
    outline : Outline
        Says which places are on the plate.
    dims : Dimensions
        Gives an old bar's usual width and a cleat's size.
    """
    return tuple(_MarkRows(problems, outline, dims).read_file(folder, notes))


def with_scar(marks: tuple[Mark, ...], old_bar: Bar | None, problems: list[Problem]) -> tuple[Mark, ...]:
    """Add the scar of the old bar of job.toml to the marks; an old bar stands in one of the two places only.

    Parameters
    ----------
    problems : list
        Filled if both say where it was.
    """
    if old_bar is None:
        return marks
    if any(mark.kind == OLD_BAR for mark in marks):
        allowed = "the old bar stands in [old_bar] of job.toml, which draws its scar; take this row out"
        problems.append(Problem(MARKS_FILE, "kind", OLD_BAR, allowed))
    ends = np.array([(old_bar.x_start, old_bar.y_start), (old_bar.x_end, old_bar.y_end)])
    return (*marks, Mark(OLD_BAR, ends, old_bar.width, "as in [old_bar]"))


class _MarkRows(RowTable):
    file, names, required, filled = MARKS_FILE, NAMES, REQUIRED, ("x1_mm", "y1_mm")
    numbers, most = NUMBERS, MAX_MARKS

    def __init__(self, problems, outline, dims):
        super().__init__(problems)
        self.outline, self.dims = outline, dims

    def check(self, line, got, numbers):
        kind = got.get("kind", "").casefold()
        if kind not in KINDS:
            self.refuse("kind", got.get("kind", ""), f"allowed: {', '.join(KINDS)}", line)
            return
        self.check_text(got, "note", line)
        points = self._points(numbers, line)
        if points is None:
            return
        given = {n: numbers[f"{n}_mm"] for n in ("length", "width")}
        if kind == CRACK and len(points) == 1 and given["length"] is None:
            self.refuse("length_mm", "", "a crack needs a second point, or a length up from its point", line)
        if kind == OLD_BAR and len(points) != 2:
            self.refuse(
                "x2_mm, y2_mm", f"{len(points)} points", "an old bar has two: the ends of its middle", line
            )
        if kind not in LINES:
            if len(points) == 2:
                self.refuse(
                    "x3_mm, y3_mm",
                    "2 points",
                    f"a {kind} has one point and its length, or 3 or 4 corners",
                    line,
                )
            if len(points) == 1 and given["length"] is None and kind != CLEAT:
                self.refuse(
                    "length_mm", "", f"a {kind} needs its length, and its width if it is not as wide", line
                )
        self._on_plate(points, line)

    def _points(self, numbers, line):
        """Points in mm in their order; None if one is half given or left out between others."""
        found, before = [], len(self.problems)
        for k in POINTS:
            x, y = numbers[f"x{k}_mm"], numbers[f"y{k}_mm"]
            if (x is None) != (y is None):
                self.refuse(f"x{k}_mm, y{k}_mm", "only one of them", "the two go together", line)
            elif x is not None and len(found) < k - 1:
                self.refuse(f"x{k}_mm", f"{x:g}", f"point {len(found) + 1} is left out before it", line)
            elif x is not None:
                found.append((x, y))
        return None if len(self.problems) > before or not found else np.array(found)

    def _on_plate(self, points, line):
        room = self.outline.polygon.buffer(OFF * self.outline.scale)
        for x, y in points:
            if not room.contains(shapely.Point(x * MM, y * MM)):
                self.refuse(
                    "x_mm, y_mm", f"{x:g}, {y:g}", "this place is off the plate; check it, and its sign", line
                )

    def make(self, line, got, numbers):
        kind, note = got["kind"].casefold(), got.get("note", "")
        points = MM * np.array(
            [[numbers[f"x{k}_mm"], numbers[f"y{k}_mm"]] for k in POINTS if numbers[f"x{k}_mm"] is not None]
        )
        length, width = (None if numbers[n] is None else MM * numbers[n] for n in ("length_mm", "width_mm"))
        try:
            if kind == CRACK and len(points) == 1:
                points = np.vstack([points[0], points[0] + [length, 0.0]])
            if kind == OLD_BAR:
                return Mark(kind, points, width or self.dims.bar_width, note)
            if kind not in LINES and len(points) == 1:
                size = length or CLEAT_SIZE * self.outline.scale
                return place(kind, points[0], size, width or size, note)
            return Mark(kind, points, note=note)
        except GeometryError as error:
            self.refuse("points", got["kind"], str(error), line)
            return None
