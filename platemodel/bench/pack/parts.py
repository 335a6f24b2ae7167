"""Parts of a pack by name, each with its pages, and the page that lists them."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from platemodel.bench.kit.page import A4_UPRIGHT
from platemodel.bench.kit.typeset import HEAD, LINE, TITLE, write
from platemodel.bench.pack.part_names import PARTS
from platemodel.bench.pack.plan import Plan

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LEFT, RIGHT = 15.0, 195.0  # mm


def part_pages(plan: Plan, names: Sequence[str], paper: str, whole: bool) -> "list[Figure]":
    """Draw the pages of some parts, with the page that lists them where it is among them.

    Parameters
    ----------
    names : sequence of str
        Of `PARTS`, in its order.
    paper : str
        Of the sheets at 1:1.
    whole : bool
        The layout of the whole top at 1:1.
    """
    drawn = {name: draw() for name, draw in _drawers(plan, paper, whole).items() if name in names}
    counts = {name: 1 if name == "contents" else len(drawn[name]) for name in names}
    if "contents" in names:
        drawn["contents"] = [contents_page(plan, counts)]
    return [page for name in names for page in drawn[name]]


def _drawers(plan, paper, whole) -> "dict[str, Callable[[], Sequence[Figure]]]":
    from platemodel.bench import sheets
    from platemodel.bench.body.page import body_pages
    from platemodel.bench.glue.page import glue_pages
    from platemodel.bench.lines.page import lines_page
    from platemodel.bench.load.page import load_pages
    from platemodel.bench.modes.page import mode_page
    from platemodel.bench.pack.first_page import first_page
    from platemodel.bench.pack.job_sheet import job_pages
    from platemodel.bench.pack.spring_page import spring_page
    from platemodel.bench.pack.stop_sheet import stop_sheet
    from platemodel.bench.pack.work_order import work_order_pages
    from platemodel.bench.record.owner_page import owner_page

    return {
        "first": lambda: [first_page(plan)],
        "job": lambda: job_pages(plan),
        "lines": lambda: [lines_page(plan.lines)],
        "layout": lambda: sheets.layout_pages(plan.layout, paper, whole),
        "template": lambda: sheets.template_pages(plan.layout, paper),
        "work": lambda: work_order_pages(plan),
        "spring": lambda: [spring_page(plan)],
        "stops": lambda: [stop_sheet(plan)],
        "glue": lambda: glue_pages(_glue(plan)),
        "modes": lambda: [mode_page(plan.modes)],
        "load": lambda: load_pages(plan.load),
        "body": lambda: [] if plan.body is None else body_pages(plan.body),
        "owner": lambda: [owner_page(plan.job)],
    }


def _glue(plan):
    """Glue as it is shown: where there are modes, the old bar stands on other pages already."""
    return plan.glue if plan.modes is None else replace(plan.glue, old_bar=None)


def contents_page(plan: Plan, counts: dict[str, int]) -> "Figure":
    """List the parts with the page on which each begins, and how to print one alone.

    Parameters
    ----------
    counts : dict of str to int
        Part to its number of pages, in the order of the pack.
    """
    from platemodel.bench.kit.paper import new_page
    from platemodel.bench.pack.frame import subtitle

    figure, ax = new_page(*A4_UPRIGHT)
    y = 284.0
    write(ax, LEFT, y, "Contents", TITLE, bold=True)
    write(ax, LEFT, y - LINE[TITLE], subtitle(plan.job))
    y, page = y - 2 * LINE[TITLE] - 4.0, 1
    for name, count in counts.items():
        if name != "contents" and count:
            write(ax, LEFT, y, PARTS[name], HEAD)
            write(
                ax,
                LEFT + 90.0,
                y,
                f"page {page}" if count == 1 else f"pages {page} to {page + count - 1}",
                HEAD,
            )
            write(ax, RIGHT, y, f"--only {name}", ha="right")
            y -= LINE[HEAD] + 2.0
        page += count
    write(
        ax, LEFT, y - 4.0, "One part alone: platemodel plan FOLDER --only NAME; several with commas between."
    )
    return figure
