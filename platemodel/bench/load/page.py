"""The page of a job's string load: A4, sideways, pictures above, figures below."""

from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import LEFT, titled_page, write_head, write_lines, write_table
from platemodel.bench.kit.plots import scale_bar
from platemodel.bench.kit.taps_apart import taps_lines
from platemodel.bench.kit.tones import sentence
from platemodel.bench.load.against_usual import FLAGGED, least_line, share_words
from platemodel.bench.load.plots import draw_bar_forces, draw_load_split, draw_sinking
from platemodel.bench.load.result import (
    NOT_THE_TENSION,
    JobLoad,
    beyond,
    load_lines,
    margin_text,
    most_sinking,
    post_line,
    sinking_text,
    tilt_text,
)
from platemodel.wood.strength import k_def, k_mod

PITCH = 0.0152  # of the rows of margins, share of the page's height
LEGEND = (
    "First day, mm, - sunk (solid lines), + raised (dashed), thick line unmoved; mean of rim sliding and "
    "held. Ring: sound post. Hatched: bar. One colour scale for all but the picture with the post out."
)


def load_page(result: JobLoad) -> Figure:
    """Lay out the page.

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    load, note = result.load, cautions.invented_note(result.job)
    figure = titled_page(f"String load: {result.job.name}", note, cautions.LOAD)
    figure.text(0.96, 0.915, cautions.MARGINS, fontsize=9.5, weight="bold", ha="right", color=INK)
    write_lines(figure, taps_lines(result.taps, 165)[:2], LEFT, 0.912, 8)
    states = [s for s in load.states if s.post] or list(load.states)
    out = [s for s in load.states if not s.post and s not in states][:1]
    scale = max(abs(s.shape).max() for s in states)
    for k, state in enumerate([*states, *out]):
        ax = figure.add_axes((0.035 + 0.19 * k, 0.472, 0.175, 0.385))
        draw_sinking(load, state, ax, scale if state.post or not out else None)
        if k == 0:
            scale_bar(ax, load.model.top)
    draw_load_split(load, figure.add_axes((0.742, 0.735, 0.235, 0.135)))
    if load.main.bar_forces is not None:
        draw_bar_forces(load, figure.add_axes((0.665, 0.50, 0.305, 0.175)))
    write_lines(figure, [LEGEND], LEFT, 0.447)
    _states(figure, load, LEFT, 0.415)
    _load(figure, load, LEFT, 0.225)
    _margins(figure, result, 0.475, 0.418)
    return figure


def _states(figure, load, left, top):
    write_head(figure, "Sinking and tilt", left, top)
    most = most_sinking(load)
    columns = (
        ("", 0.0, lambda r: r.state),
        ("bass, day one, mm", 0.088, lambda r: sinking_text(r, "sink_bass", most)),
        ("after years, mm", 0.174, lambda r: sinking_text(r, "years", most)),
        ("treble", 0.277, lambda r: f"{r.sink_treble_mm:.2f}"),
        ("tilt °", 0.308, tilt_text),
        ("post", 0.408, lambda r: f"{r.post_n:.0f} N" if r.post_n else "–"),
    )
    write_table(figure, columns, load.table.itertuples(), left, top - 0.020)
    years = f"{1 + k_def(1):.1f} to {1 + k_def(3):.1f}"
    lines = (
        "Bands: rim held to sliding, spread of the wood's stiffness (5 to 95 %). + tilt: bass foot deeper.",
        post_line(load),
        f"After years: first day times {years}, creep after EN 1995-1-1, from indoors to damp and dry by "
        "turns.",
        beyond(most),
    )
    write_lines(figure, lines, left, top - 0.115, 6.3)


def _load(figure, load, left, top):
    write_head(figure, "Load", left, top)
    half = NOT_THE_TENSION.index(":") + 1
    lines = [*(f"{a.strip()}: {b}" for a, b in load_lines(load)), NOT_THE_TENSION[:half]]
    lines.append(NOT_THE_TENSION[half:].strip())
    write_lines(figure, lines, left, top - 0.019, pitch=0.019)


def _margins(figure, result, left, top):
    load = result.load
    kept, kind = k_mod("permanent", load.service_class), load.model.top.kind
    head = f"Margins {load.main.label}: strength left for decades ({kept:.2f} of the handbook's) over stress"
    write_head(figure, head, left, top)
    columns = (
        ("part", 0.0, lambda r: r.part),
        ("", 0.075, lambda r: r.what),
        ("against usual", 0.205, lambda r: f"{share_words(r.share)}{' !' * (r.share < FLAGGED)}"),
        ("stress MPa", 0.280, lambda r: f"{r.stress_low_mpa:.2f} – {r.stress_high_mpa:.2f}"),
        ("strength", 0.345, lambda r: f"{r.long_term_mpa:.1f}"),
        ("margin (from to)", 0.383, margin_text),
        ("x, y mm", 0.468, lambda r: f"{r.x_mm:.0f}, {r.y_mm:+.0f}"),
    )
    rows = list(result.margins.itertuples())
    write_table(figure, columns, rows, left, top - 0.020, PITCH)
    lines = (
        f"! below {FLAGGED:g} of that of the usual {kind}. The mesh takes a third off peaks by the post.",
        sentence(least_line(result.margins, kind)),
    )
    write_lines(figure, lines, left, top - 0.020 - PITCH * (len(rows) + 1), 6.3, PITCH)
