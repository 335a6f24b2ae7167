"""Strains of shapes: energy under other materials and exact derivatives, against the assembled matrices."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.fem.strains import PointMaterial, strains
from platemodel.fem.system import System
from platemodel.instrument.presets import preset_top
from tests.published.cases.models import SPRUCE, plate
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


@pytest.mark.parametrize("axes", [None, np.eye(3)], ids=["frame of the shell", "axes given"])
def test_energy_goes_as_one_over_the_compliance(axes):
    """Hooke: with all compliances softer by a share, the energy of a held shape falls by that share. Wood
    without axes of its own lies in the shell's frame, on this plate that of space. E_L alone: by the
    difference of the shell's own matrix.
    """
    shell = plate(SPRUCE, 3e-3, 0.3, 0.2, 2, 2, shear=True, axes=axes)
    u = np.random.default_rng(6).normal(size=(shell.n_dofs, 2))
    material, along = PointMaterial(shell, SPRUCE.compliance()), np.zeros((6, 6))
    along[0, 0] = 1.0 / SPRUCE.E_L
    whole, part = strains(shell, u).energy_by_compliance(material, [SPRUCE.compliance(), along])
    energy = np.einsum("ik,ik->k", u, shell.K @ u)
    assert whole == pytest.approx(-energy, rel=1e-6)

    def softer(step):
        return np.einsum("ik,ik->k", u, shell.with_material(SPRUCE.compliance() + step * along, 400.0).K @ u)

    assert part == pytest.approx((softer(1e-4) - softer(-1e-4)) / 2e-4, rel=1e-5)
