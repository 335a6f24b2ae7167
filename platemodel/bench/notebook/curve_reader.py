"""A slider over finished curves: widgets only, the computing and drawing is done elsewhere."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.notebook.curve_plots import draw_curves, read_curves

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

    Returns
    -------
    CurveReader

    Raises
    ------
    ValueError
        A start that no curve reaches.
    """
    import ipywidgets as widgets
    from IPython.display import display
    from matplotlib.figure import Figure

    places = np.concatenate([table[x[0]] for table in curves.values()])
    low, high = float(places.min()), float(places.max())
    if not low <= start <= high:
        msg = f"start {start:g}: the curves reach from {low:g} to {high:g}"
        raise ValueError(msg)
    kind = widgets.FloatLogSlider if log else widgets.FloatSlider
    ends = (np.log10(low), np.log10(high)) if log else (low, high)
    slider = kind(
        value=start, min=ends[0], max=ends[1], step=step, description=x[1], continuous_update=False,
        style={"description_width": "initial"}, layout=widgets.Layout(width="70%"),
    )  # fmt: skip
    if log:
        slider.readout_format = ",.1f"  # no powers of ten for the bench
    reset = widgets.Button(description="back to start")
    picture, table = widgets.Output(), widgets.Output()
    app = CurveReader(widgets.VBox([widgets.HBox([slider, reset]), picture, table]), slider, pd.DataFrame())

    def show(_=None):
        at = float(np.clip(slider.value, low, high))  # a logarithmic slider misses its ends by rounding
        app.readout = read_curves(curves, x[0], list(panels), at, log)
        figure = Figure(figsize=(min(4.3 * len(panels), WIDEST), 3.2), layout="constrained")
        draw_curves(curves, x, panels, list(figure.subplots(1, len(panels), squeeze=False)[0]), at, log)
        with picture:
            picture.clear_output(wait=True)
            display(figure)
        with table:
            table.clear_output(wait=True)
            display(app.readout.round(3))

    def back(_):
        slider.value = start

    slider.observe(show, names="value")
    reset.on_click(back)
    show()
    return app
