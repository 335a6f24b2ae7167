"""The two pages of a job's string load: A4, sideways; how far the top sinks, and how hard it is worked."""

from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.against_usual import FLAGGED, least_line, margin_text, share_words
from platemodel.bench.kit.old_bar_table import write_old_bar
from platemodel.bench.kit.plots import scale_bar
from platemodel.bench.kit.sheet import Column, begun_sheet, write_head, write_items, write_table
from platemodel.bench.kit.tables import span
from platemodel.bench.kit.taps_apart import taps_sentence
from platemodel.bench.kit.tones import sentence
from platemodel.bench.kit.typeset import LINE, TEXT, write_broken
from platemodel.bench.load.plots import draw_bar_forces, draw_load_split, draw_sinking
from platemodel.bench.load.result import (
    NOT_THE_TENSION,
    JobLoad,
    beyond,
    load_lines,
    most_sinking,
    post_line,
    sinking_text,
    tilt_text,
)
from platemodel.wood.strength import k_def, k_mod

LEGEND = (
    "First day, mm, - sunk (solid lines), + raised (dashed), thick line unmoved; mean of rim sliding and "
    "held."
)
RING, HATCHED = " Ring: sound post.", " Hatched: bar."
COLOURS = " One colour scale for all but the picture with the post out."
SCALE_BAR = 6.0  # mm below a picture, for its scale bar
CARRIED = ("foot_n_per_mm", "strip_n_m2", "sink_mm", "bar_g", "height_mm")  # of the old bar and the new
WORDS = 62.0  # mm, height of the figures below the pictures


def load_pages(result: JobLoad) -> list[Figure]:
    """Lay out the pages."""
    return [_sinking_page(result), _margin_page(result)]


def _begun(result, what):
    notes = f"{cautions.invented_note(result.job)} {cautions.MARGINS}".strip()
    sheet = begun_sheet(f"{what}: {result.job.name}", notes, cautions.LOAD)
    y = sheet.top
    for note in taps_sentence(result.taps):
        y = write_broken(sheet.ax, sheet.left, y, note, sheet.room, bold=True) - 1.0
    return sheet, y


def _sinking_page(result):
    load = result.load
    sheet, y = _begun(result, "String load")
    low = sheet.floor + WORDS + 2 * LINE[TEXT]  # of the pictures; a scale bar stands below
    states = [s for s in load.states if s.post] or list(load.states)
    out = [s for s in load.states if not s.post and s not in states][:1]
    scale = max(abs(s.shape).max() for s in states)
    wide = sheet.room / len([*states, *out])
    for k, state in enumerate([*states, *out]):
        ax = sheet.axes(sheet.left + k * wide, low, wide - 3.0, y - low - 3 * LINE[TEXT] - 2.0)
        draw_sinking(load, state, ax, scale if state.post or not out else None)
        if k == 0:
            scale_bar(ax, load.model.top)
    legend = LEGEND + RING * any(s.post for s in states) + HATCHED * any(s.bar for s in states)
    y = write_items(
        sheet.ax,
        sheet.left,
        low - SCALE_BAR,
        [legend + COLOURS * (bool(out) and len(states) > 1)],
        sheet.room,
    )
    half = 0.56 * sheet.room
    _states(sheet.ax, sheet.left, y - 1.0, half, load)
    _load(sheet, sheet.left + half + 8.0, y - 1.0, load)
    return sheet.figure


def _states(ax, x, y, room, load):
    y = write_head(ax, x, y, "Sinking and tilt")
    most = most_sinking(load)
    columns = (
        Column("", lambda r: r.state, right=False),
        Column("bass, day one,\nmm", lambda r: sinking_text(r, "sink_bass", most)),
        Column("after years,\nmm", lambda r: sinking_text(r, "years", most)),
        Column("treble,\nmm", lambda r: f"{r.sink_treble_mm:.2f}"),
        Column("tilt,\ndegrees", tilt_text),
        Column("post,\nN", lambda r: f"{r.post_n:.0f}" if r.post_n else "–"),
    )
    y = write_table(ax, x, y, columns, load.table.itertuples(), room)
    lines = (
        "In brackets: rim held to sliding, and what the doubt of the wood leaves open (5 to 95 %). + tilt: "
        "the bass foot is the deeper one.",
        f"After years: first day times {1 + k_def(1):.1f} to {1 + k_def(3):.1f}, creep after EN 1995-1-1, "
        "from indoors to damp and dry by turns.",
        post_line(load),
        beyond(most),
    )
    write_items(ax, x, y - 1.0, lines, room)


def _load(sheet, x, y, load):
    y = write_head(sheet.ax, x, y, "Load")
    lines = [f"{label.strip()}: {text}" for label, text in load_lines(load)]
    y = write_items(sheet.ax, x, y, [f"{line[0].upper()}{line[1:]}." for line in lines], sheet.right - x)
    y = write_items(sheet.ax, x, y, [NOT_THE_TENSION.partition(": ")[2].capitalize()], sheet.right - x)
    draw_load_split(
        load, sheet.axes(x + 28.0, sheet.floor, sheet.right - x - 28.0, y - sheet.floor - LINE[TEXT] - 2.0)
    )


def _margin_page(result):
    load = result.load
    sheet, y = _begun(result, "Strength to spare")
    ax, left = sheet.ax, sheet.left
    kept, kind = k_mod("permanent", load.service_class), load.model.top.kind
    y = write_head(
        ax,
        left,
        y,
        f"{load.main.label[0].upper()}{load.main.label[1:]}: strength left for decades over stress",
    )
    columns = (
        Column("part", lambda r: r.part, right=False),
        Column("", lambda r: r.what, right=False),
        Column(
            "against the usual", lambda r: f"{share_words(r.share)}{' !' * (r.share < FLAGGED)}", right=False
        ),
        Column("stress, MPa", lambda r: span(f"{r.stress_low_mpa:.2f}", f"{r.stress_high_mpa:.2f}")),
        Column("strength, MPa", lambda r: f"{r.long_term_mpa:.1f}"),
        Column("margin (from to)", margin_text),
        Column("where: x, y, mm", lambda r: f"{r.x_mm:.0f}, {r.y_mm:+.0f}"),
    )
    y = write_table(ax, left, y, columns, result.margins.itertuples(), sheet.room)
    lines = (
        sentence(least_line(result.margins, kind)),
        f"! marks less than {FLAGGED:g} of what the usual bar on the usual {kind} of this length has. "
        f"Strength: handbook mean of clear wood times {kept:.2f}, for a load that stays for decades. The "
        "mesh takes a third off peaks by the post.",
        *([result.wood] if result.wood else []),
    )
    y = write_items(ax, left, y - 1.0, lines, sheet.room) - 3.0
    if load.main.bar_forces is not None:
        wide = 0.45 * sheet.room
        tall = min(y - sheet.floor - 14.0, 55.0)
        draw_bar_forces(load, sheet.axes(left + 10.0, y - tall - 5.0, wide - 10.0, tall))
        write_old_bar(ax, left + wide + 12.0, y, result.old_bar, sheet.room - wide - 12.0, only=CARRIED)
    return sheet.figure
