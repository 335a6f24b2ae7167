"""Sliders for notebooks: widgets only, the computing and drawing is done elsewhere."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.bench.kit.height_plots import PANELS, draw_height_sweep
from platemodel.bench.notebook.figure_words import figure_words
from platemodel.bench.notebook.sliders import Picture, page, png, slider

SIZE = (9.2, 5.4)  # inches


@dataclass(eq=False)
class HeightExplorer:
    """A slider over the heights of finished sweeps.

    Attributes
    ----------
    panel : ipywidgets.VBox
        To show in a notebook.
    slider : ipywidgets.FloatSlider
        Height, mm.
    readout : DataFrame
        What the curves say at the slider's height, a row a top; follows the slider.
    """

    panel: object
    slider: object
    readout: pd.DataFrame


def height_explorer(sweeps: dict[str, pd.DataFrame]) -> HeightExplorer:
    """Make a slider panel over sweeps of bar height.

    Parameters
    ----------
    sweeps : dict of label to DataFrame
        From `platemodel.study.top.heights.height_sweep`.
    """
    import ipywidgets as widgets
    from matplotlib.figure import Figure

    heights = np.concatenate([s.loc[s["height_mm"] > 0, "height_mm"] for s in sweeps.values()])
    start = float(np.round(np.median(heights), 1))
    hand = slider(start, float(heights.min()), float(heights.max()), 0.1, "height, mm")
    reset = widgets.Button(description="back to start")
    shown, table = Picture(), widgets.HTML()
    app = HeightExplorer(
        widgets.VBox([widgets.HBox([hand, reset]), shown.place, table]), hand, read_at(sweeps, start)
    )

    def show(_=None):
        app.readout = read_at(sweeps, hand.value)
        figure = Figure(figsize=SIZE, layout="constrained")
        axes = figure.subplots(2, 3).flatten()
        for spare in axes[len(PANELS) :]:
            spare.set_axis_off()
        draw_height_sweep(sweeps, axes[: len(PANELS)], at=hand.value)
        words = f"Curves over the height of the bar, with a ring at {hand.value:.1f} mm."
        shown.show(png(figure), f"{words} {figure_words(figure)}")
        table.value = page(app.readout, {"height_mm": "height, mm"} | dict(PANELS), 1)

    def back(_):
        hand.value = start

    hand.observe(show, names="value")
    reset.on_click(back)
    show()
    return app


def read_at(sweeps: dict[str, pd.DataFrame], height: float) -> pd.DataFrame:
    """Read sweeps between their points.

    Parameters
    ----------
    sweeps : dict of label to DataFrame
    height : float
        mm; NaN comes back for a sweep that does not reach it.

    Returns
    -------
    DataFrame
        A row a sweep, columns as in the sweeps.
    """
    rows = {}
    for name, sweep in sweeps.items():
        barred = sweep[sweep["height_mm"] > 0]
        columns = [c for c in barred.columns if c != "height_mm"]
        rows[name] = {
            "height_mm": height,
            **{
                c: np.interp(height, barred["height_mm"], barred[c], left=np.nan, right=np.nan)
                for c in columns
            },
        }
    return pd.DataFrame.from_dict(rows, orient="index")
