"""Pressure and forces at points against closed forms; boundary edges by name; isotropic compliance."""

import numpy as np
import pytest

from platemodel.fem import (
    Fineness,
    Loop,
    Section,
    Shell,
    System,
    boundary_facets,
    clamp,
    constant,
    flat,
    hold,
    isotropic_compliance,
    mesh_plan,
    point_load,
    point_rows,
    pressure_load,
    rectangle,
)
from platemodel.wood.orthotropic import Orthotropic
from tests.published.cases.models import mirror
from tests.published.cases.surfaces import cylinder

E, NU, H, A = 70e9, 0.3, 2e-3, 0.4
D = E * H**3 / (12 * (1 - NU**2))
X, Y, Z = np.eye(3)


def _section(thickness=H):
    return Section(constant(thickness), isotropic_compliance(E, NU), 2700.0)


@pytest.fixture(scope="module")
def square():
    """Thin square plate on hinged edges."""
    shell = Shell(rectangle(A, A, 6, 6), flat(), _section(), shear=False)
    return shell, System(shell, (), (hold(shell, boundary_facets(shell.mesh)),))


def _navier(load_mn, x, y, terms=399):
    """Deflection of a hinged square from its double sine series (Timoshenko & Woinowsky-Krieger, Theory of
    Plates and Shells, art. 28 and 34, from memory): w = sum q_mn sin sin / (pi^4 D (m^2 + n^2)^2 / a^4).
    """
    m = np.arange(1, terms + 1)[:, None]
    n = np.arange(1, terms + 1)[None]
    shape = np.sin(m * np.pi * x / A) * np.sin(n * np.pi * y / A)
    return float((load_mn(m, n) * shape / (np.pi**4 * D * (m**2 + n**2) ** 2 / A**4)).sum())


def test_pressure_on_a_hinged_square(square):
    """Navier's series; 1e-4 is ten times what 6 x 6 cells still change by on 12 x 12."""
    shell, system = square
    u = system.solve(pressure_load(shell, 100.0))
    x, y = 0.5 * A, 0.3 * A
    exact = _navier(lambda m, n: 1600.0 * (m % 2) * (n % 2) / (np.pi**2 * m * n), x, y)
    assert (point_rows(shell, [[x], [y]], Z) @ u)[0] == pytest.approx(exact, rel=1e-4)


def test_force_on_a_hinged_square(square):
    """Navier's series for a force off the middle, and Timoshenko's 0.01160 P a^2 / D (table 23, from memory)
    under one in the middle; a point force lies at a vertex or not, so 6 x 6 cells are within 5e-4.
    """
    shell, system = square
    x, y = 0.31 * A, 0.42 * A

    def load(m, n):
        return 4 * 3.0 / A**2 * np.sin(m * np.pi * x / A) * np.sin(n * np.pi * y / A)

    u = system.solve(point_load(shell, (x, y), 3.0 * Z))
    at = 0.6 * A, 0.5 * A
    found = (point_rows(shell, np.reshape(at, (2, 1)), Z) @ u)[0]
    assert found == pytest.approx(_navier(load, *at), rel=5e-4)
    middle = np.full((2, 1), A / 2)
    u = system.solve(point_load(shell, middle[:, 0], 3.0 * Z))
    assert (point_rows(shell, middle, Z) @ u)[0] == pytest.approx(0.01160 * 3.0 * A**2 / D, rel=1e-3)


def test_pressure_on_a_clamped_disc():
    """q R^4 / 64 D in the middle (Timoshenko & Woinowsky-Krieger, art. 16, from memory); the rim is a polygon
    of some 50 sides, which is worth 2e-3.
    """
    radius = 0.15
    turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    loop = Loop(radius * np.stack([np.cos(turn), np.sin(turn)], axis=1), np.array([], dtype=int))
    mesh = mesh_plan(loop, fineness=Fineness(0.03, 0.03, turn=2 * np.pi / 50))
    shell = Shell(mesh, flat(), _section(), shear=False)
    rim = boundary_facets(mesh, "outer")
    u = System(shell, (), (hold(shell, rim), clamp(shell, rim))).solve(pressure_load(shell, 100.0))
    middle = (point_rows(shell, [[0.0], [0.0]], Z) @ u)[0]
    assert middle == pytest.approx(100.0 * radius**4 / (64 * D), rel=2e-3)


def test_pressure_inside_a_tube():
    """A tube whose ends slide grows by p R^2 / (E h) (thin-walled, equilibrium of half a ring). Positive
    pressure pushes along the normal, outwards here; a quarter of the ring between planes of symmetry.
    """
    radius, pressure = 0.5, 1e5
    mesh = rectangle(0.2, radius * np.pi / 2, 2, 6)
    shell = Shell(mesh, cylinder(radius), _section(), shear=False)
    ends = hold(shell, boundary_facets(mesh, ["left", "right"]), [X])
    supports = (
        ends,
        *mirror(shell, boundary_facets(mesh, "bottom"), Y),
        *mirror(shell, boundary_facets(mesh, "top"), Z),
    )
    u = System(shell, (), supports).solve(pressure_load(shell, pressure))
    growth = (point_rows(shell, [[0.1], [0.0]], Z) @ u)[0]
    # held along the axis: plane strain, so E / (1 - nu^2)
    assert growth == pytest.approx(pressure * radius**2 * (1 - NU**2) / (E * H), rel=1e-3)


