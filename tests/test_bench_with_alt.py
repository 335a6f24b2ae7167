"""Alternative text of a notebook's figures: what is read from the drawing, and that the image carries it."""

import html
import re

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from platemodel.bench.notebook.figure_words import figure_words
from platemodel.bench.notebook.sliders import png
from platemodel.bench.notebook.with_alt import with_alt


@pytest.fixture
def ax():
    return Figure().subplots()


@pytest.mark.parametrize(
    ("x", "y", "told"),
    [
        ([8, 10, 12], [51.2, 100, 172.8], "curve from 51.2 at 8 to 173 at 12, rising"),
        ([8, 10, 12], [3, 2, 1], "curve from 3 at 8 to 1 at 12, falling"),
        ([8, 10, 12], [0.5, 2, -1], "curve from 0.5 at 8 to −1 at 12, highest 2 at 10, lowest −1 at 12"),
        ([0, 1, 2, 3, 4], [0, 1, 2, 1, 0], "curve from 0 at 0 to 0 at 4, highest 2 at 2, lowest 0 at 0"),
        ([8, 12], [1234.5, 1234.5], "curve level at 1234 from 8 to 12"),
        ([8, 10, 12], [np.nan, 2, 1], "curve from 2 at 10 to 1 at 12, falling"),
        ([1, 3, 2, 1], [1, 1, 4, 1], "curve closed, 1 to 3 across, 1 to 4 upwards"),
        ([10], [0.0123], "mark at 10, 0.0123"),
    ],
)
def test_a_curve_is_told_by_its_ends_and_its_course(ax, x, y, told):
    ax.plot(x, y, "-o")
    assert figure_words(ax.figure) == f"{told}."


def test_titles_axes_names_and_levels_are_told(ax):
    ax.plot([8, 12], [1, 2], label="loose bar")
    ax.axhline(1.5, label="target")
    ax.axvline(10)
    ax.set_xlabel("height, mm")
    ax.set_ylabel("stiffness,\nN/mm")
    ax.set_title("two bars")
    assert figure_words(ax.figure) == (
        "two bars, stiffness, N/mm over height, mm: loose bar from 1 at 8 to 2 at 12, rising; target at 1.5; "
        "upright line at 10."
    )


@pytest.mark.parametrize("draw", ["bar", "barh"])
def test_bars_are_told_with_the_names_of_their_ticks(ax, draw):
    getattr(ax, draw)(["bass foot", "treble foot"], [31.25, -4])
    assert figure_words(ax.figure) == "bars bass foot 31.2, treble foot −4."


def test_a_picture_without_scales_is_told_by_its_title(ax):
    ax.plot([1, 2], [3, 4])
    ax.set_axis_off()
    ax.set_title("155 Hz\nmode 2, cross")
    assert figure_words(ax.figure) == "155 Hz mode 2, cross."


def test_what_is_written_in_a_picture_without_scales_is_told(ax):
    ax.set_axis_off()
    for y, words in enumerate(("pull 222 N", "load 90 N", "+0.1", "bass foot 41 N")):
        ax.text(0, y, words)
    assert figure_words(ax.figure) == "pull 222 N; load 90 N; bass foot 41 N."


def test_the_text_follows_the_figures(ax):
    (line,) = ax.plot([8, 12], [1, 2])
    before = figure_words(ax.figure)
    line.set_ydata([1, 3])
    assert before != figure_words(ax.figure)
    assert "to 3 at 12" in figure_words(ax.figure)


def test_the_image_carries_words_and_figures_and_is_shown_once():
    figure, ax = plt.subplots()
    ax.plot([8, 12], [1, 2], label='"loose" <bar>')
    page = with_alt(figure, "Two\nbars.").data
    (alt,) = re.findall(r'<img alt="([^"]*)" [^>]*src="data:image/png;base64,iVBOR', page)
    assert html.unescape(alt) == 'Two bars. "loose" <bar> from 1 at 8 to 2 at 12, rising.'
    assert "<" not in alt
    assert figure.number not in plt.get_fignums()


def test_words_must_be_given():
    with pytest.raises(ValueError, match="needs words"):
        with_alt(Figure(), "  ")


def test_an_arch_of_many_small_steps_neither_rises_nor_falls(ax):
    x = np.linspace(-50, 50, 401)
    ax.plot(x, 15 - x**2 / 250)
    assert "highest 15 at 0" in figure_words(ax.figure)
    assert "falling" not in figure_words(ax.figure)


@pytest.mark.parametrize("width", [4.0, 9.2])
def test_letters_can_be_read_on_a_narrow_page(width):
    """All of them, also those of ticks that only the drawing makes, and none is made smaller."""
    figure = Figure(figsize=(width, 3), layout="constrained")
    ax = figure.subplots()
    ax.plot([1, 2, 1000], [3, 1, 2], label="a")
    ax.set_xscale("log")
    ax.tick_params(labelsize=5)
    ax.set_yticks([1, 2], ["low", "high"], fontsize=5)
    ax.set_title("small", fontsize=5)
    ax.set_xlabel("large", fontsize=14)
    ax.legend(fontsize=5)
    png(figure)
    shrunk = min(1, 690 / (100 * width))  # a window of 900 pixels leaves some 690 to a picture
    pixels = [shrunk * 100 / 72 * words.get_fontsize() for words in figure.findobj(Text) if words.get_text()]
    assert min(pixels) >= 9.5 - 1e-6
    assert ax.xaxis.label.get_fontsize() == 14


def test_nothing_of_a_figure_is_cut_off():
    """Equal scale under two lines of title, as on a cello: the first layout cuts the titles off."""
    figure = Figure(figsize=(9.2, 4.2), layout="constrained")
    for ax in figure.subplots(1, 4):
        ax.plot([-219, 219], [0, 752])
        ax.set_aspect("equal")
        ax.set_axis_off()
        ax.set_title("two lines\nof a title")

    def cut_off():
        box = figure.get_tightbbox()
        return max(-box.x0, -box.y0, box.x1 - 9.2, box.y1 - 4.2)

    png(figure)
    assert cut_off() > 0.01  # inches, by the first layout
    png(figure, settle=True)
    assert cut_off() <= 0
