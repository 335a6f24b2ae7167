"""Strains of shapes: energy under other materials and exact derivatives, against the assembled matrices."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.fem.strains import PointMaterial, strains
from platemodel.fem.system import System
from platemodel.instrument.presets import preset_top
from tests.quick import quick_model

SHAPES = 5


@pytest.fixture(scope="module")
def solved():
    model = quick_model(preset_top("violin"))
    modes = System(model.shell).modes(SHAPES)
    return model.shell, model.top.wood, modes, strains(model.shell, modes.vectors)


def round_off(stiffness, vectors):
    """Size of what sums in another order differ by: large terms of derivatives cancel, which are 10^7 times
    what is left of them, so that 9 digits of the sum are sure.
    """
    return 2 * np.finfo(float).eps * (np.abs(vectors).T @ (abs(stiffness) @ np.abs(vectors))).max()


def test_energy_is_that_of_the_assembled_matrix(solved):
    shell, wood, modes, table = solved
    assembled = modes.vectors.T @ (shell.K @ modes.vectors)
    assert table.stiffness(PointMaterial(shell, wood.compliance())) == pytest.approx(
        assembled, abs=round_off(shell.K, modes.vectors)
    )
    assert table.energy_parts(PointMaterial(shell, wood.compliance()).stiffness).sum(axis=0) == pytest.approx(
        modes.omega2, rel=1e-7
    )


def test_energy_under_another_wood_is_that_of_a_shell_of_it(solved):
    shell, wood, modes, table = solved
    other = replace(wood, E_L=0.8 * wood.E_L, E_R=1.3 * wood.E_R, G_RT=2 * wood.G_RT, nu_LR=0.45)
    stiffness = shell.with_material(other.compliance(), 400.0).K
    assembled = modes.vectors.T @ (stiffness @ modes.vectors)
    assert table.stiffness(PointMaterial(shell, other.compliance())) == pytest.approx(
        assembled, abs=round_off(stiffness, modes.vectors)
    )


def test_derivatives_are_those_of_central_differences(solved):
    shell, wood, modes, table = solved
    changes = wood.compliance_by_logs()
    exact = table.energy_by_compliance(PointMaterial(shell, wood.compliance()), list(changes.values()))
    step = 1e-5
    for row, name in zip(exact, changes, strict=True):
        up, down = (
            np.diag(table.stiffness(PointMaterial(shell, replace(wood, **{name: value}).compliance())))
            for value in getattr(wood, name) * np.exp([step, -step])
        )
        # error of a central difference: step^2 (1e-10) and rounding over step (1e-10)
        assert row == pytest.approx((up - down) / (2 * step), abs=1e-8 * modes.omega2.max()), name


def test_moduli_share_the_whole_energy(solved):
    # stiffness is homogeneous of degree 1 in the six moduli (Euler's theorem), at fixed Poisson ratios
    shell, wood, modes, table = solved
    changes = wood.compliance_by_logs()
    exact = table.energy_by_compliance(PointMaterial(shell, wood.compliance()), list(changes.values()))
    moduli = [k for k, name in enumerate(changes) if name[0] in "EG"]
    assert exact[moduli].sum(axis=0) == pytest.approx(modes.omega2, rel=1e-7)


def test_combined_shapes(solved):
    shell, wood, _, table = solved
    turn = np.linalg.qr(np.random.default_rng(0).standard_normal((SHAPES, 3)))[0]
    whole = table.stiffness(PointMaterial(shell, wood.compliance()))
    part = table.chosen(turn).stiffness(PointMaterial(shell, wood.compliance()))
    assert part == pytest.approx(turn.T @ whole @ turn, abs=1e-9 * np.abs(whole).max())
