"""The bar and what stands near it, for a notebook's page: a sheet's drawing with its words at both sides."""

import textwrap

import numpy as np
from matplotlib.axes import Axes

from platemodel.bench.kit.colours import ALARM, FAINT, INK
from platemodel.bench.kit.paper import from_inside
from platemodel.bench.notebook.sliders import least_points
from platemodel.bench.sheets.layout_drawing import draw_layout, side_labels
from platemodel.instrument.bar import Bar
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.layout_distances import Distance
from platemodel.instrument.strings import Post
from platemodel.instrument.top import Top

SHARE = 0.46  # of the figure's width for the drawing, between the words
LETTERS = 27  # of the words of a label in one line
SHORT = {"shrinkA": 0, "shrinkB": 0}
GAP = 0.04  # of the height, between two labels


def draw_close_up(
    ax: Axes,
    top: Top,
    bar: Bar,
    distances: tuple[Distance, ...],
    findings: tuple[Finding, ...],
    post: Post | None = None,
) -> Axes:
    """Draw the waist of a top from inside, figures in mm at both sides with lines to what they measure.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        The only one of its figure; put into its middle.
    top, bar, distances, findings, post
        As for `platemodel.bench.sheets.layout_drawing.draw_layout`.
    """
    ax.set_position((0.5 - SHARE / 2, 0.0, SHARE, 1.0))
    draw_layout(ax, top, bar, distances, findings, post, labelled=False)
    for words in list(ax.texts):  # set for true size
        words.remove()
    width, height = ax.figure.get_size_inches() * (SHARE, 1.0)
    ends = np.concatenate(
        [from_inside(hole.points) for hole in top.sound_holes] or [from_inside(top.outline.points)]
    )
    low, high = ends[:, 1].min(), ends[:, 1].max()
    half = max(
        1.03e3 * sum(top.outline.half_width(top.bridge.x)).item() / 2, 0.55 * (high - low) * width / height
    )
    middle, tall = (low + high) / 2, half * height / width
    ax.set_xlim(-half, half)
    ax.set_ylim(middle - tall, middle + tall)
    ax.set_axis_off()
    bass, treble = side_labels(top, bar, distances, findings, post)
    for labels, right in ((bass, True), (treble, False)):
        _column(ax, labels, right)
    return ax


def _column(ax, labels, right):
    """Labels one below the other beside the drawing, in the order of their places."""
    size = least_points(ax.figure.get_figwidth())
    line = 1.3 * size / 72 / ax.figure.get_figheight()
    labels = sorted(labels, key=lambda e: -e.anchor[1])
    words = [textwrap.fill(label.words, LETTERS) for label in labels]
    tall = [line * (2 + text.count("\n")) for text in words]
    y = 0.5 + (sum(tall) + GAP * (len(labels) - 1)) / 2
    x, ha = (1.04, "left") if right else (-0.04, "right")
    for label, text, height in zip(labels, words, tall, strict=True):
        color = ALARM if label.alarm else INK
        style = {"transform": ax.transAxes, "ha": ha, "va": "top", "fontsize": size, "color": color}
        ax.text(x, y, label.figure, weight="bold", **style)
        ax.text(x, y - line, text, linespacing=1.15, **style)
        line_to = {"arrowstyle": "-", "color": color if label.alarm else FAINT, "lw": 0.6}
        start = (x - 0.01 * np.sign(x), y - line / 2)
        ax.annotate("", label.anchor, start, textcoords="axes fraction", arrowprops=line_to | SHORT)
        y -= height + GAP
