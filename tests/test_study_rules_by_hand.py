"""Small rules of the studies by hand, with the models that feed them left out: bands, doubts, an air tone."""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from platemodel.study.body import air_tone
from platemodel.study.top.plate_modes import _band
from platemodel.study.trimming.bar_day import as_readings, judge_day
from platemodel.study.wood import fit_doubts
from platemodel.study.wood.state_gap import StateGap


def test_band_of_a_mesh_from_the_step_to_a_coarser_one():
    """Steps of 2, 0 and 1 %, by shape, not by order; 1.2 of each, of the middle one at least, and 0.4 %."""
    f, shapes = np.array([100.0, 200.0, 300.0]), np.eye(5)[:, :3]
    coarse = (np.array([200.0, 102.0, 297.0]), shapes[:, [1, 0, 2]])
    assert _band(coarse, shapes, f, 1.0) == pytest.approx([2.4, 2.4, 3.6])
    level = (np.array([100.0, 200.0, 300.3]), shapes)
    assert _band(level, shapes, f, 1.0) == pytest.approx([0.4, 0.8, 1.2])
    assert _band(level, shapes, f, 0.5) == pytest.approx([0.8, 1.6, 2.4])
    assert np.isnan(_band(None, shapes, f, 1.0)).all()


def states(monkeypatch, *gaps):
    """Doubts about states whose gaps to the others are these."""
    found = {gap.name: gap for gap in gaps}
    monkeypatch.setattr(fit_doubts, "state_gap", lambda _, state, *__: found[state.taps.name])
    rows = [SimpleNamespace(taps=SimpleNamespace(name=gap.name)) for gap in gaps]
    return fit_doubts._state_doubts(SimpleNamespace(states=rows), None, None)


def gap(name, excess, size=0.09531):  # ln 1.1
    return StateGap(name, (("mode 5", np.log(1.05)), ("mode 2", np.log(0.98))), 4.0, "all taps", size, excess)


def test_the_state_that_lies_furthest_off_is_named(monkeypatch):
    assert states(monkeypatch, gap("on", 3.0)) == []
    assert states(monkeypatch, gap("on", 1.0), gap("off", 0.2)) == []
    (doubt,) = states(monkeypatch, gap("on", 1.5), gap("off", 2.0))
    assert "the state 'off' does not agree with 'on', or that one is wrong" in doubt.message
    assert "(mode 5 +5.0 %, mode 2 -2.0 % from what is predicted without it; likeliest all taps +10.0 %)" in (
        doubt.message
    )
    (doubt,) = states(monkeypatch, gap("on", 1.5), gap("off", 0.5), gap("later", 1.2))
    assert "the state 'on' does not agree with the others (" in doubt.message


@pytest.mark.parametrize("ratio", [-1.0, 0.5, 1.0, 2.0])
def test_what_a_day_reads_per_millimetre(ratio):
    """A figure that falls by 2 % a millimetre, read as falling ratio times that."""
    h = np.arange(16.0, 9.0, -1.0)
    model = pd.DataFrame({"height_mm": h, "f5_hz": 350.0 * np.exp(0.02 * (h - 13.0))})
    value = 340.0 * np.exp(0.02 * ratio * (h - 13.0))
    row = judge_day({"f5_hz": as_readings(h, value, np.full(7, np.nan), None)}, model).iloc[0]
    assert row["model_per_mm"] == pytest.approx(2.0)
    assert row["read_per_mm"] == pytest.approx(2.0 * ratio, rel=1e-3, abs=1e-3)
    assert row["band_per_mm"] > 0


@dataclass(frozen=True)
class Box:
    """A body whose air tone goes with the root of its holes' area, 270 Hz as it is."""

    model: object = None
    air: float = 1.0


@pytest.fixture
def box(monkeypatch):
    monkeypatch.setattr(air_tone, "body_air", lambda _, hole_area: hole_area)
    monkeypatch.setattr(air_tone, "lowest_air_tone", lambda body, _: 270.0 * np.sqrt(body.air))
    return Box()


def test_holes_that_go_with_a_heard_air_tone(box):
    """280 Hz heard: (280 / 270)^2 of the area, found to 2 in 1000."""
    found = air_tone.fit_air(box, None, 280.0)
    assert found.factor == pytest.approx((280 / 270) ** 2, abs=4e-3)
    assert (found.heard, found.model) == (280.0, 270.0)
    assert found.body.air == found.factor
    assert found.trusted
    assert "heard 280 Hz, by the model 270 Hz: holes taken as 1.08 of their area." in found.text
    assert found.as_data() == {
        "heard_hz": 280.0,
        "model_hz": 270.0,
        "area_factor": pytest.approx(1.075, abs=4e-3),
    }


def test_an_air_tone_out_of_reach_takes_the_nearer_end(box):
    low, high = air_tone.RANGE
    for heard, end in ((20.0, low), (2000.0, high)):
        found = air_tone.fit_air(box, None, heard)
        assert found.factor == end
        assert not found.trusted
        assert "that much is not the holes alone" in found.text
