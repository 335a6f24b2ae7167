"""Faults of the words on a page: too small, too many sizes, off the paper, over each other or a line."""

from collections.abc import Iterator

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from platemodel.bench.kit.page import MM_PER_INCH
from platemodel.bench.kit.typeset import TEXT

MOST_SIZES = 3
EDGE = 4.5  # mm of white at the paper's edge: what an office printer does not reach, 4.2 mm, and a hair
INSET = 0.4  # mm taken off a text's box at each side: its corners hold no ink
LINE_INSET = 0.3  # mm of a text's box that a hair line may touch: the white below the letters


def faults(figure: Figure) -> Iterator[str]:
    """Faults of a page, a line each."""
    FigureCanvasAgg(figure)
    figure.draw_without_rendering()
    texts = list(_texts(figure))
    sizes = {round(t.get_fontsize(), 1) for t in texts}
    if sizes and min(sizes) < TEXT:
        small = next(t for t in texts if t.get_fontsize() < TEXT)
        yield f"{small.get_fontsize():g} points: {small.get_text()!r}"
    if len(sizes) > MOST_SIZES:
        yield f"sizes {sorted(sizes)}"
    wide, tall = (MM_PER_INCH * v for v in figure.get_size_inches())
    boxes = [_box(figure, t) for t in texts]
    for text, (x0, y0, x1, y1) in zip(texts, boxes, strict=True):
        if x0 < EDGE or y0 < EDGE or x1 > wide - EDGE or y1 > tall - EDGE:
            yield f"at the edge ({x0:.1f}, {y0:.1f}, {x1:.1f}, {y1:.1f}): {text.get_text()!r}"
    yield from _cut_by_a_frame(figure, texts, boxes)
    yield from _over_each_other(texts, boxes)
    yield from _over_lines(figure, texts, boxes)


def page_words(*figures: Figure) -> str:
    """All words on pages, a line of text a blank apart, so that sentences can be looked for."""
    return " ".join(" ".join(t.get_text() for f in figures for t in _texts(f)).split())


def _cut_by_a_frame(figure, texts, boxes):
    """Words that their axes show in part only; those that lie outside altogether are not seen."""
    scale = MM_PER_INCH / figure.dpi
    for text, (x0, y0, x1, y1) in zip(texts, boxes, strict=True):
        if text.axes is None or not text.get_clip_on():
            continue
        frame = text.axes.get_window_extent()
        a, b, c, d = (scale * v for v in (frame.x0, frame.y0, frame.x1, frame.y1))
        seen = min(x1, c) > max(x0, a) and min(y1, d) > max(y0, b)
        if seen and (x0 < a - INSET or y0 < b - INSET or x1 > c + INSET or y1 > d + INSET):
            yield f"cut by its frame: {text.get_text()!r}"


def _over_each_other(texts, boxes):
    box = np.array(boxes) + np.array([INSET, INSET, -INSET, -INSET]) if boxes else np.zeros((0, 4))
    x0, y0, x1, y1 = box.T
    over = (np.minimum(x1[:, None], x1) > np.maximum(x0[:, None], x0)) & (
        np.minimum(y1[:, None], y1) > np.maximum(y0[:, None], y0)
    )
    for i, j in np.argwhere(np.triu(over, 1)):
        yield f"over each other: {texts[i].get_text()!r} and {texts[j].get_text()!r}"


def _over_lines(figure, texts, boxes):
    """Level and upright lines of the page itself (axes in mm over all of it) against texts."""
    for ax in figure.axes:
        if not np.allclose(ax.get_position().bounds, (0, 0, 1, 1)):
            continue
        for line in ax.lines:
            x, y = np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)
            if len(x) != 2 or (x[0] != x[1] and y[0] != y[1]) or line.get_gid():
                continue
            for text, (x0, y0, x1, y1) in zip(texts, boxes, strict=True):
                if text.get_bbox_patch() is not None:
                    continue
                clear = (
                    max(x) <= x0 + LINE_INSET or min(x) >= x1 - LINE_INSET
                    or max(y) <= y0 + LINE_INSET or min(y) >= y1 - LINE_INSET
                )  # fmt: skip
                if not clear:
                    yield f"on a line at y {y[0]:.1f} mm: {text.get_text()!r}"


def _box(figure, text):
    box = text.get_window_extent()
    scale = MM_PER_INCH / figure.dpi
    return box.x0 * scale, box.y0 * scale, box.x1 * scale, box.y1 * scale


def _texts(figure):
    """Texts that are drawn: not those of axes or an axis that is off, nor of ticks beyond the axes."""
    for text in _all(figure):
        if text.get_visible() and text.get_text().strip():
            yield text


def _all(figure):
    yield from figure.texts
    for legend in figure.legends:
        yield from legend.get_texts()
    for ax in figure.axes:
        yield from (*ax.texts, ax.title, ax._left_title, ax._right_title)
        if ax.get_legend() is not None:
            yield from ax.get_legend().get_texts()
        if not ax.axison:
            continue
        for axis, limits in ((ax.xaxis, ax.get_xlim()), (ax.yaxis, ax.get_ylim())):
            if not axis.get_visible():  # the second x-axis of axes that share one
                continue
            yield axis.label
            low, high = sorted(limits)
            margin = 1e-6 * (high - low)
            for place, label in zip(axis.get_ticklocs(), axis.get_ticklabels(), strict=False):
                if low - margin <= place <= high + margin:
                    yield label
