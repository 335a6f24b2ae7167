"""Smooth fields: arching, thickness, scattered measurements."""

import numpy as np
import pytest
import shapely

from platemodel.errors import GeometryError
from platemodel.instrument import arching, thickness
from platemodel.instrument.field import SmoothField, _thinned, grid_lines
from platemodel.instrument.outline import Outline

BOX = (-0.02, -0.12, 0.38, 0.12)


@pytest.fixture(scope="module")
def violin():
    return Outline.preset("violin")


@pytest.fixture(scope="module")
def inside(violin):
    """Points inside a violin top, 2 mm off the rim."""
    p = np.random.default_rng(0).uniform([0, -0.105], [0.355, 0.105], (8000, 2))
    return p[shapely.contains_xy(violin.polygon.buffer(-2e-3), *p.T)].T


def grid_inside(outline, pitch, off):
    x0, y0, x1, y1 = outline.box()
    p = np.stack(np.meshgrid(np.arange(x0, x1, pitch), np.arange(y0, y1, pitch), indexing="ij"), -1).reshape(
        -1, 2
    )
    return p[shapely.contains_xy(outline.polygon.buffer(-off), *p.T)].T


# --- fields ---------------------------------------------------------------------------------------


def test_derivatives_of_a_cubic_are_exact():
    """A bicubic spline holds x^3 + x y^2 - 2 y^3 itself; 1e-9 is round-off over a pitch of 6 mm squared."""
    lines = grid_lines(BOX, 6e-3)
    x, y = np.meshgrid(*lines, indexing="ij")
    field = SmoothField(*lines, x**3 + x * y**2 - 2 * y**3)
    x, y = np.random.default_rng(1).uniform([0, -0.1], [0.35, 0.1], (200, 2)).T
    exact = [x**3 + x * y**2 - 2 * y**3, 3 * x**2 + y**2, 2 * x * y - 6 * y**2, 6 * x, 2 * y, 2 * x - 12 * y]
    assert field.derivatives(x, y) == pytest.approx(np.array(exact), abs=1e-9)
    assert field.gradient(x, y) == pytest.approx(np.array(exact[:3]), abs=1e-9)


def test_a_point_outside_is_refused_with_its_place():
    field = SmoothField.constant(3e-3, BOX)
    assert field.value(0.1, 0.05) == pytest.approx(3e-3)
    with pytest.raises(GeometryError, match=r"\(400, 0\) mm is outside"):
        field.value([0.1, 0.4], [0.0, 0.0])


def test_a_gap_in_a_grid_is_named():
    v = np.ones((6, 5))
    v[2, 3] = np.nan
    with pytest.raises(GeometryError, match="x = 20, y = 30 mm"):
        SmoothField(np.arange(6) / 100, np.arange(5) / 100, v)


def test_scattered_points_on_a_plane_give_the_plane():
    """A plane is free of smoothing, so it comes back whatever the noise asked for."""
    x, y = np.random.default_rng(2).uniform([0, -0.1], [0.35, 0.1], (60, 2)).T
    field = SmoothField.from_points(x, y, 3e-3 + 2e-3 * x - 5e-3 * y, BOX, 5e-3, noise=1e-4)
    assert field.value(0.2, 0.05) == pytest.approx(3e-3 + 4e-4 - 2.5e-4, abs=1e-9)
    assert field.misfit.largest < 1e-9


def test_a_wild_reading_shows_in_the_misfit():
    x, y = (
        a.ravel() for a in np.meshgrid(np.linspace(0, 0.35, 15), np.linspace(-0.1, 0.1, 9), indexing="ij")
    )
    v = np.full(x.shape, 3e-3)
    v[77] += 1e-3
    field = SmoothField.from_points(x, y, v, BOX, 5e-3, noise=0.08e-3)
    assert (field.misfit.x, field.misfit.y) == (x[77], y[77])
    # One reading 1 mm off among 135 has an rms of 0.086 mm alone, so nearly all of it must stay in the
    # misfit.
    assert 0.7e-3 < field.misfit.largest < 1e-3
    assert field.misfit.rms == pytest.approx(0.086e-3, rel=0.05)


