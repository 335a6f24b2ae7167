"""First page of a pack, to be read in ten seconds: the bar, its line, what is in the way, the one caution."""

from dataclasses import replace

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit.colours import BAR_TINT, INK
from platemodel.bench.kit.page import A4_UPRIGHT
from platemodel.bench.kit.paper import new_page
from platemodel.bench.kit.typeset import GAP, HEAD, LINE, TEXT, TITLE, Item, Slot, head, write, write_broken
from platemodel.bench.pack.cautions_of import one_caution
from platemodel.bench.pack.frame import subtitle
from platemodel.bench.pack.plan import Plan
from platemodel.bench.sheets.marks import loop
from platemodel.bench.sheets.plan_view import SCALES, draw_plan_view
from platemodel.instrument.layout_checks import Finding

LEFT, RIGHT, MIDDLE = 15.0, 195.0, 112.0  # mm
PLAN_ROOM = (76.0, 96.0)  # mm, for the bass half of the top
NOTES_MOST = 3  # lines of the user's notes on this page; all of them are on the next
SEEN = ", seen from inside, bass side right"
OLD_BAR = "Old bar: length, height, width, weight, kept where:"
OLD_BAR_TOLD = "Old bar, kept where:"  # its sizes stand in the job
WRITE_IN = (
    "Reason for a new bar:",
    OLD_BAR,
    "Humidity and temperature today:",
    "Spring, if any, and why:",
    "Decided by, date:",
    "When done: height under the bridge, weight, taps 1, 2, 5:",
)


def first_page(plan: Plan) -> Figure:
    """Lay out the page.

    Returns
    -------
    matplotlib.figure.Figure
        A4, upright.
    """
    job = plan.job
    figure, ax = new_page(*A4_UPRIGHT)
    y = write_broken(ax, LEFT, 284.0, f"Bass bar: {job.name}", RIGHT - LEFT, TITLE, bold=True)
    write(ax, LEFT, y, subtitle(job))
    y -= LINE[TEXT] + 1.5
    ax.plot([LEFT, RIGHT], [y, y], color=INK, lw=1.0)
    below = _figures(ax, plan, y - 4.0)
    corner = RIGHT - PLAN_ROOM[0] + 15.0, y - 4.0
    draw_plan_view(ax, job.top, plan.layout.bar, job.marks, corner, PLAN_ROOM, SEEN)
    y = min(below, y - 4.0 - PLAN_ROOM[1] - 6.0)
    floor = 30.0 + 7.0 * len(WRITE_IN)
    slot = Slot(ax, LEFT, y - 3.5, floor, RIGHT - LEFT)
    ax.plot([LEFT, RIGHT], [y, y], color=INK, lw=0.5)
    slot.put(one_caution(plan))
    ax.plot([LEFT, RIGHT], [slot.y - 0.5] * 2, color=INK, lw=0.5)
    notes = _notes(job)
    kept = sum(i.height(RIGHT - LEFT) + i.gap for i in notes)
    slot = Slot(ax, LEFT, slot.y - 4.0, floor + kept, RIGHT - LEFT)
    _in_the_way(slot, plan.layout.conflicts)
    Slot(ax, LEFT, slot.y - 1.5, 0.0, RIGHT - LEFT).put(notes)
    _to_write_in(ax, floor - 2.0, job.old_bar is not None)
    return figure


def _figures(ax, plan, y):
    """Sizes, line, blank and ends at the left; returns the height below."""
    bar, cuts, job = plan.layout.bar, plan.layout.cuts, plan.job
    at = np.array([bar.x_start, job.top.bridge.x, bar.x_end])
    ends = 1e3 * bar.heights[[0, -1]]
    y = _row(ax, y, "The bar, mm", [
        ("length", f"{1e3 * bar.length:.0f}"), ("width", f"{1e3 * bar.width:.1f}"),
        ("height at the bridge", f"{1e3 * float(bar.height(at[1])):.1f}"),
    ])  # fmt: skip
    inner = -1e3 * bar.flanks(at)[1]
    names = ("lower end", "bridge line", "upper end")
    figures = list(zip(names, (f"{v:.1f}" for v in inner), strict=True))
    y = _row(ax, y, "Its line: from the axis to its inner edge, mm", figures)
    blank = cuts.blank
    size = " × ".join(f"{1e3 * v:.1f}" for v in (blank.length, blank.height, blank.width))
    fall = "; ".join(
        f"{e.name} {1e3 * e.height:.1f} high, {1e3 * e.run_height:.1f} at {1e3 * e.run:.1f} from it"
        for e in cuts.ends
    )
    lower, upper = (f"{1e3 * v:.1f} mm" for v in (bar.x_start, job.top.outline.body_length - bar.x_end))
    slot = Slot(ax, LEFT, y, 0.0, MIDDLE - LEFT - 4.0)
    slot.put([
        Item(f"{size} mm at least (length, height, width)", "Blank", 16.0, gap=0.6),
        Item(f"{lower} from the lower end of the body, {upper} from the upper", "Stands", 16.0, gap=0.6),
        Item(f"{fall}; face square to the plate, arrises broken", "Ends", 16.0, gap=0.6),
    ])  # fmt: skip
    return _side(ax, plan, slot.y - 1.0, ends)


