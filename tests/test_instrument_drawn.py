"""Drawn shapes at key places: their strokes are taste, so no formula finds a slip in them.

The places of outlines, holes, arching and thickness are regressions, computed on 2026-12-01. They are kept to
0.01 mm, well under the width of a pencil line and well above what another version of a spline moves.
Distances of a layout and places of a flex test follow from the sizes by hand.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from platemodel.errors import GeometryError
from platemodel.instrument import arching, thickness
from platemodel.instrument.body import usual_body
from platemodel.instrument.flex_test import FlexReading, FlexTest, reading_sd, usual_flex_test
from platemodel.instrument.layout import one_seventh
from platemodel.instrument.layout_distances import edge_on_marks, layout_distances
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.side_view import side_view
from platemodel.instrument.strings import Post
from tests.round_bar import round_bar

MM = 1e-3
LINE = 0.01  # mm


def numbers(text):
    """Numbers by name, from lines ``name: 1 2 3`` that may run on in the next line."""
    rows = text.strip().replace("\n  ", " ").split("\n")
    return {name: np.array(rest.split(), float) for name, _, rest in (row.partition(":") for row in rows)}


#: Of the body length: where half widths are taken.
ALONG = np.array([0.01, 0.05, 0.1, 0.2, 0.3, 0.38, 0.45, 0.5, 0.56, 0.62, 0.7, 0.8, 0.9, 0.95, 0.99])
#: Of the hole's length: where its edges are taken.
ACROSS = (0.03, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.97)
#: Of the body length, and of the half width there: where fields are taken.
X, Y = np.array([0.03, 0.1, 0.25, 0.45, 0.6, 0.8, 0.95]) * 0.355, np.array([0, 0.3, 0.6, 0.85])
# All in mm. Half widths; the corners of the treble side. Corners of a bass hole; middles of its eyes; box;
# edges across at ACROSS. Fields line by line, from the axis outwards. Distances: value, first, second point.
OUTLINES = numbers("""
violin half widths: 37.727 74.634 93.446 104 95.459 87.919 77.323 57.772 56.279 60.979 74.771 84 73.435
  57.279 28.878
violin corners: 153.005 92.56 232.525 77.28 226.684 73.908 158.846 89.188
cello half widths: 79.693 157.636 197.53 220 201.894 185.947 163.262 121.285 117.798 123.776 151.08 170
  147.757 115.133 58.548
cello corners: 325.405 195.8 494.525 156.4 482.102 149.228 337.828 188.628
""")
HOLES = numbers("""
violin corners: 197.162 -33.202 131.45 -52.692 133.995 -47.295 199.001 -26.811
violin eyes: 197 -24.25 134.22 -56.238
violin bounds: 127.2 -60.736 202.2 -21.001
violin edges: -57.001 -44.45 -60.708 -51.771 -47.241 -42.414 -46.632 -41.421 -45.636 -39.689 -43.755
  -37.121 -41.209 -35.078 -39.271 -34.003 -38.221 -33.398 -26.538 -21.968 -36.037 -22.823
cello corners: 423.325 -69.244 303.427 -104.561 308.235 -95.03 427.002 -58.122
cello eyes: 423 -53 308.66 -111.259
cello bounds: 295.4 -119.754 433.4 -46.52
cello edges: -112.496 -89.693 -119.727 -102.795 -94.956 -86.008 -93.84 -84.217 -92.022 -81.035 -88.559
  -76.311 -83.867 -72.586 -80.364 -70.649 -78.45 -69.539 -58.528 -47.489 -74.553 -50.763
""")
FIELDS = numbers("""
arch: 4.745 8.713 13.993 15.497 15.333 12.343 5.728 4.568 7.596 12.059 13.383 13.587 10.658 5.306 4.15
  5.041 7.147 7.687 8.479 6.395 4.393 3.984 3.93 3.931 3.779 3.728 3.804 3.947
thick: 2.806 2.602 2.66 2.994 2.807 2.606 2.602 2.886 2.601 2.633 2.877 2.769 2.604 2.605 3.25 2.553
  2.529 2.69 2.693 2.581 2.73 3.774 2.633 2.42 3.522 3.06 2.544 3.572
five: 4.564 7.498 12.333 15.167 15.608 11.921 5.518 4.428 6.612 10.636 13.09 13.842 10.296 5.143 4.112
  4.645 6.454 7.531 8.646 6.223 4.343 3.987 3.94 3.919 3.787 3.716 3.813 3.952
