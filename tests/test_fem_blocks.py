"""Blocks, ties and the mean motion of glued faces: rigid bodies and sums of squares by hand."""

import numpy as np
import pytest
from skfem import MeshTri

from platemodel.fem.beams import Beam, Frame
from platemodel.fem.face import mean_rows, rigid_at
from platemodel.fem.prism import prism
from platemodel.fem.section import Section, constant
from platemodel.fem.shell import Shell
from platemodel.fem.squares import Squares
from platemodel.fem.surface import graph
from tests.fields import displacement, polynomial
from tests.published.cases.models import SPRUCE, plate

THICK, APART, DENSITY = 3e-3, 35e-3, 450.0
CORNERS = np.array([[0.02, 0.05, 0.031, 0.06], [0.01, 0.012, 0.034, 0.03]])
PLAN = MeshTri(CORNERS, np.array([[0, 0], [1, 2], [3, 3]]))
COMPLIANCE = SPRUCE.compliance()


def two_plates(bend):
    """Lower and upper plate on two triangles each, frames askew; flat or arched apart."""
    out = []
    for z, k in ((0.0, -bend), (APART, bend)):
        height = polynomial({(0, 0): z, (2, 0): k, (1, 1): 0.4 * k, (0, 2): 0.7 * k, (1, 0): 0.1 * k})
        wood = Section(constant(THICK), COMPLIANCE, DENSITY, None, (0.8, 0.6, 0.0))
        mesh = plate(SPRUCE, THICK, 0.08, 0.04, 1, 1).mesh
        out.append(Shell(mesh, graph(height), wood))
    return out


class Block:
    """A prism between two plates."""

    def __init__(self, bend=0.0):
        self.plates = two_plates(bend)
        lower, upper = self.plates
        self.first = {"upper": 0, "lower": upper.n_dofs}
        self.n = lower.n_dofs + upper.n_dofs
        self.prism = prism(lower, upper, PLAN)

    def moved(self, lower=None, upper=None):
        """Both plates displaced by fields: (n,)."""
        return np.concatenate(
            [displacement(self.plates[1], **upper or {}), displacement(self.plates[0], **lower or {})]
        )

    def turned(self, axis):
        """Both plates turned as one body about the origin."""
        lower, upper = ((s.interpolated_geometry()[1], s) for s in self.plates)
        out = []
        for at, shell in (upper, lower):
            u = np.zeros(shell.n_dofs)
            u[: 3 * shell.n_c1] = np.cross(axis, at).T.ravel()
            out.append(u)
        return np.concatenate(out)

    def energy(self, u):
        return u @ (self.prism.stiffness(self.n, self.first, COMPLIANCE).matrix() @ u)

    def inertia(self, u):
        return u @ (self.prism.mass(self.n, self.first, DENSITY).matrix() @ u)


@pytest.fixture(scope="module")
def flat():
    return Block()


@pytest.fixture(scope="module")
def arched():
    return Block(1.5)


def even(value):
    return polynomial({(0, 0): value})


def test_block_moves_as_a_rigid_body(flat, arched):
    """Nothing is strained by shifts and turns, arched plates included; kinetic energy that of an upright
    rod at each point, mass (h^2 / 12 + distance^2) (parallel axes).
    """
    for block in (flat, arched):
        height = block.prism.height
        mass = DENSITY * block.prism.areas * height
        assert block.prism.mass_of(DENSITY) == pytest.approx(mass.sum(), rel=1e-12)
        middle = 0.5 * (block.prism.upper.r + block.prism.lower.r)
        reference = block.energy(block.moved(upper={"w": even(1.0)}))
        for k, name in enumerate("uvw"):
            shift = block.moved({name: even(1.0)}, {name: even(1.0)})
            assert abs(block.energy(shift)) < 1e-9 * reference
            assert block.inertia(shift) == pytest.approx(mass.sum(), rel=1e-9)
            turn = block.turned(np.eye(3)[k])
            assert abs(block.energy(turn)) < 1e-9 * reference * APART**2
            far = (np.cross(np.eye(3)[k], middle) ** 2).sum(axis=1) + (k != 2) * height**2 / 12.0
            assert block.inertia(turn) == pytest.approx(mass @ far, rel=1e-9)


def test_one_face_moved_carries_a_third_of_the_mass(flat):
    """Linear through the height: the integral of its square is 1/3 (either face)."""
    mass = flat.prism.mass_of(DENSITY)
    for part in ("lower", "upper"):
        assert flat.inertia(flat.moved(**{part: {"v": even(1.0)}})) == pytest.approx(mass / 3.0, rel=1e-9)


