"""Words set on a page of paper in mm: three sizes, lines broken at the true width, columns that flow on.

Nothing is cut: what has no room in one column goes whole into the next, or onto the next page.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from matplotlib.axes import Axes
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

from platemodel.bench.kit.colours import ALARM, INK
from platemodel.bench.kit.page import MM_PER_INCH

TITLE, HEAD, TEXT = 16.0, 10.5, 8.0  # points: all sizes there are on a page of words
LINE = {TITLE: 7.4, HEAD: 5.0, TEXT: 3.7}  # mm from line to line
GAP = 1.2  # mm between two items
POINT = MM_PER_INCH / 72


@lru_cache(maxsize=4096)
def width_of(text: str, size: float = TEXT, bold: bool = False) -> float:
    """Width of a line of text, mm."""
    font = FontProperties(size=size, weight="bold" if bold else "normal")
    return POINT * text_to_path.get_text_width_height_descent(text, font, ismath=False)[0]


def broken(text: str, room: float, size: float = TEXT, bold: bool = False) -> list[str]:
    """Break a text between words into lines no wider than ``room`` mm; a longer word is broken too."""
    lines, line = [], ""
    for word in " ".join(str(text).split()).split(" "):
        longer = f"{line} {word}".strip()
        if width_of(longer, size, bold) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        while width_of(word, size, bold) > room and len(word) > 1:
            cut = next(
                n for n in range(len(word) - 1, 0, -1) if n == 1 or width_of(word[:n], size, bold) <= room
            )
            lines.append(word[:cut])
            word = word[cut:]
        line = word
    return [*lines, line] if line or not lines else lines


def shortened(text: str, room: float, size: float = TEXT, bold: bool = False) -> str:
    """Return a name that is no wider than ``room`` mm, its end left out if need be."""
    if width_of(text, size, bold) <= room:
        return text
    while width_of(f"{text}…", size, bold) > room and text:
        text = text[:-1].rstrip()
    return f"{text}…"


def write(
    ax: Axes, x: float, y: float, text: str, size: float = TEXT, bold: bool = False, color: str = INK, **style
) -> None:
    """Write one line with its upper left corner at (x, y) mm; no character is taken for a formula."""
    style = {"va": "top", "ha": "left", "weight": "bold" if bold else "normal", **style}
    ax.text(x, y, text, fontsize=size, color=color, parse_math=False, **style)


def write_broken(
    ax: Axes, x: float, y: float, text: str, room: float, size: float = TEXT, bold: bool = False
) -> float:
    """Write a text broken into lines; return the height below it, mm."""
    for line in broken(text, room, size, bold):
        write(ax, x, y, line, size, bold)
        y -= LINE[size]
    return y


def label_axes(
    ax: Axes, x: str = "", y: str = "", title: str = "", title_at: float | None = None, **style
) -> Axes:
    """Name the axes of a plot and set a title over it, all in the small type; returns the Axes.

    Parameters
    ----------
    x, y : str
        Names of the axes.
    title_at : float, optional
        Where the title stands, as a share of the plot's width.
    """
    if title_at is not None:
        style["x"] = title_at
    ax.set_xlabel(x, fontsize=TEXT)
    ax.set_ylabel(y, fontsize=TEXT)
    ax.set_title(title, fontsize=TEXT, color=INK, **style)
    ax.tick_params(labelsize=TEXT)
    return ax


@dataclass(frozen=True)
class Item:
    """What stays together in a column: a mark or label, and its text.

    Attributes
    ----------
    label : str
        Stands at the left of the text.
    indent : float
        Of the text from the label, mm.
    size : float
        Points.
    gap : float
        Below, mm.
    """

    text: str
    label: str = ""
    indent: float = 0.0
    size: float = TEXT
    bold: bool = False
    alarm: bool = False
    gap: float = GAP

    def lines(self, room: float) -> list[str]:
        """Lines of the text in a column of so many mm."""
        return broken(self.text, room - self.indent, self.size, self.bold)

    def height(self, room: float) -> float:
        """Mm in a column of so many mm, without the gap below."""
        return LINE[self.size] * len(self.lines(room))


def head(text: str, alarm: bool = False) -> Item:
    """Head of a block."""
    return Item(text, size=HEAD, bold=True, alarm=alarm, gap=0.8)


def listed(texts: Sequence[str]) -> list[Item]:
    """Items with a dash each."""
    return [Item(text, "–", 3.2) for text in texts]


def pairs(rows: Sequence[tuple[str, str]], indent: float) -> list[Item]:
    """Items with a label each."""
    return [Item(text, label.strip(), indent, gap=0.4) for label, text in rows]


@dataclass
class Slot:
    """A column that is being filled: place, how far down it is, where it ends, and how wide it is; mm."""

    ax: Axes
    x: float
    y: float
    floor: float
    room: float

    def __post_init__(self):
        self.top_line = self.y

    def fits(self, items: Sequence[Item]) -> bool:
        """Whether all of these have room."""
        return self.y - sum(i.height(self.room) + i.gap for i in items) + items[-1].gap >= self.floor

    def put(self, items: Sequence[Item]) -> None:
        """Write items one below the other."""
        for item in items:
            color = ALARM if item.alarm else INK
            if item.label:
                write(self.ax, self.x, self.y, item.label, item.size, item.bold, color)
            for line in item.lines(self.room):
                write(self.ax, self.x + item.indent, self.y, line, item.size, item.bold, color)
                self.y -= LINE[item.size]
            self.y -= item.gap


def flow(blocks: Sequence[Sequence[Item]], slots: Iterator[Slot], between: float = 3.0) -> None:
    """Fill columns with blocks, one after the other; an item stays whole, a head with its first item.

    Parameters
    ----------
    blocks : sequence of sequence of Item
    slots : iterator of Slot
        Gives the next column, on a new page where need be; must not end.
    between : float
        mm between blocks.
    """
    slot = next(slots)
    for block in blocks:
        parts = [block[:2], *([item] for item in block[2:])]
        for k, part in enumerate(parts):
            if not slot.fits(part):
                slot = next(slots)
            elif k == 0 and slot.y < slot.top_line:
                slot.y -= between
            slot.put(part)
