"""Curves over the height of the bar, and the panel that reads them."""

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure

from platemodel.bench.kit.height_plots import PANELS, draw_height_sweep
from platemodel.bench.notebook.height_sliders import height_explorer

MM = 1e-3


# --- curves over height -------------------------------------------------------------------------------


def sweep_table(heights, factor=1.0):
    """A made-up sweep, straight in height, so that every reading between its rows is known."""
    h = np.asarray(heights, dtype=float)
    return pd.DataFrame(
        {
            "height_mm": h,
            "f1_hz": factor * (80 + h),
            "f2_hz": factor * (140 + h),
            "f5_hz": factor * (330 + 2 * h),
            "foot_n_per_mm": factor * (40 + 5 * h),
            "bar_g": 0.4 * h,
        }
    )


@pytest.fixture
def sweeps():
    return {"sound": sweep_table([0, 10, 12, 16]), "soft": sweep_table([12, 14, 18], 0.8)}


def test_each_panel_has_a_curve_for_each_top(sweeps):
    axes = Figure().subplots(1, len(PANELS))
    assert draw_height_sweep(sweeps, axes) is axes
    for (column, label), ax in zip(PANELS, axes, strict=True):
        sound, *level, soft = ax.lines
        assert sound.get_xdata().tolist() == [10, 12, 16]  # the row without bar is no point of the curve
        assert sound.get_ydata() == pytest.approx(sweeps["sound"][column].iloc[1:].to_numpy())
        assert soft.get_xdata().tolist() == [12, 14, 18]
        assert soft.get_linestyle() != sound.get_linestyle()
        # ... but a level line, except for the mass of a bar that is not there.
        expected = [] if column == "bar_g" else [sweeps["sound"][column].iloc[0]]
        assert [line.get_ydata()[0] for line in level] == expected
        assert ax.get_title() == label
        assert "mm" in ax.get_xlabel()
    assert [t.get_text() for t in axes[0].get_legend().get_texts()] == ["sound", "soft"]


def test_a_height_is_marked_on_the_curves_that_reach_it(sweeps):
    axes = Figure().subplots(1, len(PANELS))
    draw_height_sweep(sweeps, axes, at=11.0)
    marks = [line for line in axes[3].lines if line.get_markersize() == 10]
    assert [tuple(float(v[0]) for v in m.get_data()) for m in marks] == [(11.0, 95.0)]
    assert "95.0" in [t.get_text() for t in axes[3].texts]
    axes = Figure().subplots(1, len(PANELS))
    draw_height_sweep(sweeps, axes, at=14.0)
    values = [float(line.get_ydata()[0]) for line in axes[3].lines if line.get_markersize() == 10]
    assert values == pytest.approx([110.0, 0.8 * 110.0])


def test_figures_of_two_curves_stand_apart(sweeps):
    """Curves may run close together, or on one another as those of the mass: the lower figure goes below."""
    axes = Figure().subplots(1, len(PANELS))
    draw_height_sweep({"sound": sweeps["sound"], "same": sweeps["sound"]}, axes, at=12.0)
    for ax in axes:
        up, down = sorted((t.xyann[1] for t in ax.texts if t.get_text() != "no bar"), reverse=True)
        assert down < 0 < up


# --- the slider panel ---------------------------------------------------------------------------------


def test_the_slider_reads_both_ends_and_goes_back(sweeps):
    app = height_explorer(sweeps)
    slider = app.slider
    assert (slider.min, slider.max, slider.description) == (10, 18, "height, mm")
    start = slider.value
    assert app.readout["height_mm"].tolist() == [start, start]

    slider.value = slider.min
    assert app.readout.loc["sound", "foot_n_per_mm"] == pytest.approx(90)
    assert np.isnan(app.readout.loc["soft", "foot_n_per_mm"])  # that sweep begins at 12 mm
    slider.value = slider.max
    assert np.isnan(app.readout.loc["sound", "foot_n_per_mm"])
    assert app.readout.loc["soft", "foot_n_per_mm"] == pytest.approx(0.8 * 130)

    reset = next(w for w in app.panel.children[0].children if w is not slider)
    reset.click()
    assert slider.value == start
    assert app.readout["height_mm"].tolist() == [start, start]


def test_reading_between_rows(sweeps):
    app = height_explorer(sweeps)
    app.slider.value = 13.0
    table = app.readout
    assert table.index.tolist() == ["sound", "soft"]
    assert table.loc["sound", "f5_hz"] == pytest.approx(356)
    assert table.loc["soft", "f5_hz"] == pytest.approx(0.8 * 356)
    assert table.loc["sound", "bar_g"] == pytest.approx(5.2)
