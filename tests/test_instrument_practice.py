"""Figures of practice, limits and what is taken where nothing is given, held against a second copy of them.

Most are common practice without a source: no reckoning finds a slip of the keyboard in them, so a figure is
changed in two places, on purpose.
"""

import importlib
import inspect
from operator import attrgetter

import numpy as np
import pytest

from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.body import usual_body
from platemodel.instrument.body_dimensions import body_dimensions
from platemodel.instrument.dimensions import STATUS, dimensions
from platemodel.instrument.layout import bar_ends
from platemodel.instrument.presets import preset_bar, preset_top

ROOM = "platemodel.instrument"
KINDS = ("violin", "viola", "cello")
# mm: name, violin, viola, cello, status of violin and viola, status of the cello.
TOP = """
    body_length 355 405 755 table table
    upper 168 193 340 table table
    middle 112 131 235 table memory
    lower 208 236 440 table table
    stop 195 222 400 table memory
    eye_spacing 42 49 93 table memory
    eye_line 158 180 332 practice practice
    hole_length 75 81 138 table memory
    upper_eye 6.5 7.3 13 practice practice
    lower_eye 9 10 17 practice practice
    stem_width 6.5 7 12 practice practice
    foot_span 41 47 90.5 table memory
    foot_along 4.5 5.5 11 table memory
    foot_across 11.5 13 27 table memory
    arch 15.5 17 26.5 table memory
    edge 4 4 4.8 table memory
    centre 3 3.2 4.8 table memory
    bouts 2.6 2.6 3.8 table memory
    bar_length 275 312 580 table memory
    bar_width 5.5 6 11 table memory
    bar_height 12 14 25 table memory
    bar_end 3 3.5 6 table memory
    string_spacing 34 37 47 memory memory
    post_behind 8 9.5 16 practice practice
    post_diameter 6 6.5 11 practice practice
"""
# mm and g
BODY = """
    rib_lower 32 38 118 recalled memory
    rib_upper 30 36 114 recalled memory
    rib_thickness 1 1.1 1.5 recalled memory
    lining_width 2 2 3 practice practice
    lining_height 7.5 8 15 practice practice
    overhang 2.5 3 4.5 practice practice
    upper_block_along 17 19 35 practice practice
    upper_block_across 50 52 90 practice practice
    lower_block_along 15 17 30 practice practice
    lower_block_across 46 48 90 practice practice
    corner_block 18 20 35 practice practice
    back_arch 15 16.5 27 recalled memory
    back_centre 4.4 4.6 6.8 recalled memory
    back_bouts 2.6 2.8 4 recalled memory
    back_edge 4 4 4.8 practice practice
    bridge_height 33 38 90 recalled memory
    nut_from_edge 130 148 280 recalled memory
    saddle_height 3 3.5 7 practice practice
    neck_width 26 28 32 practice practice
    neck_depth 20 21 29 practice practice
    fingerboard_length 270 300 580 recalled memory
    fingerboard_width 32 35 46 practice practice
    fingerboard_depth 7 7.5 11 practice practice
    head_mass 70 90 400 memory memory
    head_length 105 120 230 practice practice
"""
CONSTANTS = {
    "arching": {"CREST": 0.48, "FULLNESS": 3, "CHANNEL_WIDTH": 0.021, "CHANNEL_DEPTH": 0.0014},
    "bar_cuts": {"STEPS": 41, "TELLS": 0.3},
    "bar_range": {"PITCH": 80},
    "bar_shape": {"LEAST_END": 2e-3},
    "candidate_lines": {"MOST": 4, "SAME": 0.3e-3, "FOOT_INSET": 1e-3, "OVER_HOLE": 0.2},
    "cut_list": {"END_RUN": 20e-3},
    "dimensions": {"VIOLIN_BODY": 0.355},
    "f_shape": {"LEAVE": np.radians(-35), "MEET": np.radians(52)},
    "flex_test": {
        "WEIGHT": 10e-3, "PEG": 6e-3, "INSET": 8e-3, "DIAL_SD": 0.01e-3, "WEIGHT_SD": 0.02, "HAND_SD": 0.2,
    },
    "gaps": {"FEWEST": 3},
    "hole_clearance": {"CLEARANCE": 1.5e-3, "SLACK": 0.05e-3, "LEAST_WIDTH": 0.6},
    "layout": {"SEVENTH": 1 / 7},
    "layout_checks": {"FOOT_INSET": (0.5e-3, 1.5e-3), "END_MARGIN": (38e-3, 43e-3)},
    "layout_cures": {"STEP": 0.1e-3, "MOST_SHIFT": 3},
    "layout_distances": {"ON_MARKS": 0.25e-3},
    "loops": {"CORNER": np.radians(42)},
    "mark_checks": {"RUNS_ON": 25e-3, "BESIDE": 0.5, "CLEAR_OF_CRACK": 2e-3},
    "outline_preset": {
        "LOWER_LINE": 0.2, "UPPER_LINE": 0.8, "WAIST_LINE": 0.535, "LOWER_CORNER": 0.431,
        "UPPER_CORNER": 0.655, "CORNER_WIDTH": 0.019, "SPACING": 0.002,
    },
    "rim": {"MARGIN": 0.045, "PITCH": 0.0085, "READ": 0.03},
    "seat": {"MOST_SPRING": 5e-3},
    "side_view": {
        "ROUGHING": 1e-3,
        "CELLO_ROUGHING": 2e-3, "OVERLENGTH": 10e-3, "OVERWIDTH": 0.3e-3, "SAW_ROOM": 0.5e-3,
    },
    "smoothing": {"LEAST": -10, "MOST": 2, "STEPS": 241, "ALIKE": 1.04},
    "strings": {"KGF": 9.80665, "USUAL_POST": (60e3, 150e3)},
    "thickness": {"EDGE_REACH": 0.034, "FLANKS": 0.92, "MIDDLE": 0.47},
    "top": {"MIDSURFACE_PITCH": 0.0057},
}  # fmt: skip
# What a call or a class takes where nothing is given.
DEFAULTS = {
    "bar.Bar": {"lean": 0, "section_fill": 1},
    "bar_range.BarRange": {"power": (1, 4), "stiffness": (0.7, 1.4), "density": (0.8, 1.25)},
    "bar_shape.shaped_bar": {"position": 0, "stiffness": 1, "density": 1},
    "bridge.Bridge": {"y": 0},
    "cut_list.cut_list": {"pitch": 20e-3, "spring": 0, "allowance": 1e-3},
    "flex_test.FlexTest": {"weight": 10e-3, "peg": 6e-3, "held": False},
    "flex_test.FlexReading": {"bar_on": False},
    "gaps.Gaps.even_spring": {"count": 13},
    "hole_clearance.collision": {"clearance": 1.5e-3},
    "hole_clearance.smallest_trim": {"clearance": 1.5e-3},
    "layout.bar_on_line": {"section_fill": 1, "pitch": 5e-3},
    "layout.bridge_foot_rule": {"inset": 1e-3},
    "mark_checks.check_marks": {"scale": 1},
    "marks.Mark": {"width": 0},
    "outline.Outline.box": {"margin": 0},
    "presets.preset_wood": {"density": 400},
    "seat.seat_curve": {"pitch": 20e-3, "spring": 0},
    "shape_errors.ShapeErrors": {
        "thickness": 0.1e-3, "arching": 0.5e-3, "outline": 0.3e-3,
        "thickness_reach": 0.06, "arching_reach": 0.12, "outline_reach": 0.12,
    },
    "side_view.roughed": {"allowance": 1e-3},
    "side_view.side_view": {"pitch": 20e-3, "spring": 0, "allowance": 1e-3},
    "strings.Post": {"present": True, "behind": 0, "inward": 0, "diameter": 6e-3},
    "top.Top": {"grain_angle": 0, "ring_angle": 0, "run_out": 0},
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("table", "made"), [(TOP, dimensions), (BODY, body_dimensions)], ids=["top", "body"])
def test_usual_figures_and_their_status(table, made, kind):
    """Exact but for the rounding of mm to m."""
    dims = made(kind)
    rows = [line.split() for line in table.split("\n") if line]
    assert [r[0] for r in rows] == list(dims.status())
    for name, *values, status, cello in rows:
        value = float(values[KINDS.index(kind)])
        assert 1e3 * getattr(dims, name) == pytest.approx(value, rel=1e-12), name
        assert dims.status()[name] == STATUS[cello if kind == "cello" else status], name


