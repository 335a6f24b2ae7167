"""The shell: geometry, rigid motions, and the energies of plain deformations."""

import numpy as np
import pytest

from platemodel.errors import GeometryError
from platemodel.fem.section import Section, constant
from platemodel.fem.shell import Shell
from platemodel.fem.supports import edge_station, hold_point
from platemodel.fem.surface import graph
from platemodel.fem.system import System
from tests.fields import displacement, inflation, polynomial
from tests.published.cases.deep_shells import octant_shell
from tests.published.cases.models import ALUMINIUM, SPRUCE, X, Z, edges, plate, section
from tests.published.cases.surfaces import cylinder, paraboloid

A, B, H = 0.3, 0.2, 3e-3


def _energy(shell, u):
    return 0.5 * u @ (shell.K @ u)


def _arched(shear=True, carved=True):
    axes = np.eye(3) if carved else None
    return plate(SPRUCE, H, A, B, 5, 4, shear, paraboloid(-1.2, -2.5), centred=True, axes=axes)


@pytest.mark.parametrize("shear", [True, False])
@pytest.mark.parametrize("carved", [True, False])
def test_rigid_motions_cost_nothing(shear, carved):
    """Six of them, on an arched plate of carved or bent wood: below 1e-9 of the energy of a bend of the
    same size.
    """
    shell = _arched(shear, carved)
    rigid = System(shell).rigid_motions()
    bend = displacement(shell, w=polynomial({(2, 0): 1.0, (0, 2): 1.0}))
    bend *= np.abs(rigid).max() / np.abs(bend).max()
    assert np.linalg.matrix_rank(rigid, tol=1e-6 * np.abs(rigid).max()) == 6
    assert max(_energy(shell, r) for r in rigid.T) < 1e-9 * _energy(shell, bend)


def test_rigid_inertia_is_that_of_a_plate():
    """Mass m for translations; m (b^2 + h^2)/12 and so on for rotations of a flat plate (Routh's rule)."""
    shell = plate(ALUMINIUM, 0.02, A, B, 2, 2, centred=True)
    rigid = System(shell).rigid_motions()
    mass = 2700 * 0.02 * A * B
    found = rigid.T @ (shell.M @ rigid)
    inertia = [mass] * 3 + [mass * (p**2 + q**2) / 12 for p, q in ((B, 0.02), (A, 0.02), (A, B))]
    assert np.diag(found) == pytest.approx(inertia, rel=1e-9)
    assert found - np.diag(np.diag(found)) == pytest.approx(np.zeros((6, 6)), abs=1e-12)
    assert shell.mass == pytest.approx(mass, rel=1e-12)


def test_flat_is_what_has_no_rise():
    """A plane at any height is flat, a rise of 1 mm over 300 is not. Half the longer side is measured at the
    quadrature points, the last of which lie a few hundredths of a triangle inside the edge: 3 %.
    """
    level, domed = (
        plate(SPRUCE, H, A, B, 3, 2, surface=graph(polynomial({(0, 0): 0.02, (2, 0): bend})))
        for bend in (0.0, 0.011)
    )
    assert level.is_flat
    assert not domed.is_flat
    assert level.half_size == pytest.approx(0.5 * A, rel=0.03)


@pytest.mark.parametrize("shear", [True, False])
def test_pure_bending_and_twist(shear):
    """w = (k11 x^2 + k22 y^2)/2 + k12 x y bends the plate evenly: energy a b (k, D k)/2 (Timoshenko & W-K,
    art. 11, 85).
    """
    shell = plate(SPRUCE, H, A, B, 3, 2, shear)
    D11, D12, D22, D66 = 27.02179, 0.784369, 2.108518, 1.710
    for k11, k22, k12 in ((1, 0, 0), (0, 1, 0), (0, 0, 1), (1, -2, 0.5)):
        u = displacement(shell, w=polynomial({(2, 0): k11 / 2, (0, 2): k22 / 2, (1, 1): k12}))
        expected = 0.5 * A * B * (D11 * k11**2 + 2 * D12 * k11 * k22 + D22 * k22**2 + D66 * (2 * k12) ** 2)
        assert _energy(shell, u) == pytest.approx(expected, rel=1e-6)


def test_pure_stretch_and_shear():
    """u = e11 x + g y: energy a b h (E_L/mu e11^2 + G g^2)/2."""
    shell = plate(SPRUCE, H, A, B, 3, 2)
    mu = 1 - 0.372**2 * 0.927 / 11.88
    u = displacement(shell, u=polynomial({(1, 0): 1e-3, (0, 1): 2e-3}))
    expected = 0.5 * A * B * H * (11.88e9 / mu * 1e-6 + 0.760e9 * 4e-6)
    assert _energy(shell, u) == pytest.approx(expected, rel=1e-9)


