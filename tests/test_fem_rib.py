"""The eccentric rib: limits that any rib must keep, as formulas of the section (transformed section,
parallel axes).
"""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.errors import GeometryError
from platemodel.fem.rib import Rib, RibWood
from platemodel.fem.seat import Seat, gauss_points
from platemodel.fem.system import System
from tests.fields import displacement, inflation, polynomial
from tests.published.cases.models import SPRUCE, lines_mesh, plate, section
from tests.published.cases.ribs import TorsionRod, glued, rectangle_torsion, ribbed_shell, rows_about
from tests.published.cases.surfaces import cylinder, paraboloid

A, B, T = 0.36, 0.20, 3e-3
Y0, WIDTH, HEIGHT = 0.07, 5e-3, 12e-3
SEAT = ((0.0, Y0), (A, Y0))
E, DENSITY = SPRUCE.E_L, 400.0
AREA, INERTIA, OFFSET = WIDTH * HEIGHT, WIDTH * HEIGHT**3 / 12, (T + HEIGHT) / 2


@pytest.fixture(scope="module")
def shell():
    return ribbed_shell(SPRUCE, T, np.linspace(0, A, 7), rows_about(B, 4, Y0, WIDTH), shear=True)


def _rib(shell, line=SEAT, wood=SPRUCE, side=-1, **options):
    seat = Seat(shell, *line, WIDTH, side)
    return Rib(seat, options.pop("height", HEIGHT), RibWood(wood.compliance(), wood.density), **options)


def _added(shell, rib, u):
    """Twice the energies that the rib adds to a displacement: stiffness, mass."""
    k, m = rib.matrices(shell.n_dofs + rib.n_own, shell.n_dofs)
    full = np.concatenate([u, np.zeros(rib.n_own)])
    return full @ (k @ full), full @ (m @ full)


@pytest.mark.parametrize("side", [-1, 1])
def test_stretch_and_bending_energy(shell, side):
    """E A e^2 L; (E I + E A z^2) k^2 L with the middle of the plate at rest; both together with the sign of
    the side.
    """
    rib = _rib(shell, side=side, glued_width=False)
    e, k = 1e-3, 0.7
    stretch = displacement(shell, u=polynomial({(1, 0): e}))
    bend = displacement(shell, w=polynomial({(2, 0): k / 2}))
    assert _added(shell, rib, stretch)[0] == pytest.approx(E * AREA * e**2 * A, rel=1e-9)
    stiff = E * INERTIA + E * AREA * OFFSET**2
    assert _added(shell, rib, bend)[0] == pytest.approx(stiff * k**2 * A, rel=1e-9)
    both = E * AREA * (e - side * OFFSET * k) ** 2 * A + E * INERTIA * k**2 * A
    assert _added(shell, rib, stretch + bend)[0] == pytest.approx(both, rel=1e-9)


def test_sideways_bending_energy(shell):
    """v = k x^2/2, u = -k x (y - y0): the rib bends flat in its own plane, E h w^3/12 k^2 L, whatever its
    offset.
    """
    rib = _rib(shell, glued_width=False)
    k = 0.7
    bend = displacement(shell, u=polynomial({(1, 1): -k, (1, 0): k * Y0}), v=polynomial({(2, 0): k / 2}))
    assert _added(shell, rib, bend)[0] == pytest.approx(E * HEIGHT * WIDTH**3 / 12 * k**2 * A, rel=1e-6)


def test_twist_is_what_the_torsion_acts_on(shell):
    """w = c x (y - y0) twists the rib by c per metre: G J c^2 L. Without glued width the rib has no torsion
    of its own, and an even twist along a straight line neither stretches its middle fibre nor bends it: it
    adds nothing but round-off (theory (7.5)).
    """
    rib = _rib(shell, glued_width=False)
    c, GJ = 0.9, 0.123
    twist = displacement(shell, w=polynomial({(1, 1): c, (1, 0): -c * Y0}))
    assert _added(shell, TorsionRod(rib.seat, GJ), twist)[0] == pytest.approx(GJ * c**2 * A, rel=1e-9)
    along = _added(shell, rib, twist)[0]
    # round-off is 3e-15 of what Saint-Venant's torsion of the bar alone would add
    assert along < 1e-9 * SPRUCE.G_LR * WIDTH**3 * HEIGHT / 3 * c**2 * A


