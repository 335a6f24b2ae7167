"""What all panels share: a slider that moves while it is dragged, and a picture that fits the page."""

import base64
import html
import io
import struct
from collections.abc import Mapping

import matplotlib as mpl
import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.text import Text

WORDS_WIDTH = "120px"
CONTROLS_WIDTH = 330  # pixels: narrower, and a window that is not wide cuts the sliders' figures off
PICTURE_WIDTH = 420  # pixels: beside the controls no narrower, or its letters cannot be read
LEGIBLE = 0.7  # of its own width: a picture shrunk further has letters too small to read
DPI = 100
NARROW = 690  # pixels that a page leaves to a picture in a window of 900, the list of files put away
SETTLES = 4  # times at most
LETTERS = 9.5  # pixels of a letter's size there, at least


def slider(value: float, low: float, high: float, step: float, words: str, log: bool = False):
    """Make a slider that follows the hand.

    Parameters
    ----------
    value : float
        Where it stands at first.
    low, high : float
        Ends; with ``log`` they are reached to rounding.
    step : float
        In decades with ``log``.
    words : str
        Beside it, with the unit.

    Returns
    -------
    ipywidgets.FloatSlider or FloatLogSlider
    """
    import ipywidgets as widgets

    common = {
        "value": value, "step": step, "description": words, "continuous_update": True,
        "style": {"description_width": "initial" if len(words) > 18 else WORDS_WIDTH},
        "layout": widgets.Layout(width="98%", max_width="640px"),
    }  # fmt: skip
    if log:  # no powers of ten for the bench
        ends = {"min": np.log10(low), "max": np.log10(high)}
        return widgets.FloatLogSlider(**common, **ends, readout_format=",.1f")
    readout = ".1f" if np.isclose(10 * step, round(10 * step)) else ".2f"
    return widgets.FloatSlider(**common, min=low, max=high, readout_format=readout)


def chooser(options: list[str], words: str):
    """Make a slider over finished things, labelled by their names.

    Returns
    -------
    ipywidgets.SelectionSlider
    """
    import ipywidgets as widgets

    return widgets.SelectionSlider(
        options=options, value=options[0], description=words, continuous_update=True,
        style={"description_width": "initial"}, layout=widgets.Layout(width="98%", max_width="640px"),
    )  # fmt: skip


class Picture:
    """A place for a picture with its alternative text, in a panel.

    Parameters
    ----------
    least : float, optional
        Pixels that it is not shrunk below; default a share of its own width.

    Attributes
    ----------
    place : ipywidgets.HTML
        To put into the panel; as wide as the page allows, no wider than drawn.
    """

    def __init__(self, least: float | None = None) -> None:
        import ipywidgets as widgets

        self._least = least
        self.place = widgets.HTML(layout=widgets.Layout(width="100%", overflow="auto hidden"))

    def show(self, drawn: bytes, words: str) -> None:
        """Show a finished picture.

        Parameters
        ----------
        drawn : bytes
            PNG.
        words : str
            What is to be seen, for those who cannot see it.
        """
        self.place.value = image(drawn, words, self._least)


def image(drawn: bytes, words: str, least: float | None = None) -> str:
    """Return a picture as an element of HTML that carries its alternative text.

    It shrinks with the page, but not below what can be read: then it scrolls.

    Parameters
    ----------
    drawn : bytes
        PNG.
    least : float, optional
        Pixels that it is not shrunk below; default a share of its own width.
    """
    width, height = struct.unpack(">II", drawn[16:24])  # where every PNG has them
    told = html.escape(" ".join(words.split()), quote=True)
    code = base64.b64encode(drawn).decode("ascii")
    style = f"width:{width}px;max-width:100%;min-width:{least or LEGIBLE * width:.0f}px;height:auto"
    # made by hand: the notebook's own image output, and the panels' own image, have no alternative text
    return (
        f'<div style="overflow-x:auto"><img alt="{told}" width="{width}" height="{height}" decoding="sync" '
        f'style="{style}" src="data:image/png;base64,{code}"></div>'
    )


def least_points(width: float) -> float:
    """Size of letters, points, that can still be read where a picture of so many inches is shrunk to fit."""
    return LETTERS * 72 / DPI * max(1.0, width * DPI / NARROW)


def png(figure: Figure, settle: bool = False) -> bytes:
    """Return a finished figure for a `Picture`; letters too small for a narrow page are made larger.

    Parameters
    ----------
    settle : bool
        Lay it out again until nothing is cut off: what a slider draws anew has no time for that.
    """
    _enlarge(figure, least_points(figure.get_figwidth()))
    for _ in range(SETTLES if settle else 0):  # axes of equal scale find their place in a few steps
        figure.draw_without_rendering()
        if _whole(figure):
            break
    out = io.BytesIO()
    figure.savefig(out, format="png", dpi=DPI)
    return out.getvalue()


def _whole(figure):
    """Whether all that is drawn lies within the figure."""
    box, (wide, tall) = figure.get_tightbbox(), figure.get_size_inches()
    return min(box.x0, box.y0, wide - box.x1, tall - box.y1) >= 0


def _enlarge(figure, least):
    """Make no letters of a figure smaller than so many points."""
    for axis in (axis for ax in figure.axes for axis in (ax.xaxis, ax.yaxis)):
        for which in ("major", "minor"):  # ticks that come with the drawing
            size = axis.get_tick_params(which).get("labelsize", mpl.rcParams["xtick.labelsize"])
            axis.set_tick_params(which, labelsize=max(FontProperties(size=size).get_size(), least))
    for words in figure.findobj(Text):
        words.set_fontsize(max(words.get_fontsize(), least))


def page(table: pd.DataFrame, words: Mapping[str, str], digits: int = 3) -> str:
    """Return a table for an HTML widget; a dash where there is no figure.

    Parameters
    ----------
    words : mapping of str to str
        Columns to show, and the words at their heads.
    digits : int
        Decimals at most.
    """
    shown = table[list(words)].rename(columns=words)
    text = shown.to_html(float_format=lambda v: f"{round(v, digits):g}", na_rep="–", border=0)
    style = "padding:0.1em 0.7em;text-align:right;line-height:1.3"  # an HTML widget knows none for tables
    for cell in ("th", "td"):
        text = text.replace(f"<{cell}>", f'<{cell} style="{style}">')
    return f'<div style="overflow-x:auto">{text}</div>'


def beside(controls: list, shown):
    """Stand controls and picture side by side; on a narrow page the picture goes below, at full width.

    Parameters
    ----------
    controls : list of widgets
    shown : widget

    Returns
    -------
    ipywidgets.HBox
    """
    import ipywidgets as widgets

    column = widgets.Layout(flex=f"0 0 {CONTROLS_WIDTH}px", width=f"{CONTROLS_WIDTH}px")
    rest = widgets.Layout(flex=f"1 1 {PICTURE_WIDTH}px", min_width="240px", overflow="hidden")
    return widgets.HBox(
        [widgets.VBox(controls, layout=column), widgets.VBox([shown], layout=rest)],
        layout=widgets.Layout(flex_flow="row wrap", align_items="flex-start"),
    )
