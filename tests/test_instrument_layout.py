"""Where the bar runs: rules worked by hand, findings, and the trim beside a sound hole."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.errors import GeometryError
from platemodel.instrument import layout
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.hole_clearance import collision, smallest_trim
from platemodel.instrument.layout_checks import check_layout
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bar, preset_top

# Worked by hand for a violin of 355 mm with bouts of 168 and 208 mm, widest lines 71 mm from either edge,
# bridge at 195 mm and upper eyes at 158 mm from the upper edge, bridge 41 mm, bar 5.5 mm. The rules
# themselves are common practice without a source. Printed to 0.1 mm, so 0.05 mm.
PRINTED = 0.05e-3
X_BRIDGE, X_EYES, WIDTH = 0.160, 0.197, 5.5e-3


@pytest.fixture(scope="module")
def top():
    return preset_top("violin")


@pytest.fixture(scope="module")
def line(top):
    return layout.one_seventh(top.outline)


def bar_on(top, line, width=WIDTH):
    return layout.bar_on_line(
        line, layout.bar_ends(top.outline), width, top.bridge, 12e-3, (3e-3, 3e-3), top.wood
    )


def kinds(findings):
    return {f.kind for f in findings}


# --- rules worked by hand -------------------------------------------------------------------------


def test_one_seventh_of_the_half_widths(line):
    assert -line.at(0.284) == pytest.approx(12.0e-3, abs=PRINTED)
    assert -line.at(0.071) == pytest.approx(14.9e-3, abs=PRINTED)


def test_line_at_the_bridge_and_its_angle(line):
    assert -line.at(X_BRIDGE) == pytest.approx(13.7e-3, abs=PRINTED)
    assert np.degrees(line.angle) == pytest.approx(0.77, abs=0.005)


def test_outer_edge_at_the_eyes_and_clearance(line):
    outer = -line.moved_to("outer", WIDTH).at(X_EYES)
    assert outer == pytest.approx(18.7e-3, abs=PRINTED)
    assert 21.0e-3 - outer == pytest.approx(2.3e-3, abs=PRINTED)


def test_which_edge_is_meant_decides_where_the_bar_stands_under_the_foot(line):
    """Inner edge: 1.3 mm inside the foot of a 41 mm bridge; the middle: about 4 mm inside."""
    bridge = Bridge(X_BRIDGE, 41e-3, 11.5e-3, 4.5e-3)
    assert layout.foot_inset(line, bridge, WIDTH) == pytest.approx(1.3e-3, abs=PRINTED)
    middle = layout.BarLine(line.x_lower, line.y_lower, line.x_upper, line.y_upper, "middle")
    assert -middle.moved_to("outer", WIDTH).at(X_BRIDGE) == pytest.approx(16.4e-3, abs=PRINTED)
    assert layout.foot_inset(middle, bridge, WIDTH) == pytest.approx(4.1e-3, abs=PRINTED)


@pytest.mark.parametrize(("kind", "upper", "lower"), [("viola", 13.8, 16.9), ("cello", 24.3, 31.4)])
def test_one_seventh_of_larger_instruments(kind, upper, lower):
    """Worked by hand from 193/236 and 340/440 mm; printed to 0.1 mm."""
    line = layout.one_seventh(Outline.preset(kind))
    assert [-1000 * line.y_upper, -1000 * line.y_lower] == pytest.approx([upper, lower], abs=0.06)


def test_length_rules_of_a_violin(top):
    """7/9 of the body 276 mm, 3/4 266 mm, body less 2 x 40 mm 275 mm."""
    lengths = {
        r: np.diff(layout.bar_ends(top.outline, rule=r))[0]
        for r in ("seven_ninths", "three_quarters", "margins")
    }
    assert [1000 * v for v in lengths.values()] == pytest.approx([276, 266, 275], abs=0.5)
    assert layout.bar_ends(top.outline, 0.270) == pytest.approx((0.0425, 0.3125), abs=1e-6)
    with pytest.raises(ValueError, match="seven_ninths"):
        layout.bar_ends(top.outline, rule="long")
    with pytest.raises(GeometryError, match="360 mm on a body of 355"):
        layout.bar_ends(top.outline, 0.360)


def test_the_foot_wins(top, line):
    moved = layout.bridge_foot_rule(line, top.bridge, WIDTH, inset=1e-3)
    assert layout.foot_inset(moved, top.bridge, WIDTH) == pytest.approx(1e-3, abs=1e-12)
    assert moved.slope == line.slope


def test_references_are_asked_for():
    with pytest.raises(ValueError, match="inner, middle, outer"):
        layout.BarLine(0.071, -0.015, 0.284, -0.012, "left")


def test_uneven_bouts_follow_the_bass_side():
    x = [0.071, 0.193, 0.284]
    outline = Outline.from_half_widths(x, [0.105, 0.056, 0.084], [0.101, 0.056, 0.084], 0.355)
    line = layout.one_seventh(outline)
    # 105/7; the widest line of both halves together lies within a millimetre of the bass half's own.
    assert -line.y_lower == pytest.approx(15.0e-3, abs=PRINTED)


# --- findings -------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["violin", "viola", "cello"])
def test_usual_bar_keeps_every_rule(kind):
    top = preset_top(kind)
    assert check_layout(top, preset_bar(top)) == []


def test_bar_outside_the_foot_and_over_the_eye(top, line):
    found = {f.kind: f for f in check_layout(top, bar_on(top, line.shifted(-3e-3)))}
    # 1.3 mm inside, moved by 3 mm.
    assert found["foot"].value_mm == pytest.approx(1.34 - 3, abs=0.05)
    assert found["foot"].limit_mm == pytest.approx(0.5)
    # 2.3 mm clear, moved by 3 mm: over the opening by 0.7, and 1.5 mm are wanted.
    assert found["hole"].value_mm == pytest.approx(2.34 - 3, abs=0.05)
    assert "over the opening of the bass sound hole by 0.7 mm" in found["hole"].message
    assert f"by up to {1.5 + 3 - 2.34:.1f} mm" in found["hole"].cure


def test_clearance_is_the_distance_to_the_eye_worked_by_hand(top, line):
    """Moved out by 1.5 mm: 2.34 - 1.5 = 0.84 mm left between flank and eye."""
    found = {f.kind: f for f in check_layout(top, bar_on(top, line.shifted(-1.5e-3)))}
    beside = found["hole"]
    assert 0 < beside.value_mm < beside.limit_mm
    assert beside.message.startswith(f"bar {beside.value_mm:.1f} mm from the ")
    assert found["hole"].value_mm == pytest.approx(0.84, abs=0.05)
    assert "stem" not in found["hole"].message


def test_short_and_long_bars_miss_the_end_margins(top, line):
    line = layout.bridge_foot_rule(line, top.bridge, WIDTH)
    for length, margin in ((0.255, 50), (0.300, 27.5)):
        bar = layout.bar_on_line(
            line, layout.bar_ends(top.outline, length), WIDTH, top.bridge, 12e-3, (3e-3, 3e-3), top.wood
        )
        (end,) = [f for f in check_layout(top, bar) if f.kind == "end"]  # one fault, one finding
        assert end.where == "both ends"
        assert end.value_mm == pytest.approx(margin, abs=1e-6)  # (355 - length)/2, exact
        # 355 less twice the nearer of 38 and 43 mm
        assert end.lines == (f"length_mm = {355 - 2 * (43 if margin > 43 else 38):.1f}",)


def test_the_length_to_type_is_measured_along_the_bar(top):
    """14 mm of slant on 269 mm along the body: by Pythagoras 269.4 mm."""
    line = layout.BarLine(0.05, -0.03, 0.305, -0.03 + 14e-3 * 255 / 269)
    bar = layout.bar_on_line(line, (0.05, 0.305), WIDTH, top.bridge, 12e-3, (3e-3, 3e-3), top.wood)
    (end,) = [f for f in check_layout(top, bar) if f.kind == "end"]
    assert end.lines == ("length_mm = 269.4",)


def test_lines_to_type_cure_the_conflict(top, line):
    """The bar that stands where the lines say has the same slant within a tenth, and no such finding."""
    for shift, kind in ((-1.5e-3, "hole"), (-3e-3, "hole"), (2e-3, "foot")):
        bar = bar_on(top, line.shifted(shift))
        fault = next(f for f in check_layout(top, bar) if f.kind == kind)
        typed = dict(t.split(" = ") for t in fault.lines)
        assert (typed["rule"], typed["edge"]) == ('"placed"', '"inner"')
        low, high = (float(typed[f"{end}_end_from_axis_mm"]) * 1e-3 for end in ("lower", "upper"))
        cured = bar_on(top, layout.BarLine(bar.x_start, -low, bar.x_end, -high))
        assert kind not in kinds(check_layout(top, cured))
        assert cured.slope == pytest.approx(bar.slope, abs=0.1e-3 / bar.length)


def test_one_end_off_is_cured_by_its_own_margin(top, line):
    line = layout.bridge_foot_rule(line, top.bridge, WIDTH)
    bar = layout.bar_on_line(line, (30e-3, 0.315), WIDTH, top.bridge, 12e-3, (3e-3, 3e-3), top.wood)
    (end,) = [f for f in check_layout(top, bar) if f.kind == "end"]
    assert end.where == "lower end"
    # from 38 to 315 mm
    assert end.lines == ("length_mm = 277.0", "lower_margin_mm = 38.0")


def test_a_bar_off_the_plate_is_found(top):
    line = layout.BarLine(0.071, -0.075, 0.284, -0.075)
    assert "plate" in kinds(check_layout(top, bar_on(top, line)))


# --- collision and trim ---------------------------------------------------------------------------


def test_no_trim_where_nothing_collides(top):
    hole = top.sound_holes[0]
    bar = preset_bar(top)
    assert collision(bar, hole) is None
    assert smallest_trim(bar, hole) is None


def test_smallest_trim_clears_the_hole_and_not_more(top, line):
    hole, clearance = top.sound_holes[0], 1.5e-3
    bar = bar_on(top, line.shifted(-2e-3))
    hit = collision(bar, hole, clearance)
    trim = smallest_trim(bar, hole, clearance)
    cut = bar.with_trim(trim)
    # 0.03 mm: flank in straight pieces of 0.25 mm along a curve of 5 mm radius.
    assert cut.polygon.distance(hole.polygon) == pytest.approx(clearance, abs=0.03e-3)
    assert collision(cut, hole, clearance) is None
    assert (trim.outer > 0).all()
    assert hit.depth == pytest.approx(bar.width / 2 - trim.outer.min(), abs=1e-9)
    # The stretch: a flank 0.34 - ... off the eye; chord of a circle of radius r + clearance cut at depth d.
    r = hole.upper_eye.diameter / 2 + clearance
    chord = 2 * np.sqrt(r**2 - (r - hit.depth) ** 2)
    assert hit.x_to - hit.x_from == pytest.approx(chord, rel=0.12)
    # The line and the inner flank stay.
    assert cut.at(X_EYES) == bar.at(X_EYES)
    assert cut.flanks(np.array([X_EYES]))[1] == bar.flanks(np.array([X_EYES]))[1]


def test_a_trim_reaches_the_end_of_a_bar_that_ends_beside_the_eye(top, line):
    """One station of full width on either side of the cut, or the bar's end where there is none."""
    whole = bar_on(top, line.shifted(-2e-3))
    inside = smallest_trim(whole, top.sound_holes[0], 1.5e-3)
    assert inside.outer[[0, -1]] == pytest.approx(whole.width / 2)
    assert (inside.outer[1:-1] < whole.width / 2).all()
    heights = np.full(2, 5e-3)
    short = replace(whole, x_start=0.197, y_start=whole.at(0.197), stations=np.array([0.197, whole.x_end]),
                    heights=heights)
    assert smallest_trim(short, top.sound_holes[0], 1.5e-3).stations[0] == pytest.approx(0.197)
    short = replace(whole, x_end=0.197, y_end=whole.at(0.197), stations=np.array([whole.x_start, 0.197]),
                    heights=heights)
    assert smallest_trim(short, top.sound_holes[0], 1.5e-3).stations[-1] == pytest.approx(0.197)


def test_a_trim_that_would_cut_through_is_not_offered(top, line):
    found = {f.kind: f for f in check_layout(top, bar_on(top, line.shifted(-4.5e-3)))}
    assert "A trim of the flank is no way out" in found["hole"].cure


def test_findings_vanish_once_trimmed(top, line):
    bar = bar_on(top, line.shifted(-1.5e-3))
    cut = bar.with_trim(smallest_trim(bar, top.sound_holes[0]))
    assert "hole" in kinds(check_layout(top, bar))
    assert "hole" not in kinds(check_layout(top, cut))
