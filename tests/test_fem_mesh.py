"""Meshes of a plan. Expected areas are those of ellipses and discs; counts obey Euler's formula."""


import numpy as np
import pytest
import shapely

from platemodel.errors import GeometryError
from platemodel.fem.mesh import LEAST_ANGLE, Fineness, Loop, area_true_polygon, mesh_plan, rectangle
from platemodel.fem.slender_band import SlenderBand, slender_rows

SMOOTH = np.array([], dtype=int)


def ellipse(a, b, centre=(0.0, 0.0), n=720):
    angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
    return Loop(np.stack([centre[0] + a * np.cos(angle), centre[1] + b * np.sin(angle)], axis=1), SMOOTH)


def area(points):
    x, y = np.asarray(points).T
    return 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))


def triangle_areas(mesh):
    a, b, c = (mesh.p[:, mesh.t[k]] for k in range(3))
    return 0.5 * np.abs((b - a)[0] * (c - a)[1] - (c - a)[0] * (b - a)[1])


def smallest_angle(mesh):
    """Smallest angle of any triangle, degrees."""
    corners = mesh.p[:, mesh.t]
    out = []
    for k in range(3):
        u, v = corners[:, (k + 1) % 3] - corners[:, k], corners[:, (k + 2) % 3] - corners[:, k]
        out.append(np.arccos(np.sum(u * v, axis=0) / np.hypot(*u) / np.hypot(*v)))
    return np.rad2deg(np.min(out))


def test_polygon_keeps_the_disc_s_area():
    """With a dozen sides the area is right to 0.04 %, where the inscribed polygon has lost 4.5 % (regular
    12-gon: 6 sin 30 degrees / pi); the rest falls with the fourth power of the sides' length.
    """
    sizes, errors = [], []
    for turn in (0.53, 0.265, 0.1325):
        polygon = area_true_polygon(ellipse(1.0, 1.0), 10.0, turn)
        sizes.append(len(polygon))
        errors.append(abs(area(polygon) / np.pi - 1))
    assert sizes == [12, 24, 48]
    assert errors[0] < 1e-3
    assert np.log2(errors[0] / errors[1]) > 3.5
    assert 0.5 * 12 * np.sin(2 * np.pi / 12) / np.pi - 1 < -0.045


def test_polygon_keeps_true_corners():
    """A half disc: its two corners stay on the diameter, and its area is that of the half disc."""
    angle = np.linspace(0, np.pi, 361)
    arc = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    chord = np.stack([np.linspace(-1, 1, 201)[1:-1], np.zeros(199)], axis=1)
    polygon = area_true_polygon(Loop(np.vstack([arc, chord]), np.array([0, 360])), 10.0, 0.3)
    assert area(polygon) == pytest.approx(np.pi / 2, rel=1e-4)
    on_chord = polygon[np.abs(polygon[:, 1]) < 1e-9]
    assert np.sort(on_chord[:, 0]) == pytest.approx([-1, 1], abs=0.01)


def test_sides_end_by_length_or_by_turning():
    polygon = area_true_polygon(ellipse(0.18, 0.10), 0.02, 0.5)
    side = np.roll(polygon, -1, axis=0) - polygon
    assert np.hypot(*side.T).max() < 0.02 * 1.03  # shifted sides are a little longer than their arcs
    heading = np.unwrap(np.arctan2(side[:, 1], side[:, 0]))
    coarse = area_true_polygon(ellipse(0.18, 0.10), 1.0, 0.2)
    assert len(coarse) == pytest.approx(2 * np.pi / 0.2, abs=1)
    assert np.diff(heading).max() < 0.5


HOLES = (ellipse(0.02, 0.006, (0.02, 0.05)), ellipse(0.02, 0.006, (0.02, -0.05)))
FINENESS = Fineness(0.02, 0.012)
BANDS = {
    "none": None,
    "clear": SlenderBand(np.array([-0.13, 0.03]), np.array([0.13, 0.025]), 0.0055),
    "beside a hole": SlenderBand(np.array([-0.13, 0.041]), np.array([0.13, 0.039]), 0.0055),
    "through a hole": SlenderBand(np.array([-0.13, 0.05]), np.array([0.13, 0.05]), 0.0055),
    "across the rim": SlenderBand(np.array([-0.17, 0.06]), np.array([0.17, 0.06]), 0.0055),
}


@pytest.fixture(scope="module")
def meshes():
    return {name: mesh_plan(ellipse(0.18, 0.10), HOLES, FINENESS, band) for name, band in BANDS.items()}


