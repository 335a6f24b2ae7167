"""A drawing larger than the paper: windows that overlap, crosses that neighbours share, a map of them."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from platemodel.bench.kit.colours import FAINT, INK
from platemodel.bench.kit.paper import CHECK, MARGIN, check_bar, new_page, paper_size, window
from platemodel.bench.kit.typeset import LINE, TEXT, shortened, width_of, write

LAP = 10.0  # mm, least overlap of neighbours
ARM = 3.0  # mm, of a registration cross to either side
SIDE, FOOT = 12.0, 18.0  # mm, strips at the left and below for check bars and label


@dataclass(frozen=True)
class Tiling:
    """Windows on a drawing, one a sheet; row 1 is the uppermost, column 1 the leftmost.

    Attributes
    ----------
    box : tuple of float
        (u0, v0, u1, v1) of the drawing, mm.
    page : tuple of float
        Width and height of a sheet, mm.
    place : tuple of float
        Left, bottom, width and height of the window on each sheet, mm.
    inset : float
        Of the registration crosses along a seam from the ends of a window, mm.
    """

    box: tuple[float, float, float, float]
    page: tuple[float, float]
    place: tuple[float, float, float, float]
    columns: int
    rows: int
    inset: float = 18.0

    def origin(self, row: int, column: int) -> tuple[float, float]:
        """Place of the drawing in the lower left corner of a tile's window, mm; counted from 1."""
        return self._starts(0)[column - 1], self._starts(1)[self.rows - row]

    def holds(self, point: tuple[float, float], row: int, column: int, margin: float = 0.0) -> bool:
        """Whether a tile's window shows a place, at least ``margin`` mm from its frame."""
        u, v = self.origin(row, column)
        inside = (
            margin <= p - a <= size - margin for p, a, size in zip(point, (u, v), self.place[2:], strict=True)
        )
        return all(inside)

    @property
    def crosses(self) -> dict[str, tuple[float, float]]:
        """Registration crosses in the overlaps, name to place in mm; two at least at each seam."""
        starts = [self._starts(k) for k in (0, 1)]
        seams = [
            [(b + a + size) / 2 for a, b in pairwise(s)]
            for s, size in zip(starts, self.place[2:], strict=True)
        ]
        along = [
            sorted({a + t for a in s for t in (self.inset, size - self.inset)})
            for s, size in zip(starts, self.place[2:], strict=True)
        ]
        points = [(u, v) for u in seams[0] for v in along[1]] + [(u, v) for v in seams[1] for u in along[0]]
        return {f"{k}": p for k, p in enumerate(sorted(points, key=lambda p: (-p[1], p[0])), 1)}

    def _starts(self, axis):
        low, high = self.box[axis], self.box[axis + 2]
        size, count = self.place[axis + 2], (self.columns, self.rows)[axis]
        if count == 1:
            return [(low + high - size) / 2]
        return list(np.linspace(low, high - size, count))


def tiling(
    box: tuple[float, float, float, float],
    paper: str,
    landscape: bool | None = None,
    side: float = SIDE,
    inset: float = 18.0,
) -> Tiling:
    """Tiles for a drawing, on as few sheets as possible.

    Parameters
    ----------
    box : tuple of float
        (u0, v0, u1, v1) of the drawing, mm.
    paper : str
        ``A4`` or ``A3``.
    landscape : bool, optional
        By default the way that needs fewer sheets.
    side : float
        Width of the strip at the left of the window, mm.
    inset : float
        See :class:`Tiling`.

    Raises
    ------
    ValueError
        If the paper is unknown.
    """
    ways = (True, False) if landscape is None else (landscape,)
    options = []
    for way in ways:
        page = paper_size(paper, way)
        place = (MARGIN + side, MARGIN + FOOT, page[0] - 2 * MARGIN - side, page[1] - 2 * MARGIN - FOOT)
        count = [
            max(1, ceil((high - low - LAP) / (size - LAP)))
            for low, high, size in zip(box[:2], box[2:], place[2:], strict=True)
        ]
        options.append(Tiling(box, page, place, *count, inset))
    return min(options, key=lambda t: t.columns * t.rows)


