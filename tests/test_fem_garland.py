"""Rim between two plates: its section and its panels against closed forms of shells and beams."""

from dataclasses import replace

import numpy as np
import pytest
from skfem import MeshTri

from platemodel.fem.face import face
from platemodel.fem.garland import Garland, panel_sections
from platemodel.fem.joined import Joined
from platemodel.fem.rim_section import RimSection, plane_strain
from platemodel.fem.section import Section, constant
from platemodel.fem.shell import Shell
from platemodel.fem.squares import Squares
from platemodel.fem.surface import graph
from platemodel.wood.orthotropic import Orthotropic
from tests.published.cases.ribs import rectangle_torsion

E, NU, T, H, R = 10e9, 0.3, 1e-3, 34e-3, 0.06
STEEL_LIKE = plane_strain(Orthotropic.isotropic(1e3 * E, NU, 1.0).compliance())
WALL = plane_strain(Orthotropic.isotropic(E, NU, 1.0).compliance())


def wall_section(lining=(0.0, 0.0), thickness=3e-3, plates=STEEL_LIKE):
    return RimSection(H, thickness, thickness, T, lining, 2e-3, 0.0, (plates, plates), (WALL, WALL), (E, E))


def beam_on_foundation(bending, ground, length):
    """End stiffness (4, 4) of a beam on an elastic foundation in w0, w0', w1, w1' from its four solutions
    (Hetenyi 1946; here by solving for the coefficients).
    """
    beta = (ground / (4.0 * bending)) ** 0.25

    def pairs(x):  # real and imaginary parts of two decaying solutions from each end
        out = np.zeros((4, 4))
        for k, (sign, at) in enumerate(((-1, 0.0), (1, length))):
            root = sign * beta * (1 + 1j)
            for d in range(4):
                value = root**d * np.exp(root * (x - at))
                out[d, 2 * k], out[d, 2 * k + 1] = value.real, value.imag
        return out

    a, b = pairs(0.0), pairs(length)
    ends = np.stack([a[0], a[1], b[0], b[1]])
    forces = bending * np.stack([a[3], -a[2], -b[3], b[2]])
    return forces @ np.linalg.inv(ends)


@pytest.mark.parametrize("chi", [8.0, 1.0 / R, 40.0])
def test_wall_between_stiff_plates_is_a_beam_on_a_foundation(chi):
    """Rotating the ends of a hoop: Hetenyi's beam with bending E t^3/12(1-nu^2) and foundation E t chi^2.
    The plates are 1000 times stiffer; a solid wall of t/H = 1/34 differs from a beam by shear and by the
    corner it is glued in, by under 2 %.
    """
    s = wall_section().stiffness([chi])[0]
    beam = beam_on_foundation(E * T**3 / 12 / (1 - NU**2), E * T * chi**2, H)
    turning = beam[np.ix_([1, 3], [1, 3])]
    assert s[2, 2] == pytest.approx(turning[0, 0], rel=0.02)
    assert s[2, 3] == pytest.approx(turning[0, 1], abs=0.02 * turning[0, 0])


def test_without_curvature_the_hoop_is_a_strap():
    """Straight rim: no foundation, so stretch is uncoupled, E t H/3 [1 .5; .5 1], and turning is that of a
    clamped strip, 4 D/H and 2 D/H (textbook); joints as above, 2 %.
    """
    s = wall_section().stiffness([0.0])[0]
    assert s[:2, :2] == pytest.approx(E * T * H / 3 * np.array([[1, 0.5], [0.5, 1]]), rel=1e-6)
    assert np.abs(s[:2, 2:]).max() < 1e-6 * s[2, 2]
    d = E * T**3 / 12 / (1 - NU**2)
    assert s[2, 2] == pytest.approx(4 * d / H, rel=0.02)
    assert s[2, 3] == pytest.approx(2 * d / H, rel=0.02)