@pytest.mark.parametrize("name", BANDS)
def test_mesh_is_whole(meshes, name):
    """Its area is the plan's, its triangles do not overlap, and it has two holes and no more (Euler: V - E
    + F = -1).
    """
    mesh = meshes[name]
    exact = np.pi * (0.18 * 0.10 - 2 * 0.02 * 0.006)
    assert triangle_areas(mesh).sum() == pytest.approx(exact, rel=2e-4)
    union = shapely.union_all(shapely.polygons(mesh.p[:, mesh.t].T))
    assert union.area == pytest.approx(triangle_areas(mesh).sum(), rel=1e-9)
    assert len(union.interiors) == 2
    assert mesh.p.shape[1] - mesh.facets.shape[1] + mesh.t.shape[1] == -1
    assert len(np.unique(mesh.t)) == mesh.p.shape[1]
    assert np.all(np.diff(mesh.t, axis=0) > 0), "ascending vertices, as the element needs"


def test_triangles_are_sound(meshes):
    """No angle below 10 degrees, the sharp ends of the holes included. In the strip the flattest triangle
    is as
    wide as the rows are apart, 0.6 rib widths, on a side of a triangle's length: 6.5 degrees; where it is
    squeezed between rib and hole it is slenderer, but no splinter.
    """
    assert smallest_angle(meshes["none"]) > 10
    least = np.degrees(np.arctan(0.6 * BANDS["clear"].width / FINENESS.size))
    assert smallest_angle(meshes["clear"]) > 0.9 * least
    assert smallest_angle(meshes["beside a hole"]) > 2


def test_strip_lies_where_the_rib_will(meshes):
    """Rows of vertices run along both flanks of the rib, the whole way, and a little beyond its ends."""
    band = BANDS["clear"]
    tangent = (band.end - band.start) / np.hypot(*(band.end - band.start))
    across = np.array([-tangent[1], tangent[0]])
    along, off = (
        tangent @ (meshes["clear"].p - band.start[:, None]),
        across @ (meshes["clear"].p - band.start[:, None]),
    )
    for flank in (-0.5, 0.5):
        on = np.sort(along[np.abs(off - flank * band.width) < 1e-9])
        length = np.hypot(*(band.end - band.start))
        assert np.abs(on).min() < 1e-9
        assert np.abs(on - length).min() < 1e-9
        assert on[0] < -0.5 * band.width
        assert on[-1] > length + 0.5 * band.width
        assert np.diff(on).max() < FINENESS.size * 1.01
    assert meshes["clear"].t.shape[1] > meshes["none"].t.shape[1]


def test_strip_that_does_not_fit_is_left_out(meshes):
    for name in ("through a hole", "across the rim"):
        assert np.array_equal(meshes[name].t, meshes["none"].t)


BOW_TIE = Loop(np.array([[0, 0], [1, 1], [1, 0], [0, 1.0]]), np.arange(4))
DISC = ellipse(1.0, 1.0)


@pytest.mark.parametrize(
    ("outer", "holes", "told"),
    [
        (BOW_TIE, (), "outline crosses itself"),
        (DISC, (ellipse(0.1, 0.1, (2.0, 0.0)),), "hole 1 must lie inside"),
        (DISC, (ellipse(0.2, 0.2, (0.9, 0.0)),), "hole 1 must lie inside"),
        (DISC, (ellipse(0.2, 0.2), ellipse(0.2, 0.2, (0.3, 0.0))), "holes 1 and 2 are closer"),
        (DISC, (Loop(0.1 * BOW_TIE.points, BOW_TIE.corners),), "hole 1 crosses itself"),
    ],
    ids=["bow tie", "hole outside", "hole across the rim", "holes meet", "bow-tie hole"],
)
def test_shapes_that_a_mesher_hangs_on_are_refused(outer, holes, told):
    with pytest.raises(GeometryError, match=told):
        mesh_plan(outer, holes, Fineness(0.2, 0.1))


def test_direction_of_the_loop_does_not_matter():
    """A traced outline may run either way round."""
    forth = ellipse(0.18, 0.10)
    back = Loop(forth.points[::-1], forth.corners)
    a, b = (mesh_plan(loop, (), FINENESS) for loop in (forth, back))
    assert triangle_areas(b).sum() == pytest.approx(triangle_areas(a).sum(), rel=1e-4)


