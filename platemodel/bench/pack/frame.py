"""What pages of a pack have in common: whose they are, which pack of which day, which page; two columns."""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.page import A4_UPRIGHT, MM_PER_INCH
from platemodel.bench.kit.paper import new_page, window
from platemodel.bench.kit.typeset import TEXT, Item, Slot, flow, shortened, write
from platemodel.job import Job

EDGE = 15.0, 12.0  # mm from the right edge of an upright sheet, and of one on its side
NAME = 48.0  # mm, most of a job's name: sheets at 1:1 have words at the left of it
TOP, LEFT, SECOND, WIDE, FLOOR = 284.0, 15.0, 108.0, 87.0, 14.0  # mm, of two columns


@dataclass(frozen=True)
class Stamp:
    """A pack's own line.

    Attributes
    ----------
    name : str
        Of the job.
    number : int
        Of the pack.
    day : str
        When it was made; year-month-day.
    """

    name: str
    number: int
    day: str

    def line(self, page: int, pages: int) -> str:
        """Line of a page, counted from 1."""
        return f"{shortened(self.name, NAME)} · pack {self.number:03d} of {self.day} · page {page} of {pages}"


def stamped(pages: Sequence[Figure], stamp: Stamp) -> Sequence[Figure]:
    """Write the line on every page: upright ones at the lower right, sideways ones at the upper right."""
    for k, figure in enumerate(pages, 1):
        wide, tall = (MM_PER_INCH * v for v in figure.get_size_inches())
        ax = window(figure, (0.0, 0.0, wide, tall), (0.0, 0.0))
        y, va, edge = (5.0, "bottom", EDGE[0]) if tall > wide else (tall - 5.0, "top", EDGE[1])
        write(ax, wide - edge, y, stamp.line(k, len(pages)), TEXT, ha="right", va=va)
    return pages


def two_columns(
    blocks: Sequence[Sequence[Item]], headed: Callable[[Axes, bool], float], between: float = 3.0
) -> list[Figure]:
    """Set blocks in two columns on as many upright pages as they take; nothing is left out.

    Parameters
    ----------
    headed : callable
        Writes the head of a page, told whether it is the first, and returns where the columns begin, mm.
    between : float
        mm between blocks.
    """
    pages: list[Figure] = []

    def columns():
        for number in itertools.count():
            figure, ax = new_page(*A4_UPRIGHT)
            pages.append(figure)
            top = headed(ax, number == 0)
            for x in (LEFT, SECOND):
                yield Slot(ax, x, top, FLOOR, WIDE)

    flow(blocks, columns(), between)
    return pages


def air_words(job: Job) -> str:
    """When it was measured and in what air; says so where that was not written down."""
    m = job.measured
    air = [
        *([f"{100 * m.relative_humidity:.0f} % humidity"] if m.relative_humidity is not None else []),
        *([f"{m.temperature:g} °C"] if m.temperature is not None else []),
    ]
    if not m.date and not air:
        return "day and air of measuring not written down"
    day = f"measured {m.date}" if m.date else "day of measuring not written down"
    return f"{day}, {', '.join(air) or 'air not written down'}"


def subtitle(job: Job) -> str:
    """Line under a page's title: the instrument, the day and the air, and that it is invented if so."""
    body = f"{job.top.kind}, body {1e3 * job.top.outline.body_length:.0f} mm"
    invented = f" · {cautions.INVENTED}" if job.invented else ""
    return f"{body} · {air_words(job)}{invented}"
