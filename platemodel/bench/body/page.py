"""The page of a job's closed body: A4, sideways, pictures above, figures below."""

from matplotlib.figure import Figure

from platemodel.bench.body.plots import draw_along, draw_mobility, draw_sinking
from platemodel.bench.body.result import (
    WARNING,
    WITHOUT,
    JobBody,
    assumed,
    case_table,
    text_lines,
    tones,
)
from platemodel.bench.kit.page import A4_MM
from platemodel.bench.kit.plots import INK
from platemodel.study.body.sound import sound_band

CAUTION = (
    " ".join((WARNING, *WITHOUT)),
    "No instruction to cut or to string up: the maker decides; an original or early bar, a valuable "
    "instrument or a crack goes to a qualified restorer first.",
)


def body_page(result: JobBody) -> Figure:
    """Lay out the page.

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    figure = Figure(figsize=tuple(mm / 25.4 for mm in A4_MM))
    job = result.job
    figure.text(0.04, 0.955, f"On its ribs and strung: {job.name}", fontsize=14, weight="bold", color=INK)
    notes = "Invented data, no real instrument. " if job.invented else ""
    figure.text(0.04, 0.930, notes + assumed(result), fontsize=8, color=INK)
    draw_mobility(result, figure.add_axes((0.065, 0.545, 0.36, 0.33)))
    draw_along(result, figure.add_axes((0.485, 0.545, 0.25, 0.33)))
    draw_sinking(result, figure.add_axes((0.79, 0.545, 0.18, 0.33)))
    for k, line in enumerate(text_lines(result)):
        figure.text(0.04, 0.448 - 0.0185 * k, line, fontsize=8, color=INK)
    _cases(figure, result, 0.04, 0.335)
    _tones(figure, result, 0.04, 0.205)
    _causes(figure, result, 0.64, 0.335)
    for line, y in zip(CAUTION, (0.030, 0.012), strict=True):
        figure.text(0.04, y, line, fontsize=6.6, color=INK)
    return figure


def _cases(figure, result, left, top):
    low, high = sound_band(result.model.top)
    title = f"What the bar does (means from {low:.0f} to {high:.0f} Hz)"
    figure.text(left, top, title, fontsize=8.5, weight="bold", color=INK)
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
    _table(figure, columns, case_table(result).itertuples(), left, top)


def _tones(figure, result, left, top):
    title = f"Body tones, bar {1e3 * result.usual.height:.1f} mm (share of their energy in the air)"
    figure.text(left, top, title, fontsize=8.5, weight="bold", color=INK)
    table = tones(result).head(14)
    for k, r in enumerate(table.itertuples()):
        x, y = left + 0.28 * (k // 7), top - 0.02 * (k % 7 + 1)
        figure.text(x, y, f"{r.f_hz:.0f} Hz", fontsize=7, color=INK)
        figure.text(x + 0.05, y, f"{100 * r.air:.0f} %", fontsize=7, color=INK)
        figure.text(x + 0.085, y, r.kind, fontsize=7, color=INK)


def _causes(figure, result, left, top):
    title = "Why the bass foot's sinking is no surer (share of the band)"
    figure.text(left, top, title, fontsize=8.5, weight="bold", color=INK)
    for k, r in enumerate(result.bass.table.itertuples()):
        y = top - 0.02 * (k + 1)
        figure.text(left, y, r.what, fontsize=7, color=INK)
        figure.text(left + 0.14, y, f"{100 * r.share:.0f} %", fontsize=7, color=INK)
        figure.text(left + 0.18, y, r.measure, fontsize=7, color=INK)


def _table(figure, columns, rows, left, top, pitch=0.0185):
    for name, x, _ in columns:
        figure.text(left + x, top - 0.020, name, fontsize=7, style="italic", color=INK)
    for k, row in enumerate(rows):
        for _, x, show in columns:
            figure.text(left + x, top - 0.020 - pitch * (k + 1), show(row), fontsize=7, color=INK)