def test_even_growth_bulges_nothing_but_the_ends():
    """Both faces stretched by e in a free hoop: the wall grows with them and stores only what the built-in
    ends spoil. With ends held at their rotation the beam on a foundation driven by -E t chi e gives
    e^2 (E t H - force); checked against the same beam, 3 %.
    """
    chi = 1.0 / R
    s = wall_section().stiffness([chi])[0]
    # u = -e/chi would relieve everything; ends are held at u = 0 and no turn
    beam = beam_on_foundation(E * T**3 / 12 / (1 - NU**2), E * T * chi**2, H)
    shift = np.array([1.0 / chi, 0.0, 1.0 / chi, 0.0])
    energy = shift @ beam @ shift  # of the ends pulled back from the relieved state
    both = np.array([1.0, 1.0, 0.0, 0.0])
    assert both @ s @ both == pytest.approx(energy, rel=0.03)


def test_section_converges():
    """Twice finer elements change the stiffness of a lined rim in wood by under 1.5 % of its own."""
    one = wall_section((2e-3, 7e-3), plates=WALL)
    coarse, fine = one.stiffness([12.0])[0], one.stiffness([12.0], fine=2)[0]
    scale = np.sqrt(np.diag(coarse))
    assert np.abs((fine - coarse) / np.outer(scale, scale)).max() < 0.015


def test_soft_plates_leave_the_torsion_of_lining_and_wall():
    """Plates without shear stiffness: what is left is a rectangle 7 x 3 mm of wall and lining, whose torsion
    is G b t^3 (1 - 0.630 t/b)/3 (Timoshenko & Goodier, Theory of Elasticity, 1970, from memory; 0.2 % at this
    ratio), whatever line it turns about. Meshed with corners 1 %. Without a lining there is nothing.
    """
    soft, stiff = [(1.0, 1.0)] * 2, [(1e9, 1e9)] * 2
    t, b = T + 2e-3, 7e-3
    for section in (wall_section((2e-3, b)), replace(wall_section((2e-3, b)), line=-1e-3)):
        expected = 1e9 * b * t**3 * (1 - 0.630 * t / b) / 3
        assert section.twist(soft, stiff) == pytest.approx([expected] * 2, rel=0.01)
        # of wood with two moduli, across the wall and along its height (art. 109)
        for across, upright in ((0.6e9, 1.5e9), (1.5e9, 0.6e9)):
            expected = rectangle_torsion(t, b, across, upright)
            assert section.twist(soft, [(across, upright)] * 2) == pytest.approx([expected] * 2, rel=0.01)
    assert wall_section().twist(stiff, stiff) == pytest.approx([0.0, 0.0], abs=1e-12)


def test_torsion_of_the_joint_converges():
    """Twice finer elements: within 1 %; with one wood all over, more than of the rectangle alone, which is
    clamped to the plate along its width.
    """
    pairs, section = [(1e9, 1e9)] * 2, wall_section((2e-3, 7e-3))
    coarse, fine = section.twist(pairs, pairs), section.twist(pairs, pairs, fine=2)
    assert coarse == pytest.approx(fine, rel=0.01)
    assert fine.min() > 1e9 * 7e-3 * 3e-3**3 * (1 - 0.63 * 3 / 7) / 3


def disc(radius, rings=5, spokes=16):
    """Round mesh."""
    points, triangles = [(0.0, 0.0)], []
    for k in range(1, rings + 1):
        a = 2 * np.pi * np.arange(spokes) / spokes
        points += list(zip(radius * k / rings * np.cos(a), radius * k / rings * np.sin(a), strict=True))
    for s in range(spokes):
        n = (s + 1) % spokes
        triangles.append((0, 1 + s, 1 + n))
        for k in range(1, rings):
            a, b = 1 + (k - 1) * spokes, 1 + k * spokes
            triangles += [(a + s, b + s, b + n), (a + s, b + n, a + n)]
    return MeshTri(np.array(points).T, np.sort(np.array(triangles).T, axis=0))


@pytest.fixture(scope="module")
def drum():
    """Two soft thin discs, arched like a top and a back, joined by a wall of radius R."""
    soft = Orthotropic.isotropic(1e9, 0.3, 400.0)
    out = []
    for z0, k in ((0.0, 0.8), (-H - 3e-3, -0.8)):

        def height(x, y, z0=z0, k=k):
            zero = np.zeros_like(x)
            return np.stack([z0 + 0.5 * k * (R**2 - x**2 - y**2), -k * x, -k * y, zero - k, zero, zero - k])

        out.append(Shell(disc(R + 4e-3), graph(height), Section(constant(3e-3), soft.compliance(), 400.0)))
    return tuple(out)