@pytest.mark.parametrize("degrees", [0, 20, 45, 70, 90, -30])
def test_twist_of_a_line_on_an_inflated_cylinder(degrees):
    """A cylinder that grows by w turns a line at angle a to its axis within the surface by e sin a cos a, e
    = w/R, the same all along; seen along the line, whose normal turns by sin^2 a / R per metre, that is a
    twist of e sin^3 a cos a / R (Frenet's formulas).
    """
    radius, w, angle = 0.5, 1e-3, np.deg2rad(degrees)
    own = plate(SPRUCE, 2e-3, 0.4, 0.4, 8, 8, surface=cylinder(radius))
    half = 0.1 * np.array([np.cos(angle), np.sin(angle)])
    seat = Seat(own, 0.2 - half, 0.2 + half, WIDTH)
    expected = w / radius**2 * np.sin(angle) ** 3 * np.cos(angle)
    u = inflation(own, radius, w)
    twist = seat.rows["twist"] @ u
    assert twist == pytest.approx(np.full(len(twist), expected), rel=1e-4, abs=1e-9)
    # the same turning about the normal, seen across: -e sin^2 a cos^2 a / R of bending, none along the circle
    bending = -w / radius**2 * (np.sin(angle) * np.cos(angle)) ** 2
    assert seat.rows["k_t"] @ u == pytest.approx(np.full(len(twist), bending), rel=1e-4, abs=1e-7)


def test_glued_t_is_stiffer_in_twist_than_bar_and_plate_apart(shell):
    """Saint-Venant: joining can only stiffen. The bar alone, a rectangle of two shear moduli (0.246 h w^3 at
    h/w = 2.4 if they are equal, Timoshenko & Goodier, art. 109), is the least that it adds; the massive
    corner makes it more, at most half as much again for a bar twice and more as high as wide (common
    practice, no source).
    """
    rib = _rib(shell)
    c = 0.9
    twist = displacement(shell, w=polynomial({(1, 1): c, (1, 0): -c * Y0}))
    alone = rectangle_torsion(WIDTH, HEIGHT, SPRUCE.G_LR, SPRUCE.G_LT) * c**2 * A
    assert 1.0 < _added(shell, rib, twist)[0] / alone < 1.5


def test_mass_and_inertia_are_the_bar_s(shell):
    """rho A L for the translations; parallel axes for the rotations about the plate's middle (Routh's
    rule).
    """
    rib = _rib(shell)
    mass = DENSITY * AREA * A
    assert rib.mass == pytest.approx(mass, rel=1e-12)
    rigid = System(shell).rigid_motions()
    found = [_added(shell, rib, r)[1] for r in rigid.T]
    y, z = Y0 - B / 2, -OFFSET
    inertia = [
        mass * ((WIDTH**2 + HEIGHT**2) / 12 + y**2 + z**2),
        mass * ((A**2 + HEIGHT**2) / 12 + z**2),
        mass * ((A**2 + WIDTH**2) / 12 + y**2),
    ]
    assert found[:3] == pytest.approx([mass] * 3, rel=1e-9)
    # the rib has no rotary inertia of its own width about z: w^2/12 against A^2/12
    assert found[3:] == pytest.approx(inertia, rel=5e-4)


