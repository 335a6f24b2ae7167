"""Flexing a free plate on three pegs: closed forms, exact derivatives, and what a maker would refuse."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.errors import GeometryError
from platemodel.fem.free_statics import solve_free
from platemodel.fem.mesh import Fineness, Loop, mesh_plan, rectangle
from platemodel.fem.section import Section, constant
from platemodel.fem.shell import Shell
from platemodel.fem.surface import flat
from platemodel.fem.system import System
from platemodel.instrument.flex_test import KINDS, FlexTest, usual_flex_test
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.top.flex import balanced_row, flexes
from platemodel.wood import CONSTANTS
from tests.quick import quick_model

MM = 1e-3


def isotropic(young, nu):
    """Compliance of an isotropic material."""
    g = young / (2 * (1 + nu))
    s = np.diag([1 / young] * 3 + [1 / g] * 3)
    s[:3, :3] += -nu / young * (1 - np.eye(3))
    return s


def sag(shell, pegs, point, size):
    test = FlexTest("along", np.array(pegs), point, point, True, size, size)
    row = balanced_row(shell, test, test.load)
    return float(row @ solve_free(System(shell), row[:, None])[: shell.n_dofs, 0])


def test_corner_load_on_a_square_cut_plate():
    """w = 3 P a b / (G h^3): pure twist, exact for a thin plate (Timoshenko and Woinowsky-Krieger, art. 11,
    from memory). Pegs 0.1 mm inside the corners of 200 x 300 mm leave 0.17 % (0.5 % with 0.3 mm,
    measured)."""
    h, g = 2 * MM, 0.75e9
    s = isotropic(12e9, 0.3)
    s[5, 5] = 1 / g
    shell = Shell(rectangle(0.3, 0.2, 12, 8), flat(), Section(constant(h), s, 400.0), shear=False)
    a, b, i = 0.3, 0.2, 0.1 * MM
    found = sag(shell, [(i, i), (a - i, i), (i, b - i)], (a - i, b - i), i)
    assert found == pytest.approx(3 * (a - 2 * i) * (b - 2 * i) / (g * h**3), rel=3e-3)


def test_three_point_bending_of_a_spruce_strip():
    """P L^3 / (48 E I) + P L / (4 (5/6) G A): Timoshenko's beam, textbook. Strip 20 mm wide, span 280 mm; the
    strip is no line, hence 0.5 %."""

    top = preset_top("violin")
    wood = top.wood
    h, width, span = 6 * MM, 20 * MM, 280 * MM
    shell = Shell(rectangle(0.3, width, 40, 3), flat(), Section(constant(h), wood.compliance(), wood.density))
    y = width / 2
    found = sag(shell, [(10 * MM, 2 * MM), (10 * MM, 18 * MM), (290 * MM, y)], (150 * MM, y), 1 * MM)
    inertia, area = width * h**3 / 12, width * h
    expected = span**3 / (48 * wood.E_L * inertia) + span / (4 * 5 / 6 * wood.G_LT * area)
    assert found == pytest.approx(expected, rel=5e-3)


def test_disc_on_three_points_under_a_central_force():
    """0.0670 P a^2 / D: Timoshenko and Woinowsky-Krieger, Theory of plates and shells, 2nd ed., plate
    supported
    at three points of its edge (from memory, for nu = 0.25; with 0.3 it would be 0.3 % less). Three digits,
    and pegs 0.1 mm inside the edge, which cost 0.4 % (measured)."""
    a, h, young, nu = 0.1, 1 * MM, 70e9, 0.25
    angle = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    outline = a * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    mesh = mesh_plan(Loop(outline, ()), [], Fineness(0.012, 0.006))
    shell = Shell(mesh, flat(), Section(constant(h), isotropic(young, nu), 2700.0), shear=False)
    at = np.pi / 2 + np.arange(3) * 2 * np.pi / 3
    pegs = 0.999 * a * np.stack([np.cos(at), np.sin(at)], axis=1)
    stiff = young * h**3 / (12 * (1 - nu**2))
    assert sag(shell, pegs, (0.0, 0.0), 0.1 * MM) * stiff / a**2 == pytest.approx(0.0670, rel=6e-3)


@pytest.fixture(scope="module")
def violin():
    top = preset_top("violin")
    return quick_model(top), preset_bar(top)


def test_rows_do_no_work_in_rigid_motion(violin):
    model, _ = violin
    rigid = System(model.shell).rigid_motions()
    for kind in KINDS:
        test = usual_flex_test(model.top, kind)
        row = balanced_row(model.shell, test, test.load)
        assert np.abs(row @ rigid).max() < 1e-10 * np.abs(row).sum()  # round-off


def test_load_and_gauge_may_change_places(violin):
    """Maxwell's reciprocal theorem."""
    model, bar = violin
    test = usual_flex_test(model.top, "along")
    there = replace(test, read=test.load + np.array([0.03, 0.02]))
    back = replace(test, load=there.read, read=test.load)
    one, other = flexes(model, [there, back], bar)
    assert one.flexibility == pytest.approx(other.flexibility, rel=1e-8)
    assert one.by_logs == pytest.approx(other.by_logs, rel=1e-6, abs=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["along", "twist"])
def test_derivatives_against_finite_differences(violin, kind):
    """Central differences of the full model, step 2 %: their own error is some 1e-4."""
    model, _ = violin
    tests = [usual_flex_test(model.top, kind)]
    tests.append(replace(tests[0], read=tests[0].load + np.array([0.02, 0.01])))
    found = flexes(model, tests)
    for name in ("E_L", "E_R", "G_LR", "G_RT", "nu_LR"):
        wood, step = model.top.wood, 0.02
        sides = [
            flexes(model, tests, wood=replace(wood, **{name: getattr(wood, name) * np.exp(sign * step)}))
            for sign in (1, -1)
        ]
        for k, flex in enumerate(found):
            slope = np.log(sides[0][k].flexibility / sides[1][k].flexibility) / (2 * step)
            assert flex.by_logs[CONSTANTS.index(name)] == pytest.approx(slope, abs=3e-4)


def test_moduli_share_the_stiffness(violin):
    """All moduli doubled halve the sag: the derivatives by the six moduli add up to -1 exactly."""
    model, _ = violin
    moduli = [CONSTANTS.index(n) for n in ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")]
    for flex in flexes(model, [usual_flex_test(model.top, k) for k in KINDS]):
        assert flex.by_logs[moduli].sum() == pytest.approx(-1.0, abs=1e-8)
        assert 2.0 < -flex.by_logs[-1] < 3.0 + 1e-9  # between stretching, 1, and bending, 3


def test_what_is_refused(violin):
    model, _ = violin
    along = usual_flex_test(model.top, "along")
    with pytest.raises(GeometryError, match="would tip"):
        flexes(model, [replace(along, load=np.array([0.2, 0.09]))])
    with pytest.raises(GeometryError, match="one line"):
        flexes(model, [replace(along, pegs=np.array([(0.1, 0), (0.2, 0), (0.3, 0)]))])
    with pytest.raises(GeometryError, match="do not balance"):
        solve_free(System(model.shell), np.ones((model.shell.n_dofs, 1)))
    with pytest.raises(ValueError, match="finite"):
        FlexTest("along", np.full((3, 2), np.nan), along.load, along.read)
    with pytest.raises(ValueError, match="allowed"):
        usual_flex_test(model.top, "sideways")