def garland_of(shells, n=180):
    a = 2 * np.pi * np.arange(n) / n
    points = R * np.stack([np.cos(a), np.sin(a)])
    top, back = shells
    return Garland(face(back, points, 1), face(top, points, -1))


def joined(shells, n=180, twist=0.05):
    g = garland_of(shells, n)
    size = sum(s.n_dofs for s in shells)
    first = {"upper": 0, "lower": shells[0].n_dofs}
    section = wall_section()
    table = section.stiffness([1.0 / R])
    stretch, shear = section.upright((E, E), (E / 2.6, E / 2.6))
    k4 = panel_sections(g.curvature, np.array([1.0 / R]), [table], np.ones((n, 1)))
    stiff = g.stiffness(size, first, k4, stretch, shear, twist)
    return Joined(shells, stiffness=(stiff,), mass=(g.mass(size, first, 600.0 * T * H),)), g


def field_energy(body, evaluate):
    """Energy of the panels alone for given displacements of top and back."""
    parts = [shell.interpolate(lambda x, y, k=k: evaluate(x, y, k)) for k, shell in enumerate(body.shells)]
    u = np.concatenate([
        np.concatenate([part.T.ravel(), np.zeros(shell.n_dofs - 3 * shell.n_c1)])
        for part, shell in zip(parts, body.shells, strict=True)
    ])  # fmt: skip
    rows = body.stiffness[0].rows
    return 0.5 * float(np.sum((rows @ u) ** 2))


def polynomial(x, *components):
    """(6, n, 3) from three functions giving value and derivatives."""
    zero = np.zeros_like(x)
    return np.stack([[zero + v for v in c] for c in components]).transpose(1, 2, 0)


def test_geometry_of_a_circle(drum):
    """Perimeter 2 pi R and curvature 1/R of the wall's line; arched plates lean their faces in by 0.1 %."""
    g = garland_of(drum)
    assert g.length.sum() == pytest.approx(2 * np.pi * R, rel=2e-3)
    assert g.curvature == pytest.approx(np.full(180, 1 / R), rel=5e-3)
    assert (g.outward[:, :2] * g.lower.r[:, :2]).sum(1).min() > 0


def test_twisted_and_stretched_tube(drum):
    """Top turned by phi against the back: G J phi^2/2H with J = 2 pi R^3 t; lifted by w: E A w^2/2H; tipped
    by theta: E I theta^2/2H with I = pi R^3 t (thin tube, any textbook). Chords and arching within 1 %.
    """
    body, g = joined(drum)
    height = g.height.mean()
    shear, area = E / 2.6, 2 * np.pi * R * T

    def twist(x, y, k):
        z, o = np.zeros_like(x), np.ones_like(x)
        f = 1.0 if k == 0 else 0.0
        return polynomial(x, f * np.array([-y, z, -o, z, z, z]), f * np.array([x, o, z, z, z, z]), [z] * 6)

    def lift(x, y, k):
        z = np.zeros_like(x)
        f = 1.0 if k == 0 else 0.0
        return polynomial(x, [z] * 6, [z] * 6, [z + f, z, z, z, z, z])

    assert field_energy(body, twist) == pytest.approx(0.5 * shear * 2 * np.pi * R**3 * T / height, rel=0.01)
    assert field_energy(body, lift) == pytest.approx(0.5 * E * area / height, rel=0.01)


def test_twist_along_the_rim(drum):
    """The top bent to w = c x y turns its rim by -2 c R sin cos: GJ c^2 pi R/2 more energy with torsion than
    without; arching within 1 %.
    """
    c, gj = 0.01, 0.05

    def saddle(x, y, k):
        z = np.zeros_like(x)
        f = c if k == 0 else 0.0
        return polynomial(x, [z] * 6, [z] * 6, f * np.array([x * y, y, x, z, z + 1, z]))

    with_it, without = (field_energy(joined(drum, twist=v)[0], saddle) for v in ([0.0, gj], 0.0))
    assert with_it - without == pytest.approx(0.5 * gj * c**2 * np.pi * R, rel=0.01)


