"""The page of a job's string load: A4, sideways, pictures above, figures below."""

from matplotlib.figure import Figure

from platemodel.bench.kit.page import A4_MM
from platemodel.bench.kit.plots import INK, scale_bar
from platemodel.bench.load.plots import draw_bar_forces, draw_load_split, draw_sinking
from platemodel.bench.load.result import (
    NOT_THE_TENSION,
    WARNING,
    beyond,
    load_lines,
    margin_text,
    most_sinking,
    sinking_band,
)
from platemodel.study.top.string_load import StringLoad
from platemodel.wood.strength import k_def, k_mod

LEGEND = (
    "First day, mm, - sunk (solid lines), + raised (dashed), thick line unmoved; mean of rim sliding and "
    "held. Ring: sound post. Hatched: bar. One colour scale, except for the post out."
)
CAUTION = (
    f"{WARNING} Strengths are handbook means of small clear pieces, from memory; ribs, back, glue, cracks, "
    "moisture and the pull along the body are not in it.",
    "No instruction to cut or to string up: the maker decides; an original or early bar, a valuable "
    "instrument or a crack goes to a qualified restorer first.",
)


def load_page(title: str, load: StringLoad, notes: str = "") -> Figure:
    """Lay out the page.

    Parameters
    ----------
    title : str
    load : StringLoad
    notes : str
        A line under the title.

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    figure = Figure(figsize=tuple(mm / 25.4 for mm in A4_MM))
    figure.text(0.04, 0.955, title, fontsize=14, weight="bold", color=INK)
    figure.text(0.04, 0.930, notes, fontsize=8, color=INK)
    figure.text(0.96, 0.955, WARNING, fontsize=9.5, weight="bold", ha="right", color=INK)
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
    figure.text(0.04, 0.447, LEGEND, fontsize=7, color=INK)
    _states(figure, load, 0.04, 0.415)
    _load(figure, load, 0.04, 0.225)
    _margins(figure, load, 0.475, 0.418)
    for line, y in zip(CAUTION, (0.030, 0.012), strict=True):
        figure.text(0.04, y, line, fontsize=7, color=INK)
    return figure


def _states(figure, load, left, top):
    figure.text(left, top, "Sinking and tilt", fontsize=8.5, weight="bold", color=INK)
    most = most_sinking(load)
    columns = (
        ("", 0.0, lambda r: r.state),
        ("bass foot, first day, mm", 0.105, lambda r: sinking_band(r, "sink_bass", most)),
        ("after years, mm", 0.212, lambda r: sinking_band(r, "years", most)),
        ("treble", 0.306, lambda r: f"{r.sink_treble_mm:.2f}"),
        ("tilt °", 0.345, lambda r: f"{r.tilt_deg:+.2f}"),
        ("post N", 0.385, lambda r: f"{r.post_n:.0f}" if r.post_n else "–"),
    )
    _table(figure, columns, load.table.itertuples(), left, top)
    years = f"{1 + k_def(1):.1f} to {1 + k_def(3):.1f}"
    lines = (
        "Bands: rim held to sliding, spread of the wood's stiffness (5 to 95 %). + tilt: bass foot deeper.",
        f"After years: first day times {years}, creep of EN 1995-1-1, indoors to damp and dry by turns.",
        beyond(most),
    )
    for k, line in enumerate(lines):
        figure.text(left, top - 0.115 - 0.0165 * k, line, fontsize=6.3, color=INK)


def _load(figure, load, left, top):
    figure.text(left, top, "Load", fontsize=8.5, weight="bold", color=INK)
    half = NOT_THE_TENSION.index(":") + 1
    lines = [*(f"{a.strip()}: {b}" for a, b in load_lines(load)), NOT_THE_TENSION[:half]]
    lines.append(NOT_THE_TENSION[half:].strip())
    for k, line in enumerate(lines):
        figure.text(left, top - 0.019 * (k + 1), line, fontsize=7, color=INK)


def _margins(figure, load, left, top):
    kept = k_mod("permanent", load.service_class)
    figure.text(
        left,
        top,
        f"Margins {load.main.label}: strength left for decades ({kept:.2f} of the handbook's) over stress",
        fontsize=8.5,
        weight="bold",
        color=INK,
    )
    columns = (
        ("part", 0.0, lambda r: r.part),
        ("", 0.078, lambda r: r.what),
        ("stress MPa", 0.225, lambda r: f"{r.stress_low_mpa:.2f} – {r.stress_high_mpa:.2f}"),
        ("strength", 0.298, lambda r: f"{r.long_term_mpa:.1f}"),
        ("margin (from to)", 0.345, margin_text),
        ("x, y mm", 0.450, lambda r: f"{r.x_mm:.0f}, {r.y_mm:+.0f}"),
    )
    rows = list(load.main.margins.itertuples())
    _table(figure, columns, rows, left, top, 0.0152)
    lines = (
        "! lower end of the band below 1: look there first. The mesh takes up to a third off peaks by the",
        "post and up to 15 % off others of the top. Clear wood, stress by stress, no safety factor.",
    )
    for k, line in enumerate(lines):
        y = top - 0.020 - 0.0152 * (len(rows) + 1 + k)
        figure.text(left, y, line, fontsize=6.3, color=INK)


def _table(figure, columns, rows, left, top, pitch=0.0175):
    for name, x, _ in columns:
        figure.text(left + x, top - 0.020, name, fontsize=7, style="italic", color=INK)
    for k, row in enumerate(rows):
        for _, x, show in columns:
            figure.text(left + x, top - 0.020 - pitch * (k + 1), show(row), fontsize=6.8, color=INK)
