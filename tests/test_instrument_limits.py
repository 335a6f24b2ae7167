"""What a shape is refused for, with its size and what is allowed; and how far each limit reaches."""

import re
from dataclasses import replace

import numpy as np
import pytest

from platemodel.instrument import arching, thickness
from platemodel.instrument.bar_cuts import place_named, with_bridge_height
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.body import check_figures, usual_body
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.field import SmoothField
from platemodel.instrument.gaps import Gaps
from platemodel.instrument.layout import BarLine, bar_ends
from platemodel.instrument.loops import checked_polygon, trace_loop
from platemodel.instrument.marks import Mark
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.profile import profile_power
from platemodel.instrument.seat import bar_stations, seat_curve
from platemodel.instrument.side_view import side_view
from platemodel.instrument.sound_hole import SoundHole
from platemodel.instrument.strings import (
    Post,
    StringSet,
    downforce,
    downforce_of_sides,
    tension_of,
    usual_angle,
)

MM = 1e-3
TOP = preset_top("violin")
BAR = preset_bar(TOP)  # from 40 to 315 mm
LEVEL = replace(BAR, heights=np.full(len(BAR.heights), 5 * MM))
LINE, HOLE, VIOLIN = TOP.outline, TOP.sound_holes[0], dimensions("violin")
SQUARE = np.array([(0, 0), (100, 0), (100, 50), (0, 50)]) * MM
CROSSED = SQUARE[[0, 2, 1, 3]]
TENS = np.arange(6.0) / 100


def square_field(x, y, shape):
    return SmoothField(np.array(x, float) / 100, np.array(y, float) / 100, np.ones(shape))


def scattered(x, y, box):
    return SmoothField.from_points(x, y, np.ones(len(x)), box, 0.1)