@pytest.mark.parametrize("name", CONSTANTS)
def test_constants(name):
    """Exact but for a rounding."""
    module = importlib.import_module(f"{ROOM}.{name}")
    found = {k: getattr(module, k) for k in CONSTANTS[name]}
    assert {k: pytest.approx(v, rel=1e-12) for k, v in CONSTANTS[name].items()} == found


@pytest.mark.parametrize("name", DEFAULTS)
def test_defaults(name):
    module, _, rest = name.partition(".")
    given = inspect.signature(attrgetter(rest)(importlib.import_module(f"{ROOM}.{module}"))).parameters
    assert {k: pytest.approx(v, rel=1e-12) for k, v in DEFAULTS[name].items()} == {
        k: given[k].default for k in DEFAULTS[name]
    }


#: Where the usual body keeps each figure.
KEPT = {
    "rib_lower": "ribs.lower", "rib_upper": "ribs.upper", "rib_thickness": "ribs.thickness",
    "lining_width": "ribs.lining_width", "lining_height": "ribs.lining_height", "overhang": "ribs.overhang",
    "corner_block": "blocks.corner", "nut_from_edge": "neck.nut_from_edge", "neck_width": "neck.width",
    "neck_depth": "neck.depth", "fingerboard_length": "neck.board_length",
    "fingerboard_width": "neck.board_width", "fingerboard_depth": "neck.board_depth",
    "head_mass": "neck.head_mass", "head_length": "neck.head_length", "bridge_height": "levers.bridge",
    "saddle_height": "levers.saddle",
}  # fmt: skip


