"""The history of a job as A4 pages with pictures."""

from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.patches import Rectangle

from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import A4_UPRIGHT
from platemodel.bench.kit.paper import new_page
from platemodel.bench.kit.typeset import LINE, TEXT, TITLE, broken, shortened, width_of, write, write_broken
from platemodel.bench.record.result import JobHistory, state_text, value_text
from platemodel.record.entry import Entry
from platemodel.record.history import HISTORY_FILE

TOP_MM, BOTTOM_MM, LEFT_MM, RIGHT_MM = 286.0, 18.0, 15.0, 195.0
GAP_MM = 3.0
WIDE, TALL = A4_UPRIGHT
PICTURE_MM = (56.0, 42.0)
ACROSS = 3  # pictures side by side
TEXT_LEFT_MM, FOOT_MM = 62.0, 12.0
MOST_PIXELS = 700  # of a picture's longer side on the page
FOOT = (
    f"Every line stands in {HISTORY_FILE}, sealed with the line before it; that file is the record, this "
    "page a picture of it."
)


def record_pages(result: JobHistory) -> list[Figure]:
    """Lay out the pages.

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
        figure, self.ax = new_page(*A4_UPRIGHT)
        self.figures.append(figure)
        self.y = TOP_MM
        write(
            self.ax,
            LEFT_MM,
            self.y,
            shortened(self.title, RIGHT_MM - LEFT_MM, TITLE, bold=True),
            TITLE,
            bold=True,
        )
        self.y -= LINE[TITLE] + 1.0
        if len(self.figures) == 1:
            for text in (self.notes, self.state):
                self.y = write_broken(self.ax, LEFT_MM, self.y, _plain(text), RIGHT_MM - LEFT_MM)
            self.y -= GAP_MM

    def _room(self, height):
        if self.y - height < BOTTOM_MM:
            self._turn()

    def add(self, folder: Path, entry: Entry) -> None:
        lines = [
            line
            for part in (value_text(entry), *entry.note.split("\n"))
            if part
            for line in broken(_plain(part), RIGHT_MM - TEXT_LEFT_MM)
        ]
        rows = -(-len(entry.pictures) // ACROSS)
        self._room(LINE[TEXT] * 2 + (PICTURE_MM[1] + 6 if rows else 0))
        write(self.ax, LEFT_MM, self.y, f"{entry.number}", bold=True)
        write(self.ax, LEFT_MM + 8, self.y, entry.at.replace("T", " ")[:16])
        write(self.ax, LEFT_MM + 8, self.y - LINE[TEXT], _plain(entry.kind), bold=True)
        low = self.y - 2 * LINE[TEXT]
        for line in lines:
            if self.y < BOTTOM_MM + LINE[TEXT]:
                self._turn()
                low = self.y
            write(self.ax, TEXT_LEFT_MM, self.y, line)
            self.y -= LINE[TEXT]
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
            ax.text(
                0.5, 0.5, "cannot be read", ha="center", va="center", fontsize=TEXT, transform=ax.transAxes
            )
        else:
            step = max(1, -(-max(pixels.shape[:2]) // MOST_PIXELS))
            ax.imshow(np.asarray(pixels)[::step, ::step], cmap="gray")
        name = _plain(name)
        while width_of(name) > wide:
            name = name[1:]
        write(self.ax, left, low - 0.8, name)

    def done(self) -> list[Figure]:
        for number, figure in enumerate(self.figures, 1):
            ax = figure.axes[0]
            write(ax, LEFT_MM, FOOT_MM, FOOT)
            write(ax, RIGHT_MM, FOOT_MM, f"page {number} of {len(self.figures)}", ha="right")
        return self.figures


def _plain(text):
    """Text without what cannot be drawn."""
    return "".join(c if c.isprintable() else "?" for c in text)