two: 4.592 8.25 12.97 14.702 15.064 12.429 5.76 4.449 7.246 11.19 12.674 13.327 10.739 5.325 4.114 4.997
  6.778 7.285 8.267 6.485 4.373 3.988 3.936 3.936 3.749 3.617 3.787 3.952
lop: 4.746 8.713 13.993 15.497 15.333 12.343 5.73 4.394 7.093 12.132 13.458 13.461 10.584 5.244 3.986
  4.348 7.35 7.898 7.894 6.136 4.24 3.987 4.073 3.971 3.886 3.419 3.716 3.972
lop_bass: 4.395 7.111 12.155 13.506 13.512 10.627 5.249 3.986 4.39 7.468 8.13 8.231 6.34 4.254 3.988
  4.064 4.02 4.059 3.568 3.77 3.97
""")
DISTANCES = numbers("""
half_upper_bass: 83.999 283.905 0 283.905 -83.999
half_upper_treble: 83.999 283.905 0 283.905 83.999
half_waist_bass: 56 189.949 0 189.949 -56
half_waist_treble: 56 189.949 0 189.949 56
half_lower_bass: 104 71 0 71 -104
half_lower_treble: 104 71 0 71 104
stop: 195 160 0 355 0
bridge_lower: 160 160 0 0 0
eye_spacing: 42 197 -21 197 21
seventh_upper: 12 283.905 0 283.905 -12
seventh_lower: 14.857 71 0 71 -14.857
inner_upper: 12.337 283.905 0 283.905 -12.337
outer_upper: 17.837 283.905 0 283.905 -17.837
inner_bridge: 14 160 0 160 -14
outer_bridge: 19.5 160 0 160 -19.5
inner_lower: 15.194 71 0 71 -15.194
outer_lower: 20.694 71 0 71 -20.694
foot_outer: 1 160 -20.5 160 -19.5
foot_inner: 5 160 -9 160 -14
eye: 1.996 196.893 -19.005 196.92 -21.001
stem: 14.21 196.809 -19.006 197 -33.215
end_lower: 39.233 40 -18.36 0.767 -18.36
margin_lower: 40 40 0 0 0
end_upper: 39.196 315 -14.67 354.196 -14.67
margin_upper: 40 315 0 355 0
bar_length: 275.025 40 -18.36 315 -14.67
post_axis: 14.75 152 0 152 14.75
post_foot: 2.75 157.75 14.75 155 14.75
""")


@pytest.fixture(scope="module")
def violin():
    return preset_top("violin")


@pytest.mark.parametrize("kind", ["violin", "cello"])
def test_outlines(kind):
    made = Outline.preset(kind)
    bass, treble = made.half_width(ALONG * made.body_length)
    assert 1e3 * treble == pytest.approx(OUTLINES[f"{kind} half widths"], abs=LINE)
    assert 1e3 * bass == pytest.approx(OUTLINES[f"{kind} half widths"], abs=LINE)
    corners = made.points[made.corners]
    found = 1e3 * corners[corners[:, 1] > 0].ravel()
    assert found == pytest.approx(OUTLINES[f"{kind} corners"], abs=LINE)


@pytest.mark.parametrize("kind", ["violin", "cello"])
def test_sound_holes(kind):
    hole = preset_top(kind).sound_holes[0]
    x0, _, x1, _ = hole.polygon.bounds
    assert 1e3 * hole.points[hole.corners].ravel() == pytest.approx(HOLES[f"{kind} corners"], abs=LINE)
    eyes = (hole.upper_eye.x, hole.upper_eye.y, hole.lower_eye.x, hole.lower_eye.y)
    assert 1e3 * np.array(eyes) == pytest.approx(HOLES[f"{kind} eyes"], abs=LINE)
    assert 1e3 * np.array(hole.polygon.bounds) == pytest.approx(HOLES[f"{kind} bounds"], abs=LINE)
    edges = []
    for x in (x0 + share * (x1 - x0) for share in ACROSS):
        cut = hole.polygon.intersection(shapely.LineString([(x, -1), (x, 1)]))
        edges += sorted(shapely.get_coordinates(cut)[:, 1])
    assert 1e3 * np.array(edges) == pytest.approx(HOLES[f"{kind} edges"], abs=LINE)


def uneven():
    """Outline of a top that is wider on its bass side."""
    x = [0.02, 0.071, 0.12, 0.19, 0.25, 0.284, 0.34]
    bass = [0.055, 0.104, 0.0945, 0.057, 0.0717, 0.084, 0.0485]
    treble = [0.055, 0.1025, 0.0935, 0.055, 0.0707, 0.082, 0.0485]
    return Outline.from_half_widths(x, bass, treble, 0.355)


MADE = {
    "arch": lambda line: arching.preset(line, 15.5 * MM, 4 * MM),
    "thick": lambda line: thickness.preset(line, 3 * MM, 2.6 * MM, 4 * MM),
    "five": lambda line: arching.preset(
        line, 15.5 * MM, 4 * MM,
        ((0.05, 9 * MM), (0.12, 14 * MM), (0.18, 15.5 * MM), (0.25, 14.5 * MM), (0.31, 9 * MM)),
    ),
    "two": lambda line: arching.preset(
        line, 15.5 * MM, 4 * MM, ((0.12, 14 * MM), (0.25, 14.5 * MM)), 8 * MM, 0.3 * MM
    ),
    "lop": lambda _: arching.preset(uneven(), 15.5 * MM, 4 * MM),
    "lop_bass": lambda _: arching.preset(uneven(), 15.5 * MM, 4 * MM),
}  # fmt: skip


@pytest.mark.parametrize("name", MADE)
def test_fields(violin, name):
    field, half = MADE[name](violin.outline), violin.outline.half_width(X)[1]
    lines = -Y[1:] if name == "lop_bass" else Y
    found = [1e3 * field.value(X, share * half) for share in lines]
    assert np.ravel(found) == pytest.approx(FIELDS[name], abs=LINE)


def test_every_distance_of_a_layout_has_its_two_points(violin):
    """Widest lines 71 mm from the ends; the bar's outer edge 1 mm inside a foot that ends at 20.5 mm."""
    found = layout_distances(violin, round_bar(violin), Post(behind=8 * MM, diameter=6 * MM))
    assert [d.key for d in found] == list(DISTANCES)
    for d in found:
        assert 1e3 * np.r_[d.value, d.p, d.q] == pytest.approx(DISTANCES[d.key], abs=LINE), d.key