def test_nearest_rigid_motion_of_two_faces(arched):
    """Gauss's least squares: what is left of the points' motion has neither a weighted resultant nor a
    weighted moment. A rigid motion is found as it is, at the middle and anywhere else.
    """
    lower, upper = arched.prism.lower, arched.prism.upper
    weights = np.random.default_rng(3).uniform(0.5, 4.0, 2 * len(arched.prism.areas))
    parts = [(upper, arched.first["upper"]), (lower, arched.first["lower"])]
    rows, middle = mean_rows(parts, arched.n, weights=weights)
    r = np.concatenate([upper.r, lower.r])
    assert middle == pytest.approx(weights @ r / weights.sum(), abs=1e-15)
    u = np.random.default_rng(2).normal(size=arched.n)
    motion = np.concatenate([np.einsum("ncj,nj->nc", f.moved, u[f.dofs + start]) for f, start in parts])
    found = rows @ u
    left = weights[:, None] * (motion - found[:3] - np.cross(found[3:], r - middle))
    scale = np.abs(weights[:, None] * motion).sum()
    assert np.abs(left.sum(axis=0)).max() < 1e-10 * scale
    assert np.abs(np.cross(r - middle, left).sum(axis=0)).max() < 1e-10 * scale * APART
    axis, place = np.array([0.3, -0.2, 0.5]), np.array([0.1, -0.03, 0.2])
    turn = arched.turned(axis)
    assert rows @ turn == pytest.approx([*np.cross(axis, middle), *axis], abs=1e-9)
    assert rigid_at(rows, middle, place) @ turn == pytest.approx(np.cross(axis, place), abs=1e-9)
    single, centre = mean_rows(lower, arched.n, arched.first["lower"])
    assert centre == pytest.approx(lower.r.mean(axis=0), abs=1e-15)
    assert single @ turn == pytest.approx([*np.cross(axis, centre), *axis], abs=1e-9)


def test_node_tied_to_faces(arched):
    """A tie follows a rigid motion without force; a node moved alone against it stores k d^2 whatever the
    number of points, turned alone k times the mean square of the arms across its axis.
    """
    stiffness, n = 2e5, arched.n + 12
    nodes = np.array([[0.03, 0.01, 0.02], [0.2, 0.0, 0.03]])
    frame = Frame(nodes, (Beam.rectangle(0, 1, 0.03, 0.02, 1e10, 1e9, 600.0),))
    parts = [(arched.prism.upper, arched.first["upper"]), (arched.prism.lower, arched.first["lower"])]
    tie = frame.tie(0, parts, stiffness, n, arched.n).matrix()

    def energy(u, own):
        both = np.concatenate([u, own, np.zeros(6)])
        return both @ (tie @ both)

    still = np.zeros(arched.n)
    arms = np.concatenate([f.r for f, _ in parts]) - nodes[0]
    for k in range(3):
        axis = np.eye(3)[k]
        assert energy(still, [*axis, 0, 0, 0]) == pytest.approx(stiffness, rel=1e-9)
        across = (np.cross(axis, arms) ** 2).sum(axis=1).mean()
        assert energy(still, [0, 0, 0, *axis]) == pytest.approx(stiffness * across, rel=1e-9)
        along = energy(arched.turned(axis), [*np.cross(axis, nodes[0]), *axis])
        assert abs(along) < 1e-12 * stiffness


def test_sums_of_squares():
    """3 (2 x0 - x2)^2 + 5 x1^2 at (1, 2, 4): 3 * 4 + 5 * 4; the other of dense rows, 7 (x0 + x1 + x2)^2."""
    at = np.array([1.0, 2.0, 4.0])
    one, other = Squares(3), Squares(3)
    one.add([(np.array([[0, 2], [1, 2]]), np.array([[2.0, -1.0], [1.0, 0.0]]))], [3.0, 5.0])
    other.add_dense([1.0, 1.0, 1.0], 7.0)
    both = one.joined(other)
    assert [at @ (s.matrix() @ at) for s in (one, other, both)] == pytest.approx([32.0, 343.0, 375.0])
    assert at @ (both.scaled(0.5).matrix() @ at) == pytest.approx(187.5)
    both.add_dense(np.eye(3), 2.0)
    assert at @ (both.matrix() @ at) == pytest.approx(375.0 + 42.0)
    assert Squares(3).matrix().nnz == 0
