"""The history of a job as text and as A4 pages with pictures."""

import os
import textwrap

import numpy as np
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.patches import Rectangle

from platemodel.bench.kit.plots import INK
from platemodel.files import free_targets, written_together
from platemodel.record.entry import Entry
from platemodel.record.history import HISTORY_FILE, History

A4_MM = (210.0, 297.0)
PAGE_FILE = "history.pdf"
TOP_MM, BOTTOM_MM, LEFT_MM, RIGHT_MM = 268.0, 18.0, 15.0, 195.0
LINE_MM, GAP_MM = 4.2, 3.0
PICTURE_MM = (56.0, 42.0)
ACROSS = 3  # pictures side by side
TEXT_LEFT_MM, TEXT_CHARACTERS = 62.0, 92
MOST_PIXELS = 700  # of a picture's longer side on the page
FOOT = (
    f"Every line stands in {HISTORY_FILE}, sealed with the line before it; that file is the record, this "
    "page a picture of it."
)


def value_text(entry: Entry) -> str:
    """Values in words: ``height 11.5 mm, bar_on yes``."""
    out = []
    for name, value in entry.values.items():
        if isinstance(value, bool):
            out.append(f"{name} {'yes' if value else 'no'}")
        elif isinstance(value, str):
            out.append(f"{name} {value}")
        else:
            out.append(f"{name} {value:g}" if isinstance(value, float) else f"{name} {value}")
    return ", ".join(out)


def state_text(history: History) -> str:
    """Whether the history is whole, in a sentence."""
    count = len(history.entries)
    lines = f"{count} entr{'y' if count == 1 else 'ies'}"
    if not history.sound:
        return f"{lines}. NOT AS WRITTEN: " + "; ".join(map(str, history.damage)) + "."
    rest = ""
    if history.torn:
        rest = f" The last {len(history.torn)} bytes are a line that a crash cut short."
    if history.set_aside:
        rest += f" Cut short by a crash and set aside: {', '.join(history.set_aside)}."
    return f"{lines}, every seal whole.{rest}"


def as_text(history: History, title: str) -> str:
    """History for the terminal."""
    lines = [title, state_text(history), ""]
    for entry in history.entries:
        lines.append(f"{entry.number:4d}  {entry.at}  {entry.kind}")
        parts = [value_text(entry), *entry.note.split("\n"), *(name for name, _ in entry.pictures)]
        lines += [f"      {part}" for part in parts if part]
    return "\n".join(lines) + "\n"


def as_data(history: History) -> dict:
    """Plain data for JSON."""
    return {
        "sound": history.sound,
        "damage": [{"line": d.line, "what": d.what} for d in history.damage],
        "torn_bytes": len(history.torn),
        "set_aside": list(history.set_aside),
        "entries": [
            {
                "n": e.number,
                "at": e.at,
                "kind": e.kind,
                "values": e.values,
                "note": e.note,
                "pictures": [name for name, _ in e.pictures],
                "sha256": e.seal,
            }
            for e in history.entries
        ],
    }


def record_pages(history: History, title: str, notes: str = "") -> list[Figure]:
    """Lay out the pages.

    Parameters
    ----------
    history : History
    title : str
    notes : str
        A line under the title.

    Returns
    -------
    list of matplotlib.figure.Figure
        Exactly A4, upright; at least one.
    """
    pages = _Pages(title, notes, state_text(history))
    for entry in history.entries:
        pages.add(history.folder, entry)
    return pages.done()


