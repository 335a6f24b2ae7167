"""What is refused is told with its own sizes and places, mm: a wrong one sends a maker to the wrong spot."""

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from platemodel.instrument import arching, thickness
from platemodel.instrument.bar_cuts import PLACES, cut, with_bridge_height
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.body import usual_body
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.field import SmoothField
from platemodel.instrument.gaps import Gaps
from platemodel.instrument.layout import BarLine, bar_ends, bar_on_line
from platemodel.instrument.mark_checks import marks_under
from platemodel.instrument.marks import Mark, place
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.profile import height_profile
from platemodel.instrument.seat import bar_stations, seat_curve
from platemodel.study.gluing.clamps import Block
from tests.round_bar import round_bar

MM = 1e-3


@pytest.fixture(scope="module")
def top():
    return preset_top("violin")


@pytest.fixture(scope="module")
def bar(top):
    """On the usual violin: from 40 to 315 mm, 12 mm high at 195, 3 at its ends, 5.5 wide."""
    return round_bar(top)


def moved(hole, x=0.0, y=0.0):
    """A hole with everything in it moved, m."""
    by = np.array([x, y])
    eyes = (replace(e, x=e.x + x, y=e.y + y) for e in (hole.upper_eye, hole.lower_eye))
    return type(hole)(hole.points + by, hole.corners, hole.side, *eyes, hole.source)


def told_place(caught):
    """The point that an error names."""
    found = re.search(r"\(([-\d.]+), ([-\d.]+)\)", str(caught.value))
    return shapely.Point(*(float(v) * MM for v in found.groups()))


def profile(x, bridge=0.195):
    return height_profile(x, bridge, 0.04, 0.315, 12 * MM, 3 * MM, 3 * MM)


BARS = {
    "bar ends at x = 30 mm, not above its start at 40 mm": lambda b: replace(b, x_end=0.03),
    "bar width -2 mm must be positive": lambda b: replace(b, width=-2 * MM),
    "stations must increase; 315 mm is followed by 50 mm": lambda b: replace(
        b, stations=np.array([0.04, 0.315, 0.05]), heights=np.full(3, 5 * MM)
    ),
    "stations run from 50 to 315 mm, the bar from 40 to 315 mm": lambda b: replace(
        b, stations=np.array([0.05, 0.315]), heights=np.full(2, 5 * MM)
    ),
    "bar height -1 mm at x = 100 mm must be positive": lambda b: replace(
        b, stations=np.array([0.04, 0.1, 0.315]), heights=np.array([5, -1, 5]) * MM
    ),
    "depth -2 mm: wood cannot be put back": lambda b: cut(b, PLACES[0], -2 * MM, 0.195, 3 * MM),
    "2.5 mm under the bridge is lower than the ends allow; at least 3 mm": lambda b: with_bridge_height(
        b, 2.5 * MM, 0.195
    ),
    "bar height 2 mm is below its ends; at least 3 mm": lambda b: bar_of_height(b, 2 * MM),
    "bar from 40 to 315 mm does not pass the bridge line at 330 mm": lambda b: bar_stations(b, 0.33, 0.02),
    "pitch of stations 200 mm; allowed 0.5 to 138 mm": lambda b: bar_stations(b, 0.195, 0.2),
}


@pytest.mark.parametrize("words", BARS)
def test_bars(bar, words):
    with pytest.raises(ValueError, match=re.escape(words)):
        BARS[words](bar)


TOPS = {
    "spring 12 mm at each end; allowed 0 to 5 mm": lambda t: seat_curve(t, preset_bar(t), spring=12 * MM),
    "foot width across 30 mm does not fit twice into the": lambda t: replace(
        t.bridge, foot_length_across=30 * MM, foot_span_outer=42 * MM
    ),
    "foot size along the strings -4 mm must be positive": lambda t: replace(t.bridge, foot_along=-4 * MM),
    "ribs: thickness -1 mm must be positive": lambda t: replace(usual_body(t).ribs, thickness=-1 * MM),
    "arching: height 3 mm at x = 180 mm is not above the edge of 4 mm": lambda t: arching.preset(
        t.outline, 15 * MM, 4 * MM, [(0.1, 13 * MM), (0.18, 3 * MM), (0.25, 13 * MM)]
    ),
    "thickness: edge = -1 mm must be positive": lambda t: thickness.preset(
        t.outline, 3 * MM, 2 * MM, -1 * MM
    ),
    "point (500, 0) mm is outside the field's": lambda t: t.thickness.value(0.5, 0.0),
    "outline: lower edge at x = 50.00 mm": lambda t: Outline(
        t.outline.points + np.array([0.05, 0.0]), t.outline.corners
    ),
    "bar length 400 mm on a body of 355 mm; allowed 30 to 98 %": lambda t: bar_ends(t.outline, 0.4),
}


