"""Paper: pages whose axes are millimetres of the sheet, check bars, and files at true size."""

import os
import re
from contextlib import AbstractContextManager
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import ArrayLike

from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import MM_PER_INCH, PAPERS, paper_figure
from platemodel.bench.kit.paper_files import CREATOR
from platemodel.bench.kit.typeset import TEXT

MARGIN = 8.0  # mm that printers commonly leave white, with some room
CHECK = 100.0  # mm, length of the check bars
PRINT_NOTE = "Print at 100 % (actual size, no fitting to the page). Both check bars must measure 100 mm."
_POINT = MM_PER_INCH / 72


def true_size() -> AbstractContextManager:
    """Return settings in which curves keep every point and files come out the same each time."""
    return mpl.rc_context({"path.simplify": False, "svg.hashsalt": "platemodel", "hatch.linewidth": 0.5})


def paper_size(paper: str, landscape: bool = False) -> tuple[float, float]:
    """Width and height of a sheet, mm.

    Raises
    ------
    ValueError
        If the paper is unknown.
    """
    if paper not in PAPERS:
        msg = f"paper {paper!r}; allowed are {', '.join(PAPERS)}"
        raise ValueError(msg)
    width, height = PAPERS[paper]
    return (height, width) if landscape else (width, height)


def from_inside(points: ArrayLike) -> np.ndarray:
    """Plan places (x, y) in m as (across, up) on the sheet in mm, seen from inside: (..., 2)."""
    p = 1e3 * np.asarray(points, float)
    return np.stack([-p[..., 1], p[..., 0]], axis=-1)


def new_page(width: float, height: float) -> tuple[Figure, Axes]:
    """Page of a size in mm, and Axes over all of it whose units are mm from its lower left corner.

    Returns
    -------
    matplotlib.figure.Figure, matplotlib.axes.Axes
    """
    figure = paper_figure((width, height))
    return figure, window(figure, (0.0, 0.0, width, height), (0.0, 0.0))


def window(figure: Figure, place: tuple[float, float, float, float], origin: tuple[float, float]) -> Axes:
    """Axes on a page that show a drawing in mm at true size.

    Parameters
    ----------
    place : tuple of float
        Left, bottom, width and height on the page, mm.
    origin : tuple of float
        Place of the drawing that lies in the window's lower left corner, mm.
    """
    width, height = (MM_PER_INCH * v for v in figure.get_size_inches())
    x, y, w, h = place
    ax = figure.add_axes((x / width, y / height, w / width, h / height))
    ax.set_xlim(origin[0], origin[0] + w)
    ax.set_ylim(origin[1], origin[1] + h)
    ax.set_axis_off()
    return ax


def check_bar(ax: Axes, x: float, y: float, upright: bool = False) -> Axes:
    """Bar of 100 mm with a tick every 10 mm, from (x, y) to the right or upwards; returns the Axes."""

    def line(points, **style):
        u, v = np.array(points).T[::-1] if upright else np.array(points).T
        ax.plot(x + u, y + v, color=INK, solid_capstyle="butt", **style)

    line([(0, 0), (CHECK, 0)], lw=0.9, gid="check-bar-upright" if upright else "check-bar-level")
    for k in range(11):
        line([(10.0 * k, 0), (10.0 * k, 3.0 if k in (0, 5, 10) else 1.8)], lw=0.5)
    text = "100 mm: measure before use"
    if upright:
        ax.text(x - 0.9, y + CHECK / 2, text, fontsize=TEXT, rotation=90, ha="right", va="center", color=INK)
    else:
        ax.text(x + CHECK / 2, y - 0.8, text, fontsize=TEXT, ha="center", va="top", color=INK)
    return ax


def save_svg(figure: Figure, path: str | os.PathLike) -> Path:
    """Write a page as SVG whose size is in mm and whose user unit is 1 mm."""
    path = Path(path)
    figure.savefig(path, format="svg", metadata={"Date": None, "Creator": CREATOR})
    width, height = (f"{MM_PER_INCH * v:.4f}" for v in figure.get_size_inches())
    text = path.read_text(encoding="utf-8")
    root = re.search(r"<svg\b[^>]*>", text)
    head = re.sub(r'\bwidth="[^"]*"', f'width="{width}mm"', root.group())
    head = re.sub(r'\bheight="[^"]*"', f'height="{height}mm"', head)
    head = re.sub(r'\bviewBox="[^"]*"', f'viewBox="0 0 {width} {height}"', head)
    # The plotting library draws in points; one group turns them into millimetres.
    body = text[root.end() : text.rindex("</svg>")]
    group = f'<g id="millimetres" transform="scale({_POINT:.10f})">'
    whole = f"{text[: root.start()]}{head}\n{group}{body}</g>\n</svg>\n"
    path.write_text(whole, encoding="utf-8")
    return path