def test_unusable_scattered_points_are_refused():
    x = np.linspace(0.1, 0.3, 20)
    with pytest.raises(GeometryError, match="one line"):
        SmoothField.from_points(x, 0.1 * x, x, BOX, 5e-3, 1e-4)
    with pytest.raises(GeometryError, match=r"point 3 at \(500"):
        SmoothField.from_points(
            [0, 0.1, 0.5, 0.2, 0.1, 0.3], [0, 0.1, 0, 0.1, 0, 0], np.ones(6), BOX, 5e-3, 1e-4
        )


# --- arching --------------------------------------------------------------------------------------


def test_curtate_cycloid_follows_its_rolling_circle():
    """Definition of the curve: x = (t + k sin t)/pi, z = (1 + cos t)/2, crest at t = 0, trough at t = pi."""
    t = np.linspace(0, np.pi, 50)
    for k in (0.0, 0.2, 0.5, 0.8):
        z = arching.curtate_cycloid((t + k * np.sin(t)) / np.pi, k)
        assert z == pytest.approx((1 + np.cos(t)) / 2, abs=1e-9)


def test_curvature_has_no_jump_in_the_trough():
    eta = 1 + np.array([-2, -1, 0, 1, 2]) * 1e-3
    z = arching.curtate_cycloid(eta, 0.3)
    left, right = np.diff(z[:3], 2)[0], np.diff(z[2:], 2)[0]
    # Second differences on either side differ by third derivative times step only.
    assert left == pytest.approx(right, rel=0.02)


@pytest.mark.parametrize(("kind", "height", "edge"), [("violin", 15.5e-3, 4e-3), ("cello", 26.5e-3, 4.8e-3)])
def test_preset_arching_has_its_height_and_its_edge(kind, height, edge):
    outline = Outline.preset(kind)
    field = arching.preset(outline, height, edge)
    x0, y0, x1, y1 = outline.box()
    X, Y = np.meshgrid(np.linspace(x0, x1, 200), np.linspace(y0, y1, 120), indexing="ij")
    assert field.value(X, Y).max() == pytest.approx(height, rel=2e-3)
    # The edge is met on average over some millimetres along the rim: 0.15 mm on a violin, in proportion.
    rim = field.value(*outline.points.T)
    assert rim == pytest.approx(edge, abs=0.15e-3 * outline.body_length / 0.355)
    # The channel runs below the edge somewhere along every line across.
    bass, _ = outline.half_width([0.2 * outline.body_length])
    across = field.value(0.2 * outline.body_length, np.linspace(-bass[0], 0, 200))
    assert across.min() < edge - 0.0001 * outline.body_length


def test_an_uneven_outline_and_its_mirror_image_have_mirrored_arches():
    """To 0.02 mm, since the lines of the grid lie no mirror image: nothing else prefers a side."""
    x, wide, narrow = [0.071, 0.193, 0.284], [0.106, 0.057, 0.085], [0.101, 0.055, 0.082]
    one, other = (
        arching.preset(Outline.from_half_widths(x, *halves, 0.355), 15.5e-3, 4e-3)
        for halves in ((wide, narrow), (narrow, wide))
    )
    places = np.meshgrid(np.linspace(0.03, 0.32, 15), np.linspace(-0.05, 0.05, 11))
    assert one.value(*places) == pytest.approx(other.value(places[0], -places[1]), abs=2e-5)
    assert np.abs(one.value(*places) - other.value(*places)).max() > 0.2e-3  # the sides do differ


def test_given_lines_are_met(violin):
    lines = [(0.071, 12.9e-3), (0.130, 15.0e-3), (0.160, 15.4e-3), (0.215, 14.9e-3), (0.284, 12.2e-3)]
    field = arching.preset(violin, 15.4e-3, 4e-3, lines)
    x, z = np.array(lines).T
    # 0.02 mm: what the correction along the rim still reaches, and the spline's pitch.
    assert field.value(x, 0 * x) == pytest.approx(z, abs=2e-5)


@pytest.mark.parametrize(("kind", "height", "edge"), [("violin", 15.5e-3, 4e-3), ("cello", 26.5e-3, 4.8e-3)])
def test_arching_does_not_wiggle(kind, height, edge):
    """The long arch is hollow nowhere; each cross arch is a crest between two hollows: one inflection a
    side.
    """
    outline = Outline.preset(kind)
    length = outline.body_length
    field = arching.preset(outline, height, edge)
    x = np.linspace(0.085, 0.915, 300) * length
    assert field.derivatives(x, 0 * x)[3].max() < 0
    for station in np.arange(0.15, 0.9, 0.05) * length:
        bass, _ = outline.half_width([station])
        y = np.linspace(-bass[0] + 0.025 * length, 0, 400)
        f_yy = length * field.derivatives(np.full(y.shape, station), y)[5]
        # Crests have 1 to 5 and hollows 4 to 22, so 0.5 (0.01 mm of height over the channel) is no wiggle.
        turns = np.sign(f_yy[np.abs(f_yy) > 0.5])
        assert np.count_nonzero(np.diff(turns)) == 1