def tile_pages(
    tiles: Tiling,
    draw: Callable,
    title: str,
    note: str,
    outline: np.ndarray | None = None,
    upright: tuple[float, float] | None = None,
) -> list[Figure]:
    """Sheets of a tiled drawing, uppermost row first.

    Parameters
    ----------
    draw : callable
        Draws everything on an Axes in mm.
    title, note : str
        Two lines of the label on each sheet.
    outline : ndarray, optional
        (n, 2) line for the map of tiles, mm.
    upright : tuple of float, optional
        Where the upright check bar starts on each sheet, mm; by default in the strip at the left.
    """
    pages, boxes = [], None
    for row in range(1, tiles.rows + 1):
        for column in range(1, tiles.columns + 1):
            figure, ax = new_page(*tiles.page)
            x, y, w, h = tiles.place
            content = window(figure, tiles.place, tiles.origin(row, column))
            draw(content)
            if boxes is None:  # every sheet shows the same drawing at the same size
                boxes = _word_boxes(content)
                tiles = _clear_of_words(tiles, boxes)
            _drop_words(content, boxes, tiles, row, column)
            draw_crosses(content, tiles, row, column)
            ax.add_artist(Rectangle((x, y), w, h, fc="none", ec=FAINT, lw=0.4))
            check_bar(ax, *(upright or (MARGIN + 5.0, y + 4.0)), upright=True)
            check_bar(ax, x + w - CHECK - 1.0, MARGIN + 5.5)
            _label(ax, tiles, (row, column), title, note, outline)
            pages.append(figure)
    return pages


def _clear_of_words(tiles, boxes):
    """Move the crosses along their seams until none lies under words; as they are where no place is free."""
    for more in np.arange(0.0, 0.3 * min(tiles.place[2:]), 2.0):
        moved = replace(tiles, inset=tiles.inset + more)
        if not any(
            a - ARM < u < c + ARM and b - ARM < v < d + ARM
            for u, v in moved.crosses.values()
            for (a, b), (c, d) in boxes
        ):
            return moved
    return tiles


def _word_boxes(ax):
    """Corners of each text of a drawing, mm: an array (2, 2) each.

    The renderer is made once: a text that is asked without one makes a page of its own for it.
    """
    renderer = FigureCanvasAgg(ax.figure).get_renderer()
    to_mm = ax.transData.inverted()
    return [to_mm.transform(text.get_window_extent(renderer)) for text in ax.texts]


def _drop_words(ax, boxes, tiles, row, column):
    """Remove words that a sheet does not show, and those that its frame would cut.

    Half a figure misleads; it is dropped where another sheet has it whole. What is far off only costs time
    and room in the file.
    """
    u0, v0 = tiles.origin(row, column)
    u1, v1 = u0 + tiles.place[2], v0 + tiles.place[3]
    for text, corners in zip(list(ax.texts), boxes, strict=True):
        (a, b), (c, d) = corners
        outside = c < u0 or a > u1 or d < v0 or b > v1
        whole = [
            (r, k)
            for r in range(1, tiles.rows + 1)
            for k in range(1, tiles.columns + 1)
            if all(tiles.holds(tuple(corner), r, k) for corner in corners)
        ]
        if outside or (whole and (row, column) not in whole):
            text.remove()


def _label(ax, tiles, here, title, note, outline):
    left = MARGIN + 3.0
    lines = ["Print at 100 %. Measure both bars."]
    where = "One sheet"
    if tiles.columns * tiles.rows > 1:
        draw_map(ax, (MARGIN, MARGIN), FOOT - 2.0, tiles, here, outline)
        left += map_width(FOOT - 2.0, tiles, outline)
        where = f"Sheet {here[0]} of {tiles.rows} from above"
        if tiles.columns > 1:
            where = f"Row {here[0]} of {tiles.rows}, column {here[1]} of {tiles.columns}"
        lines = ["Print at 100 %. Trim on the frame,", "lay cross on cross of the same number."]
    room = tiles.place[0] + tiles.place[2] - CHECK - 4.0 - left
    if width_of(note) > room and note.endswith(")"):  # a long name, and that it is invented
        name, _, rest = note.rpartition(" (")
        note = f"{shortened(name, room - width_of(f' ({rest}'))} ({rest}"
    for k, line in enumerate((title, where, note, *lines)):
        bold = k < 2
        write(ax, left, MARGIN + FOOT - 1.0 - 3.6 * k, shortened(line, room, bold=bold), bold=bold)


