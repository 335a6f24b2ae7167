"""Pages of a job's closed body, A4 sideways: what it carries and does, its years, what strength is left."""

from matplotlib.figure import Figure

from platemodel.bench.body.margins import TITLE, day_text, margin_words
from platemodel.bench.body.plots import draw_along, draw_mobility, draw_sinking_by_height
from platemodel.bench.body.result import (
    OLD_ROW,
    JobBody,
    assumed,
    bar_cell,
    case_table,
    louder,
    text_lines,
    usual_tones,
)
from platemodel.bench.body.years import year_lines, year_table
from platemodel.bench.kit import cautions
from platemodel.bench.kit.against_usual import FLAGGED, margin_text, share_words
from platemodel.bench.kit.old_bar import LOOSE
from platemodel.bench.kit.old_bar_table import write_old_bar
from platemodel.bench.kit.sheet import Column, begun_sheet, write_head, write_items, write_table
from platemodel.bench.kit.tones import signed
from platemodel.bench.kit.typeset import LINE, TEXT
from platemodel.study.body.sound import sound_band

APART = (
    "Here the top stands on its ribs, with the pull along the body; the page of string load has the top "
    "alone on a rim that slides or is held, and so a wider band."
)
PICTURES = 66.0  # mm, height of the pictures


def body_pages(result: JobBody) -> list[Figure]:
    """Lay out the pages."""
    return [_today(result), _later(result), _spare(result)]


def _begun(result, what):
    notes = " ".join(filter(None, (cautions.invented_note(result.job), assumed(result))))
    return begun_sheet(f"{what}: {result.job.name}", f"{notes} {APART}", cautions.BODY)


def _today(result):
    sheet = _begun(result, "On its ribs and strung")
    ax, left, room = sheet.ax, sheet.left, sheet.room
    low = sheet.top - 6.0 - PICTURES
    draw_mobility(result, sheet.axes(left + 13.0, low, 98.0, PICTURES))
    draw_along(result, sheet.axes(left + 126.0, low, 70.0, PICTURES))
    draw_sinking_by_height(result, sheet.axes(left + 211.0, low, room - 213.0, PICTURES))
    y = write_head(ax, left, low - 12.0, "In words")
    y = write_items(ax, left, y, text_lines(result), room) - 2.0
    _cases(ax, left, y, room, result)
    return sheet.figure


def _cases(ax, x, y, room, result):
    low, high = sound_band(result.model.top)
    y = write_head(ax, x, y, "What the bar does")
    columns = (
        Column("bar,\nmm", bar_cell),
        Column("bass foot sinks,\nmm", lambda r: f"{r.sink_bass_mm:.2f}"),
        Column("treble foot,\nmm", lambda r: f"{r.sink_treble_mm:.2f}"),
        Column("tilt,\ndegrees", lambda r: signed(r.tilt_deg)),
        Column("air tone,\nHz", lambda r: f"{r.air_hz:.0f}"),
        Column("bass foot moves, s/kg\n(most to least losses)", lambda r: f"{r.mobility_bass_s_per_kg:.3f} "
               f"({r.mobility_bass_low:.3f} – {r.mobility_bass_high:.3f})"),
        Column("ends of the bar move,\nbridge = 1",
               lambda r: f"{r.lower_end_motion:.2f}, {r.upper_end_motion:.2f}"),
        Column("low sound,\ndB", lambda r: louder(r.flow_db)),
    )  # fmt: skip
    y = write_table(ax, x, y, columns, case_table(result).itertuples(), room)
    said = (
        f"Means from {low:.0f} to {high:.0f} Hz. Low sound: air pumped per push on the bass foot, against "
        "the bar as it is."
    )
    return write_items(ax, x, y - 1.0, [said, *([] if result.old is None else [OLD_ROW])], room)


def _later(result):
    sheet = _begun(result, "Over the years, and how sure")
    ax, left, half = sheet.ax, sheet.left, 0.5 * sheet.room - 5.0
    right = left + half + 10.0
    y = write_items(ax, left, sheet.top, year_lines(result.years, result.job.measured), sheet.room) - 2.0
    _tones(ax, right, _causes(ax, right, y, half, result) - 4.0, half, sheet.floor, result)
    y = _years(ax, left, y, half, result) - 4.0
    write_old_bar(ax, left, y, result.old_bar, half, title=LOOSE)
    return sheet.figure


def _years(ax, x, y, room, result):
    years = result.years
    low, middle, high = (1e3 * v for v in years.years)
    y = write_head(ax, x, y, "The bass foot after years, mm sunk")

    def span(row):
        return f"{signed(row.low)} to {signed(row.high)}" if row.high > row.low else ""

    columns = (
        Column("", lambda r: r.what, right=False),
        Column("middle", lambda r: signed(r.mm) if r.mm else ""),
        Column("from, to", span),
    )
    y = write_table(ax, x, y, columns, year_table(years, result.job.measured).itertuples(), room)
    return write_items(
        ax, x, y - 1.0, [f"Strings and creep together: {middle:.2f} ({low:.2f} to {high:.2f})."], room
    )


def _tones(ax, x, y, room, floor, result):
    y = write_head(ax, x, y, f"Body tones with the bar of {1e3 * result.usual.height:.1f} mm")
    columns = (
        Column("Hz", lambda r: f"{r.f_hz:.0f}"),
        Column("in the air", lambda r: f"{100 * r.air:.0f} %"),
        Column("kind", lambda r: r.kind, right=False, wide=True),
    )
    fit = int((y - floor) / LINE[TEXT]) - 2  # a line for the heads, one of air
    return write_table(ax, x, y, columns, usual_tones(result).head(fit).itertuples(), room)


def _spare(result):
    sheet = _begun(result, TITLE)
    ax, left, room = sheet.ax, sheet.left, sheet.room
    y = write_head(ax, left, sheet.top, f"With the bar of {1e3 * result.usual.height:.1f} mm")
    columns = (
        Column("part", lambda r: r.part, right=False),
        Column("", lambda r: r.what, right=False),
        Column(
            "against the usual", lambda r: f"{share_words(r.share)}{' !' * (r.share < FLAGGED)}", right=False
        ),
        Column("stress, MPa:\nday one", lambda r: f"{r.day_stress_mpa:.2f}"),
        Column("after\nyears", lambda r: f"{r.stress_high_mpa:.2f}"),
        Column("margin:\nday one", day_text),
        Column("after years\n(from to)", margin_text),
        Column("where: x, y,\nmm", lambda r: f"{r.x_mm:.0f}, {r.y_mm:+.0f}"),
    )
    y = write_table(ax, left, y, columns, result.margins.itertuples(), room)
    write_items(ax, left, y - 1.0, margin_words(result.margins, result.job.top.kind), room)
    return sheet.figure


def _causes(ax, x, y, room, result):
    y = write_head(ax, x, y, "Why the bass foot's sinking is no surer")
    columns = (
        Column("cause", lambda r: r.what, right=False),
        Column("share", lambda r: f"{100 * r.share:.0f} %"),
        Column("what to measure", lambda r: r.measure, right=False, wide=True),
    )
    return write_table(ax, x, y, columns, result.bass.table.itertuples(), room)
