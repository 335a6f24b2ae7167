"""Bars made from a bar: figures changed one by one, wood taken off at a place; every number by hand."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.instrument.bar_cuts import (
    bridge_height,
    bridge_line,
    cut,
    deepest_height,
    place_named,
    room,
    with_bridge_height,
)
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.bar_shape import bar_between, bar_of_height, even_bar, raised_bar, shaped_bar
from platemodel.instrument.presets import preset_top
from tests.round_bar import round_bar

MM = 1e-3
BRIDGE = 0.16


@pytest.fixture(scope="module")
def bar():
    """40 to 315 mm, 12 mm high at 160, 3 at both ends, 5.5 wide, medium profile."""
    return round_bar(preset_top("violin"))


@pytest.fixture(scope="module")
def tent(bar):
    """The same, straight from 12 mm at the bridge to 3 mm at the ends."""
    return shaped_bar(bar, power=1.0)


def test_straight_from_the_highest_place_to_the_ends(tent):
    assert tent.height(np.array([0.04, 0.1, 0.16, 0.2375, 0.315])) == pytest.approx(
        np.array([3, 7.5, 12, 7.5, 3]) * MM
    )


def test_another_height_keeps_the_ends(bar):
    """Half the rise, 9 mm, at each station: 4.5 mm of the rise to 7.5."""
    low = bar_of_height(bar, 7.5 * MM)
    assert low.heights - 3 * MM == pytest.approx(0.5 * (bar.heights - 3 * MM))
    assert shaped_bar(bar, height=7.5 * MM).heights == pytest.approx(low.heights)
    assert with_bridge_height(bar, 7.5 * MM, BRIDGE).heights == pytest.approx(low.heights)


def test_other_ends_keep_the_height(bar):
    """The rise shrinks from 9 mm to 7 and keeps its shape."""
    made = shaped_bar(bar, ends=5 * MM)
    assert made.heights - 5 * MM == pytest.approx(7 / 9 * (bar.heights - 3 * MM))
    with pytest.raises(ValueError, match="bar height 12 mm is below its ends of 13 mm"):
        shaped_bar(bar, ends=13 * MM)
    with pytest.raises(ValueError, match="give a profile power"):
        shaped_bar(even_bar(bar, 5 * MM), ends=4 * MM)


def test_uneven_ends_keep_their_heights(bar):
    """Ends of 3 and 6 mm; straight lines to 12 mm at the bridge."""
    uneven = replace(bar, heights=np.interp(bar.stations, [0.04, 0.16, 0.315], [3 * MM, 12 * MM, 6 * MM]))
    made = shaped_bar(uneven, height=10 * MM, power=1.0)
    assert made.heights[[0, -1]] == pytest.approx([3 * MM, 6 * MM])
    assert made.height(BRIDGE) == pytest.approx(10 * MM)
    # a quarter of the way down from the bridge: 10 - 7 / 4 and 10 - 4 / 4
    assert made.height(np.array([0.13, 0.19875])) == pytest.approx([8.25 * MM, 9 * MM], rel=1e-3)
    lower = bar_of_height(uneven, 9 * MM)
    assert lower.heights[[0, -1]] == pytest.approx([3 * MM, 6 * MM])
    assert lower.heights.max() == pytest.approx(9 * MM)


def test_a_longer_bar_grows_alike_at_both_ends(bar):
    """By 10 mm in all along its axis: 5 mm at either end, less 1 in 10000 for the slant."""
    made = shaped_bar(bar, length=bar.length + 10 * MM)
    assert (made.x_start, made.x_end) == (pytest.approx(0.035, abs=1e-6), pytest.approx(0.32, abs=1e-6))
    assert made.length == pytest.approx(bar.length + 10 * MM)
    assert made.slope == pytest.approx(bar.slope)
    assert made.at(BRIDGE) == pytest.approx(bar.at(BRIDGE))
    assert made.stations[made.heights.argmax()] == pytest.approx(BRIDGE)
    assert made.heights == pytest.approx(bar.heights)
    # each side stretched about the highest place: 120 to 125 mm, 155 to 160, as near as the slant lets it
    was = bar.height(np.array([0.1, 0.2375]))
    assert made.height(np.array([0.0975, 0.24])) == pytest.approx(was, rel=1e-5)


def test_width_place_and_wood(bar):
    made = shaped_bar(bar, width=6 * MM, position=2 * MM, stiffness=1.2, density=0.9)
    assert made.width == 6 * MM
    assert (made.y_start, made.y_end) == (bar.y_start + 2 * MM, bar.y_end + 2 * MM)
    for name in ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT"):
        assert getattr(made.wood, name) == pytest.approx(1.2 * getattr(bar.wood, name))
    assert made.wood.density == pytest.approx(0.9 * bar.wood.density)
    assert made.wood.nu_LR == bar.wood.nu_LR
    assert shaped_bar(bar, wood=made.wood).wood is made.wood
    assert shaped_bar(bar, stiffness=1.1).wood.density == bar.wood.density


def test_between_two_bars(bar):
    high = raised_bar(bar, 2 * MM)
    assert high.heights == pytest.approx(bar.heights + 2 * MM)
    for share in (0.0, 0.3, 1.0):
        assert bar_between(bar, high, share).heights == pytest.approx(bar.heights + share * 2 * MM)
    assert even_bar(bar, 9 * MM).heights == pytest.approx(9 * MM)


# Shares at -1, -0.9, -0.5, -0.25, 0, 0.25, 0.5, 0.8, 1 from the lower end over the bridge to the upper one.
AT = np.array([-1, -0.9, -0.5, -0.25, 0, 0.25, 0.5, 0.8, 1])
SHARES = {
    "all along": [0, 0.19, 0.75, 0.9375, 1, 0.9375, 0.75, 0.36, 0],
    "both flanks": [0, 0.36, 1, 0.75, 0, 0.75, 1, 0.64, 0],
    "lower flank": [0, 0.36, 1, 0.75, 0, 0, 0, 0, 0],
    "upper flank": [0, 0, 0, 0, 0, 0.75, 1, 0.64, 0],
    "both ends": [1, 0.75, 0, 0, 0, 0, 0, 0.5, 1],
}


@pytest.mark.parametrize("name", SHARES)
def test_where_wood_is_taken(bar, name):
    """From an even bar raised by 20 mm in its middle, so that no limit is met: depth times share."""
    place = place_named(name)
    assert place.share(AT) == pytest.approx(SHARES[name])
    assert place.by_tap == (name != "both ends")
    tall = replace(bar, stations=np.linspace(0.04, 0.315, 3000), heights=np.full(3000, 9 * MM))
    tall = replace(tall, heights=9 * MM + 20 * MM * (1 - np.clip(np.abs(side(tall.stations)), 0, 1) ** 2))
    made = cut(tall, place, 0.5 * MM, BRIDGE, 3 * MM)
    x = np.where(AT < 0, BRIDGE + AT * 0.12, BRIDGE + AT * 0.155)
    # 0.02 mm: between stations
    assert tall.height(x) - made.height(x) == pytest.approx(0.5 * MM * np.array(SHARES[name]), abs=0.02 * MM)


def side(x):
    return np.where(x < BRIDGE, (x - BRIDGE) / 0.12, (x - BRIDGE) / 0.155)


def test_room_for_a_cut(bar, tent):
    """All along: down to the least height at the bridge, or until an end or a straight line is met."""
    all_along, flanks, ends = (place_named(n) for n in ("all along", "both flanks", "both ends"))
    # least heights that rule: 12 - 11.5 = 0.5 mm at the bridge, 3 - 2.6 = 0.4 mm at the ends
    assert room(bar, all_along, BRIDGE, 11.5 * MM, 1 * MM) == pytest.approx(0.5 * MM)
    assert room(bar, ends, BRIDGE, 5 * MM, 2.6 * MM) == pytest.approx(0.4 * MM)
    # straight flanks have no wood over the straight line
    assert room(tent, flanks, BRIDGE, 5 * MM, 1 * MM) == pytest.approx(0.0, abs=1e-9)
    # medium flanks, 12 - 9 s^1.5 over 12 - 9 s: 9 (s - s^1.5) over 4 s (1 - s) is 9 / 4 / (1 + sqrt s), least
    # where the share still tells, 0.3 at s = 0.92: 1.15 mm, and a little more at the last of 41 places
    assert room(bar, flanks, BRIDGE, 5 * MM, 1 * MM) == pytest.approx(1.15 * MM, rel=0.02)
    assert room(bar, all_along, BRIDGE, 12.5 * MM, 1 * MM) == 0.0


def test_no_cut_goes_below_the_least_end_or_the_straight_line(bar, tent):
    made = cut(bar, place_named("both ends"), 2 * MM, BRIDGE, 2.5 * MM)
    assert made.heights[[0, -1]] == pytest.approx(2.5 * MM)
    same = cut(tent, place_named("both flanks"), 2 * MM, BRIDGE, 1 * MM)
    assert same.height(tent.stations) == pytest.approx(tent.heights, abs=0.01 * MM)


def test_heights_at_places_of_a_bar(bar):
    assert bridge_height(bar, BRIDGE) == pytest.approx(12 * MM)
    assert bridge_line(bar, BRIDGE) == BRIDGE
    for beyond in (0.039, 0.02, 0.316, 0.33):
        assert bridge_line(bar, beyond) == pytest.approx(0.1775)
    # both flanks: 0.9 of the depth is taken from 0.342 to 0.658 of a side: 12 - 9 * 0.658^1.5 = 7.2 mm
    assert deepest_height(bar, place_named("both flanks"), BRIDGE) == pytest.approx(7.2 * MM, abs=0.2 * MM)
    assert deepest_height(bar, place_named("both ends"), BRIDGE) == pytest.approx(3 * MM)


def test_a_bar_of_a_range(bar):
    """Shares of 0, a half and 1 of each figure; ends never above the height."""
    span = BarRange((8 * MM, 16 * MM), (2 * MM, 6 * MM), (1.0, 3.0), (0.8, 1.2), (0.9, 1.3))
    low, middle, high = (span.bar(bar, BRIDGE, np.full(5, share)) for share in (0.0, 0.5, 1.0))
    assert [b.heights[0] for b in (low, middle, high)] == pytest.approx([2 * MM, 4 * MM, 6 * MM])
    assert [b.wood.E_L / bar.wood.E_L for b in (low, middle, high)] == pytest.approx([0.8, 1.0, 1.2])
    assert [b.wood.density / bar.wood.density for b in (low, high)] == pytest.approx([0.9, 1.3])
    # halfway to the upper end: 8 - 6 / 2, 12 - 8 / 4, 16 - 10 / 8; 0.05 mm between 80 stations
    found = [float(b.height(0.2375)) for b in (low, middle, high)]
    assert found == pytest.approx([5 * MM, 10 * MM, 14.75 * MM], abs=0.05 * MM)
    assert span.bar(bar, 0.5, np.zeros(5)).height(0.1775) == pytest.approx(8 * MM, rel=0.01)
    flat = BarRange((3 * MM, 4 * MM), (5 * MM, 6 * MM)).bar(bar, BRIDGE, np.zeros(5))
    assert flat.heights == pytest.approx(3 * MM)


def test_bars_to_learn_a_range_from(bar):
    """Corners of height, ends, power and stiffness, light where stiff; then random ones, always the same."""
    span = BarRange((8 * MM, 16 * MM), (2 * MM, 6 * MM), (1.0, 3.0), (0.8, 1.2), (0.9, 1.3))
    few, many = span.samples(bar, BRIDGE, 8), span.samples(bar, BRIDGE, 26)
    assert (len(few), len(many), len(span.samples(bar, BRIDGE, 3))) == (8, 26, 8)
    corners = {
        (
            round(b.heights[0], 6),
            round(b.wood.E_L / bar.wood.E_L, 6),
            round(b.wood.density / bar.wood.density, 6),
        )
        for b in many[:16]
    }
    assert corners == {(e, *w) for e in (2 * MM, 6 * MM) for w in ((0.8, 1.3), (1.2, 0.9))}
    for b in many[16:]:
        assert 8 * MM - 1e-9 <= b.heights.max() <= 16 * MM
        assert 2 * MM <= b.heights[0] <= 6 * MM
    assert len({b.heights[0] for b in many[16:]}) == 10
    again = span.samples(bar, BRIDGE, 26)
    assert all((a.heights == b.heights).all() for a, b in zip(many, again, strict=True))


def test_a_bar_by_its_own_numbers(bar):
    """3.69 mm aside over 275: slope 0.01342; nothing beyond its ends; 275 pieces of a millimetre."""
    assert bar.slope == pytest.approx((bar.y_end - bar.y_start) / 0.275)
    assert bar.angle == pytest.approx(np.arctan(bar.slope))
    assert bar.height(np.array([0.039, 0.316])).tolist() == [0, 0]
    assert bar.footprint == (bar.x_start, bar.y_start, bar.x_end, bar.y_end, bar.width)
    x, inner, outer = bar.flanks()
    assert len(x) == 276
    assert inner - outer == pytest.approx(bar.width * np.hypot(1, bar.slope))
    assert bar.polygon.area == pytest.approx(bar.width * bar.length)
    assert bar.with_height(np.full(3, 5 * MM), np.array([0.04, 0.1, 0.315])).height(0.2) == 5 * MM
