"""The page of a chosen bar: A4, sideways."""

import textwrap

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.choice.plots import draw_curve, draw_profiles, drawn_figures
from platemodel.bench.choice.result import (
    JobChoice,
    height_caution,
    heights_text,
    higher_lines,
    verdict,
)
from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import LEFT, titled_page, write_head, write_lines
from platemodel.bench.kit.tones import cell
from platemodel.study.top.figures import BODY_FIGURES

SHOWN = ("foot_n_per_mm", "sink_mm", "f1_hz", "f2_hz", "f5_hz", "bar_g")
SHOWN_WITH_BODY = (*SHOWN[:2], *BODY_FIGURES, *SHOWN[3:])
SHORT = {
    "foot_n_per_mm": "foot N/mm",
    "sink_mm": "sinks mm",
    "body_sink_mm": "in body",
    "body_mobility_s_per_kg": "moves s/kg",
    "f1_hz": "mode 1",
    "f2_hz": "mode 2",
    "f5_hz": "mode 5",
    "bar_g": "bar g",
}
DIGITS = {
    "foot_n_per_mm": 1, "sink_mm": 3, "body_sink_mm": 3, "body_mobility_s_per_kg": 4, "f1_hz": 1, "f2_hz": 1,
    "f5_hz": 1, "bar_g": 2,
}  # fmt: skip


def choice_page(result: JobChoice) -> Figure:
    """Lay out the page; save it without a tight bounding box."""
    choice = result.choice
    figure = titled_page(f"Choice of a bar: {result.job.name}", cautions=cautions.CHOICE)
    head = f"{cautions.invented_note(result.job)} {verdict(choice)}".strip()
    y = write_lines(figure, textwrap.wrap(head, 150)[:2], LEFT, 0.93, 8, 0.02)
    write_lines(figure, [part for n in result.notes for part in textwrap.wrap(n, 165)][:2], LEFT, y, 7.5)
    draw_profiles(choice, result.job.bar, figure.add_axes((0.06, 0.715, 0.88, 0.165)))
    names = drawn_figures(choice)
    for i, name in enumerate(names):
        draw_curve(choice, name, figure.add_axes((0.06 + 0.237 * i, 0.44, 0.185, 0.185)))
    _targets(figure, choice, LEFT, 0.365)
    _steps(figure, choice, 0.52, 0.365)
    _bars(figure, choice, 0.52, 0.228)
    write_head(figure, "How much higher than usual", LEFT, 0.178)
    taken = [f"On the line: {t.name}." for t in result.lines if t.chosen]
    texts = (*taken, *height_caution(choice), *higher_lines(choice), heights_text(choice))
    said = [line for text in texts for line in textwrap.wrap(text, 92)]
    write_lines(figure, said[:7], LEFT, 0.158, 6.8)
    note = (
        "Shaded: heights that meet all targets. Whiskers and bands: 90 %; they cover only how well the wood "
        "of top and bar is known, neither the mesh nor the ribs."
    )
    write_lines(figure, [note], LEFT, 0.050)
    return figure


def _row(figure, left, y, cells, places, style="normal"):
    for text, x in zip(cells, places, strict=True):
        side = "left" if x == 0 else "right"
        figure.text(left + x, y, text, fontsize=6.8, color=INK, ha=side, style=style)


def _targets(figure, choice, left, top):
    write_head(figure, "Targets", left, top)
    places = (0.0, 0.245, 0.30, 0.355, 0.43)
    _row(figure, left, top - 0.02, ("", "asked", "found", "margin", "90 % band"), places, "italic")
    bands = choice.bands.set_index("figure")
    for k, (target, row) in enumerate(zip(choice.targets, choice.margins.itertuples(), strict=True)):
        band = bands.loc[target.figure]
        mark = "" if row.met else " MISSED"
        tail = f" {target.unit}" if target.unit else ""
        cells = (
            f"{target.name} {target.sense}"[:52], f"{target.value:.4g}{tail}", cell(row.found, ".4g"),
            f"{cell(row.margin, '+.2g')}{mark or (' binds' if row.binds else '')}",
            f"{band.low:.4g} to {band.high:.4g}" if band.high > band.low else "",
        )  # fmt: skip
        _row(figure, left, top - 0.04 - 0.018 * k, cells, places)
    y = top - 0.05 - 0.018 * len(choice.targets)
    for conflict in choice.conflicts[:2]:
        for line in textwrap.wrap(f"In the way: {conflict.text}", 100)[:3]:
            figure.text(left, y, line, fontsize=6.8, color=INK)
            y -= 0.0165


def _columns(choice):
    body = set(BODY_FIGURES) & set(choice.figures)
    return [n for n in (SHOWN_WITH_BODY if body else SHOWN) if n in choice.figures]


def _steps(figure, choice, left, top):
    write_head(figure, "What half a millimetre of height does", left, top)
    names = _columns(choice)
    places = (0.0, *np.linspace(0.14, 0.44, len(names)))
    _row(figure, left, top - 0.02, ("", *(SHORT[n] for n in names)), places, "italic")
    for k, row in enumerate(choice.steps.to_dict("records")):
        if row["step_mm"] == 0:
            cells = [cell(row[n], f".{DIGITS[n]}f") for n in names]
        else:
            cells = [cell(row[f"d_{n}"], f"+.{max(DIGITS[n], 2)}f") for n in names]
        label = f"{row['height_mm']:.1f} mm" + (f" ({row['step_mm']:+.1f})" if row["step_mm"] else "")
        _row(figure, left, top - 0.04 - 0.0175 * k, (label, *cells), places)


def _bars(figure, choice, left, top):
    write_head(figure, "Beside other bars", left, top)
    names = _columns(choice)
    places = (0.0, *np.linspace(0.18, 0.44, len(names)))
    _row(figure, left, top - 0.02, ("", *(SHORT[n] for n in names)), places, "italic")
    for k, row in enumerate(choice.comparison.head(8).to_dict("records")):
        label = row["bar"]
        if np.isfinite(row["needed_height_mm"]):
            label += f" (needs {row['needed_height_mm']:.1f})"
        cells = [cell(row[n], f".{DIGITS[n]}f") for n in names]
        _row(figure, left, top - 0.036 - 0.0155 * k, (label, *cells), places)
