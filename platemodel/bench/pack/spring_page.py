"""Page on spring and ends: no spring and two springs side by side, and both ends of the bar drawn."""

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import BAR_TINT, FAINT, INK
from platemodel.bench.kit.page import A4_UPRIGHT
from platemodel.bench.kit.paper import new_page
from platemodel.bench.kit.tables import span
from platemodel.bench.kit.typeset import HEAD, LINE, TEXT, TITLE, broken, write, write_broken
from platemodel.bench.pack.plan import Plan
from platemodel.bench.sheets.marks import loop

LEFT, RIGHT, LABELS = 15.0, 195.0, 68.0  # mm
ROWS = (
    ("clamps_n", "clamps together to close it, N", "{:.0f}"),
    ("sagitta_mm", "arch over the bar changes by, mm", "{:+.2f}"),
    ("bar_mpa", "locked into the bar on the first day, MPa", "{:.1f}"),
    ("years", "of it left after years, MPa", "{}"),
    ("plate_mpa", "locked into the plate, MPa", "{:.1f}"),
    ("peel_mpa", "pull across the joint at the worse end, MPa", "{:.2f}"),
    ("foot_load_n", "as if so much were taken off the foot, N", "{:.0f}"),
)
WORDS = (
    "Whether to spring a bar at all is disputed. A spring pulls the ends of the plate down and lifts the "
    "arch under the foot; both bar and plate creep, and part of it is gone after years; at the ends it pulls "
    "at the joint. Held: the top lies in a cradle that fits. Free: the clamps squeeze bar and plate, and the "
    "plate gives."
)
END_WORDS = (
    "Face square to the plate, its arrises broken. Not lower than drawn: a thin end peels, and follows every "
    "change of the air.",
    "Guard the plate with a card beside and before the end. No knife runs out into the plate, no step is "
    "left in it.",
    "Pare from the middle towards the end, with the grain; the last strokes with a scraper.",
)


def spring_page(plan: Plan) -> Figure:
    """Lay out the page."""
    figure, ax = new_page(*A4_UPRIGHT)
    y = write_broken(ax, LEFT, 284.0, f"Spring and ends: {plan.job.name}", RIGHT - LEFT, TITLE, bold=True)
    y = write_broken(ax, LEFT, y, f"{cautions.invented_note(plan.job)} {WORDS}".strip(), RIGHT - LEFT) - 4.0
    y = _springs(ax, plan.springs, y) - 4.0
    write(ax, LEFT, y, "The ends, twice their size", HEAD, bold=True)
    y -= LINE[HEAD] + 3.0
    for end, sign in zip(plan.layout.cuts.ends, (1.0, -1.0), strict=True):
        y = _end(ax, plan, end, sign, y)
    for text in END_WORDS:
        y = write_broken(ax, LEFT, y, text, RIGHT - LEFT) - 1.0
    write_broken(ax, LEFT, 20.0, cautions.TRIM[0], RIGHT - LEFT)
    return figure


def _springs(ax, table, y):
    """Columns: none, then each spring held and free; the rows of ``ROWS``."""
    columns = [("no spring", None)]
    columns += [(f"{r['spring_mm']:.1f} mm, {r['holding']}", r) for r in table.to_dict("records")]
    wide = (RIGHT - LEFT - LABELS) / len(columns)
    edges = [LEFT + LABELS + wide * k for k in range(len(columns))]
    write(ax, LEFT, y, "Gap at each end", HEAD, bold=True)
    for x, (name, _) in zip(edges, columns, strict=True):
        write_broken(ax, x, y, name, wide - 4.0, bold=True)
    y -= 2 * LINE[TEXT] + 1.5
    for key, label, form in ROWS:
        ax.plot([LEFT, RIGHT], [y + 0.7, y + 0.7], color=INK, lw=0.25)
        write(ax, LEFT, y, label)
        for x, (_, row) in zip(edges, columns, strict=True):
            write(ax, x, y, "0" if row is None else _shown(row, key, form))
        y -= LINE[TEXT] + 1.0
    ax.plot([LEFT, RIGHT], [y + 0.7, y + 0.7], color=INK, lw=0.25)
    write(ax, LEFT, y, "verdict")
    low = y
    for x, (_, row) in zip(edges, columns, strict=True):
        at = y
        for line in broken("nothing to close" if row is None else row["verdict"], wide - 1.5):
            write(ax, x, at, line)
            at -= LINE[TEXT]
        low = min(low, at)
    return low


def _shown(row, key, form):
    if key == "years":
        return span(f"{row['bar_years_low_mpa']:.1f}", f"{row['bar_years_high_mpa']:.1f}", " to ")
    return form.format(row[key])


def _end(ax, plan, end, sign, y):
    """One end of the bar from the side, twice its size, the plate below; returns the height below."""
    bar, scale = plan.layout.bar, 2.0
    run = 1e3 * end.run * 1.3
    s = np.linspace(0.0, 1e-3 * run, 60)
    along = s / np.hypot(1, bar.slope)
    x = bar.x_start + along if sign > 0 else bar.x_end - along
    u0 = LEFT + 28.0 if sign > 0 else RIGHT - 28.0
    u, h = u0 + sign * scale * 1e3 * s, scale * 1e3 * bar.height(x)
    base = y - h.max() - 4.0
    loop(ax, np.r_[np.c_[u, base + h], [[u[-1], base], [u[0], base]]], fc=BAR_TINT, ec=INK, lw=1.0)
    plate = scale * 1e3 * float(plan.job.top.thickness.value(x[0], bar.at(x[0])))
    reach = np.array([u0 - sign * 22.0, u[-1]])
    ax.plot(reach, [base, base], color=INK, lw=1.0)
    ax.plot(reach, [base - plate] * 2, color=FAINT, lw=0.8)
    ha = "right" if sign > 0 else "left"
    write(ax, u0 - sign * 1.5, base + 0.5 * h[0], f"{1e3 * end.height:.1f}", bold=True, va="center", ha=ha)
    at = u0 + sign * scale * 1e3 * end.run
    top = base + scale * 1e3 * end.run_height
    ax.plot([at, at], [base, top], color=INK, lw=0.6, ls=(0, (6, 2)))
    write(ax, at, top + 1.0, f"{1e3 * end.run_height:.1f}", bold=True, va="bottom", ha="center")
    below = base - plate - 1.5
    ax.plot([u0, at], [below, below], color=INK, lw=0.6)
    ax.plot([u0, at], [below, below], "|", color=INK, ms=6)
    write(ax, 0.5 * (u0 + at), below - 1.0, f"{1e3 * end.run:.1f}", ha="center")
    words = f"{end.name} end; the edge falls {np.degrees(end.fall):.1f}° to the plate"
    write(ax, 0.5 * (u0 + u[-1]), below - 1.0 - LINE[TEXT], words, ha="center")
    return below - 2 * LINE[TEXT] - 5.0