def test_second_derivatives_are_continuous(violin):
    """Steps of second derivatives over 0.1 mm stay small against their size, also at corners and in the
    C-bouts.
    """
    field = arching.preset(violin, 15.5e-3, 4e-3)
    x = np.arange(0, 0.355, 1e-4)
    for y in (-0.09, -0.056, 0.0, 0.07):
        second = field.derivatives(x, np.full(x.shape, y))[3:]
        assert np.abs(np.diff(second, axis=1)).max() < 1.0  # 1/m, where the channel has 30 to 50


def test_measured_heights_come_back(violin, inside):
    """A sunk bass side of 1.2 mm read on a 13 mm raster with 0.15 mm of noise."""
    shape = arching.preset(violin, 15.5e-3, 4e-3)

    def true(x, y):
        return shape.value(x, y) - 1.2e-3 * np.exp(-(((x - 0.16) / 0.04) ** 2) - ((y + 0.02) / 0.025) ** 2)

    x, y = grid_inside(violin, 13e-3, 2e-3)
    z = true(x, y) + np.random.default_rng(4).normal(0, 0.15e-3, x.size)
    field = arching.from_points(violin, x, y, z, 4e-3, noise=0.15e-3)
    miss = field.value(*inside) - true(*inside)
    # Better than a single reading everywhere on average, and the sink is seen to its depth within a quarter.
    assert np.sqrt(np.mean(miss**2)) < 0.1e-3
    assert np.abs(miss).max() < 0.5e-3
    # What the smoothing leaves over is the readings' noise; of some 300 readings it is known to 4 %.
    assert field.misfit.scatter == pytest.approx(0.15e-3, rel=0.1)
    assert field.misfit.rms < 0.15e-3


def test_long_arch_and_cross_arches_are_enough(violin, inside):
    shape = arching.preset(violin, 15.5e-3, 4e-3)
    x = np.arange(0.005, 0.352, 0.01)
    parts = [np.stack([x, 0 * x, shape.value(x, 0 * x)])]
    for station in (0.071, 0.13, 0.16, 0.20, 0.284):
        bass, treble = violin.half_width([station])
        y = np.linspace(-bass[0] + 1e-3, treble[0] - 1e-3, 21)
        parts.append(np.stack([np.full(21, station), y, shape.value(np.full(21, station), y)]))
    field = arching.from_points(violin, *np.hstack(parts), 4e-3, noise=0.05e-3)
    # Same family of shapes, so 0.2 mm, the usual uncertainty of a height, is generous.
    assert np.abs(field.value(*inside) - shape.value(*inside)).max() < 0.2e-3


def test_heights_below_the_edge_are_refused(violin):
    with pytest.raises(GeometryError, match="height 3 mm"):
        arching.preset(violin, 3e-3, 4e-3)


# --- thickness ------------------------------------------------------------------------------------


def test_preset_thickness(violin):
    field = thickness.preset(violin, centre=3.0e-3, bouts=2.6e-3, edge=4.0e-3)
    assert field.value(0.47 * 0.355, 0.0) == pytest.approx(3.0e-3, abs=0.02e-3)
    assert field.value(0.30, 0.0) == pytest.approx(2.6e-3, abs=0.05e-3)
    # 0.1 mm: the edge is blended over some millimetres.
    assert field.value(*violin.points.T) == pytest.approx(4.0e-3, abs=0.1e-3)
    assert 2.3e-3 < field.value(0.071, 0.08) < 2.5e-3


