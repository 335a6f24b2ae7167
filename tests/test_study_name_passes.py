"""Where the name of a mode passes from one tone to another, on two tones that veer."""

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure

from platemodel.bench.kit.height_plots import PANELS, draw_height_sweep, tone_curve
from platemodel.bench.notebook.taller import read_extra, takeaway
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.choosing.wood_bands import band
from platemodel.study.top.answers import BarResponse
from platemodel.study.top.figures import Reference
from platemodel.study.top.name_passes import in_pieces, name_passes, shared_tones
from platemodel.study.top.recognise import name_by

HEIGHTS = np.linspace(6.0, 12.0, 13)  # mm


def response(height, coupling):
    """Two tones, one rising with the bar and with the pattern of the ring, one at rest without it."""
    rising, still = 340.0 + 4.0 * height, 372.0  # they would cross at 8 mm
    squares, shapes = np.linalg.eigh(np.array([[rising**2, coupling], [coupling, still**2]]))
    empty = np.zeros(2)
    namings = name_by({1: empty, 2: empty, 5: shapes[0] ** 2})
    return BarResponse(np.sqrt(squares), namings, None, 0.0, 0.0)


def table(coupling, heights=HEIGHTS):
    rows = [(h, response(h, coupling)) for h in heights]
    return pd.DataFrame([{"height_mm": h, "f5_hz": r.frequency(5), **shared_tones(r)} for h, r in rows])


def test_the_name_passes_once_where_two_tones_veer():
    found = table(coupling=6000.0)  # half a gap of 6000 / (2 * 372) = 8 Hz
    (k,) = np.flatnonzero(name_passes(found, 5))
    assert HEIGHTS[k] <= 8.0 <= HEIGHTS[k + 1]
    assert found["f5_hz"][k + 1] - found["f5_hz"][k] > 10.0  # a jump that no tone makes
    x, y = tone_curve(found, "height_mm", "f5_hz")
    (gap,) = np.flatnonzero(np.isnan(y))
    assert gap == k + 1
    assert len(x) == len(HEIGHTS) + 1
    assert not name_passes(found.assign(f1_hz=80.0), 1).any()


def test_a_few_heights_far_apart_tell_it_too():
    """Where one of the two has its pattern nearly to itself."""
    assert name_passes(table(6000.0, np.array([6.0, 8.5])), 5).tolist() == [True]


def test_a_tone_that_crosses_another_without_touching_it_keeps_its_name():
    found = table(coupling=0.1)
    assert found["f5_hz"].to_numpy() == pytest.approx(340.0 + 4.0 * HEIGHTS, rel=1e-6)
    assert not name_passes(found, 5).any()


def test_tables_without_shared_tones_have_no_gaps():
    found = table(6000.0).drop(columns="f5_shared_hz")
    assert not name_passes(found, 5).any()
    x, y = in_pieces(np.arange(3), np.arange(3), np.array([False, False]))
    assert (x.tolist(), y.tolist()) == ([0, 1, 2], [0, 1, 2])


def test_a_sweep_is_drawn_with_the_gap():
    found = table(6000.0).assign(f1_hz=80.0, f2_hz=140.0, foot_n_per_mm=60.0, bar_g=4.0)
    axes = Figure().subplots(1, len(PANELS))
    draw_height_sweep({"one": found}, axes)
    gaps = [np.isnan(ax.lines[0].get_ydata()).sum() for ax in axes]
    assert gaps == [column == "f5_hz" for column, _ in PANELS]


def test_no_jump_is_told_as_a_change_of_tone():
    figures = {"f1_hz": 80.0, "f2_hz": 140.0, "foot_n_per_mm": 60.0, "bar_g": 4.0}
    found = table(6000.0).assign(**figures)
    found = found.assign(extra_mm=found["height_mm"] - 7.0)
    top = preset_top("violin")
    usual = Reference(top, preset_bar(top), {"foot_n_per_mm": 60.0})
    before, over = (" ".join(takeaway(found, usual, extra)) for extra in (-0.5, 2.0))
    assert "mode 5 −" in before
    assert "the shape of mode 5 passes to another tone near it" in over
    (k,) = np.flatnonzero(name_passes(found, 5))
    assert np.isnan(read_extra(found, found["extra_mm"][k] + 0.1)["f5_hz"])


@pytest.mark.filterwarnings("error")
def test_a_tone_that_no_wood_has_has_no_band():
    assert np.isnan(band(np.full(5, np.nan), np.nan)).all()
