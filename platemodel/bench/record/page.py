"""The history of a job as A4 pages with pictures."""

import textwrap
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.patches import Rectangle

from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import A4_UPRIGHT, paper_figure
from platemodel.bench.record.result import JobHistory, state_text, value_text
from platemodel.record.entry import Entry
from platemodel.record.history import HISTORY_FILE

TOP_MM, BOTTOM_MM, LEFT_MM, RIGHT_MM = 268.0, 18.0, 15.0, 195.0
LINE_MM, GAP_MM = 4.2, 3.0
WIDE, TALL = A4_UPRIGHT
PICTURE_MM = (56.0, 42.0)
ACROSS = 3  # pictures side by side
TEXT_LEFT_MM, TEXT_CHARACTERS = 62.0, 92
MOST_PIXELS = 700  # of a picture's longer side on the page
FOOT = (
    f"Every line stands in {HISTORY_FILE}, sealed with the line before it; that file is the record, this "
    "page a picture of it."
)


def record_pages(result: JobHistory) -> list[Figure]:
    """Lay out the pages.

    Parameters
    ----------
    result : JobHistory

    Returns
    -------
    list of matplotlib.figure.Figure
        Exactly A4, upright; at least one.
    """
    history = result.history
    pages = _Pages(result.title, result.notes, state_text(history))
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
        figure = paper_figure(A4_UPRIGHT)
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
        self.figures[-1].text(x / WIDE, y / TALL, _plain(text), color=INK, **style)

    def _room(self, height):
        if self.y - height < BOTTOM_MM:
            self._turn()

    def add(self, folder: Path, entry: Entry) -> None:
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
        ax = self.figures[-1].add_axes((left / WIDE, low / TALL, wide / WIDE, tall / TALL), anchor="NW")
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

    def done(self) -> list[Figure]:
        for number, figure in enumerate(self.figures, 1):
            figure.text(LEFT_MM / WIDE, 9 / TALL, FOOT, fontsize=6.5, color=INK)
            figure.text(
                RIGHT_MM / WIDE, 9 / TALL, f"page {number} of {len(self.figures)}", fontsize=7,
                ha="right", color=INK,
            )  # fmt: skip
        return self.figures


def _plain(text):
    """Text without what the drawing library would take for a formula or cannot draw."""
    return "".join(c if c.isprintable() else "?" for c in text).replace("$", r"\$")