def test_worn_uneven_top_from_a_caliper(violin, inside):
    def true(x, y):
        return 2.6e-3 + 0.3e-3 * np.sin(30 * x) * np.cos(25 * y)

    x, y = grid_inside(violin, 20e-3, 13e-3)
    h = true(x, y) + np.random.default_rng(5).normal(0, 0.05e-3, x.size)
    field = thickness.from_points(violin, x, y, h, edge=4e-3, noise=0.05e-3)
    deep = shapely.contains_xy(violin.polygon.buffer(-14e-3), *inside)
    miss = field.value(*inside[:, deep]) - true(*inside[:, deep])
    assert np.sqrt(np.mean(miss**2)) < 0.05e-3
    assert field.misfit.scatter == pytest.approx(0.05e-3, rel=0.2)  # of some 100 readings
    assert field.value(*violin.points.T) == pytest.approx(4e-3, abs=0.1e-3)


def test_thickness_never_runs_away_beyond_the_readings(violin):
    x, y = grid_inside(violin, 20e-3, 30e-3)
    h = 2e-3 + 8e-3 * np.abs(y)  # steep towards the flanks, where nothing was read
    field = thickness.from_points(violin, x, y, h)
    everywhere = field.value(*np.meshgrid(field.x, field.y))
    assert everywhere.min() > 0.75 * h.min()
    assert everywhere.max() < 1.25 * h.max()


def test_a_reading_of_nothing_is_refused(violin):
    with pytest.raises(GeometryError, match="must be positive"):
        thickness.from_points(violin, [0.1] * 6, [0.0] * 6, [2e-3, 0, 2e-3, 2e-3, 2e-3, 2e-3])


# --- readings of a shape unlike the usual one ---------------------------------------------------------------


@pytest.fixture(scope="module")
def read_places(violin):
    """A grid of 20 mm and a row 2 mm inside the rim: (2, n)."""
    x, y = grid_inside(violin, 20e-3, 8e-3)
    line = violin.polygon.buffer(-2e-3).exterior
    rim = np.array([line.interpolate(s).coords[0] for s in np.arange(0, line.length, 20e-3)])
    return np.c_[np.r_[x, rim[:, 0]], np.r_[y, rim[:, 1]]].T


def dome(x, y):
    """Rise straight from the edge: neither channel nor long arch."""
    return 4e-3 + 11e-3 * np.exp(-(((x - 0.18) / 0.13) ** 2) - (y / 0.07) ** 2)


def test_exact_heights_of_an_unlike_arch_come_back(violin, read_places, inside):
    """Nothing is smoothed away: what is left is what a spline does not see between places 20 mm apart, where
    a fixed noise of 0.1 mm left 0.1 mm at the readings themselves."""
    field = arching.from_points(violin, *read_places, dome(*read_places), 4e-3)
    miss = field.value(*inside) - dome(*inside)
    assert np.sqrt(np.mean(miss**2)) < 0.02e-3
    assert np.abs(miss).max() < 0.2e-3
    assert field.misfit.largest < 0.01e-3


def test_noise_that_is_not_stated_is_found(violin, read_places):
    z = dome(*read_places) + np.random.default_rng(6).normal(0, 0.2e-3, read_places.shape[1])
    field = arching.from_points(violin, *read_places, z, 4e-3)
    # of some 130 readings the scatter is known to 8 %, the smoothing's share not exactly
    assert field.misfit.scatter == pytest.approx(0.2e-3, rel=0.3)


def test_readings_rule_the_rim_where_there_are_some(violin, read_places):
    """The upper half is read along its rim, 0.6 mm thicker than said of the edge; the lower half is not."""
    x, y = read_places
    near = ~shapely.contains_xy(violin.polygon.buffer(-4e-3), x, y)
    keep = ~near | (x > 0.18)
    h = np.where(near, 4.6e-3, 2.7e-3)[keep]
    field = thickness.from_points(violin, x[keep], y[keep], h, edge=4e-3)
    rim = violin.points
    read, unread = rim[rim[:, 0] > 0.21], rim[rim[:, 0] < 0.15]
    assert np.median(field.value(*read.T)) == pytest.approx(4.6e-3, abs=0.3e-3)
    assert np.median(field.value(*unread.T)) == pytest.approx(4.0e-3, abs=0.1e-3)


def test_readings_are_averaged_only_where_there_are_too_many():
    """1200 places are all kept; one more, and those that share a cell become one."""
    q = np.random.default_rng(1).random((1200, 2))
    places, values, count = _thinned(q, q[:, 0])
    assert len(places) == 1200
    assert (count == 1).all()
    places, values, count = _thinned(np.r_[q, [[2.0, 2.0]]], np.ones(1201))
    assert len(places) < 1201
    assert count.sum() == 1201
    assert values == pytest.approx(1.0)