def test_panels_lie_between_solved_sections():
    """Compliances go in straight lines between the curvatures that were solved, stay beyond the last, and are
    averaged over the grain's directions by their shares; where the line is hollow the hoop turns its sign.
    """
    rng, grid = np.random.default_rng(1), np.array([0.0, 10.0, 30.0])
    roots = rng.normal(size=(2, 3, 4, 4))
    tables = roots @ np.swapaxes(roots, -1, -2) + np.eye(4)
    give = np.linalg.inv(tables)
    curvature = np.array([0.0, 4.0, 25.0, 40.0, -4.0])
    shares = np.array([[1, 0], [0, 1], [0.3, 0.7], [1, 0], [0, 1]])
    found = panel_sections(curvature, grid, list(tables), shares)
    expected = [
        give[0, 0],
        0.6 * give[1, 0] + 0.4 * give[1, 1],
        0.3 * (0.25 * give[0, 1] + 0.75 * give[0, 2]) + 0.7 * (0.25 * give[1, 1] + 0.75 * give[1, 2]),
        give[0, 2],
    ]
    assert np.linalg.inv(found[:4]) == pytest.approx(np.array(expected))
    turn = np.diag([-1.0, -1.0, 1.0, 1.0])
    assert found[4] == pytest.approx(turn @ found[1] @ turn)


def test_six_rigid_motions(drum):
    """Their frequencies stay below 1e-3 of the first elastic mode's."""
    body, _ = joined(drum, 90)
    found = body.modes(3)
    assert np.sqrt(np.abs(found.rigid).max() / found.omega2[0]) < 1e-3


def test_inertia_of_the_panels(drum):
    """Translation moves the wall's mass, 2 pi R t H rho, along every axis."""
    body, g = joined(drum, 90)
    rigid = body.rigid_motions()
    m = body.mass[0].matrix()
    expected = g.length.sum() * 600.0 * T * H
    assert np.diag(rigid[:, :3].T @ (m @ rigid[:, :3])) == pytest.approx([expected] * 3, rel=1e-6)


def test_static_solution_of_a_free_body(drum):
    """Equal and opposite forces on top and back: what conjugate gradients find balances the loads to 1e-8,
    and two loads at once give what each gives alone.
    """
    body, _ = joined(drum, 90)
    top = face(drum[0], np.zeros((2, 1)), -1)
    back = face(drum[1], np.zeros((2, 1)), 1)
    load = Squares(body.n_dofs)
    up = np.array([0.0, 0.0, 1.0])
    load.add([(top.dofs, top.row("moved", up)), (back.dofs + drum[0].n_dofs, -back.row("moved", up))], [1.0])
    row = load.rows.toarray()[0]
    u = body.solve(np.stack([row, 2 * row], axis=1))
    assert np.linalg.norm(body.matrices[0] @ u[:, 0] - row) < 1e-8 * np.linalg.norm(row)
    assert u[:, 1] == pytest.approx(2 * u[:, 0], rel=1e-7, abs=1e-9 * np.abs(u).max())


def test_convergence_in_panels(drum):
    """From 90 to 180 panels the first three modes of the drum move by under 0.2 %."""
    few, many = (joined(drum, n)[0].modes(3).frequencies for n in (90, 180))
    assert few == pytest.approx(many, rel=2e-3)


def test_rigid_motions_of_parts_that_are_no_shells_come_last(drum):
    """Four unknowns of a beam's own, told how they move: their rows stand after those of both shells."""
    own = np.arange(24.0).reshape(4, 6)
    rows = Joined(drum, own=4, rigid_own=own).rigid_motions()
    shells = Joined(drum).rigid_motions()
    assert rows.shape[0] == shells.shape[0] + 4
    assert (rows[-4:] == own).all()
    assert (rows[:-4] == shells).all()
