"""A slider over finished curves: widgets only, the computing and drawing is done elsewhere."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.notebook.curve_plots import draw_curves, read_curves
from platemodel.bench.notebook.figure_words import figure_words
from platemodel.bench.notebook.sliders import Picture, page, png, slider

WIDEST = 9.2  # inches; wider pictures are shrunk by the notebook, and their letters with them


@dataclass(eq=False)
class CurveReader:
    """A slider over curves.

    Attributes
    ----------
    panel : ipywidgets.VBox
        To show in a notebook.
    slider : ipywidgets.FloatSlider or FloatLogSlider
    readout : DataFrame
        What the curves say at the slider's place, a row a curve; follows the slider.
    """

    panel: object
    slider: object
    readout: pd.DataFrame


def curve_reader(
    curves: Mapping[str, pd.DataFrame],
    x: tuple[str, str],
    panels: Mapping[str, str],
    start: float,
    step: float = 0.1,
    log: bool = False,
) -> CurveReader:
    """Make a slider panel over curves.

    Parameters
    ----------
    curves, x, panels, log
        As in `platemodel.bench.notebook.curve_plots.draw_curves`.
    start : float
        Where the slider stands at first.
    step : float
        Of the slider; in decades with ``log``.

    Raises
    ------
    ValueError
        A start that no curve reaches.
    """
    places = np.concatenate([table[x[0]] for table in curves.values()])
    low, high = float(places.min()), float(places.max())
    if not low <= start <= high:
        msg = f"start {start:g}: the curves reach from {low:g} to {high:g}"
        raise ValueError(msg)
    hand = slider(start, low, high, step, x[1], log)

    def drawn(figure, at):
        at = float(np.clip(at, low, high))  # a logarithmic slider misses its ends by rounding
        draw_curves(curves, x, panels, list(figure.subplots(1, len(panels), squeeze=False)[0]), at, log)
        return read_curves(curves, x[0], list(panels), at, log)

    return reading_panel(hand, (min(4.3 * len(panels), WIDEST), 3.2), drawn, dict([x]) | dict(panels))


def reading_panel(
    hand, size: tuple[float, float], drawn: Callable, heads: Mapping[str, str], digits: int = 3
) -> CurveReader:
    """Put a slider over a picture and a table of what it reads there.

    Parameters
    ----------
    hand : ipywidgets.FloatSlider or FloatLogSlider
    size : (float, float)
        Of the picture, inches.
    drawn : callable
        ``drawn(figure, at)`` draws with a mark at the slider's value and returns what is read there, a row a
        curve.
    heads : mapping of str to str
        Columns of the table to show, and the words at their heads.
    digits : int
        Decimals of the table at most.
    """
    import ipywidgets as widgets
    from matplotlib.figure import Figure

    start, reset = hand.value, widgets.Button(description="back to start")
    shown, table = Picture(), widgets.HTML()
    app = CurveReader(widgets.VBox([widgets.HBox([hand, reset]), shown.place, table]), hand, pd.DataFrame())

    def show(_=None):
        figure = Figure(figsize=size, layout="constrained")
        app.readout = drawn(figure, hand.value)
        words = f"Curves over {hand.description}, with a ring at {hand.value:.4g}."
        shown.show(png(figure), f"{words} {figure_words(figure)}")
        table.value = page(app.readout, heads, digits)

    def back(_):
        hand.value = start

    hand.observe(show, names="value")
    reset.on_click(back)
    show()
    return app