def _row(ax, y, title, figures):
    write(ax, LEFT, y, title, HEAD, bold=True)
    y -= LINE[HEAD] + 1.0
    for k, (name, text) in enumerate(figures):
        x = LEFT + 32.0 * k
        write(ax, x, y, text, TITLE, bold=True)
        write(ax, x, y - LINE[TITLE], name)
    return y - LINE[TITLE] - LINE[TEXT] - 3.5


def _side(ax, plan, y, ends):
    """Bar from the side, its lower end left, at a round scale; returns the height below."""
    bar = plan.layout.bar
    room = MIDDLE - LEFT - 8.0
    scale = next((k for k in SCALES if 1e3 * bar.length / k <= room), 12.5)
    x = 1e3 * (bar.stations - bar.x_start) * np.hypot(1, bar.slope) / scale
    h = 1e3 * bar.heights / scale
    base = y - LINE[TEXT] - h.max() - 1.5
    ring = np.r_[np.c_[LEFT + x, base + h], [[LEFT + x[-1], base], [LEFT, base]]]
    loop(ax, ring, fc=BAR_TINT, ec=INK, lw=0.9)
    at = LEFT + 1e3 * (plan.job.top.bridge.x - bar.x_start) * np.hypot(1, bar.slope) / scale
    top = base + float(np.interp(at, LEFT + x, h))
    write(ax, LEFT, base + h[0] + 0.8, f"{ends[0]:.1f}", va="bottom")
    write(ax, LEFT + x[-1], base + h[-1] + 0.8, f"{ends[1]:.1f}", va="bottom", ha="right")
    write(
        ax, at, top + 0.8, f"{1e3 * float(bar.height(plan.job.top.bridge.x)):.1f}", va="bottom", ha="center"
    )
    ax.plot([at, at], [base - 1.5, top], color=INK, lw=0.6, ls=(0, (6, 2)))
    write(ax, LEFT, base - 1.5, f"from the side, 1 : {scale:g}; heights from the plate; lower end left")
    return base - 1.5 - LINE[TEXT]


def _in_the_way(slot, conflicts):
    """Conflicts, each whole, as many as have room; the others stand on the next page."""
    if not conflicts:
        slot.put([head("Nothing stands in the way"), Item(
            "The bar keeps clear of foot edge, eye, stem and ends as is usual, and of every mark that was "
            "written down (common practice, no source)."
        )])  # fmt: skip
        return
    slot.put([head("In the way", alarm=True)])
    for k, finding in enumerate(conflicts):
        items = conflict_items(finding)
        more = len(conflicts) - k - 1
        last = [Item(f"{more + 1} more on the next page.", bold=True)]
        if not slot.fits(items if more == 0 else [*items, *last]):
            slot.put(last)
            return
        slot.put(items)


def conflict_items(finding: Finding) -> list[Item]:
    """Return a conflict, its cure and what to type, each on lines of its own."""
    out = [Item(finding.text, "–", 3.2, gap=0.4)]
    if finding.cure:
        out.append(Item(finding.cure, "", 3.2, gap=0.4))
    typed = [Item(line, "", 6.4, gap=0.0) for line in finding.lines]
    return [*out, *typed[:-1], *(replace(i, gap=GAP) for i in typed[-1:])]


def _notes(job):
    if not job.notes:
        return []
    item = Item(job.notes, "Notes", 16.0)
    if len(item.lines(RIGHT - LEFT)) <= NOTES_MOST:
        return [item]
    return [Item("on the next page, whole", "Notes", 16.0)]


def _to_write_in(ax, y, old_bar_told):
    ax.plot([LEFT, RIGHT], [y + 2.0, y + 2.0], color=INK, lw=0.5)
    write(ax, LEFT, y, "To write in", HEAD, bold=True)
    for k, text in enumerate(WRITE_IN):
        text = OLD_BAR_TOLD if old_bar_told and text == OLD_BAR else text
        at = y - LINE[HEAD] - 6.0 - 7.0 * k
        write(ax, LEFT, at, text, va="bottom")
        ax.plot([LEFT + 88, RIGHT], [at, at], color=INK, lw=0.4)