@pytest.mark.parametrize("words", TOPS)
def test_tops(top, words):
    with pytest.raises(ValueError, match=re.escape(words)):
        TOPS[words](top)


ALONE = {
    "bridge line at 330 mm is not between the ends of the bar at 40 and 315 mm": lambda: profile([0.1], 0.33),
    "places 20 to 330 mm leave the bar": lambda: profile([0.02, 0.33]),
    "body length 100 mm is outside 177.5 to ": lambda: dimensions("violin", 0.1),
    "places must increase; 200 mm is followed by 100 mm": lambda: Gaps([0, 0.2, 0.1], [0, 0, 0]),
    "upper point at x = 100 mm is not above 250 mm": lambda: BarLine(0.25, -0.02, 0.1, -0.015),
    "stations must increase within 0 to 355 mm": lambda: Outline.from_half_widths(
        [0.1, 0.2, 0.4], [0.1, 0.06, 0.08], [0.1, 0.06, 0.08], 0.355
    ),
    "no value at x = 10, y = -20 mm": lambda: SmoothField(
        np.array([0.0, 10.0, 20.0, 30.0]) * MM, np.array([-20.0, 0.0, 20.0, 40.0]) * MM,
        np.array([[1.0] * 4, [np.nan, 1, 1, 1], [1.0] * 4, [1.0] * 4]),
    ),
}  # fmt: skip


@pytest.mark.parametrize("words", ALONE)
def test_alone(words):
    with pytest.raises(ValueError, match=re.escape(words)):
        ALONE[words]()


def test_holes_that_meet_or_leave_are_told_with_the_place(top):
    """The place lies in what they share, or in what is outside."""
    bass = top.sound_holes[0]
    with pytest.raises(ValueError, match="sound holes meet near") as caught:
        replace(top, sound_holes=(bass, moved(bass, x=5 * MM)))
    assert bass.polygon.buffer(0.1 * MM).contains(told_place(caught))
    with pytest.raises(ValueError, match="leaves the plate near") as caught:
        replace(top, sound_holes=(moved(bass, y=-60 * MM),))
    outside = moved(bass, y=-60 * MM).polygon.difference(top.outline.polygon)
    assert outside.buffer(0.1 * MM).contains(told_place(caught))


def test_marks_say_where_they_lie():
    patch = np.array([[100, -20], [140, -20], [140, -5], [100, -5]]) * MM
    assert Mark("patch", patch).where == "x 100 to 140, y -20 to -5 mm"
    assert Mark("crack", np.array([[100, -20.2], [150, -20.0]]) * MM).where == "x 100 to 150, y -20 mm"


def test_an_even_spring_is_a_parabola_open_at_both_ends():
    found = Gaps.even_spring(0.27, 1.0 * MM)
    assert found.gap[[0, -1]] == pytest.approx([1.0 * MM, 1.0 * MM])
    assert np.interp(0.135, found.s, found.gap) == pytest.approx(0.0, abs=0.01 * MM)
    # read between stations
    assert np.interp(0.0675, found.s, found.gap) == pytest.approx(0.25 * MM, abs=0.02 * MM)
    assert found.on_purpose


def test_a_block_presses_on_what_lies_under_its_sides():
    """A block of 40 x 20 mm about (200, 30): a patch of 4 x 4 mm inside or outside each of its sides."""
    block = Block(0.2, 0.03, 0.04, 0.02)
    for x, y in ((181, 30), (219, 30), (200, 21), (200, 39)):
        assert marks_under(block, [place("patch", (x * MM, y * MM), 4 * MM, 4 * MM)]) == ["patch"]
    for x, y in ((177, 30), (223, 30), (200, 17), (200, 43)):
        assert marks_under(block, [place("patch", (x * MM, y * MM), 4 * MM, 4 * MM)]) == []


def test_a_bar_that_misses_the_bridge_line_is_told_with_both(top, bar):
    line = BarLine(0.05, -0.02, 0.3, -0.016)
    with pytest.raises(ValueError, match="bar from 200 to 300 mm does not pass the bridge line at 195 mm"):
        bar_on_line(
            line, (0.2, 0.3), 5.5 * MM, replace(top.bridge, x=0.195), 12 * MM, (3 * MM, 3 * MM), bar.wood
        )
