"""A slider over finished sweeps of bar height: the computing and drawing is done elsewhere."""

import numpy as np
import pandas as pd

from platemodel.bench.kit.height_plots import PANELS, draw_height_sweep
from platemodel.bench.notebook.curve_plots import read_curves
from platemodel.bench.notebook.curve_reader import CurveReader, reading_panel
from platemodel.bench.notebook.sliders import slider

SIZE = (9.2, 5.4)  # inches


def height_explorer(sweeps: dict[str, pd.DataFrame]) -> CurveReader:
    """Make a slider panel over sweeps of bar height; its readout has a row a top.

    Parameters
    ----------
    sweeps : dict of label to DataFrame
        From `platemodel.study.top.heights.height_sweep`.
    """
    barred = {name: sweep[sweep["height_mm"] > 0] for name, sweep in sweeps.items()}
    heights = np.concatenate([sweep["height_mm"] for sweep in barred.values()])
    start = float(np.round(np.median(heights), 1))
    hand = slider(start, float(heights.min()), float(heights.max()), 0.1, "height, mm")

    def drawn(figure, at):
        axes = figure.subplots(2, 3).flatten()
        for spare in axes[len(PANELS) :]:
            spare.set_axis_off()
        draw_height_sweep(sweeps, axes[: len(PANELS)], at=at)
        return read_curves(barred, "height_mm", list(dict(PANELS)), at)

    return reading_panel(hand, SIZE, drawn, {"height_mm": "height, mm"} | dict(PANELS), digits=1)
