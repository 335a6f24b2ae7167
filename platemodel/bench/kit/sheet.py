"""Sheets with a title, room for what they show, and cautions at the foot; all of it in mm of the paper."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import A4_SIDEWAYS
from platemodel.bench.kit.paper import new_page
from platemodel.bench.kit.typeset import HEAD, LINE, TEXT, TITLE, broken, width_of, write, write_broken

# mm of white at the sides, below and above, of a sheet that lies on its side and of an upright one
SIDE, FOOT, TOP = (12.0, 15.0), (8.0, 10.0), (9.0, 13.0)
HAIR = 0.35  # points, of a rule
LEAST_GAP, MOST_GAP = 2.2, 7.0  # mm between columns of a table


@dataclass(frozen=True, eq=False)
class Sheet:
    """A sheet that was begun.

    Attributes
    ----------
    figure : Figure
        Exactly of its paper's size; save it without a tight bounding box.
    ax : Axes
        Over all of it, in mm from its lower left corner.
    left, right, top, floor : float
        Of the room between title and cautions, mm.
    """

    figure: Figure
    ax: Axes
    left: float
    right: float
    top: float
    floor: float

    @property
    def room(self) -> float:
        """Width between the margins, mm."""
        return self.right - self.left

    def axes(self, x: float, y: float, width: float, height: float) -> Axes:
        """Axes for a picture: lower left corner and size, mm."""
        wide, tall = self.ax.get_xlim()[1], self.ax.get_ylim()[1]
        return self.figure.add_axes((x / wide, y / tall, width / wide, height / tall))


def begun_sheet(
    title: str, notes: str = "", cautions: Sequence[str] = (), size: tuple[float, float] = A4_SIDEWAYS
) -> Sheet:
    """Begin a sheet: title and notes above, cautions at the foot, each with a hair line.

    Every page that is begun here is exactly of its size, A4 on its side as a rule: save it without a tight
    bounding box.

    Parameters
    ----------
    notes : str
        Under the title; broken where it is long.
    cautions : sequence of str
        The last stands lowest.
    size : (float, float)
        Width and height, mm.
    """
    figure, ax = new_page(*size)
    upright = size[1] > size[0]
    left, right, y = SIDE[upright], size[0] - SIDE[upright], size[1] - TOP[upright]
    y = write_broken(ax, left, y, title, right - left, TITLE, bold=True)
    for line in broken(notes, right - left) if notes else ():
        write(ax, left, y, line)
        y -= LINE[TEXT]
    lines = [part for one in cautions for part in broken(one, right - left)]
    floor = FOOT[upright] + LINE[TEXT] * len(lines)
    for k, line in enumerate(lines):
        write(ax, left, floor - LINE[TEXT] * k, line)
    if lines:
        floor += 1.5
        rule(ax, left, right, floor)
    rule(ax, left, right, y - 0.6)
    return Sheet(figure, ax, left, right, y - 3.0, floor + 2.0)


def rule(ax: Axes, left: float, right: float, y: float, width: float = HAIR) -> None:
    """Draw a level hair line."""
    ax.plot([left, right], [y, y], color=INK, lw=width, solid_capstyle="butt")


def write_head(ax: Axes, x: float, y: float, text: str) -> float:
    """Write the head of a block; return the height below it."""
    write(ax, x, y, text, HEAD, bold=True)
    return y - LINE[HEAD]


class Column(NamedTuple):
    """A column of a printed table.

    Attributes
    ----------
    name : str
        Its head; may have two lines.
    show : callable
        ``show(row)``, the text of a cell.
    right : bool
        Figures stand flush right, one below the other.
    wide : bool
        Takes the room that is left, and breaks its texts there; one a table.
    """

    name: str
    show: Callable[..., str]
    right: bool = True
    wide: bool = False


def write_table(
    ax: Axes, x: float, y: float, columns: Sequence[Column], rows: Iterable, room: float
) -> float:
    """Write a table as wide as its texts, at most ``room``: slanted heads, a hair line, a line a row.

    Parameters
    ----------
    ax : Axes
        In mm of the sheet.
    x, y : float
        Upper left corner, mm.
    room : float
        mm.

    Returns
    -------
    float
        Height below the table, mm.
    """
    heads = [c.name.split("\n") for c in columns]
    cells = [[c.show(row) for c in columns] for row in rows]
    widths = [
        max(width_of(text) for text in (*head, *(row[k] for row in cells))) for k, head in enumerate(heads)
    ]
    wide = next((k for k, c in enumerate(columns) if c.wide), None)
    spare = room - sum(w for k, w in enumerate(widths) if k != wide)
    if wide is not None:
        spare -= min(widths[wide], max(spare - LEAST_GAP * (len(columns) - 1), 0.0))
    gap = float(np.clip(spare / max(len(columns) - 1, 1), LEAST_GAP, MOST_GAP))
    if wide is not None:
        others = sum(w for k, w in enumerate(widths) if k != wide)
        widths[wide] = min(widths[wide], room - others - gap * (len(columns) - 1))
    left = x + np.concatenate([[0.0], np.cumsum(np.array(widths[:-1]) + gap)])
    places = [
        (at + w, "right") if c.right else (at, "left") for at, w, c in zip(left, widths, columns, strict=True)
    ]
    tall = max(map(len, heads))
    for (at, ha), head in zip(places, heads, strict=True):
        for j, line in enumerate(head):
            write(ax, at, y - LINE[TEXT] * (tall - len(head) + j), line, style="italic", ha=ha)
    y -= LINE[TEXT] * tall
    rule(ax, x, left[-1] + widths[-1], y + 0.2)
    y -= 0.5
    for row in cells:
        parts = [broken(text, widths[k]) if k == wide else [text] for k, text in enumerate(row)]
        for (at, ha), part in zip(places, parts, strict=True):
            for j, line in enumerate(part):
                write(ax, at, y - LINE[TEXT] * j, line, ha=ha)
        y -= LINE[TEXT] * max(map(len, parts))
    return y


def write_items(ax: Axes, x: float, y: float, texts: Iterable[str], room: float, gap: float = 0.6) -> float:
    """Write texts one below the other, each broken at the width of its column; return the height below."""
    for text in texts:
        for line in broken(text, room):
            write(ax, x, y, line)
            y -= LINE[TEXT]
        y -= gap
    return y
