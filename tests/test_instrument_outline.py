"""Outlines: preset, measured half widths, traced points."""

from itertools import pairwise

import numpy as np
import pytest
import shapely

from platemodel.errors import GeometryError
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.loops import find_corners, half_widths, hermite_curve, resampled, trace_loop
from platemodel.instrument.outline import Outline

KINDS = ("violin", "viola", "cello")


def runs(outline):
    """Chains between neighbouring corners, longer than the cuts across the corners."""
    ends = [*outline.corners, outline.corners[0] + len(outline.points)]
    chains = [outline.points[np.arange(a, b + 1) % len(outline.points)] for a, b in pairwise(ends)]
    return [c for c in chains if len(c) > 15]


def traced(outline, step, noise, seed=3):
    """A tracing: every run walked at a step, corners included, shaken, backwards, from somewhere."""
    ends = [*outline.corners, outline.corners[0] + len(outline.points)]
    chains = [
        resampled(outline.points[np.arange(a, b + 1) % len(outline.points)], step)[:-1]
        for a, b in pairwise(ends)
    ]
    p = np.vstack(chains)
    p = p + np.random.default_rng(seed).normal(0, noise, p.shape)
    return np.roll(p[::-1], 17, axis=0)


@pytest.mark.parametrize("kind", KINDS)
def test_preset_has_the_usual_widths(kind):
    """Public making tables: violin 355/168/112/208, viola 405/193/131/236, cello 755/340/235/440 mm."""
    tables = {"violin": (355, 168, 112, 208), "viola": (405, 193, 131, 236), "cello": (755, 340, 235, 440)}
    outline = Outline.preset(kind)
    upper, middle, lower = outline.widest()
    found = np.array([outline.body_length, upper.width, middle.width, lower.width]) * 1000
    # 0.1 mm: the lines are looked for on a raster.
    assert found == pytest.approx(tables[kind], abs=0.1)


@pytest.mark.parametrize("kind", KINDS)
def test_preset_is_a_counter_clockwise_symmetric_loop_with_cut_corners(kind):
    outline = Outline.preset(kind)
    assert outline.polygon.exterior.is_ccw
    assert outline.polygon.is_valid
    assert len(outline.corners) == 8
    mirror = shapely.Polygon(outline.points * [1, -1])
    assert outline.polygon.symmetric_difference(mirror).area < 1e-6 * outline.area
    steps = np.hypot(*(np.roll(outline.points, -1, axis=0) - outline.points).T)
    assert steps.max() < 0.0025 * outline.body_length or len(steps) - len(outline.corners) > 1000


@pytest.mark.parametrize("kind", KINDS)
def test_curvature_is_smooth_between_corners(kind):
    """No kink and no needle: between corners the line turns gently from point to point, radius never below
    3 % of L.
    """
    outline = Outline.preset(kind)
    assert len(runs(outline)) == 4
    for chain in runs(outline):
        t = np.diff(chain, axis=0)
        angle = np.unwrap(np.arctan2(t[:, 1], t[:, 0]))
        bend = np.diff(angle) / (0.5 * (np.hypot(*t[1:].T) + np.hypot(*t[:-1].T)))
        bend = bend * outline.body_length
        assert np.abs(bend).max() < 1 / 0.03
        # Changes over a point spacing of 1/500 L stay far below the greatest curvature: no jump.
        assert np.abs(np.diff(bend)).max() < 5


def test_widths_follow_the_given_dimensions():
    outline = Outline.preset("violin", 0.352, upper=0.163, middle=0.108, lower=0.202)
    upper, middle, lower = outline.widest()
    assert [upper.width, middle.width, lower.width] == pytest.approx([0.163, 0.108, 0.202], abs=1e-4)
    assert lower.x == pytest.approx(0.2 * 0.352, abs=1e-3)


def test_half_widths_of_an_ellipse():
    """Closed form y = b sqrt(1 - (x/a)^2); 0.02 mm: chords of a polygon of 400 points."""
    t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    p = np.c_[0.1 * np.cos(t), 0.06 * np.sin(t)]
    x = np.array([-0.08, 0.0, 0.03, 0.2])
    bass, treble = half_widths(p, x)
    exact = 0.06 * np.sqrt(np.maximum(0, 1 - (x / 0.1) ** 2))
    assert bass == pytest.approx(exact, abs=2e-5)
    assert treble == pytest.approx(exact, abs=2e-5)


def test_curve_through_nodes_of_a_circle_is_a_circle():
    """Ends with the place, tangent and curvature of a circle of 50 mm; a quintic misses an arc of 90
    degrees by 1e-3 R.
    """
    r, angles = 0.05, np.deg2rad([0, 45, 90])
    nodes = [(r * np.cos(a), r * np.sin(a), a + np.pi / 2, 1 / r) for a in angles]
    curve = hermite_curve(nodes, 0.5e-3)
    assert np.hypot(*curve.T) == pytest.approx(r, rel=1e-3)


