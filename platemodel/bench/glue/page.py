"""The pages for fitting and gluing a bar: clamps to scale, what to do; then gaps and old bar."""

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from platemodel.bench.glue.plots import draw_clamps, draw_closing, draw_pressure, draw_window
from platemodel.bench.glue.result import (
    JobGlue,
    clamp_table,
    closing_lines,
    hand_lines,
    plan_lines,
    what_to_do,
    window_lines,
)
from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.mark_drawing import draw_marks
from platemodel.bench.kit.old_bar_table import write_old_bar
from platemodel.bench.kit.page import A4_SIDEWAYS, A4_UPRIGHT
from platemodel.bench.kit.paper import new_page
from platemodel.bench.kit.plots import scale_bar
from platemodel.bench.kit.typeset import (
    HEAD,
    LINE,
    TEXT,
    TITLE,
    Item,
    Slot,
    head,
    shortened,
    write,
    write_broken,
)
from platemodel.instrument.mark_checks import BRIDGE_IT
from platemodel.study.gluing.hand_forces import FEEL

SCALES = (2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)
LEFT, MIDDLE, RIGHT = 12.0, 122.0, 287.0  # mm
ROOM_MM = (106.0, 150.0)  # for the plan of the top
TABLE = (0.0, 12.0, 25.0, 36.0, 46.0, 94.0)  # mm, of the columns of clamps
OLD_BAR_MM = 76.0  # that the old bar beside the new one takes, with the margin below
LEGEND = (
    "The top is seen from outside. Rings: clamps on the bar inside, numbered in the order in which they are "
    "set, at mm from the lower edge; dashed: soft-lined block outside; dotted: bridge line."
)


def glue_pages(result: JobGlue) -> list[Figure]:
    """Lay out the page, and one more if there are gaps or an old bar.

    Returns
    -------
    list of matplotlib.figure.Figure
        Exactly A4.
    """
    more = result.locked is not None or result.old_bar is not None
    return [glue_page(result), *(_further(result) if more else [])]


def glue_page(result: JobGlue) -> Figure:
    """Lay out the page of clamps and glue: A4, sideways."""
    job = result.job
    figure, ax = new_page(*A4_SIDEWAYS)
    write(ax, LEFT, 200.0, shortened(f"Fit and glue: {job.name}", 190.0, TITLE, bold=True), TITLE, bold=True)
    note = f"{cautions.invented_note(job)} {cautions.GLUE}".strip()
    write_broken(ax, LEFT, 200.0 - LINE[TITLE], note, RIGHT - LEFT)
    _plan(figure, ax, result)
    y = write_broken(ax, MIDDLE, 186.0, what_to_do(result), RIGHT - MIDDLE, HEAD, bold=True) - 2.0
    y = _clamps(ax, result, y)
    height = 26.0
    base = y - height - 6.0
    draw_pressure(result.plan, _axes(figure, MIDDLE + 12.0, base, 66.0, height), result.hand)
    draw_window(result.window, _axes(figure, MIDDLE + 104.0, base, 50.0, height))
    wide = 0.5 * (RIGHT - MIDDLE) - 3.0
    first, second = (Slot(ax, x, base - 12.0, 0.0, wide) for x in (MIDDLE, MIDDLE + wide + 6.0))
    blocks = [f"A block on a mark of the top: {BRIDGE_IT}"] if result.conflicts else []
    first.put([Item(t, gap=0.5) for t in hand_lines(result)])
    first.put([Item(t, "!", 3.0, gap=0.5, alarm=True) for t in blocks])
    fit = closing_lines(result)[:1]
    second.put([Item(t, gap=0.5) for t in (*fit, *plan_lines(result)[-1:], LEGEND)])
    at = 30.0
    for name, text in cautions.GLUING:
        write(ax, LEFT, at, name, bold=True)
        at = write_broken(ax, LEFT + 16.0, at, text, RIGHT - LEFT - 16.0)
    return figure