class _Pages:
    """Fills pages from top to bottom."""

    def __init__(self, title, notes, state):
        self.title, self.notes, self.state = title, notes, state
        self.figures = []
        self._turn()

    def _turn(self):
        figure = Figure(figsize=tuple(mm / 25.4 for mm in A4_MM))
        self.figures.append(figure)
        self._text(LEFT_MM, 282, self.title, fontsize=13, weight="bold")
        self.y = TOP_MM
        if len(self.figures) == 1:
            self._text(LEFT_MM, 276, self.notes, fontsize=8)
            for line in textwrap.wrap(self.state, 130):
                self._text(LEFT_MM, self.y, line, fontsize=8)
                self.y -= LINE_MM
            self.y -= GAP_MM

    def _text(self, x, y, text, **style):
        self.figures[-1].text(x / A4_MM[0], y / A4_MM[1], _plain(text), color=INK, **style)

    def _room(self, height):
        if self.y - height < BOTTOM_MM:
            self._turn()

    def add(self, folder, entry):
        lines = []
        for part in (value_text(entry), *entry.note.split("\n")):
            lines += textwrap.wrap(part, TEXT_CHARACTERS)
        rows = -(-len(entry.pictures) // ACROSS)
        self._room(LINE_MM * 2 + (PICTURE_MM[1] + 6 if rows else 0))
        self._text(LEFT_MM, self.y, f"{entry.number}", fontsize=8.5, weight="bold")
        self._text(LEFT_MM + 8, self.y, entry.at.replace("T", " ")[:16], fontsize=8)
        self._text(LEFT_MM + 8, self.y - LINE_MM, entry.kind, fontsize=8, weight="bold")
        low = self.y - 2 * LINE_MM
        for line in lines:
            if self.y < BOTTOM_MM + LINE_MM:
                self._turn()
                low = TOP_MM
            self._text(TEXT_LEFT_MM, self.y, line, fontsize=8)
            self.y -= LINE_MM
        self.y = min(self.y, low) - 1.0
        for first in range(0, len(entry.pictures), ACROSS):
            self._room(PICTURE_MM[1] + 5)
            for k, (name, _) in enumerate(entry.pictures[first : first + ACROSS]):
                self._picture(folder / name, name, LEFT_MM + k * (PICTURE_MM[0] + 5))
            self.y -= PICTURE_MM[1] + 7
        self.y -= GAP_MM

    def _picture(self, path, name, left):
        wide, tall = PICTURE_MM
        low = self.y - tall
        ax = self.figures[-1].add_axes(
            (left / A4_MM[0], low / A4_MM[1], wide / A4_MM[0], tall / A4_MM[1]), anchor="NW"
        )
        ax.set_axis_off()
        try:
            pixels = imread(path)
        except (OSError, ValueError, SyntaxError):  # the reader of damaged files raises any of them
            ax.add_patch(Rectangle((0, 0), 1, 1, fc="none", ec=INK, ls="--", transform=ax.transAxes))
            ax.text(0.5, 0.5, "cannot be read", ha="center", va="center", fontsize=7, transform=ax.transAxes)
        else:
            step = max(1, -(-max(pixels.shape[:2]) // MOST_PIXELS))
            ax.imshow(np.asarray(pixels)[::step, ::step], cmap="gray")
        self._text(left, low - 3.2, name[-48:], fontsize=6.5)

    def done(self):
        for number, figure in enumerate(self.figures, 1):
            figure.text(LEFT_MM / A4_MM[0], 9 / A4_MM[1], FOOT, fontsize=6.5, color=INK)
            figure.text(
                RIGHT_MM / A4_MM[0], 9 / A4_MM[1], f"page {number} of {len(self.figures)}", fontsize=7,
                ha="right", color=INK,
            )  # fmt: skip
        return self.figures


def _plain(text):
    """Text without what the drawing library would take for a formula or cannot draw."""
    return "".join(c if c.isprintable() else "?" for c in text).replace("$", r"\$")


def write_page(history: History, title: str, folder: str | os.PathLike, force: bool = False, notes: str = ""):
    """Write the pages as one PDF, whole or not at all.

    Parameters
    ----------
    history : History
    title : str
    folder : path
        Made if missing.
    force : bool
        Replace the file if it is there.
    notes : str

    Returns
    -------
    Path

    Raises
    ------
    FileExistsError
        The file is there and ``force`` is not set.
    OSError
        The folder cannot be written to.
    """
    (target,) = free_targets(folder, [PAGE_FILE], force)
    figures = record_pages(history, title, notes)
    with (
        written_together([target]) as (draft,),
        PdfPages(draft, metadata={"CreationDate": None}) as pdf,
    ):
        for figure in figures:
            pdf.savefig(figure, dpi=150)
    return target