@pytest.mark.parametrize("end", ["y_start", "y_end"])
def test_an_edge_lies_on_the_marks_only_if_it_lies_on_both(violin, end):
    """The bar turned about one end by 1 mm at the other misses that end's mark; 0.2 mm beside is on it."""
    line = one_seventh(violin.outline).moved_to("middle", 5.5 * MM)
    bar = preset_bar(violin)
    bar = replace(bar, y_start=float(line.at(bar.x_start)), y_end=float(line.at(bar.x_end)))
    assert edge_on_marks(violin, bar) == "inner"
    for by in (-1 * MM, 1 * MM):
        assert edge_on_marks(violin, replace(bar, **{end: getattr(bar, end) + by})) is None
    for by, edge in (
        (0.2, "inner"),
        (0.3, None),
        (-0.2, "inner"),
        (-0.3, None),
        (2.75, "middle"),
        (5.5, "outer"),
    ):
        other = replace(bar, y_start=bar.y_start + by * MM, y_end=bar.y_end + by * MM)
        assert edge_on_marks(violin, other) == edge


def test_places_of_flex_tests(violin):
    """8 mm inside the edge: 104 and 84 mm half widths at 71 and 283.9, 56 at 189.9 mm (0.05 as read)."""
    low, up, waist = (71, 96), (283.9, 76), (189.95, 48)
    feet = {
        "along": ([(8, 0), (337.25, -49.28), (337.25, 49.28)], (160, 0)),
        "across": ([(low[0], -low[1]), (up[0], -up[1]), waist], (160, 0)),
        "twist": ([(low[0], -low[1]), low, up], (up[0], -up[1])),
        "foot": ([(low[0], -low[1]), (up[0], -up[1]), waist], (160, -14.75)),
    }
    for kind, (pegs, load) in feet.items():
        test = usual_flex_test(violin, kind)
        assert 1e3 * test.pegs == pytest.approx(np.array(pegs, float), abs=0.05), kind
        assert 1e3 * test.load == pytest.approx(np.array(load, float), abs=0.05), kind
        assert (test.read == test.load).all()
        assert test.held == (kind == "twist")
        test.check_rests()


