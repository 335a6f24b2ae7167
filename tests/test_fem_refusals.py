"""Nonsense at the doors of the finite-element room: one clear error each, that says what is wrong."""

import pickle
from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse import diags, identity
from skfem import MeshTri

from platemodel.errors import AccuracyError, GeometryError, NeedleError
from platemodel.fem import (
    Rib,
    RibWood,
    Seat,
    Section,
    Shell,
    System,
    boundary_facets,
    constant,
    flat,
    hold,
    hold_point,
    isotropic_compliance,
    point_load,
    point_spring,
    pressure_load,
    rectangle,
)
from platemodel.fem.eigen import DENSE, low_modes
from platemodel.fem.factors import factorise
from platemodel.fem.loose import name_motions

A, B, H = 0.3, 0.2, 3e-3
X, Y, Z = np.eye(3)
ALUMINIUM = isotropic_compliance(70e9, 0.33)


@pytest.fixture(scope="module")
def shell():
    return Shell(rectangle(A, B, 3, 2), flat(), Section(constant(H), ALUMINIUM, 2700.0))


def test_free_body_has_no_state_of_rest(shell):
    with pytest.raises(AccuracyError, match="all six rigid motions are loose"):
        System(shell).solve(pressure_load(shell, 100.0))


def test_plate_held_upright_only_is_loose_in_its_plane(shell):
    """Held in z along all edges, a plate keeps two translations and one rotation, all in its plane."""
    system = System(shell, (), (hold(shell, boundary_facets(shell.mesh), [Z]),))
    loose = "three motions are loose.*sliding along x, sliding along y, turning about z; hold it in its plane"
    with pytest.raises(AccuracyError, match=loose):
        system.solve(pressure_load(shell, 100.0))
    with pytest.raises(AccuracyError, match=loose):
        system.modes(3)
    assert system.loose_motions().shape == (shell.n_dofs, 3)
    assert system.modes(3, loose=system.loose_motions()).omega2[0] > 0
    with pytest.raises(AccuracyError, match="three motions are loose"):
        system.modes(3, loose=system.loose_motions()[:, :2])


def test_hinge_along_one_edge_turns_about_it(shell):
    """The line y = 0: the name of the motion gives a point on it and its direction."""
    system = System(shell, (), (hold(shell, boundary_facets(shell.mesh, "bottom")),))
    about = r"one motion is loose.*\(150\.0, 0\.0, 0\.0\) mm along \(1, 0, 0\)"
    with pytest.raises(AccuracyError, match=about):
        system.solve(point_load(shell, (0.1, 0.1), Z))


def test_soft_springs_count_as_a_support(shell):
    """However soft, a spring gives a state of rest: k u = F for a force through its point."""
    springs = [point_spring(shell, p, d, 1e-2) for p in ((0.0, 0.0), (A, 0.0), (0.0, B)) for d in (X, Y, Z)]
    system = System(shell, (), tuple(springs))
    assert system.loose_motions().shape == (shell.n_dofs, 0)
    force = point_load(shell, (0.0, 0.0), 1e-3 * Z)
    assert force @ system.solve(force) == pytest.approx(1e-3**2 / 1e-2, rel=1e-5)


def test_three_points_hold_a_plate(shell):
    """Six conditions, 3-2-1, hold a rigid body; five of them do not."""
    points = (
        hold_point(shell, (0.0, 0.0)),
        hold_point(shell, (A, 0.0), [Y, Z]),
        hold_point(shell, (0.0, B), [Z]),
    )
    assert System(shell, (), points).loose_motions().shape[1] == 0
    assert System(shell, (), points[:2]).loose_motions().shape[1] == 1


@pytest.mark.parametrize("length", [-1, 1, 5])
def test_load_of_another_length(shell, length):
    system = System(shell, (), (hold(shell, boundary_facets(shell.mesh)),))
    with pytest.raises(ValueError, match=rf"has the shape .*must be {shell.n_dofs} "):
        system.solve(np.zeros(shell.n_dofs + length))