def test_inflated_cylinder():
    """Radial growth w of a cylinder stretches it by w/R around (Donnell; bending is w/R^2 only in better
    theories, here h^2/12 R^2 = 1e-6 of it): energy = area E h (w/R)^2 / (2 (1 - nu^2)).
    """
    radius, arc, length, w = 0.5, 0.4, 0.3, 1e-3
    shell = plate(ALUMINIUM, 2e-3, length, arc, 4, 6, surface=cylinder(radius))
    u = inflation(shell, radius, w)
    expected = length * arc * 70e9 * 2e-3 * (w / radius) ** 2 / (2 * (1 - 0.33**2))
    assert _energy(shell, u) == pytest.approx(expected, rel=1e-5)


def test_quadratic_midsurface_is_exact():
    """Position and both curvatures of a paraboloid at every quadrature point, its graph's formulas as
    reference.
    """
    k_x, k_y = -1.2, -2.5
    shell = _arched()
    points = shell.quadrature.surface
    x, y = shell.quadrature.points
    assert points.r[:, 2] == pytest.approx(0.5 * (k_x * x**2 + k_y * y**2), abs=1e-14)
    assert points.r_11[:, 2] == pytest.approx(np.full(len(x), k_x), rel=1e-9)
    assert points.r_22[:, 2] == pytest.approx(np.full(len(x), k_y), rel=1e-9)
    slope = 1 + (k_x * x) ** 2 + (k_y * y) ** 2
    form = shell.quadrature.second_form()
    gauss = form[:, 0] * form[:, 1] - form[:, 2] ** 2
    assert gauss == pytest.approx(k_x * k_y / slope**2, rel=1e-9)


def test_area_and_curvature_of_a_sphere():
    """Octant of a sphere: pi R^2/2, curvature 1/R in both directions."""
    shell = octant_shell(ALUMINIUM, 2.0, 0.01, 3)
    assert shell.area == pytest.approx(np.pi * 4.0 / 2, rel=1e-6)
    form = shell.quadrature.second_form()
    assert np.abs(form[:, :2]) == pytest.approx(np.full((len(form), 2), 0.5), rel=2e-3)
    assert form[:, 2] == pytest.approx(np.zeros(len(form)), abs=1e-3)


def test_pulled_strip_whose_grain_leaves_the_surface_shears():
    """Grain rising at 10 degrees through a strip that is pulled along x: its cross-sections lean by S_LT,L
    times the stress (Jones eq. 2.97 in the LT plane), and its stretch follows the off-axis modulus of the
    same plane.
    """
    length, width, degrees = 0.2, 0.05, 10
    c, s = np.cos(np.deg2rad(degrees)), np.sin(np.deg2rad(degrees))
    axes = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
    shell = plate(SPRUCE, H, length, width, 4, 1, True, axes=axes)
    load = np.zeros(shell.n_dofs)
    for end, sign in ((0.0, -1.0), (length, 1.0)):
        station, lengths, _ = edge_station(shell, edges(shell, lambda x, y, end=end: abs(x - end) < 1e-9))
        load += shell.operator(station, station.displacement_rows()[:, :1]).T @ (sign * lengths)
    pins = (
        hold_point(shell, (0, 0)),
        hold_point(shell, (0, width), [X, Z]),
        hold_point(shell, (length, 0), [Z]),
    )
    u = System(shell, (), pins).solve(load)
    at = shell.quadrature
    stress = 1 / H
    stretch = shell.operator(at, at.membrane_rows()[:, :1]) @ u
    w = SPRUCE
    E_x = 1 / (c**4 / w.E_L + s**4 / w.E_T + s**2 * c**2 * (1 / w.G_LT - 2 * w.nu_LT / w.E_L))
    assert stretch == pytest.approx(np.full(len(stretch), stress / E_x), rel=1e-6)
    shear = (shell.operator(at, shell.director_rows(at)) @ u).reshape(-1, 2)[:, 0]
    lean = -(shear - (shell.operator(at, at.slope_rows()) @ u).reshape(-1, 2)[:, 0])
    a, b = 2 / w.E_L + 2 * w.nu_LT / w.E_L - 1 / w.G_LT, 2 / w.E_T + 2 * w.nu_LT / w.E_L - 1 / w.G_LT
    assert lean == pytest.approx(np.full(len(lean), stress * (a * s * c**3 - b * s**3 * c)), rel=1e-6)


def test_frame_does_not_matter():
    """Isotropic wood: the direction of the local frame is a matter of taste; any frequency must ignore it."""
    mesh = plate(ALUMINIUM, H, A, B, 3, 2, centred=True).mesh
    surface = paraboloid(-1.0, -2.0)
    found = [
        System(Shell(mesh, surface, section(ALUMINIUM, H, along=d))).modes(6).frequencies
        for d in ((1.0, 0, 0), (0.3, -0.8, 0.1))
    ]
    assert found[1] == pytest.approx(found[0], rel=1e-7)