def test_a_plate_that_would_tip_is_refused_with_both_places():
    pegs = np.array([(0, 0), (300, -50), (300, 50)]) * MM
    tipping = FlexTest("along", pegs, np.array([100, 40]) * MM, np.zeros(2))
    words = r"weight at \(100, 40\) mm stands outside .* lifts the plate off the one at \(300, -50\) mm"
    with pytest.raises(GeometryError, match=words):
        tipping.check_rests()
    replace(tipping, held=True).check_rests()
    replace(tipping, load=np.array([200, 0]) * MM).check_rests()
    # Shares of a weight a third of the way along: two thirds on the single peg.
    assert tipping.shares(np.array([100, 0]) * MM) == pytest.approx([2 / 3, 1 / 6, 1 / 6])
    for y, fine in ((0, False), (1e-3, False), (2, True)):
        row = replace(tipping, pegs=np.array([(0, 0), (150, y), (300, 0)]) * MM)
        if fine:
            assert row.shares(row.pegs[1]) == pytest.approx([0, 1, 0], abs=1e-9)
        else:
            with pytest.raises(GeometryError, match="nearly on one line"):
                row.shares(row.load)
    with pytest.raises(ValueError, match="pegs of a flex test"):
        replace(tipping, pegs=pegs[:2])
    with pytest.raises(ValueError, match="load of a flex test"):
        replace(tipping, load=np.array([np.nan, 0]))


def test_doubt_of_a_flex_reading():
    """A dial's 0.01 mm and 2 % of 1 mm; a fifth by hand. 1 kg is 9.80665 N."""
    assert reading_sd(1 * MM) == pytest.approx(np.hypot(0.01, 0.02) * MM)
    assert reading_sd(1 * MM, by_hand=True) == pytest.approx(0.2 * MM)
    test = FlexTest("along", np.zeros((3, 2)), np.zeros(2), np.zeros(2))
    reading = FlexReading(test, 9.80665, 2 * MM, 0.1 * MM)
    assert reading.weight_g == pytest.approx(1000)
    assert reading.flexibility == pytest.approx(2 * MM / 9.80665)
    assert reading.relative_sd == pytest.approx(0.05)


def test_plan_of_blocks(violin):
    """Ribs 1 mm under an overhang of 2.5: blocks begin 3.5 mm inside the ends, 15 and 17 mm deep."""
    shapes = usual_body(violin).footprints
    assert 1e3 * np.array(shapes["lower"].bounds) == pytest.approx([3.5, -23, 18.5, 23], abs=LINE)
    assert 1e3 * np.array(shapes["upper"].bounds) == pytest.approx([334.5, -25, 351.5, 25], abs=LINE)
    tips = shapely.points(violin.outline.points[violin.outline.corners])
    for name in ("corner 1", "corner 2", "corner 3", "corner 4"):
        reach = shapely.distance(
            shapely.points(shapely.get_coordinates(shapes[name])), shapely.union_all(tips)
        )
        assert 1e3 * reach.max() == pytest.approx(18, abs=0.05)  # a circle of 64 corners


def test_the_blank_holds_the_bar_with_room(violin):
    """10 mm over at either end, 0.3 mm over in width; half a millimetre of saw cut over the seat."""
    bar = preset_bar(violin)
    view = side_view(violin, bar)
    assert 1e3 * view.blank.width == pytest.approx(5.8)
    assert view.blank.length == pytest.approx(view.middle[-1, 0] + 0.02)
    seat = max(view.bass[:, 1].max(), view.treble[:, 1].max())
    assert 1e3 * (view.blank.height - seat) == pytest.approx(0.5)
    assert view.rough_edge[:, 1].min() == pytest.approx(0.0, abs=1e-9)
    # 0.001 mm: the millimetre is taken square to the plate, drawn square to a chord 0.07 degrees off
    assert 1e3 * (view.final_edge - view.rough_edge)[:, 1] == pytest.approx(1.0, abs=0.001)
    for line, flank in zip(view.saw_lines, (view.bass, view.treble), strict=True):
        assert 1e3 * (line - flank) == pytest.approx(np.tile([0.0, 0.5], (len(flank), 1)))
    rise = view.seat.middle[-1] - view.seat.middle[0]
    assert np.tan(view.chord_angle) == pytest.approx(rise / bar.length, rel=1e-3)