def _further(result):
    """How gaps close, what stays locked in, all that is said of clamps and glue; then the old bar."""
    figures, y = [], 0.0
    if result.locked is not None:
        figure, ax, y = _upright(result, "Gaps and spring")
        y = _closing(figure, ax, y, result)
        figures.append(figure)
    if result.old_bar is not None:
        if y < OLD_BAR_MM:
            figure, ax, y = _upright(result, "New bar and old")
            figures.append(figure)
        write_old_bar(ax, 15.0, y - 4.0, result.old_bar, 180.0)
    return figures


def _upright(result, what):
    """Begin an upright page; returns the height below its notes, too."""
    figure, ax = new_page(*A4_UPRIGHT)
    y = write_broken(ax, 15.0, 284.0, f"{what}: {result.job.name}", 180.0, TITLE, bold=True)
    note = f"{cautions.invented_note(result.job)} {cautions.GLUE}".strip()
    return figure, ax, write_broken(ax, 15.0, y, note, 180.0)


def _closing(figure, ax, y, result):
    """Gaps and forces as a picture and in words; returns the height below."""
    draw_closing(result.locked[0].closing, _axes(figure, 30.0, y - 66.0, 150.0, 52.0))
    slot = Slot(ax, 15.0, y - 84.0, 14.0, 180.0)
    for title, lines in (
        ("Closing", closing_lines(result)),
        ("Clamps", plan_lines(result)),
        ("Glue window", window_lines(result)),
    ):
        slot.put([head(title), *(Item(t) for t in lines)])
        slot.y -= 2.0
    return slot.y


def _axes(figure: Figure, x: float, y: float, wide: float, tall: float) -> Axes:
    width, height = (25.4 * v for v in figure.get_size_inches())
    return figure.add_axes((x / width, y / height, wide / width, tall / height))


def _plan(figure, page, result):
    """Draw the top in plan, exactly at a round scale."""
    top = result.job.top
    ax = figure.add_axes((0, 0, 1, 1))
    draw_clamps(result.plan, top, ax, result.hand.force)
    draw_marks(ax, result.job.marks, lambda p: 1e3 * p[:, ::-1], words=False)
    scale_bar(ax, top)
    low, high = ax.get_ylim()
    ax.set_ylim(low - 0.045 * (high - low), high)
    (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
    sizes = right - left, high - low
    scale = next((k for k in SCALES if all(v / k <= r for v, r in zip(sizes, ROOM_MM, strict=True))), 10.0)
    wide, tall = (v / scale for v in sizes)
    x, y = LEFT + 0.5 * (ROOM_MM[0] - wide), 184.0 - tall
    ax.set_position((x / A4_SIDEWAYS[0], y / A4_SIDEWAYS[1], wide / A4_SIDEWAYS[0], tall / A4_SIDEWAYS[1]))
    write(page, LEFT, 183.0, f"1 : {scale:g}", HEAD, bold=True)


def _clamps(ax, result, y):
    """Clamps one a line, in the order in which they are set; returns the height below."""
    heads = ("set as", "at, mm", "N", "kgf", "by hand", "block outside")
    for name, x in zip(heads, TABLE, strict=True):
        write(ax, MIDDLE + x, y, name, style="italic")
    y -= LINE[TEXT] + 0.6
    ax.plot([MIDDLE, RIGHT], [y + 0.3, y + 0.3], color=INK, lw=0.8)
    for row in clamp_table(result).sort_values("set_as").itertuples():
        cells = (
            f"{row.set_as}", f"{row.x_mm:.0f}", f"{row.by_hand_n:.0f}", f"{row.by_hand_kgf:.0f}",
            FEEL[row.grade], row.block,
        )  # fmt: skip
        for cell, x in zip(cells[:-1], TABLE, strict=False):
            write(ax, MIDDLE + x, y - 0.6, cell)
        below = write_broken(
            ax, MIDDLE + TABLE[-1], y - 0.6, cells[-1], RIGHT - MIDDLE - TABLE[-1], bold=True
        )
        y = min(below, y - 0.6 - LINE[TEXT]) - 0.3
        ax.plot([MIDDLE, RIGHT], [y + 0.3, y + 0.3], color=INK, lw=0.25)
    return y - 4.0
