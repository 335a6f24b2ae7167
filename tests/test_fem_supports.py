"""Supports: what is held, what stays free, and springs."""

import numpy as np
import pytest

from platemodel.errors import GeometryError
from platemodel.fem.section import Section, constant
from platemodel.fem.shell import Shell
from platemodel.fem.supports import (
    clamp,
    edge_rotation,
    edge_spring,
    edge_station,
    hold,
    hold_point,
    null_space,
    point_rows,
    point_spring,
)
from platemodel.fem.surface import flat
from platemodel.fem.system import System
from tests.published.cases.isotropic import circle
from tests.published.cases.models import ALUMINIUM, X, Y, Z, edges, plate

A, B, H = 0.3, 0.2, 3e-3


@pytest.fixture(scope="module")
def thin():
    return plate(ALUMINIUM, H, A, B, 4, 3)


def test_free_columns_keep_every_condition(thin):
    """The basis is orthonormal, satisfies the conditions, and loses exactly the conditions' rank (corners
    repeat some).
    """
    supports = [hold(thin, edges(thin)), clamp(thin, edges(thin), [X, Y, Z])]
    basis = null_space(supports, thin.n_dofs)
    assert abs(basis.T @ basis - np.eye(basis.shape[1])).max() < 1e-12
    rows = np.vstack([s.rows.toarray() for s in supports])
    scale = np.abs(rows).max(axis=1, keepdims=True)
    assert abs((rows / scale) @ basis).max() < 1e-12
    assert basis.shape[1] == thin.n_dofs - np.linalg.matrix_rank(rows / scale)


def test_held_edge_stays_put_and_the_rest_moves(thin):
    """Random motion: the held component is zero all along a straight edge, the slope across it is not."""
    ends = edges(thin, lambda x, y: x < 1e-9)
    basis = null_space([hold(thin, ends, [Z])], thin.n_dofs)
    motion = basis @ np.random.default_rng(1).standard_normal(basis.shape[1])
    line = np.stack([np.zeros(50), np.linspace(0, B, 50)])
    shown = {d: point_rows(thin, line, v) @ motion for d, v in (("x", X), ("z", Z))}
    inside = point_rows(thin, line + np.array([[1e-3], [0.0]]), Z) @ motion
    assert np.abs(shown["z"]).max() < 1e-9 * np.abs(shown["x"]).max()
    assert np.abs(inside).max() > 1e3 * np.abs(shown["z"]).max()


def test_hinge_lets_the_rim_of_a_disc_turn():
    """Free turning at a hinged rim: w = 1 - r^2 has zero value and slope -2 at r = 1, and must satisfy the
    conditions.

    Deflections that vanish on the circle through the vertices are representable to the polygon's accuracy.
    """
    shell = Shell(
        circle(1.0, 0.3, 0.2), flat(), Section(constant(5e-3), ALUMINIUM.compliance(), 2700.0), shear=False
    )
    rim = np.hypot(*shell.mesh.p[:, shell.mesh.boundary_nodes()]).mean()
    coefficients = np.zeros(shell.n_dofs)
    x, y = shell.mesh.p
    dofs = np.array([shell.vertex_dofs(v) for v in range(len(x))]) + 2 * shell.n_c1
    field = np.stack([rim**2 - x**2 - y**2, -2 * x, -2 * y, -2 + 0 * x, 0 * x, -2 + 0 * x], axis=1)
    coefficients[dofs] = field
    violated = hold(shell, edges(shell), [Z]).rows @ coefficients
    assert np.abs(violated).max() < 2e-2  # against slopes and curvatures of 2
    assert np.abs(clamp(shell, edges(shell)).rows @ coefficients).max() > 1.9


def test_stiff_rotational_springs_clamp():
    """A spring of 1e5 D/a at the edges of a thin hinged plate gives the clamped frequencies (35.985
    against 19.739).
    """
    shell = plate(ALUMINIUM, 1e-3, 0.2, 0.2, 6, 6)
    D = ALUMINIUM.E_L * 1e-9 / 12 / (1 - 0.33**2)
    hinged = hold(shell, edges(shell))

    def first(*supports):
        omega = np.sqrt(System(shell, (), supports).modes(2).omega2[0])
        return omega * 0.2**2 * np.sqrt(2.7 / D)

    clamped = first(hinged, clamp(shell, edges(shell)))
    sprung = first(hinged, edge_rotation(shell, edges(shell), 1e5 * D / 0.2))
    half = first(hinged, edge_rotation(shell, edges(shell), 5 * D / 0.2))
    assert clamped == pytest.approx(35.985, rel=1e-3)
    assert sprung == pytest.approx(clamped, rel=1e-3)
    assert 20.5 < half < 34


