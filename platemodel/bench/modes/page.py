"""The picture page of a job's plate modes: A4, sideways, with the figures below."""

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit.page import A4_MM
from platemodel.bench.kit.plots import INK, draw_mode_row
from platemodel.study.top.plate_modes import PlateModes

COLUMNS = 6
LEGEND = (
    "Thick lines stay still (sand gathers there). Dark and light parts move against each other. "
    "Crossed ring: hold here. Filled ring: tap here. Hatched: the bar, seen through the top."
)
CAUTION = (
    "A model's estimate from the measurements given, for the free plate without varnish, ribs or air. "
    "± is the mesh only, not the wood.",
    "It is no instruction to cut: the maker decides; an original or early bar or a valuable instrument "
    "goes to a qualified restorer first.",
)


def mode_page(title: str, results: list[tuple[str, PlateModes]], notes: str = "") -> Figure:
    """Lay out the page.

    Parameters
    ----------
    title : str
    results : list of (label, PlateModes)
        One or two rows of pictures, for example without and with the bar.
    notes : str
        A line under the title.

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    figure = Figure(figsize=tuple(mm / 25.4 for mm in A4_MM))
    figure.text(0.04, 0.955, title, fontsize=14, weight="bold", color=INK)
    figure.text(0.04, 0.928, notes, fontsize=8, color=INK)
    top, bottom = 0.89, 0.26
    height = (top - bottom) / len(results)
    for r, (label, modes) in enumerate(results):
        count = min(COLUMNS, len(modes.table))
        axes = [
            figure.add_axes(
                (0.06 + c * 0.92 / COLUMNS, top - (r + 1) * height, 0.86 / COLUMNS, height * 0.86)
            )
            for c in range(count)
        ]
        draw_mode_row(modes, axes, label)
    for r, (label, modes) in enumerate(results):
        _figures(figure, label, modes, 0.04 + 0.48 * r)
    figure.text(0.04, 0.052, LEGEND, fontsize=7, color=INK)
    for line, y in zip(CAUTION, (0.030, 0.012), strict=True):
        figure.text(0.04, y, line, fontsize=7, color=INK)
    return figure


def _figures(figure, label, modes, left):
    """Table of the modes beneath the pictures."""
    head = f"{label}: {1e3 * modes.mass:.1f} g"
    figure.text(left, 0.232, head, fontsize=8.5, weight="bold", color=INK)
    columns = (
        ("mode", 0.0, lambda r: f"{r.number}, {r.name}" if r.name else "–"),
        ("Hz", 0.085, lambda r: f"{r.f_hz:.1f}"),
        ("±", 0.125, lambda r: f"{r.band_hz:.1f}" if np.isfinite(r.band_hz) else ""),
        ("moving g", 0.160, lambda r: f"{r.modal_mass_g:.1f}"),
        ("hold x, y", 0.215, lambda r: f"{round(r.hold_x_mm)}, {round(r.hold_y_mm):+d}"),
        ("tap x, y", 0.280, lambda r: f"{round(r.tap_x_mm)}, {round(r.tap_y_mm):+d}"),
        ("remark", 0.335, lambda r: r.remark),
    )
    for name, x, _ in columns:
        figure.text(left + x, 0.212, name, fontsize=7, style="italic", color=INK)
    for i, row in enumerate(modes.table.head(8).itertuples()):
        for _, x, show in columns:
            figure.text(left + x, 0.195 - 0.0165 * i, show(row), fontsize=7, color=INK)