def test_turned_plate_with_turned_grain_is_the_same_plate():
    """A spruce plate, its grain and its mesh turned by 30 degrees in plan: same frequencies."""
    angle = np.deg2rad(30)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    straight = plate(SPRUCE, H, A, B, 4, 3, axes=np.eye(3), shear=True)
    mesh = type(straight.mesh)(turn @ straight.mesh.p, straight.mesh.t)
    axes = np.eye(3)
    axes[:2, :2] = turn.T
    turned = Shell(mesh, straight.surface, section(SPRUCE, H, axes))
    a, b = (System(s).modes(6).frequencies for s in (straight, turned))
    assert b == pytest.approx(a, rel=1e-7)
    grain_left = Shell(mesh, straight.surface, section(SPRUCE, H, np.eye(3)))
    assert abs(System(grain_left).modes(6).frequencies[0] / a[0] - 1) > 0.02


def test_side_up_does_not_matter():
    """An arch upside down, carved wood: same frequencies."""
    found = [
        System(plate(SPRUCE, H, A, B, 4, 3, True, paraboloid(s, 2 * s), True, np.eye(3))).modes(6).frequencies
        for s in (1.0, -1.0)
    ]
    assert found[1] == pytest.approx(found[0], rel=1e-7)


def test_arched_plate_converges():
    """Between two limits: the error of mode 5 of an arched thin plate falls with the fourth to ninth power
    of the mesh.

    The reference is the mesh twice as fine again; free edges and the interpolated midsurface keep the rate
    below the flat plate's eight.
    """
    found = [
        System(plate(ALUMINIUM, H, A, B, n, n, False, paraboloid(-1.2, -2.5), True)).modes(8).frequencies[4]
        for n in (2, 4, 8)
    ]
    first, second = abs(found[0] / found[2] - 1), abs(found[1] / found[2] - 1)
    assert second < 1e-3
    assert 4 < np.log2(first / second) < 9


def test_shear_field_only_softens():
    """More freedom lowers every mode of the free spruce plate, by 0.2 to 2 % (solids in case O4: 0.1 to 1.7
    %).
    """
    thin, sheared = (
        System(plate(SPRUCE, H, 0.36, 0.20, 6, 4, s)).modes(8).frequencies for s in (False, True)
    )
    lower = 1 - sheared / thin
    assert np.all(lower > 0)
    assert 0.002 < lower.max() < 0.02


def test_thickness_must_be_positive():
    bad = Section(lambda x, y: 3e-3 - 0.02 * x, SPRUCE.compliance(), 400.0)
    with pytest.raises(ValueError, match="thickness must be positive"):
        Shell(plate(SPRUCE, H, A, B, 2, 2).mesh, graph(lambda x, y: np.zeros((6, len(x)))), bad)


def test_varying_thickness_weighs_what_it_holds():
    """h = h0 (1 + x/a): mass 1.5 times as much, bending stiffness of w = x^2/2 by the mean of (1 + x/a)^3 =
    3.75.
    """
    mesh = plate(ALUMINIUM, H, A, B, 3, 2).mesh
    even, wedge = (
        Shell(mesh, graph(lambda x, y: np.zeros((6, len(x)))), s, shear=False)
        for s in (
            Section(constant(H), ALUMINIUM.compliance(), 2700.0),
            Section(lambda x, y: H * (1 + x / A), ALUMINIUM.compliance(), 2700.0),
        )
    )
    assert wedge.mass == pytest.approx(1.5 * even.mass, rel=1e-12)
    u = displacement(even, w=polynomial({(2, 0): 0.5}))
    assert _energy(wedge, u) == pytest.approx(3.75 * _energy(even, u), rel=1e-9)


@pytest.mark.parametrize("degrees", [7, 20, 33, 71])
def test_a_point_on_a_side_lies_in_one_of_its_triangles(degrees):
    """Round-off may put a point on a side outside both of them; a millionth of the plate's length outside the
    plate is still outside.
    """
    angle = np.deg2rad(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    flat = plate(SPRUCE, 3e-3, 0.36, 0.2, 7, 5)
    mesh = type(flat.mesh)(turn @ flat.mesh.p, flat.mesh.t)
    turned = Shell(mesh, paraboloid(0, 0), flat.section)
    a, b = (mesh.p[:, end] for end in mesh.facets)
    points = (a[:, :, None] + (b - a)[:, :, None] * np.linspace(0.05, 0.95, 23)).reshape(2, -1)
    found = turned.triangles(points)
    x, y = mesh.mapping().invF(points[:, :, None], tind=found)
    assert np.minimum(np.minimum(x, y), 1 - x - y).min() > -1e-12
    with pytest.raises(GeometryError, match="outside the plate"):
        turned.triangles(turn @ np.array([[-0.36e-6], [0.1]]))