def test_load_with_the_rib_s_own_unknowns_or_without(shell):
    rib = Rib(Seat(shell, (0.05, 0.1), (0.25, 0.1), 5e-3), 10e-3, RibWood(ALUMINIUM, 2700.0))
    system = System(shell, (rib,), (hold(shell, boundary_facets(shell.mesh)),))
    load = pressure_load(shell, 10.0)
    longer = np.concatenate([load, np.zeros(rib.n_own)])
    assert np.array_equal(system.solve(load), system.solve(longer))
    with pytest.raises(ValueError, match=f"must be {shell.n_dofs} .* or {system.n_dofs} "):
        system.solve(longer[:-1])


def test_load_that_is_not_a_number(shell):
    system = System(shell, (), (hold(shell, boundary_facets(shell.mesh)),))
    load = pressure_load(shell, 10.0)
    load[3] = np.nan
    with pytest.raises(ValueError, match="not finite"):
        system.solve(load)


@pytest.mark.parametrize("count", [0, -1, 10**6])
def test_impossible_number_of_modes(shell, count):
    with pytest.raises(ValueError, match=f"{count} modes are wanted; allowed 1 to {shell.n_dofs - 8} "):
        System(shell).modes(count)


def _broken(kind):
    out = ALUMINIUM.copy()
    if kind == "asymmetric":
        out[0, 1] *= 1.01
    elif kind == "indefinite":
        out[:3, :3] = -0.6 / 70e9  # Poisson's ratio 0.6
        np.fill_diagonal(out[:3, :3], 1 / 70e9)
    elif kind == "negative":
        out[5, 5] *= -1
    elif kind == "no number":
        out[2, 2] = np.nan
    return out[:3, :3] if kind == "small" else out


BROKEN = [
    ("small", "shape.*6, 6"),
    ("asymmetric", "not symmetric"),
    ("indefinite", "not positive definite"),
    ("negative", "diagonal must be positive"),
    ("no number", "not finite"),
]


@pytest.mark.parametrize(("kind", "match"), BROKEN)
def test_compliance_that_no_material_has(shell, kind, match):
    with pytest.raises(ValueError, match=match):
        Section(constant(H), _broken(kind), 2700.0)
    with pytest.raises(ValueError, match=match):
        shell.with_material(_broken(kind), 2700.0)
    seat = Seat(shell, (0.05, 0.1), (0.25, 0.1), 5e-3)
    with pytest.raises(ValueError, match=match):
        Rib(seat, 10e-3, RibWood(_broken(kind), 2700.0))


@pytest.mark.parametrize(
    ("young", "poisson", "match"), [(0.0, 0.3, "Young"), (70e9, 0.5, "Poisson"), (70e9, -1.0, "Poisson")]
)
def test_isotropic_constants_out_of_range(young, poisson, match):
    with pytest.raises(ValueError, match=match):
        isotropic_compliance(young, poisson)


def test_section_that_cannot_be(shell):
    with pytest.raises(ValueError, match="density"):
        replace(shell.section, density=0.0)
    with pytest.raises(ValueError, match="square to each other"):
        replace(shell.section, axes=np.ones((3, 3)))
    with pytest.raises(ValueError, match="thickness"):
        constant(0.0)


def test_seat_without_length_or_width(shell):
    with pytest.raises(GeometryError, match=r"both ends of the seat lie at \(100\.0, 100\.0\) mm"):
        Seat(shell, (0.1, 0.1), (0.1, 0.1), 5e-3)
    with pytest.raises(GeometryError, match="width must be positive"):
        Seat(shell, (0.1, 0.1), (0.2, 0.1), 0.0)


def test_rectangle_without_cells():
    with pytest.raises(GeometryError, match="0 x 2 cells"):
        rectangle(A, B, 0, 2)


@pytest.mark.parametrize("name", ["middle", "holes"])
def test_edge_that_is_not_there(shell, name):
    with pytest.raises(ValueError, match=name):
        boundary_facets(shell.mesh, name)