def test_uneven_half_widths_are_met_on_both_sides():
    template = Outline.preset("violin")
    x = np.array([10, 30, 50, 71, 100, 125, 153, 175, 193, 215, 232, 250, 284, 310, 330, 345]) / 1000
    bass, treble = template.half_width(x)
    bass, treble = bass * 1.02, treble * (0.99 - 0.02 * x / 0.355)
    outline = Outline.from_half_widths(x, bass, treble, body_length=0.355)
    found = outline.half_width(x)
    assert found[0] == pytest.approx(bass, abs=1e-5)
    assert found[1] == pytest.approx(treble, abs=1e-5)
    upper, _, lower = outline.widest()
    assert lower.bass > lower.treble
    assert upper.bass > upper.treble
    assert len(outline.corners) == 8


def test_corners_move_to_their_stations():
    outline = Outline.from_half_widths(
        [0.071, 0.193, 0.284], [0.104, 0.056, 0.084], [0.104, 0.056, 0.084], 0.355,
        bass_corners=(0.158, 0.236), treble_corners=(0.150, 0.230),
    )  # fmt: skip
    tips = outline.points[outline.corners]
    for side, wanted in ((-1, (0.158, 0.236)), (1, (0.150, 0.230))):
        x = tips[np.sign(tips[:, 1]) == side, 0]
        # Each corner has two points; the tip at the station is one of them.
        assert np.abs(x[:, None] - wanted).min(axis=0) == pytest.approx(0, abs=1e-6)


def test_a_width_that_cannot_be_is_refused():
    halves = [0.071, 0.193, 0.284], [0.104, 0.056, 0.084], [0.104, 0.056, 0.084], 0.355
    with pytest.raises(GeometryError, match="treble corners at x = 230 and 150 mm; lower then upper"):
        Outline.from_half_widths(*halves, treble_corners=(0.230, 0.150))
    with pytest.raises(GeometryError, match="bass corners at x = 150 and 310 mm"):  # above 0.85 of the body
        Outline.from_half_widths(*halves, bass_corners=(0.150, 0.310))
    with pytest.raises(GeometryError, match=r"bass half width 40 mm at x = 71 mm"):
        Outline.from_half_widths([0.071, 0.193, 0.284], [0.040, 0.056, 0.084], [0.104, 0.056, 0.084], 0.355)


@pytest.mark.parametrize(("step", "noise"), [(0.7e-3, 0.1e-3), (2e-3, 0.1e-3), (5e-3, 0.15e-3)])
def test_a_tracing_gives_the_outline_back(step, noise):
    true = Outline.preset("violin")
    found = Outline.from_points(traced(true, step, noise))
    assert len(found.corners) == 8
    miss = shapely.distance(found.polygon.exterior, shapely.points(true.points))
    # Shaking is the only error: rms within 1.2 of it, area within 0.1 %.
    assert np.sqrt(np.mean(miss**2)) < 1.2 * noise
    assert found.area == pytest.approx(true.area, rel=1e-3)


def test_a_traced_circle_has_no_corners():
    t = np.linspace(0, 2 * np.pi, 300, endpoint=False)
    p = np.c_[0.1 + 0.1 * np.cos(t), 0.1 * np.sin(t)]
    outline = Outline.from_points(p, noise=1e-5)
    assert len(outline.corners) == 0
    # pi r^2, polygon of some 880 points and smoothing within 0.01 mm.
    assert outline.area == pytest.approx(np.pi * 0.01, rel=5e-4)


def test_corners_of_a_square_are_found():
    side = np.linspace(0, 0.1, 50, endpoint=False)
    zero, one = np.zeros(50), np.full(50, 0.1)
    p = np.vstack([np.c_[side, zero], np.c_[one, side], np.c_[0.1 - side, one], np.c_[zero, 0.1 - side]])
    assert find_corners(p, reach=4e-3, turning=np.deg2rad(42)).tolist() == [0, 50, 100, 150]


def test_a_crossing_is_named_with_its_place():
    """Bow tie with its crossing at (50, 0) mm."""
    p = np.array([[0, -0.05], [0.1, 0.05], [0.1, -0.05], [0, 0.05]])
    with pytest.raises(GeometryError, match=r"x = 50.0, y = 0.0 mm"):
        Outline(p, np.array([], int))


def test_lower_edge_must_be_at_zero():
    true = Outline.preset("violin")
    with pytest.raises(GeometryError, match="must be 0"):
        Outline(true.points + np.array([0.05, 0]), true.corners)


def test_sizes_in_millimetres_are_noticed():
    with pytest.raises(ValueError, match="check the unit"):
        dimensions("violin", 355)
    with pytest.raises(ValueError, match="violin, viola, cello"):
        dimensions("harp")


def test_a_tracing_may_be_closed_or_left_open():
    """Twelve points, each marked as a corner: with the first one repeated at the end, the same loop."""
    t = np.arange(12) / 12 * 2 * np.pi
    p = np.c_[np.cos(t), np.sin(t)] * 0.1
    loops = [trace_loop(q, np.arange(12), 0.01, 0.001, 1e-4, "ring") for q in (p, np.vstack([p, p[:1]]))]
    for loop, corners in loops:
        assert loop[corners] == pytest.approx(p)
    assert loops[0][0] == pytest.approx(loops[1][0])