def test_a_faint_bar_changes_nothing(shell):
    """Limit E, rho -> 0: the bare plate."""
    faint = replace(
        SPRUCE,
        density=DENSITY * 1e-8,
        **{f: 1e-8 * getattr(SPRUCE, f) for f in ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")},
    )
    bare = System(shell).modes(6).frequencies
    for width in (True, False):
        rib = _rib(shell, wood=faint, glued_width=width)
        assert System(shell, (rib,)).modes(6).frequencies == pytest.approx(bare, rel=1e-6)


def test_massless_bar_stiffens_and_limp_bar_slows(shell):
    """Rayleigh's theorems: stiffness added raises every frequency, mass added lowers every one."""
    bare = System(shell).modes(6).frequencies
    light = System(shell, (_rib(shell, wood=replace(SPRUCE, density=1e-3)),)).modes(6).frequencies
    limp = replace(
        SPRUCE, **{f: 1e-6 * getattr(SPRUCE, f) for f in ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")}
    )
    heavy = System(shell, (_rib(shell, wood=limp),)).modes(6).frequencies
    assert np.all(light > bare * (1 - 1e-6))
    assert light[0] > 1.05 * bare[0]
    assert np.all(heavy < bare * (1 + 1e-4))
    assert heavy[0] < 0.99 * bare[0]


def test_face_does_not_matter_on_a_flat_plate(shell):
    """Mirror e -> -e: same frequencies."""
    below, above = (System(shell, (_rib(shell, side=s),)).modes(8).frequencies for s in (-1, 1))
    assert above == pytest.approx(below, rel=1e-8)


def test_two_bars_opposite_uncouple_bending_from_stretch(shell):
    """Equal bars on both faces: a bend of the plate causes no force in its plane, twice the energy of one
    bar.
    """
    bars = [_rib(shell, side=s, shear=False) for s in (-1, 1)]
    n = 2 * shell.n_c1
    pair = sum(b.matrices(shell.n_dofs, shell.n_dofs)[0] for b in bars)
    single = bars[0].matrices(shell.n_dofs, shell.n_dofs)[0]
    coupling = slice(n, 3 * shell.n_c1)
    assert abs(single[:n, coupling]).max() > 0
    assert abs(pair[:n, coupling]).max() < 1e-9 * abs(single[:n, coupling]).max()
    bend = displacement(shell, w=polynomial({(2, 0): 0.5}))
    assert bend @ (pair @ bend) == pytest.approx(2 * bend @ (single @ bend), rel=1e-9)


def test_direction_of_the_seat_does_not_matter(shell):
    """From either end the bar is the same bar, taper included."""

    def taper(s):
        return HEIGHT * (1 - 0.6 * s)

    forth = _rib(shell, height=taper)
    back = _rib(shell, line=SEAT[::-1], height=lambda s: taper(1 - s))
    a, b = (System(shell, (r,)).modes(8).frequencies for r in (forth, back))
    assert b == pytest.approx(a, rel=1e-8)
    assert forth.mass == pytest.approx(DENSITY * AREA * A * 0.7, rel=1e-12)


@pytest.mark.parametrize("shear", [True, False])
def test_rigid_motions_cost_nothing_on_an_arch(shear):
    """A leaning, tapered bar across an arched plate, its own shear field at rest: no energy, against a
    bend's.
    """
    arch = plate(SPRUCE, T, A, B, 6, 5, True, paraboloid(-1.2, -2.5), centred=True, axes=np.eye(3))
    rib = _rib(
        arch, ((-0.14, -0.03), (0.15, -0.05)), height=lambda s: HEIGHT * (1 - 0.5 * s), lean=0.15, shear=shear
    )
    rigid = System(arch).rigid_motions()
    bend = displacement(arch, w=polynomial({(2, 0): 1.0}))
    bend *= np.abs(rigid).max() / np.abs(bend).max()
    assert max(_added(arch, rib, r)[0] for r in rigid.T) < 1e-6 * _added(arch, rib, bend)[0]


def test_bar_may_lie_anywhere_on_the_mesh():
    """A bar across the triangles of a mesh that was not laid for it is at most 1.5 % too high, and the
    finer the closer; rows laid 4 mm off its flanks do as well as rows on them (0.3 %). Judged by a mesh
    twice as fine.
    """

    def first_modes(x_cells, y):
        own = ribbed_shell(SPRUCE, T, np.linspace(0, A, x_cells + 1), y, shear=True)
        return System(own, (glued(own, SPRUCE, (0.04, Y0), (0.32, Y0), WIDTH, HEIGHT),)).modes(6).frequencies

    best = first_modes(20, rows_about(B, 16, Y0, WIDTH))
    on, beside = (first_modes(10, rows_about(B, 8, y, WIDTH)) for y in (Y0, Y0 + 0.004))
    coarse, fine = (first_modes(10 * k, np.linspace(0, B, 8 * k + 1)) for k in (1, 2))
    assert beside == pytest.approx(on, rel=3e-3)
    assert np.all(coarse > best)
    assert (coarse / best).max() < 1.015
    assert (fine / best - 1).max() < 0.6 * (coarse / best - 1).max()


def test_edges_are_read_inside_the_rim(shell):
    """Half a width out, or 0.02 widths inside the rim where that is nearer; evenly as the rib is moved."""
    for gap in (0.9, 0.521, 0.519, 0.45, 0.31):
        seat = Seat(shell, (0.04, gap * WIDTH), (0.32, gap * WIDTH), WIDTH)
        read = seat.lines[1].surface.r[:, 1] - seat.middle[1]
        assert read == pytest.approx(WIDTH * min(0.5, gap - 0.02), rel=1e-9)


@pytest.mark.parametrize("reach", [0.42, 0.35])
def test_where_the_edges_are_read_does_not_matter(shell, monkeypatch, reach):
    """What the glued width does follows the lines that it is read on: modes within 0.07 % of those with lines
    at the edges (0.14 and 0.26 % apart if it did not). Force and torque enter at 0.46 widths from the middle,
    so that the strip between lines further in gives more than its share; the bar's own roll makes up for it.
    """

    def modes():
        return System(shell, (glued(shell, SPRUCE, *SEAT, WIDTH, HEIGHT),)).modes(6).frequencies

    edges = modes()
    monkeypatch.setattr("platemodel.fem.seat.clear_reach", lambda *_: reach)
    inside = modes()
    assert inside == pytest.approx(edges, rel=7e-4)
    assert np.any(inside != edges)


def test_turned_plate_with_turned_bar_is_the_same():
    """Plate, grain, bar and its grain turned by 20 degrees in plan: same frequencies."""
    angle = np.deg2rad(20)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    axes = np.eye(3)
    axes[:2, :2] = turn.T
    mesh = lines_mesh(np.linspace(0, A, 6), rows_about(B, 4, Y0, WIDTH))
    found = []
    for matrix, grain in ((np.eye(2), np.eye(3)), (turn, axes)):
        turned = type(mesh)(matrix @ mesh.p, mesh.t)
        own = type(plate(SPRUCE, T, A, B, 1, 1))(turned, paraboloid(0, 0), section(SPRUCE, T, grain))
        seat = Seat(own, matrix @ [0.04, Y0], matrix @ [0.32, Y0], WIDTH)
        rib = Rib(seat, HEIGHT, RibWood(SPRUCE.compliance(), DENSITY, grain))
        found.append(System(own, (rib,)).modes(6).frequencies)
    assert found[1] == pytest.approx(found[0], rel=1e-6)


def test_a_leaning_rib_is_as_thick_as_its_flanks_are_apart(shell):
    """Flanks w apart along the seat are w cos(a) apart square to themselves; a thickness of its own rules."""
    lean = 0.2
    leaning, told = (_rib(shell, lean=lean, thickness=t) for t in (None, 0.9 * WIDTH))
    assert leaning.mass == pytest.approx(DENSITY * AREA * A * np.cos(lean), rel=1e-12)
    assert told.mass == pytest.approx(0.9 * DENSITY * AREA * A, rel=1e-12)
    thin = _rib(shell, thickness=0.9 * WIDTH).joint.torsion / _rib(shell).joint.torsion
    assert np.all((thin > 0.9**3) & (thin < 0.9**2))  # the bar's goes with the cube, that of its corner less


def test_rounded_top_takes_off_its_share(shell):
    """Fill 0.9: nine tenths of the mass and of the stretching stiffness."""
    full, rounded = (_rib(shell, fill=f, glued_width=False) for f in (1.0, 0.9))
    assert rounded.mass == pytest.approx(0.9 * full.mass, rel=1e-12)
    stretch = displacement(shell, u=polynomial({(1, 0): 1e-3}))
    assert _added(shell, rounded, stretch)[0] == pytest.approx(
        0.9 * _added(shell, full, stretch)[0], rel=1e-12
    )


def test_impossible_ribs_are_refused(shell):
    with pytest.raises(GeometryError, match="outside the plate"):
        Seat(shell, (0.0, Y0), (A + 0.05, Y0), WIDTH)
    with pytest.raises(GeometryError, match="outside the plate"):
        Seat(shell, (0.0, 1e-3), (A, 1e-3), WIDTH)
    with pytest.raises(ValueError, match="must be positive"):
        _rib(shell, height=lambda s: HEIGHT * (s - 0.5))


def test_points_along_a_rib_integrate_squares_of_quintics():
    """Long pieces and slivers between them: weights add up to the length; squares of slopes (degree 8) are
    integrated to round-off, those of displacements (10) within 1e-6, though slivers have one point only.
    """
    breaks = np.array([0.0, 0.31, 0.3101, 0.33, 0.6, 0.6002, 1.0])
    at, weights = gauss_points(breaks)
    assert np.all(np.diff(at) > 0)
    assert weights.sum() == pytest.approx(1.0, rel=1e-12)
    assert weights @ (2 * at - 1) ** 8 == pytest.approx(1 / 9, rel=1e-10)
    assert weights @ (2 * at - 1) ** 10 == pytest.approx(1 / 11, rel=1e-6)
    assert len(at) < 4 * len(breaks)


def test_seat_on_a_plate_of_another_thickness(shell):
    """Taken over to a plate 4 mm thick instead of 3, a seat gives the rib that one laid there anew does."""
    thick = ribbed_shell(SPRUCE, 4e-3, np.linspace(0, A, 7), rows_about(B, 4, Y0, WIDTH), shear=True)
    seat = Seat(shell, *SEAT, WIDTH)
    taken = seat.with_thickness(np.full(len(seat.weights), 4e-3), 4e-3)
    bend = displacement(shell, w=polynomial({(2, 0): 0.3, (1, 1): 0.5, (0, 2): -0.2}))
    wood = RibWood(SPRUCE.compliance(), SPRUCE.density)
    found, true, before = (
        _added(on, Rib(s, HEIGHT, wood), bend)
        for on, s in ((shell, taken), (thick, Seat(thick, *SEAT, WIDTH)), (shell, seat))
    )
    assert found == pytest.approx(true, rel=1e-9)
    assert before[0] < 0.95 * found[0]