def test_load_that_cannot_be(shell):
    with pytest.raises(GeometryError, match="outside the plate"):
        point_load(shell, (0.5, 0.1), Z)
    with pytest.raises(ValueError, match="three finite components"):
        point_load(shell, (0.1, 0.1), 1.0)
    with pytest.raises(ValueError, match="two parameters"):
        point_load(shell, (0.1, 0.1, 0.0), Z)
    with pytest.raises(ValueError, match="not finite"):
        pressure_load(shell, np.inf)
    with pytest.raises(ValueError, match="not all zero"):
        pressure_load(shell, 1.0, (0.0, 0.0, 0.0))


def test_spring_that_pushes(shell):
    with pytest.raises(ValueError, match="0 or more"):
        point_spring(shell, (0.1, 0.1), Z, -1.0)


def test_needle_in_the_mesh():
    """A vertex moved to within 1e-4 of a side's length from that side."""
    mesh = rectangle(A, B, 3, 2)
    p = mesh.p.copy()
    inner = next(v for v in mesh.t[:, 4] if v not in mesh.boundary_nodes())
    others = p[:, [v for v in mesh.t[:, 4] if v != inner]]
    p[:, inner] = others.mean(axis=1) + 1e-4 * (p[:, inner] - others.mean(axis=1))
    with pytest.raises(NeedleError, match="needle-shaped triangle near") as refused:
        Shell(MeshTri(p, mesh.t), flat(), Section(constant(H), ALUMINIUM, 2700.0))
    middles = p[:, mesh.t[:, (mesh.t == inner).any(axis=0)]].mean(axis=1)  # of those that may be flat now
    assert np.hypot(*(middles.T - refused.value.place).T).min() < 1e-9
    assert pickle.loads(pickle.dumps(refused.value)).place == refused.value.place  # from another process


@pytest.mark.parametrize(("noise", "why"), [(0.0, "shift nearer"), (1e-2, "solving loses")])
def test_search_that_does_not_settle(noise, why):
    """A shift of 1e4 before values 1, 2, 3 .. hides the gaps between them: a search takes thousands of
    vectors. It ends all the same, and says which mode still moves and whether the factors are to blame.
    """
    n = 4 * DENSE
    stiffness, mass = diags(np.arange(1.0, n + 1)).tocsc(), identity(n, format="csc")
    rounding = np.random.default_rng(4)

    def solve(load):
        exact = load / (stiffness.diagonal() + 1e4)[:, None]
        return exact * (1 + noise * rounding.standard_normal(load.shape))

    with pytest.raises(AccuracyError, match=rf"did not settle within \d+ vectors.*frequency \d.*{why}"):
        low_modes(stiffness, mass, 1e4, 4, solve=solve)
    found = low_modes(stiffness, mass, 1.0, 4)
    assert found.omega2 == pytest.approx([1.0, 2.0, 3.0, 4.0], rel=1e-9)


def test_stiffness_that_is_singular():
    with pytest.raises(AccuracyError, match="cannot be factorised"):
        factorise(diags([1.0, 0.0, 2.0]).tocsc())


@pytest.mark.parametrize(("pitch", "words"), [(0.0, "(0, 0, 1)"), (0.03, "(0, 0, 1) while sliding along it")])
def test_a_loose_turn_is_told_with_its_axis(pitch, words):
    """One radian about an upright line through (110, 20) mm, moving ``pitch`` along it: the point (10, 20) mm
    slides by its 100 mm from the line; turns count times the size, 0.2 m."""
    motion = np.array([0.0, -0.1, pitch, 0.0, 0.0, 0.2])
    told = name_motions(motion[:, None] / np.linalg.norm(motion), 0.2, np.array([0.01, 0.02, 0]), flat=False)
    assert told == (
        "one motion is loose, without stiffness: turning about the line through (110.0, 20.0, 0.0) mm along "
        f"{words}; hold the body there"
    )


def test_a_loose_slide_is_told_with_its_way():
    motion = np.array([0.6, 0.8, 0.0, 0.0, 0.0, 0.0])[:, None]
    assert "sliding along (0.6, 0.8, 0)" in name_motions(motion, 0.2, np.zeros(3), flat=True)
    assert name_motions(np.eye(6)[:, :2], 0.2, np.zeros(3), flat=True).endswith("hold it in its plane")
