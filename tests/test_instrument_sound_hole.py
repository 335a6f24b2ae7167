"""Sound holes: preset, traced, and where they may lie."""

from itertools import pairwise

import numpy as np
import pytest
import shapely

from platemodel.errors import GeometryError
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.loops import resampled
from platemodel.instrument.outline import Outline
from platemodel.instrument.sound_hole import SoundHole, eye_spacing

KINDS = ("violin", "viola", "cello")


def traced(hole, step, noise):
    ends = [*hole.corners, hole.corners[0] + len(hole.points)]
    chains = [
        resampled(hole.points[np.arange(a, b + 1) % len(hole.points)], step)[:-1] for a, b in pairwise(ends)
    ]
    p = np.vstack(chains)
    p = p + np.random.default_rng(6).normal(0, noise, p.shape)
    return np.roll(p[::-1], 11, axis=0)


@pytest.mark.parametrize("kind", KINDS)
def test_preset_has_the_usual_places(kind):
    """Public making tables: violin eyes 42 mm apart, hole 75 mm long; viola 46 to 50, 78 to 82 mm.

    Cello 88 to 94, 135 to 140 mm (from memory).
    """
    spacing, length = {
        "violin": ((42, 42), (75, 75)),
        "viola": ((46, 50), (78, 82)),
        "cello": ((88, 94), (135, 140)),
    }[kind]
    d = dimensions(kind)
    bass, treble = SoundHole.preset(d, "bass"), SoundHole.preset(d, "treble")
    assert spacing[0] - 1e-6 <= 1000 * eye_spacing(bass, treble) <= spacing[1] + 1e-6
    # 0.3 mm: the end of a hook is drawn through, not clipped to, its last place.
    assert length[0] - 0.3 <= 1000 * bass.length <= length[1] + 0.3
    assert bass.polygon.bounds[3] == pytest.approx(-treble.polygon.bounds[1])


@pytest.mark.parametrize("kind", KINDS)
def test_preset_lies_on_the_plate_and_crosses_the_bridge_line(kind):
    d, outline = dimensions(kind), Outline.preset(kind)
    hole = SoundHole.preset(d, "bass")
    assert outline.polygon.buffer(-0.02 * d.body_length).contains(hole.polygon)
    x0, _, x1, _ = hole.polygon.bounds
    assert x0 + 0.3 * (x1 - x0) < d.x_bridge < x1 - 0.3 * (x1 - x0)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_in_it_is_too_thin_to_mesh(kind):
    """No neck of the opening and no tongue of wood thinner than 1.5 mm on a violin, in proportion
    otherwise.
    """
    d = dimensions(kind)
    hole = SoundHole.preset(d, "treble").polygon
    r = 0.75e-3 * d.scale
    opened = hole.buffer(-r).buffer(r)
    assert opened.geom_type == "Polygon"  # a neck would have cut it in two
    assert opened.area > 0.985 * hole.area  # only the sharp tips are lost
    closed = hole.buffer(r).buffer(-r)
    assert closed.geom_type == "Polygon"
    assert len(closed.interiors) == 0  # a thin tongue would have been swallowed and left a hole or an island
    assert closed.area < 1.02 * hole.area


def test_eyes_are_round():
    d = dimensions("violin")
    hole = SoundHole.preset(d, "treble")
    for eye, diameter in ((hole.upper_eye, d.upper_eye), (hole.lower_eye, d.lower_eye)):
        away = np.hypot(*(hole.points - [eye.x, eye.y]).T)
        on = np.abs(away - diameter / 2) < 1e-6
        # Seven tenths of the circle at least, at 0.53 mm per point.
        assert on.sum() * 0.53e-3 > 0.65 * np.pi * diameter


def test_four_corners_at_the_wings():
    hole = SoundHole.preset(dimensions("violin"), "bass")
    p = hole.points
    turn = []
    for k in hole.corners:
        a, b = p[k] - p[k - 1], p[(k + 1) % len(p)] - p[k]
        turn.append(np.degrees(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b)))
    assert len(turn) == 4
    assert np.abs(turn).min() > 45


def test_parameters_are_followed():
    d = dimensions("violin")
    hole = SoundHole.preset(
        d, "bass", x_bridge=0.163, eye_spacing=0.040, length=0.077, stem_width=5.5e-3, upper_eye=6e-3
    )
    assert hole.upper_eye.x == pytest.approx(0.163 + 0.037)
    assert hole.upper_eye.y == pytest.approx(-(0.020 + 0.003))
    assert hole.length == pytest.approx(0.077, abs=3e-4)
    # Stem's width across its middle, square to a stem that leans some 12 degrees; 3 %: the edges taper.
    middle = (hole.upper_eye.x + hole.lower_eye.x) / 2
    cut = hole.polygon.intersection(shapely.LineString([(middle, -0.1), (middle, 0)])).length
    assert cut * np.cos(np.deg2rad(12)) == pytest.approx(5.5e-3, rel=0.03)


def test_an_eye_that_leaves_no_wing_is_refused():
    with pytest.raises(GeometryError, match="wing beside an eye of 14 mm"):
        SoundHole.preset(dimensions("violin"), "bass", lower_eye=14e-3)


@pytest.mark.parametrize(
    ("step", "noise", "marked"), [(0.5e-3, 0.03e-3, False), (1e-3, 0.03e-3, False), (0.7e-3, 0.08e-3, True)]
)
def test_a_tracing_gives_the_hole_and_its_eyes_back(step, noise, marked):
    true = SoundHole.preset(dimensions("violin"), "bass")
    points = traced(true, step, noise)
    corners = None
    if marked:
        tips = true.points[true.corners]
        corners = np.sort([np.hypot(*(points - tip).T).argmin() for tip in tips])
    found = SoundHole.from_points(points, "bass", corners=corners)
    assert len(found.corners) == 4
    miss = shapely.distance(found.polygon.exterior, shapely.points(true.points))
    # Shaking, and what smoothing for 0.05 mm rounds off.
    assert np.sqrt(np.mean(miss**2)) < 1.2 * max(noise, 0.05e-3)
    assert found.area == pytest.approx(true.area, rel=0.02)
    for a, b in ((found.upper_eye, true.upper_eye), (found.lower_eye, true.lower_eye)):
        # 0.2 mm: a circle fitted to an edge known to 0.05 mm, of which a quarter is missing.
        assert [a.x, a.y, a.diameter] == pytest.approx([b.x, b.y, b.diameter], abs=0.2e-3)


def test_side_must_agree_with_the_place():
    hole = SoundHole.preset(dimensions("violin"), "bass")
    with pytest.raises(GeometryError, match="'treble'"):
        SoundHole(hole.points, hole.corners, "treble", hole.upper_eye, hole.lower_eye)
    other = hole.mirrored()
    assert other.side == "treble"
    flipped = shapely.Polygon(hole.points * [1, -1])  # the same loop, run through the other way
    assert shapely.Polygon(other.points).symmetric_difference(flipped).area < 1e-12
    assert (other.lower_eye.x, other.lower_eye.y) == (hole.lower_eye.x, -hole.lower_eye.y)
    assert other.lower_eye.diameter == hole.lower_eye.diameter
