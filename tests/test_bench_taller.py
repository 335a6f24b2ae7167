"""What a taller bar buys: table, sentence, picture, panel."""

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure

from platemodel.bench.notebook.taller import (
    PANELS,
    draw_taller,
    extra_for,
    heights_to_try,
    read_extra,
    takeaway,
    what_height_buys,
)
from platemodel.bench.notebook.taller_panel import taller_panel
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.top.figures import Reference
from tests.choosing_parts import bar, plain

mpl.use("agg")


def reference(foot):
    """Usual bar on the usual top, of a stiffness under the foot as a test wants it."""
    top = preset_top("violin")
    return Reference(top, preset_bar(top), {"foot_n_per_mm": foot, "f1_hz": 88.0})


@pytest.fixture(scope="module")
def table():
    return what_height_buys(plain().figures, bar(), heights_to_try(bar()))


def test_heights_go_by_half_millimetres_round_the_bars_own():
    own = float(bar().heights.max())
    extra = 1e3 * (heights_to_try(bar()) - own)
    assert extra.tolist() == pytest.approx([-3, -2, -1, 0, 1, 2, 3, 4, 5])
    low = bar_of_height(bar(), 1.01 * float(bar().heights[[0, -1]].max()))
    assert heights_to_try(low).min() == float(low.heights.max())  # an end would stand above a lower one


def test_the_row_of_zero_is_the_bar_and_the_others_are_asked(table):
    zero = table[table["extra_mm"].abs() < 1e-9].iloc[0]
    assert zero["foot_n_per_mm"] == pytest.approx(plain().figures.of(bar())["foot_n_per_mm"], rel=1e-12)
    two = plain().figures.of(bar_of_height(bar(), float(bar().heights.max()) + 2e-3))
    assert read_extra(table, 2.0)["f1_hz"] == pytest.approx(two["f1_hz"], rel=1e-12)
    assert np.isnan(read_extra(table, 9.0)["bar_g"])


def test_the_sentence_follows_the_figures(table):
    zero, one = read_extra(table, 0.0), read_extra(table, 1.0)
    short = " ".join(takeaway(table, reference(1.05 * zero["foot_n_per_mm"]), 1.0))
    assert "A bar 1 mm taller than yours" in short
    assert f"{100 * (one['foot_n_per_mm'] / zero['foot_n_per_mm'] - 1):.1f} % stiffer" in short
    assert f"weighs {one['bar_g'] - zero['bar_g']:.2f} g more" in short
    assert "4.8 % softer under the bass foot than the usual bar" in short  # 1 - 1/1.05
    needed = extra_for(table, 1.05 * zero["foot_n_per_mm"])
    assert f"A bar {needed:.2g} mm taller would make it as stiff" in short
    far = " ".join(takeaway(table, reference(2 * zero["foot_n_per_mm"]), -1.0))
    assert "1 mm lower than yours" in far
    assert "softer under the bass foot" in far
    assert "No bar up to 5 mm taller makes it as stiff as that" in far
    stiff = " ".join(takeaway(table, reference(0.8 * zero["foot_n_per_mm"]), 0.0))
    assert "already 25 % stiffer" in stiff
    assert "taller than yours" not in stiff
    assert "as stiff under" in takeaway(table, reference(zero["foot_n_per_mm"]), 0.0)[0]


def test_a_mode_that_is_not_found_is_left_out(table):
    text = " ".join(takeaway(table.assign(f5_hz=np.nan), reference(100.0), 1.0))
    assert "mode 5" not in text
    assert "nan" not in text


def test_the_picture_has_the_usual_top_as_a_line(table):
    table = table.assign(flex_along_mm=np.nan)
    axes = Figure().subplots(2, 3).flatten()
    draw_taller(table, reference(77.0), 1.5, axes)
    foot = axes[PANELS.index("foot_n_per_mm")]
    assert [77.0, 77.0] in [list(line.get_ydata()) for line in foot.lines]
    ring = next(line for line in foot.lines if line.get_markersize() == 10)
    assert ring.get_data()[1] == [read_extra(table, 1.5)["foot_n_per_mm"]]


def test_both_sliders_are_followed_and_go_back(table):
    pytest.importorskip("ipywidgets")
    app = taller_panel(plain().figures, bar(), reference(100.0))
    begun = app.says
    assert pd.testing.assert_frame_equal(app.table, table) is None
    app.softness.value = 0.9
    soft = plain().figures.softer(0.9).of(bar())["foot_n_per_mm"]
    assert read_extra(app.table, 0.0)["foot_n_per_mm"] == pytest.approx(soft, rel=1e-12)
    for end in (app.extra.min, app.extra.max):
        app.extra.value = end
        assert "nan" not in " ".join(app.says)
    assert "5 mm taller" in app.says[0]
    app.reset.click()
    assert app.says == begun
