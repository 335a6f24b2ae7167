"""The page of a job's closed body: A4, sideways, pictures above, figures below."""

from textwrap import wrap

from matplotlib.figure import Figure

from platemodel.bench.body.plots import draw_along, draw_mobility, draw_sinking_by_height
from platemodel.bench.body.result import JobBody, assumed, case_table, text_lines, usual_tones
from platemodel.bench.body.years import risen_lines, year_table
from platemodel.bench.kit import cautions
from platemodel.bench.kit.page import LEFT, titled_page, write_head, write_lines, write_table
from platemodel.study.body.sound import sound_band

TONES = 14  # that there is room for
WIDE = 126  # letters of a line
RIGHT = 0.64
PITCH = 0.0185


def body_page(result: JobBody) -> Figure:
    """Lay out the page.

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    notes = " ".join(filter(None, (cautions.invented_note(result.job), assumed(result))))
    figure = titled_page(f"On its ribs and strung: {result.job.name}", notes, cautions.BODY)
    draw_mobility(result, figure.add_axes((0.065, 0.585, 0.36, 0.29)))
    draw_along(result, figure.add_axes((0.485, 0.585, 0.25, 0.29)))
    draw_sinking_by_height(result, figure.add_axes((0.79, 0.585, 0.18, 0.29)))
    said = [*text_lines(result), *risen_lines(result.years, result.job.measured)]
    lines = [part for line in said for part in wrap(line, WIDE)]
    write_lines(figure, lines, LEFT, 0.498, size=7.5, pitch=0.0172)
    _years(figure, result, RIGHT, 0.498)
    _cases(figure, result, LEFT, 0.325)
    _tones(figure, result, LEFT, 0.200)
    _causes(figure, result, RIGHT, 0.325)
    return figure


def _years(figure, result, left, top):
    years = result.years
    low, middle, high = (1e3 * v for v in years.years)
    write_head(figure, "The bass foot after years, mm sunk", left, top)

    def span(row):
        return f"{row.low:+.2f} to {row.high:+.2f}" if row.high > row.low else ""

    columns = (
        ("", 0.0, lambda r: r.what),
        ("middle", 0.17, lambda r: f"{r.mm:+.2f}"),
        ("from, to", 0.22, span),
    )
    rows = list(year_table(years, result.job.measured).itertuples())
    write_table(figure, columns, rows, left, top - 0.02, 0.0172, 7)
    y = top - 0.0172 * (len(rows) + 2.3)
    write_lines(figure, [f"Strings and creep together: {middle:.2f} ({low:.2f} to {high:.2f})."], left, y, 7)


def _cases(figure, result, left, top):
    low, high = sound_band(result.model.top)
    title = f"What the bar does (means from {low:.0f} to {high:.0f} Hz)"
    write_head(figure, title, left, top)
    columns = (
        ("bar mm", 0.0, lambda r: f"{r.bar_mm:.1f}" if r.bar_mm else "none"),
        ("bass sinks mm", 0.055, lambda r: f"{r.sink_bass_mm:.2f}"),
        ("treble", 0.135, lambda r: f"{r.sink_treble_mm:.2f}"),
        ("tilt °", 0.178, lambda r: f"{r.tilt_deg:+.2f}"),
        ("air tone Hz", 0.22, lambda r: f"{r.air_hz:.0f}"),
        ("bass foot moves, s/kg (losses)", 0.288, lambda r: f"{r.mobility_bass_s_per_kg:.3f} "
         f"({r.mobility_bass_low:.3f} – {r.mobility_bass_high:.3f})"),
        ("ends", 0.445, lambda r: f"{r.lower_end_motion:.2f}, {r.upper_end_motion:.2f}"),
        ("low sound dB", 0.50, lambda r: f"{r.flow_db:+.1f}"),
    )  # fmt: skip
    write_table(figure, columns, case_table(result).itertuples(), left, top - 0.02, PITCH, 7)


def _tones(figure, result, left, top):
    title = f"Body tones, bar {1e3 * result.usual.height:.1f} mm (share of their energy in the air)"
    write_head(figure, title, left, top)
    columns = (
        ("Hz", 0.0, lambda r: f"{r.f_hz:.0f}"),
        ("air", 0.045, lambda r: f"{100 * r.air:.0f} %"),
        ("kind", 0.08, lambda r: r.kind),
    )
    rows = list(usual_tones(result).head(TONES).itertuples())
    half = -(-len(rows) // 2)
    for k, part in enumerate((rows[:half], rows[half:])):
        write_table(figure, columns, part, left + 0.28 * k, top - 0.02, PITCH, 7)


def _causes(figure, result, left, top):
    write_head(figure, "Why the bass foot's sinking is no surer", left, top)
    columns = (
        ("cause", 0.0, lambda r: r.what),
        ("share", 0.14, lambda r: f"{100 * r.share:.0f} %"),
        ("what to measure", 0.18, lambda r: r.measure),
    )
    write_table(figure, columns, result.bass.table.itertuples(), left, top - 0.02, PITCH, 7)
