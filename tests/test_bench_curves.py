"""Curves that a slider reads, and the beam formula that lessons compare with."""

import matplotlib

matplotlib.use("Agg")

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure

from platemodel.bench.notebook.curve_plots import draw_curves, read_curves
from platemodel.bench.notebook.curve_reader import curve_reader

X = ("place_mm", "place, mm")
PANELS = {"a_n": "force, N", "b_mm": "sinking, mm"}


@pytest.fixture
def curves():
    x = np.array([1.0, 10.0, 100.0])
    return {
        "log": pd.DataFrame({"place_mm": x, "a_n": np.log10(x), "b_mm": 2 * x}),
        "short": pd.DataFrame({"place_mm": x[:2], "a_n": x[:2], "b_mm": -x[:2]}),
    }


def test_curves_are_read_straight_between_points_and_never_beyond(curves):
    read = read_curves(curves, "place_mm", list(PANELS), 55.0)
    assert read.loc["log", "a_n"] == pytest.approx(1.5)  # half way from 10 to 100
    assert read.loc["log", "b_mm"] == pytest.approx(110.0)
    assert read.loc["short", ["a_n", "b_mm"]].isna().all()


def test_with_log_they_are_straight_in_decades(curves):
    read = read_curves(curves, "place_mm", ["a_n"], np.sqrt(1000.0), log=True)
    assert read.loc["log", "a_n"] == pytest.approx(1.5)


def test_picture_has_units_a_mark_on_each_curve_that_reaches_and_no_curve_by_colour_alone(curves):
    axes = Figure().subplots(1, 2)
    draw_curves(curves, X, PANELS, axes, at=55.0)
    for ax, label in zip(axes, PANELS.values(), strict=True):
        assert (ax.get_xlabel(), ax.get_ylabel()) == (X[1], label)
        drawn = [line for line in ax.lines if len(line.get_xdata()) > 1]
        assert len({(line.get_linestyle(), line.get_marker()) for line in drawn}) == 2
        marks = [line for line in ax.lines if len(line.get_xdata()) == 1]
        assert [float(m.get_xdata()[0]) for m in marks] == [55.0]  # the short curve ends at 10


@pytest.mark.parametrize("log", [False, True])
def test_slider_is_followed_to_both_ends(curves, log):
    app = curve_reader(curves, X, PANELS, start=10.0, step=0.5, log=log)
    assert app.readout.loc["log", "b_mm"] == pytest.approx(20.0)
    for end, value in ((app.slider.min, 2.0), (app.slider.max, 200.0)):
        app.slider.value = 10.0**end if log else end
        assert app.readout.loc["log", "b_mm"] == pytest.approx(value)


def test_a_start_off_the_curves_is_refused(curves):
    with pytest.raises(ValueError, match="from 1 to 100"):
        curve_reader(curves, X, PANELS, start=500.0)
