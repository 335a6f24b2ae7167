"""The page of stop points: heights, weight, modes and stiffness at which to tap while cutting down."""

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.old_bar_table import write_old_bar
from platemodel.bench.kit.page import A4_UPRIGHT
from platemodel.bench.kit.sheet import begun_sheet, rule, write_head, write_items
from platemodel.bench.kit.tones import cell
from platemodel.bench.kit.typeset import HEAD, LINE, TEXT, width_of, write, write_broken
from platemodel.bench.pack.frame import subtitle
from platemodel.bench.pack.plan import Plan
from platemodel.instrument.bar_shape import usual_least_end
from platemodel.study.trimming.flex_stops import TOLD
from platemodel.study.trimming.stop_points import EVEN

ROW, WRITE = 5.5, 9.5  # mm of a row of figures, and of the line below it to write on


def stop_sheet(plan: Plan) -> Figure:
    """Lay out the stop points: heights, weight, modes and stiffness at which to tap, with room to write."""
    title = f"Cutting down: {plan.job.name}"
    sheet = begun_sheet(title, subtitle(plan.job), cautions.STOPS, A4_UPRIGHT)
    ax, left, room, y = sheet.ax, sheet.left, sheet.room, sheet.top
    for note in plan.modes.notes:
        y = write_broken(ax, left, y, note, room, bold=True)
    y = write_items(ax, left, y - 1.0, _how(plan), room) - 2.0
    y = _table(sheet, plan.stops, y) - 3.0
    y = write_head(ax, left, y, "With a light hand")
    y = write_items(ax, left, y, _careful(plan.layout.bar, usual_least_end(plan.job.top)), room) - 3.0
    write_old_bar(ax, left, y, plan.modes.old_bar, room)
    return sheet.figure


def _how(plan):
    known = (
        "The wood was found from readings of this top."
        if plan.job.found_wood is not None
        else "Weigh, tap and flex the top without bar and run `wood --keep`: that narrows it."
    )
    return (
        "At each stop: brush it off, weigh it, hold and tap it as on the page of modes, flex it on three "
        "pegs, along and at the foot, as on the sheet of `platemodel flex`; write it down, then decide.",
        "Heights are measured from the plate, under the bridge; what is left over the final height is the "
        "same all along. Even: a bar that was glued on with one "
        "height from end to end, its profile not yet planed.",
        f"± holds for 90 of 100 tops known as well as this one, as on the page of modes. {known}",
    )


def _columns(stops):
    """Head, in two lines, and text of each column."""
    return [
        ("left on,\nmm", lambda r: "even" if r.stage == EVEN else f"{r.left_mm:.1f}"),
        ("height,\nmm", lambda r: f"{r.height_mm:.1f}"),
        ("bar,\ng", lambda r: f"{r.bar_g:.1f}"),
        *(
            (
                f"mode {n},\nHz",
                lambda r, n=n: _tone_band(getattr(r, f"f{n}_hz"), getattr(r, f"f{n}_band_hz")),
            )
            for n in (1, 2, 5)
            if stops[f"f{n}_hz"].notna().any()
        ),
        ("foot,\nN/mm", lambda r: f"{r.foot_n_per_mm:.1f}"),
        *((_flex_head(stops, kind), lambda r, kind=kind: _sag(r, kind)) for kind in TOLD),
    ]


def _table(sheet, stops, y):
    """Figures of each stop with a line to write on below; return the height below the table."""
    ax, columns = sheet.ax, _columns(stops)
    rows = [[show(row) for _, show in columns] for row in stops.itertuples()]
    heads = [head.split("\n") for head, _ in columns]
    wide = [
        max(
            width_of(text, HEAD if j else TEXT)
            for j, text in [*((0, h) for h in head), *((1, r[k]) for r in rows)]
        )
        for k, head in enumerate(heads)
    ]
    gap = (sheet.room - sum(wide)) / (len(wide) - 1)
    at = sheet.left + np.concatenate([[0.0], np.cumsum(np.array(wide[:-1]) + gap)])
    for x, head in zip(at, heads, strict=True):
        for j, line in enumerate(head):
            write(ax, x, y - LINE[TEXT] * (2 - len(head) + j), line, style="italic")
    y -= 2 * LINE[TEXT]
    for row in rows:
        rule(ax, sheet.left, sheet.right, y)
        y -= 1.2
        for x, text in zip(at, row, strict=True):
            write(ax, x, y, text, HEAD)
        y -= ROW
        write(ax, sheet.left, y - WRITE + 1.5 + LINE[TEXT], "found:", style="italic")
        for x, w in zip(at[1:], wide[1:], strict=True):
            rule(ax, x, x + max(w, 10.0), y - WRITE + 2.0)
        y -= WRITE
    rule(ax, sheet.left, sheet.right, y)
    return y


def _flex_head(stops, kind):
    grams = stops[f"flex_{kind}_g"].iloc[0]
    return f"flex\n{kind}" if np.isnan(grams) else f"{kind}, {grams:.0f} g,\n1/100 mm"


def _sag(row, kind):
    """Write a reading of the gauge in hundredths of a millimetre, with its band."""
    sag, band = (100 * getattr(row, f"flex_{kind}_{what}") for what in ("mm", "band_mm"))
    return "too thin" if np.isnan(sag) else f"{sag:.1f} ± {band:.1f}"


def _tone_band(f, band):
    return f"{f:.0f} ± {band:.0f}" if np.isfinite(f) else cell(f)


def _careful(bar, least_end):
    ends = " and ".join(dict.fromkeys(f"{1e3 * h:.1f}" for h in bar.heights[[0, -1]]))
    return (
        "Cutting goes one way only. Stop before the band says you must; one stroke of a scraper takes "
        "0.1 mm.",
        "If all tones are higher than predicted at every stage, wood or arch is stiffer than the model; if "
        "lower, softer. `platemodel trim` corrects the model by what you heard and proposes the next careful "
        "cut.",
        f"Leave the ends as high as drawn ({ends} mm), with no step where the bar stops; whatever "
        f"`platemodel trim` proposes later, never below {1e3 * least_end:.1f} mm.",
        "Tones also follow weight, moisture and hold: keep to the same hold, place and room, and write the "
        "humidity down.",
    )
