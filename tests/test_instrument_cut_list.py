"""Cut list and layout distances against numbers worked by hand."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Point

from platemodel.instrument.bridge import Bridge
from platemodel.instrument.cut_list import cut_list
from platemodel.instrument.layout import BarLine, bar_on_line, one_seventh
from platemodel.instrument.layout_distances import distance_table, edge_on_marks, layout_distances
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import Post
from platemodel.wood.species import from_species

# Hand-worked violin: body 355, bouts 168 and 208 mm, widest lines 71 mm from either edge, bridge 195 mm from
# the upper edge; bar 5.5 x 12 mm at the bridge, 3 mm at the ends, from 40 to 315 mm. The rules are common
# practice without source. Printed to 0.1, so 0.05 mm.
PRINTED = 0.05
# From the upper edge of the body: (place, height for power 1.5), mm.
HAND = ((40, 3.0), (70, 5.5), (100, 7.7), (130, 9.6), (158, 11.0), (195, 12.0), (230, 10.6), (250, 9.2),
        (270, 7.6), (290, 5.7), (315, 3.0))  # fmt: skip
HAND_MASS = 5.1  # g at 400 kg/m3, square section, power 1.5


@pytest.fixture(scope="module")
def top():
    made = preset_top("violin")
    return replace(made, bridge=Bridge(0.160, 41e-3, 11.5e-3, 4.5e-3))


@pytest.fixture(scope="module")
def bar(top):
    wood = from_species("tonewood spruce", density=400.0)
    line = one_seventh(top.outline, "inner")
    return bar_on_line(
        line, (0.040, 0.315), 5.5e-3, top.bridge, 12e-3, (3e-3, 3e-3), wood, 1.5, section_fill=0.9, pitch=1e-3
    )


@pytest.fixture(scope="module")
def cuts(top, bar):
    return cut_list(top, bar, pitch=10e-3)


def test_heights_of_the_hand_worked_profile(bar):
    for from_upper, height in HAND:
        x = np.clip(0.355 - 1e-3 * from_upper, bar.x_start, bar.x_end)  # off the end by a rounding
        assert 1e3 * bar.height(x) == pytest.approx(height, abs=PRINTED), from_upper


def test_cut_list_holds_the_hand_worked_stations(top, bar):
    """Stations every 10 mm from the lower end: 315 - 40 = 275 mm, those of the hand list among them."""
    table = cut_list(top, bar, pitch=5e-3).table()
    for from_upper, height in HAND:
        row = table.iloc[(table["x_mm"] - (355 - from_upper)).abs().argmin()]
        if abs(row["x_mm"] - (355 - from_upper)) < 0.05:
            assert row["final_height_mm"] == pytest.approx(height, abs=PRINTED)
    found = [355 - u for u, _ in HAND if (table["x_mm"] - (355 - u)).abs().min() < 0.05]
    assert len(found) >= 10  # all but 158


def test_rough_height_places_and_both_ways_of_counting(cuts):
    table = cuts.table()
    assert (table["rough_height_mm"] - table["final_height_mm"]).to_numpy() == pytest.approx(1.0)
    assert table["place"].tolist()[0] == "lower end"
    assert table["place"].tolist()[-1] == "upper end"
    bridge = table[table["place"] == "bridge line"].iloc[0]
    assert bridge["x_mm"] == 160.0
    assert bridge["final_height_mm"] == 12.0
    assert bridge["from_bridge_line_mm"] == 0.0
    total = table["from_lower_end_mm"] + table["from_upper_end_mm"]
    # The slant of 0.77 degrees makes 275 mm along the body 275.02 along the bar.
    assert total.to_numpy() == pytest.approx(275.02, abs=0.015)
    assert (table["width_mm"] == 5.5).all()


def test_flanks_share_the_bevel(cuts):
    """The free edge is square to the sides: treble flank higher than bass flank by width times bevel."""
    table = cuts.table()
    assert (table["final_treble_flank_mm"] > table["final_bass_flank_mm"]).all()
    middle = (table["final_treble_flank_mm"] + table["final_bass_flank_mm"]) / 2
    # The cross arch is curved: its sagitta on 2.75 mm to either side of the middle, radius above 40 mm.
    assert (table["final_height_mm"] - middle).abs().max() < 2.75**2 / 2 / 40


def test_masses_stage_by_stage(top, bar, cuts):
    m = cuts.masses
    assert 1e3 * m["profiled"] == pytest.approx(HAND_MASS, abs=PRINTED)
    assert m["final"] == pytest.approx(0.9 * m["profiled"])
    # 1 mm more everywhere: 400 kg/m3 x 275.02 x 5.5 x 1 mm3 = 0.605 g.
    assert 1e3 * (m["rough"] - m["profiled"]) == pytest.approx(0.605, abs=0.001)
    b = cuts.blank
    assert m["blank"] == pytest.approx(400 * b.length * b.width * b.height)
    assert list(m) == ["blank", "rough", "profiled", "final"]
    assert m["blank"] > m["rough"] > m["profiled"] > m["final"]


def test_ends_by_hand(cuts):
    """20 mm from an end, power 1.5: lower side 120 mm, upper 155 mm long, 9 mm rise.

    h = 3 + 9 (1 - (100/120)^1.5) = 5.153; 3 + 9 (1 - (135/155)^1.5) = 4.684 mm.
    """
    lower, upper = cuts.ends
    assert 1e3 * lower.height == 1e3 * upper.height == pytest.approx(3.0)
    assert 1e3 * lower.run_height == pytest.approx(5.153, abs=0.003)  # heights are straight between stations
    assert 1e3 * upper.run_height == pytest.approx(4.684, abs=0.003)
    assert np.degrees(lower.fall) == pytest.approx(6.14, abs=0.02)  # atan(2.153 / 20)


def test_a_cello_s_cut_list_by_hand():
    """Body 755 mm: the last stretch of 20 mm and the blank's 10 mm beyond each end grow by 755/355.

    Bar along the axis from 80 to 660 mm, 22 mm high at the bridge line at 355 mm and 5 mm at the ends,
    power 1.5: sides 275 and 305 mm, last stretch 42.54 mm, where h = 5 + 17 (1 - (232.46/275)^1.5) = 8.787
    and 5 + 17 (1 - (262.46/305)^1.5) = 8.429 mm. Width 11 mm, 420 kg/m3.
    """
    made = preset_top("cello")
    top = replace(made, bridge=replace(made.bridge, x=0.355))
    scale = top.outline.body_length / 0.355
    assert scale == pytest.approx(755 / 355, rel=1e-3)
    wood = from_species("tonewood spruce", density=420.0)
    line = BarLine(0.0, -0.025, 0.755, -0.025)
    bar = bar_on_line(line, (0.080, 0.660), 11e-3, top.bridge, 22e-3, (5e-3, 5e-3), wood, 1.5, pitch=1e-3)
    cuts = cut_list(top, bar, pitch=50e-3)
    assert [1e3 * end.run for end in cuts.ends] == pytest.approx([42.54, 42.54], abs=0.05)
    assert [1e3 * end.run_height for end in cuts.ends] == pytest.approx([8.787, 8.429], abs=0.01)
    assert 1e3 * cuts.length == pytest.approx(580.0, abs=1e-6)
    # stations every 50 mm from the lower end, the bridge line and the upper end
    x = sorted({*range(80, 660, 50), 355, 660})
    assert cuts.table()["x_mm"].tolist() == pytest.approx(x, abs=0.01)
    # mean height: 5 + 17 x 0.6 = 15.2 mm (the mean of 1 - u^1.5 is 1 - 1/2.5)
    assert 1e3 * cuts.masses["final"] == pytest.approx(420e-6 * 580 * 11 * 15.2, rel=1e-3)
    # from the seat's ends, which do not lie at one height, 21.27 mm beyond each
    assert 1e3 * cuts.blank.length == pytest.approx(580 + 2 * 21.27, abs=0.5)


def test_spring_bends_both_edges_of_the_blank_alike(top, bar, cuts):
    """No height over the plate changes; the blank's own height by less than the gap between its extremes."""
    sprung = cut_list(top, bar, pitch=10e-3, spring=1e-3)
    assert (sprung.final == cuts.final).all()
    assert sprung.masses["final"] == cuts.masses["final"]
    assert 0 < abs(sprung.blank.height - cuts.blank.height) < 0.1e-3