def test_direction_of_a_slanting_slit_of_four_points():
    """Cut either way round, given by its corners alone: a slit of 60 mm at 45 degrees, 2 mm wide, is not part
    of the plate (area of a parallelogram).
    """
    slit = np.array([[-0.03, -0.03], [-0.028, -0.03], [0.032, 0.03], [0.03, 0.03]])
    for points in (slit, slit[::-1]):
        mesh = mesh_plan(ellipse(0.18, 0.10), [Loop(points, np.arange(4))], Fineness(0.04, 0.02))
        assert triangle_areas(mesh).sum() == pytest.approx(np.pi * 0.018 - 0.002 * 0.06, rel=1e-3)
        assert not shapely.contains_xy(shapely.union_all(shapely.polygons(mesh.p[:, mesh.t].T)), 0.001, 0.0)


@pytest.mark.parametrize("diagonals", ["alternating", "same"])
def test_rectangle(diagonals):
    mesh = rectangle(0.36, 0.20, 6, 4, origin=(-0.18, -0.1), diagonals=diagonals)
    assert mesh.t.shape[1] == 48
    assert triangle_areas(mesh) == pytest.approx(np.full(48, 0.36 * 0.20 / 48), rel=1e-12)
    assert mesh.p.min(axis=1) == pytest.approx([-0.18, -0.1])


def test_a_squeezed_band_keeps_its_rows_off_the_joined_lines():
    """A straight boundary along the band at half a rib's width: the inner row stays outside the Gauss lines
    of the width (0.29 of it from the middle), where a row lets the plate kink under the rib.
    """
    width, free = 6e-3, 3e-3
    outer = np.array([[-0.1, -0.1], [0.3, -0.1], [0.3, free], [-0.1, free]])
    rows = slender_rows(SlenderBand((0.0, 0.0), (0.2, 0.0), width), 0.02, [outer])
    assert rows is not None
    assert rows[2, :, 1].max() < free
    assert rows[2, :, 1].min() > width / (2 * np.sqrt(3))
    assert rows[1, :, 1] == pytest.approx(-0.5 * width)


def test_row_along_the_boundaries(meshes):
    """With an edge row every side of outline and holes belongs to a triangle no deeper than the row; the
    plan is
    covered all the same, once.
    """
    outer, holes = ellipse(0.18, 0.10), [ellipse(0.02, 0.006, (0.0, y)) for y in (-0.05, 0.05)]
    wide = 0.003
    mesh = mesh_plan(outer, holes, Fineness(0.03, 0.012, edge=wide))
    exact = np.pi * (0.18 * 0.10 - 2 * 0.02 * 0.006)
    assert triangle_areas(mesh).sum() == pytest.approx(exact, rel=1e-3)
    union = shapely.union_all(shapely.polygons(mesh.p[:, mesh.t].T))
    assert union.area == pytest.approx(triangle_areas(mesh).sum(), rel=1e-9)
    facets = mesh.boundary_facets()
    triangles = mesh.f2t[0, facets]
    sides = np.hypot(*(mesh.p[:, mesh.facets[1, facets]] - mesh.p[:, mesh.facets[0, facets]]))
    depth = 2.0 * triangle_areas(mesh)[triangles] / sides
    assert depth.max() < 1.001 * wide
    assert smallest_angle(mesh) > 2


def test_row_gives_way_where_it_would_force_a_splinter():
    """A slit 2.5 mm inside the rim, with a row of 5 mm wanted: next to the slit there is no row, so that no
    angle is below the least one allowed; two wanted widths and one side away from it the row goes on.
    """
    wide, size = 0.005, 0.03
    slit = ellipse(0.02, 0.002, (0.0, 0.0955))
    mesh = mesh_plan(ellipse(0.18, 0.10), [slit], Fineness(size, 0.012, edge=wide))
    assert np.radians(smallest_angle(mesh)) > LEAST_ANGLE
    exact = np.pi * (0.18 * 0.10 - 0.02 * 0.002)
    assert triangle_areas(mesh).sum() == pytest.approx(exact, rel=1e-3)
    facets = mesh.boundary_facets()
    a, b = mesh.p[:, mesh.facets[:, facets]].swapaxes(0, 1)
    depth = 2.0 * triangle_areas(mesh)[mesh.f2t[0, facets]] / np.hypot(*(b - a))
    away = shapely.distance(shapely.points((0.5 * (a + b)).T), shapely.Polygon(slit.points))
    assert depth[away > 2.0 * wide + size].max() < 1.001 * wide