def draw_crosses(ax: Axes, tiles: Tiling, row: int, column: int) -> Axes:
    """Draw the registration crosses that a tile shows whole, each with its number; returns the Axes."""
    words = _word_boxes(ax)
    for name, (u, v) in tiles.crosses.items():
        if tiles.holds((u, v), row, column, ARM):
            ax.plot([u - ARM, u + ARM], [v, v], color=INK, lw=0.4, gid=f"cross-{name}-level")
            ax.plot([u, u], [v - ARM, v + ARM], color=INK, lw=0.4, gid=f"cross-{name}-upright")
            ax.plot([u], [v], "o", ms=4, mfc="none", mec=INK, mew=0.4)
            a, b, ha, va = _free_corner(words, u, v, name)
            ax.text(a, b, name, fontsize=TEXT, color=INK, ha=ha, va=va, clip_on=True)
    return ax


def _free_corner(words, u, v, name):
    """Place beside a cross where its number stands on no words."""
    wide, tall = width_of(name), LINE[TEXT]
    corners = ((1, 1), (-1, 1), (1, -1), (-1, -1))
    for way, up, far in ((*corner, far) for far in (0.9, ARM + 1.0) for corner in corners):
        a, b = u + far * way, v + far * up
        (left, right), (low, high) = sorted((a, a + way * wide)), sorted((b, b + up * tall))
        if not any(
            left < box[1][0] and right > box[0][0] and low < box[1][1] and high > box[0][1] for box in words
        ):
            break
    return a, b, "left" if way > 0 else "right", "bottom" if up > 0 else "top"


def draw_map(
    ax: Axes,
    corner: tuple[float, float],
    height: float,
    tiles: Tiling,
    here: tuple[int, int] | None = None,
    outline: np.ndarray | None = None,
) -> Axes:
    """Small map of the tiles with its lower left corner at a place, mm; one tile may be filled."""
    u0, v0, _, v1 = map_box(tiles, outline)
    scale = height / (v1 - v0)
    at = np.array(corner)
    if outline is not None:
        loop = at + scale * (np.asarray(outline) - [u0, v0])
        ax.plot(*np.r_[loop, loop[:1]].T, color=INK, lw=0.5)
    for row in range(1, tiles.rows + 1):
        for column in range(1, tiles.columns + 1):
            u, v = tiles.origin(row, column)
            place = at + scale * np.array([u - u0, v - v0])
            size = scale * np.array(tiles.place[2:])
            fill = here == (row, column)
            ax.add_artist(
                Rectangle(place, *size, fc="#00000030" if fill else "none", ec=INK, lw=0.9 if fill else 0.4)
            )
            if height > 40:
                ax.text(
                    place[0] + 1.5,
                    place[1] + size[1] / 2,
                    f"row {row}" if tiles.columns == 1 else f"{row}.{column}",
                    fontsize=TEXT,
                    va="top",
                )
    return ax


def map_width(height: float, tiles: Tiling, outline: np.ndarray | None = None) -> float:
    """Width of the map of tiles of a height, mm."""
    u0, v0, u1, v1 = map_box(tiles, outline)
    return height * (u1 - u0) / (v1 - v0)


def map_box(tiles: Tiling, outline: np.ndarray | None = None) -> tuple[float, float, float, float]:
    """Box of all windows, and of the outline, together, mm."""
    u0, v0 = tiles.origin(tiles.rows, 1)
    u1, v1 = tiles.origin(1, tiles.columns)
    u1, v1 = u1 + tiles.place[2], v1 + tiles.place[3]
    if outline is not None:
        (a, b), (c, d) = np.min(outline, axis=0), np.max(outline, axis=0)
        u0, v0, u1, v1 = min(u0, a), min(v0, b), max(u1, c), max(v1, d)
    return u0, v0, u1, v1