def test_the_usual_body_keeps_each_figure_in_its_place():
    """Names of the right side are read, so two that change places are found."""
    dims = body_dimensions("viola")
    body = usual_body(preset_top("viola"))
    assert {n: attrgetter(a)(body) for n, a in KEPT.items()} == {n: getattr(dims, n) for n in KEPT}
    assert body.blocks.upper == (dims.upper_block_along, dims.upper_block_across)
    assert body.blocks.lower == (dims.lower_block_along, dims.lower_block_across)
    # 0.2 mm: the highest place and the rim, read off fields of 3 mm pitch.
    assert body.back.arching.values.max() == pytest.approx(dims.back_arch, abs=0.2e-3)
    assert body.back.thickness.values.max() == pytest.approx(dims.back_centre, abs=0.2e-3)


def test_the_height_of_ribs_falls_evenly():
    ribs = usual_body(preset_top("violin")).ribs
    assert 1e3 * ribs.height([0.0, 0.1775, 0.355], 0.355) == pytest.approx([32.0, 31.0, 30.0])


@pytest.mark.parametrize(
    ("rule", "share"), [("seven_ninths", 7 / 9), ("three_quarters", 3 / 4), ("margins", 275 / 355)]
)
def test_length_rules(rule, share):
    """By hand; margins of 40 mm at either end of a violin of 355 mm."""
    outline = preset_top("viola").outline
    low, high = bar_ends(outline, rule=rule)
    assert high - low == pytest.approx(share * outline.body_length)
    assert low == pytest.approx(outline.body_length - high)


@pytest.mark.parametrize("kind", KINDS)
def test_the_usual_bar_has_the_usual_sizes(kind):
    dims, top = dimensions(kind), preset_top(kind)
    bar = preset_bar(top)
    assert bar.width == dims.bar_width
    assert bar.height(top.bridge.x) == pytest.approx(dims.bar_height)
    assert bar.heights[[0, -1]] == pytest.approx(dims.bar_end)
    assert bar.length == pytest.approx(dims.bar_length)  # along the bar, as it lies on the bench
    assert bar.section_fill == 1.0
    # about 5 mm apart on a violin; evened out on either side of the bridge, 20 and more steps: 5 %
    assert np.diff(bar.stations) == pytest.approx(5e-3 * dims.scale, rel=0.05)
    # a quarter of the run off its highest place the power of 1.5 takes an eighth of the rise
    x = top.bridge.x + 0.25 * (bar.x_end - top.bridge.x)
    rise = dims.bar_height - dims.bar_end
    # 0.02 mm: read between stations
    assert bar.height(x) == pytest.approx(dims.bar_height - 0.125 * rise, abs=0.02e-3)


def test_the_range_about_a_bar():
    """12 mm high: 6 to 16.8, ends 1.8 to 4.8 mm."""
    found = BarRange.around(preset_bar(preset_top("violin")))
    assert found.height == pytest.approx((6e-3, 16.8e-3))
    assert found.ends == pytest.approx((1.8e-3, 4.8e-3))