REFUSED = {
    "kind 'lute' is unknown; allowed are violin, viola, cello": lambda: dimensions("lute"),
    "body length 500 mm is outside 177.5 to 497 mm for a violin": lambda: dimensions("violin", 0.5),
    "arch of 4.1 mm is not above its edge of 4.2 mm": lambda: check_figures(
        "violin", 0.355, {"back_arch": 4.1 * MM, "back_edge": 4.2 * MM}
    ),
    "linings 2 by 16 mm do not fit twice into ribs of 30 mm": lambda: check_figures(
        "violin", 0.355, {"lining_height": 16 * MM}
    ),
    "linings -1 by 7.5 mm": lambda: replace(usual_body(TOP).ribs, lining_width=-1 * MM),
    "width across 11.5 mm does not fit twice into the span over both feet 20 mm": lambda: Bridge(
        0.16, 20 * MM, 11.5 * MM, 4 * MM
    ),
    "grid of 4 by 5 lines (at least 4 by 4) does not fit values (4, 4)": lambda: square_field(
        range(4), range(5), (4, 4)
    ),
    "grid of 3 by 5 lines": lambda: square_field(range(3), range(5), (3, 5)),
    "grid lines x must increase": lambda: square_field([0, 1, 1, 2], range(4), (4, 4)),
    "grid lines y must increase": lambda: square_field(range(4), [0, 1, 3, 2], (4, 4)),
    "point (10, 50) mm is outside the field's box x 0 to 30, y 10 to 40 mm": lambda: square_field(
        range(4), range(1, 5), (4, 4)
    ).value(0.01, 0.05),
    "5 places and 5 values; at least 6": lambda: scattered(TENS[:5], TENS[:5], (0, 0, 1, 1)),
    "point 6 at (250, 10) mm with value 1 lies outside the box x 5 to 200, y -50 to 60 mm": lambda: scattered(
        np.array([10, 20, 30, 10, 20, 250]) * MM,
        np.array([0, 0, 0, 10, 10, 10]) * MM,
        (0.005, -0.05, 0.2, 0.06),
    ),
    "all points lie close to one line": lambda: scattered(TENS, TENS, (0, 0, 0.1, 0.1)),
    "gaps need at least 3 places with one gap each; found 2": lambda: Gaps([0, 0.1], [0, 0]),
    "a place or a gap is no finite number": lambda: Gaps([0, 0.1, 0.2], [0, np.nan, 0]),
    "gap -0.3 mm at 100 mm is below zero": lambda: Gaps([0, 0.1, 0.2], [0, -0.3 * MM, 0]),
    "reference 'edge'; say which edge is meant: inner, middle, outer": lambda: BarLine(0, 0, 0.1, 0, "edge"),
    "reference 'edge'; allowed are inner, middle, outer": lambda: BarLine(0, 0, 0.1, 0).moved_to(
        "edge", 5 * MM
    ),
    "length rule 'half'; allowed are seven_ninths, three_quarters, margins": lambda: bar_ends(
        LINE, rule="half"
    ),
    "bar length 100 mm on a body of 355 mm; allowed 30 to 98 %": lambda: bar_ends(LINE, 0.1),
    "hole: needs at least 3 points (n, 2), found an array of shape (2, 2)": lambda: checked_polygon(
        SQUARE[:2], "hole"
    ),
    "hole: point 3 is not a number": lambda: checked_polygon(
        np.r_[SQUARE[:2], [[0, np.nan]], SQUARE], "hole"
    ),
    "near x = 50.0, y = 25.0 mm": lambda: checked_polygon(CROSSED, "hole"),
    "hole: found an array of shape (4, 2); needs at least 8 points": lambda: trace_loop(
        SQUARE, None, 0.01, 0.001, 1e-4, "hole"
    ),
    "mark 'dent'; allowed are crack, cleat, patch, worm, post patch, old bar": lambda: Mark("dent", SQUARE),
    "crack: 1 points; at least 2 are needed": lambda: Mark("crack", SQUARE[:1]),
    "patch: 2 points; at least 3 are needed": lambda: Mark("patch", SQUARE[:2]),
    "crack: two of its points are the same": lambda: Mark("crack", SQUARE[[0, 1, 1]]),
    "patch: its corners cross": lambda: Mark("patch", CROSSED),
    "2 stations, 3 bass and 1 treble half widths; at least 3": lambda: Outline.from_half_widths(
        [0.1, 0.2], [0.1, 0.06, 0.05], [0.1], 0.355
    ),
    "bass corners at x = 240 and 160 mm; lower then upper": lambda: Outline.from_half_widths(
        [0.07, 0.19, 0.28], [0.104, 0.056, 0.084], [0.104, 0.056, 0.084], 0.355, bass_corners=(0.24, 0.16)
    ),
    "bass half width 156 mm at x = 190 mm is far from 56 mm of a violin": lambda: Outline.from_half_widths(
        [0.071, 0.19, 0.284], [0.104, 0.156, 0.084], [0.104, 0.056, 0.084], 0.355
    ),
    "profile 'round' is unknown; allowed are straight, medium, parabola, full or": lambda: profile_power(
        "round"
    ),
    "sound hole: side 'left'; allowed are 'bass' and 'treble'": lambda: replace(HOLE, side="left"),
    "its middle lies at y = -41.33 mm, but its side is 'treble'": lambda: replace(HOLE, side="treble"),
    "only 1.23 mm are left for the wing beside an eye of 14 mm": lambda: SoundHole.preset(
        VIOLIN, "bass", lower_eye=14 * MM
    ),
    "lines at 10 to 200 mm come closer than 14.9 mm": lambda: arching.preset(
        LINE, 15 * MM, 4 * MM, ((0.01, 9 * MM), (0.2, 15 * MM))
    ),
    "lines at 50 to 350 mm come closer than 14.9 mm": lambda: arching.preset(
        LINE, 15 * MM, 4 * MM, ((0.05, 9 * MM), (0.35, 15 * MM))
    ),
    "narrower than 50 mm in one or more places, too narrow for an arch between channels on a body of 355": (
        lambda: arching.preset(Outline.preset("violin", 0.355, 0.05, 0.03, 0.06), 15 * MM, 4 * MM)
    ),
    "thickness -0.5 mm at (200, 10) mm": lambda: thickness.from_points(
        LINE, np.array([0.1, 0.2]), np.array([0, 0.01]), np.array([2, -0.5]) * MM
    ),
    "string mass 0.0 must be positive": lambda: tension_of(0.0, 0.3, 440),
    "string length -0.3 must be positive": lambda: tension_of(1, -0.3, 440),
    "string frequency 0 must be positive": lambda: tension_of(1, 0.3, 0),
    "1 names for 1 tensions; give one each, two at least": lambda: StringSet(("G",), (40,), ""),
    "'lute' ''; the table has cello medium, viola medium, violin steel, violin synthetic": (
        lambda: StringSet.usual("lute")
    ),
    "angle for 'lute'; the table has violin, viola, cello": lambda: usual_angle("lute"),
    "string angle 190 degrees": lambda: downforce(220, np.radians(190)),
    "back angle -28.65 degrees: allowed -20 to 45": lambda: downforce_of_sides(220, 0.2, -0.5),
    "front -5.73 and back 2.865 degrees leave no push": lambda: downforce_of_sides(220, -0.1, 0.05),
    "post diameter -0.001 m": lambda: Post(diameter=-1 * MM),
    "stations (56,) and heights (55,) must be equally long": lambda: replace(BAR, heights=BAR.heights[:-1]),
    "place 'middle': allowed are all along, both flanks, lower flank, upper flank, both ends": (
        lambda: place_named("middle")
    ),
    "does not rise between its ends, so its height under the bridge": lambda: with_bridge_height(
        LEVEL, 6 * MM, 0.16
    ),
    "the bar is highest at an end (or of even height)": lambda: bar_of_height(LEVEL, 6 * MM),
}