def test_resultant_of_a_pressure():
    """Work on a translation is the force, on a rotation the moment: water of depth y on a plate gives rho g
    A^3 / 2 and, about the line through the middle, the moment of a triangle, rho g A^4 / 12. A weight on a
    slope acts per area of the slope, whatever the length of its direction.
    """
    shell = Shell(rectangle(A, A, 3, 3), flat(), _section())
    rigid = System(shell).rigid_motions()
    work = pressure_load(shell, lambda x, y: 9810.0 * y) @ rigid
    assert work == pytest.approx([0, 0, 9810 * A**3 / 2, 9810 * A**4 / 12, 0, 0], abs=1e-9 * 9810)
    roof = Shell(rectangle(0.2, 0.3, 2, 4), cylinder(0.5), _section())
    work = pressure_load(roof, 50.0, (0.0, 0.0, -7.0)) @ System(roof).rigid_motions()
    assert work[:3] == pytest.approx([0, 0, -50.0 * 0.2 * 0.3], rel=1e-6, abs=1e-9)


def test_resultant_of_a_force():
    """A force of 2, 3, 5 N at a point off the middle: the same force, and its moment about the middle."""
    shell = Shell(rectangle(A, A, 3, 3), flat(), _section())
    force, arm = np.array([2.0, 3.0, 5.0]), np.array([0.05, -0.1, 0.0])
    work = point_load(shell, arm[:2] + A / 2, force) @ System(shell).rigid_motions()
    assert work == pytest.approx([*force, *np.cross(arm, force)], rel=1e-9)


@pytest.fixture(scope="module")
def holed():
    turn = np.linspace(0, 2 * np.pi, 100, endpoint=False)
    hole = 0.05 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    aside = np.array([0.1, 0.0])
    sides = np.array([[-0.2, -0.1], [0.2, -0.1], [0.2, 0.1], [-0.2, 0.1]])
    traced = np.concatenate(
        [a + np.linspace(0, 1, 50, endpoint=False)[:, None] * (b - a)
         for a, b in zip(sides, np.roll(sides, -1, axis=0), strict=True)]
    )
    return mesh_plan(
        Loop(traced, np.arange(0, 200, 50)),
        [Loop(hole + aside, []), Loop(hole - aside, [])],
        Fineness(0.04, 0.02),
    )


def test_edges_by_name(holed):
    """Sides lie where their names say, and the names share the boundary out between them."""

    def length(name):
        a, b = holed.p[:, holed.facets[:, boundary_facets(holed, name)]].swapaxes(0, 1)
        return np.hypot(*(a - b)).sum()

    assert [length(n) for n in ("left", "right", "bottom", "top")] == pytest.approx([0.2, 0.2, 0.4, 0.4])
    left = holed.p[0, holed.facets[:, boundary_facets(holed, "left")]]
    assert left == pytest.approx(np.full(left.shape, -0.2))
    assert length("outer") == pytest.approx(1.2)
    assert length("holes") == pytest.approx(2 * 2 * np.pi * 0.05, rel=0.02)  # a polygon, keeping the area
    everything = set(boundary_facets(holed))
    outer, holes = set(boundary_facets(holed, "outer")), set(boundary_facets(holed, "holes"))
    assert outer | holes == everything == set(boundary_facets(holed, "all"))
    assert not outer & holes
    assert set(boundary_facets(holed, ["left", "right", "bottom", "top"])) == outer


def test_isotropic_compliance_is_the_textbook_s():
    """Against the wood room's own isotropic material, and G = E / (2 (1 + nu)) by number."""
    own = isotropic_compliance(E, NU)
    assert own == pytest.approx(Orthotropic.isotropic(E, NU, 2700, "aluminium").compliance(), rel=1e-12)
    assert 1 / own[5, 5] == pytest.approx(26.923e9, rel=1e-4)


def test_what_a_thing_says_it_is(square):
    """Unknowns, sizes and units, by numbers that are known here: 2700 x 0.4 x 0.4 x 0.002 kg = 864 g."""
    shell, system = square
    own = f"Shell(thin, 72 triangles, {shell.n_dofs} unknowns, 400 x 400 x 0 mm, 2 to 2 mm thick, 864 g)"
    assert repr(shell) == own
    assert repr(system) == f"System({shell.n_dofs} unknowns, no rib, 1 support, {own})"
    assert repr(System(shell)).startswith(f"System({shell.n_dofs} unknowns, no rib, free, ")
    assert repr(shell.section) == "Section(E 70 and 70 GPa, 2700 kg/m3, material follows the surface)"
    first = System(shell).modes(2)
    assert repr(first) == f"Modes(2 of {shell.n_dofs} unknowns, {first.frequencies[0]:.4g}, " + (
        f"{first.frequencies[1]:.4g} Hz)"
    )
    assert repr(system.supports[0]).endswith(f"conditions on {shell.n_dofs} unknowns)")