# --- distances ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def distances(top, bar):
    post = Post(behind=8e-3, diameter=6e-3)
    return {d.key: d for d in layout_distances(top, bar, post)}


def test_one_seventh_rule_by_hand(distances):
    """84/7 and 104/7; on the straight line between them 13.7 mm at the bridge, worked by hand."""
    for key, hand in (
        ("seventh_upper", 12.0), ("seventh_lower", 14.9), ("inner_upper", 12.0), ("inner_lower", 14.9),
        ("inner_bridge", 13.7), ("outer_bridge", 19.2), ("foot_outer", 1.3), ("stop", 195.0),
        ("bridge_lower", 160.0), ("half_upper_bass", 84.0), ("half_lower_treble", 104.0), ("eye", 2.3),
        ("eye_spacing", 42.0), ("margin_lower", 40.0), ("margin_upper", 40.0),
    ):  # fmt: skip
        # The outline's own widest lines are within 0.1 mm of 84 and 104, printed figures within 0.05.
        assert 1e3 * distances[key].value == pytest.approx(hand, abs=0.1), key


def test_foot_and_post_by_hand(distances):
    """Foot 11.5 in a span of 41: inner edge at 9.0 mm; 13.7 - 9.0. Post 8 mm behind, 6 thick, foot 4.5."""
    assert 1e3 * distances["foot_inner"].value == pytest.approx(4.7, abs=0.1)
    assert 1e3 * distances["post_foot"].value == pytest.approx(8 - 3 - 2.25, abs=1e-9)
    assert 1e3 * distances["post_axis"].value == pytest.approx(14.75, abs=1e-9)