def test_stiff_edge_springs_hold(thin):
    """Springs of 1e12 N/m per metre along the edges, against D / b^3 = 2e4 of the plate, do as much as
    holding it.
    """
    held = System(thin, (), (hold(thin, edges(thin)),)).modes(4).frequencies
    springs = tuple(edge_spring(thin, edges(thin), d, 1e12) for d in (X, Y, Z))
    assert System(thin, (), springs).modes(4).frequencies == pytest.approx(held, rel=1e-3)


def test_support_given_twice_is_given_once(thin):
    """Repeated conditions, along an oblique direction, take off their rank and no more."""
    oblique = hold(thin, edges(thin), [[0.6, 0.0, 0.8]])
    once, twice = (null_space([oblique] * n, thin.n_dofs).shape[1] for n in (1, 2))
    assert once == twice < thin.n_dofs


def test_springs_along_an_edge_add_up():
    """Moved by 1 m, springs of k per metre pull with k times the length; turned by 1 rad about the edges,
    likewise.
    """
    shell = plate(ALUMINIUM, H, A, B, 4, 3, shear=True)
    along_x = edges(shell, lambda x, y: (y < 1e-9) | (y > B - 1e-9))
    rigid = System(shell).rigid_motions()
    up, about_x, about_y = rigid[:, 2], rigid[:, 3], rigid[:, 4]
    assert up @ (edge_spring(shell, along_x, Z, 7.0).matrix() @ up) == pytest.approx(7.0 * 2 * A, rel=1e-12)
    turning = edge_rotation(shell, along_x, 7.0).matrix()
    assert about_x @ (turning @ about_x) == pytest.approx(7.0 * 2 * A, rel=1e-12)
    assert about_y @ (turning @ about_y) == pytest.approx(0.0, abs=1e-12)


def test_edges_run_with_the_plate_on_their_left(thin):
    """The direction a quarter turn to the right of the tangent points away from the middle, on every edge."""
    station, lengths, tangent = edge_station(thin, edges(thin))
    assert lengths.sum() == pytest.approx(2 * (A + B), rel=1e-12)
    outward = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    from_middle = station.surface.r[:, :2] - np.array([A / 2, B / 2])
    assert np.all((outward * from_middle).sum(axis=1) > 0.49 * B)


def test_supports_turn_with_the_plate():
    """Hinged and clamped plate, turned by 30 degrees in plan: same frequencies."""
    angle = np.deg2rad(30)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    straight = plate(ALUMINIUM, H, A, B, 4, 3)
    turned = Shell(
        type(straight.mesh)(turn @ straight.mesh.p, straight.mesh.t), flat(), straight.section, shear=False
    )
    for extra in ((), (clamp,)):
        a, b = (
            System(s, (), (hold(s, edges(s)), *(f(s, edges(s)) for f in extra))).modes(4).frequencies
            for s in (straight, turned)
        )
        assert b == pytest.approx(a, rel=1e-8)


def test_plate_on_four_soft_springs():
    """A stiff plate on four equal springs is a rigid body: omega^2 = 4 k / m up and down, and sum of k r^2
    over the moment of inertia for rocking, r the springs' distance from the axis. They stand at (+-30, +-20)
    mm on a plate of 100 x 80 mm.
    """
    shell = plate(ALUMINIUM, 5e-3, 0.1, 0.08, 2, 2, centred=True)
    k, x, y = 50.0, 0.03, 0.02
    corners = [(x, y), (x, -y), (-x, y), (-x, -y)]
    springs = tuple(point_spring(shell, p, Z, k) for p in corners)
    pins = tuple(edge_spring(shell, edges(shell), d, 1e9) for d in (X, Y))
    found = np.sort(System(shell, (), springs + pins).modes(3).frequencies)
    mass = 2700 * 5e-3 * 0.1 * 0.08
    expected = np.sqrt(
        [
            4 * k / mass,
            4 * k * x**2 / (mass * (0.1**2 + 5e-3**2) / 12),
            4 * k * y**2 / (mass * (0.08**2 + 5e-3**2) / 12),
        ]
    )
    assert found == pytest.approx(np.sort(expected) / (2 * np.pi), rel=1e-3)


def test_statics_is_reciprocal(thin):
    """Maxwell 1864: the deflection at B under a force at A is that at A under the same force at B."""
    system = System(thin, (), (hold(thin, edges(thin)),))
    rows = point_rows(thin, [[0.05, 0.21], [0.06, 0.13]], Z)
    w = rows @ system.solve(rows.toarray().T)
    assert w[0, 1] == pytest.approx(w[1, 0], rel=1e-9)
    assert w[0, 0] > w[0, 1] > 0


def test_point_off_the_plate_is_refused(thin):
    with pytest.raises(GeometryError, match="outside the plate"):
        point_spring(thin, (0.5, 0.1), Z, 1.0)


def test_point_is_held_at_the_nearest_vertex(thin):
    row = hold_point(thin, (0.001, 0.001), [Z]).rows
    assert row.shape[0] == 1
    assert row.indices.tolist() == [int(thin.vertex_dofs(0)[0]) + 2 * thin.n_c1]