@pytest.mark.parametrize("words", REFUSED)
def test_refused_with_size_and_what_is_allowed(words):
    with pytest.raises(ValueError, match=re.escape(words)):
        REFUSED[words]()


# A try of one number, what is refused below, what is just allowed at either end, what is refused above.
LIMITS = {
    "body length, mm": (lambda v: dimensions("violin", v * MM), 177.4, 177.6, 496.9, 497.1),
    "section fill": (lambda v: replace(BAR, section_fill=v), 0.39, 0.4, 1.0, 1.01),
    "bar length, mm: 30 to 98 %": (lambda v: bar_ends(LINE, v * MM), 106, 107, 347, 348),
    "profile power": (profile_power, 0.49, 0.5, 10, 10.01),
    "pitch of stations, mm: half the bar": (lambda v: bar_stations(BAR, 0.16, v * MM), 0.49, 0.5, 137.5, 138),
    "spring, mm": (lambda v: seat_curve(TOP, BAR, spring=v * MM), -0.1, 0, 5, 5.1),
    "roughing, mm": (lambda v: side_view(TOP, BAR, allowance=v * MM), -0.1, 0, 5, 5.1),
    "side's angle, degrees": (lambda v: downforce_of_sides(1, np.radians(v), 0.5), -20.1, -20, 45, 45.3),
    "included angle, degrees": (lambda v: downforce(1, np.radians(v)), 90, 90.1, 180, 180.1),
    "place on a field, mm": (
        lambda v: square_field(range(4), range(4), (4, 4)).value(v * MM, 0.01), -0.01, 0, 30, 30.01
    ),
    "half width at the waist, mm: 0.6 to 1.6 of 56": (
        lambda v: Outline.from_half_widths(
            [0.071, 0.19, 0.284], [0.104, v * MM, 0.084], [0.104, 0.056, 0.084], 0.355
        ), 33.5, 33.7, 89.5, 89.7,
    ),
    "lower corner, mm: over a fifth, under the upper one": (
        lambda v: Outline.from_half_widths(
            [0.071, 0.19, 0.284], [0.104, 0.056, 0.084], [0.104, 0.056, 0.084], 0.355, "violin",
            (v * MM, 0.232),
        ), 71, 100, 180, 232,
    ),
    "a line of the arch, mm: two channels from the ends": (
        lambda v: arching.preset(LINE, 15 * MM, 4 * MM, ((v * MM, 10 * MM),)), 14.9, 15, 340, 340.1
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "low", "high"), [("violin", 177.5, 497), ("viola", 202.5, 567), ("cello", 377.5, 1057)]
)
def test_a_body_as_long_as_the_message_allows_is_allowed(kind, low, high):
    """1.4 of 355 mm comes out a hair below 497 mm in binary; what is printed as allowed must be."""
    for body in (low, high):
        assert dimensions(kind, body * MM).body_length == pytest.approx(body * MM, rel=1e-12)
    with pytest.raises(ValueError, match=f"is outside {low:g} to {high:g} mm for a {kind}"):
        dimensions(kind, (high + 0.001) * MM)


@pytest.mark.parametrize("name", LIMITS)
def test_a_limit_reaches_so_far(name):
    make, below, low, high, above = LIMITS[name]
    make(low)
    make(high)
    for value in (below, above):
        with pytest.raises(ValueError, match=r"\d"):
            make(value)


# Only above zero.
POSITIVE = {
    "bar width": lambda v: replace(BAR, width=v),
    "bar heights": lambda v: replace(BAR, heights=np.r_[v, BAR.heights[1:]]),
    "foot along": lambda v: replace(TOP.bridge, foot_along=v),
    "foot across": lambda v: replace(TOP.bridge, foot_length_across=v),
    "rib": lambda v: replace(usual_body(TOP).ribs, thickness=v),
    "centre": lambda v: thickness.preset(LINE, v, 2.6 * MM, 4 * MM),
    "tension": lambda v: StringSet(("G", "D"), (v, 40.0), ""),
    "post": lambda v: Post(diameter=v),
    "stiffness of a post": lambda v: Post(stiffness=v),
}


@pytest.mark.parametrize("name", POSITIVE)
def test_nothing_is_not_enough(name):
    POSITIVE[name](0.5 * MM)
    for value in (0.0, -0.5 * MM):
        with pytest.raises(ValueError, match=r"must be positive|does not fit twice"):
            POSITIVE[name](value)