def test_value_is_the_distance_of_its_points(distances):
    for d in distances.values():
        assert abs(d.value) == pytest.approx(float(np.hypot(*(d.q - d.p))), abs=1e-6), d.key


def test_ends_reach_the_edge_of_the_outline(top, distances):
    for name in ("lower", "upper"):
        edge = distances[f"end_{name}"].q
        assert top.outline.polygon.exterior.distance(Point(edge)) < 1e-9
        assert distances[f"end_{name}"].value < distances[f"margin_{name}"].value


def test_which_edge_lies_on_the_marks(top, bar):
    assert edge_on_marks(top, bar) == "inner"
    middle = bar_on_line(
        one_seventh(top.outline, "middle"), (0.04, 0.315), 5.5e-3, top.bridge, 12e-3, (3e-3, 3e-3), bar.wood
    )
    assert edge_on_marks(top, middle) == "middle"
    # The usual bar follows the foot, 0.3 mm off the marks.
    away = replace(bar, y_start=bar.y_start - 1e-3, y_end=bar.y_end - 1e-3)
    assert edge_on_marks(top, away) is None


def test_a_bar_over_the_eye_has_a_negative_distance(top, bar):
    over = replace(bar, y_start=bar.y_start - 4e-3, y_end=bar.y_end - 4e-3)
    found = {d.key: d for d in layout_distances(top, over)}
    assert 1e3 * found["eye"].value == pytest.approx(2.3 - 4.0, abs=0.1)
    assert 1e3 * found["foot_outer"].value == pytest.approx(1.3 - 4.0, abs=0.1)
    assert "post_axis" not in found


def test_table_of_distances(top, bar):
    table = distance_table(layout_distances(top, bar))
    assert table.columns.tolist() == ["key", "distance", "mm", "x1_mm", "y1_mm", "x2_mm", "y2_mm"]
    assert table["key"].is_unique
    row = table.set_index("key").loc["inner_bridge"]
    assert (row["x1_mm"], row["y1_mm"], row["x2_mm"]) == (160.0, 0.0, 160.0)
    assert row["y2_mm"] == -row["mm"]


def test_a_cello_has_every_row_too():
    top = preset_top("cello")
    keys = [d.key for d in layout_distances(top, preset_bar(top), Post())]
    assert len(keys) == len(set(keys)) == 28
