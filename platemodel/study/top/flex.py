"""How far a free top sags in a flex test, what the sag depends on, and how hard one may press."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platemodel.fem.free_statics import disc_row, discs_row, solve_free
from platemodel.fem.shell import Shell
from platemodel.fem.strains import PointMaterial, strains
from platemodel.fem.stress import shell_stresses
from platemodel.instrument.bar import Bar
from platemodel.instrument.flex_test import SUPPORTS, FlexTest
from platemodel.study.top.edge_supports import rim_system
from platemodel.study.top.kept_solutions import kept_solution
from platemodel.study.top.meshed_top import bar_stiffness_change
from platemodel.study.top.model import TopModel
from platemodel.wood import CONSTANTS, Orthotropic
from platemodel.wood.strength import usual_strength

CLEAR = 1.5  # diameters about a weight or a peg, where it pinches the wood
SHARE_OF_STRENGTH = 0.1  # an old thin top is flexed with a light hand; a judgement


@dataclass(frozen=True, eq=False)
class Flex:
    """Predicted result of a flex test.

    Attributes
    ----------
    flexibility : float
        Sag per force, m/N.
    by_logs : array (11,)
        Derivatives of the logarithm of the flexibility by the logarithms of the ten constants of the top's
        wood in the order of ``CONSTANTS`` and, last, of the thickness everywhere.
    by_bar : float
        The same by a common factor on the bar's moduli; 0 without a bar.
    most_force : float
        Force at which the most strained place of the top reaches a tenth of what the wood bears, N.
    where : (float, float)
        That place, m.
    """

    test: FlexTest
    flexibility: float
    by_logs: np.ndarray
    by_bar: float
    most_force: float
    where: tuple[float, float]

    @property
    def stiffness(self) -> float:
        """Force per sag, N/m."""
        return 1.0 / self.flexibility


def flexes(
    model: TopModel, tests: Sequence[FlexTest], bar: Bar | None = None, wood: Orthotropic | None = None
) -> list[Flex]:
    """Flex a free top in several ways, from one factorisation.

    Parameters
    ----------
    wood : Orthotropic, optional
        Of the top, in place of the model's.

    Raises
    ------
    GeometryError
        Pegs on one line, a plate that would tip, a place that is not on the plate.

    Notes
    -----
    With K u = f for the balanced load of a test and K v = r for its balanced reading, the sag is r'u and its
    change -v'(dK)u: exact, and nothing is solved again. Where weight and gauge share one place r is f. On its
    rim the plate is held upright along its edge, free to tilt and to slide there, and cannot lift off.
    """
    if not tests:
        return []
    wood = wood or model.top.wood
    model = _in_wood(model, wood)
    shell = model.shell
    u, v, readings = _solved(model, bar, tests)
    by_bar = np.zeros(len(tests))
    if bar is not None:
        by_bar = -(v * (bar_stiffness_change(model, bar, model.rib(bar)) @ u)).sum(axis=0)
    u, v = u[: shell.n_dofs], v[: shell.n_dofs]
    sag = (readings * u).sum(axis=0)
    by_logs = -_energy_changes(shell, wood, u, v) / sag[:, None]
    stresses = shell_stresses(shell, u)
    out = []
    for k, test in enumerate(tests):
        force, where = _most_force(stresses[k], wood, test)
        out.append(Flex(test, float(sag[k]), by_logs[k], float(by_bar[k] / sag[k]), force, where))
    return out


def flexibilities(model: TopModel, tests: Sequence[FlexTest], bar: Bar | None = None) -> np.ndarray:
    """Sag per force of each test, m/N: what `flexes` says of it and no more, in half the time.

    The parameters and errors are those of `flexes`.
    """
    u, _, readings = _solved(model, bar, tests)
    return (readings * u[: model.shell.n_dofs]).sum(axis=0)


def _in_wood(model, wood):
    if wood == model.top.wood:
        return model
    return model.with_shell(model.shell.with_material(wood.compliance(), wood.density))


def _solved(model, bar, tests):
    """Answers to the loads and to the readings of tests, and the readings as rows: three of (n, k)."""
    for test in tests:
        test.check_rests()
    at = {s: [k for k, t in enumerate(tests) if t.support == s] for s in SUPPORTS}
    found = [_solved_on(model, bar, [tests[k] for k in mine], s) for s, mine in at.items() if mine]
    order = np.argsort([k for mine in at.values() for k in mine])
    return tuple(np.concatenate(parts, axis=1)[:, order] for parts in zip(*found, strict=True))


def _solved_on(model, bar, tests, support):
    """Do the same for tests that rest alike."""
    shell, ribs = model.shell, () if bar is None else (model.rib(bar),)
    free = support == "pegs"
    row = balanced_row if free else _rim_row
    loads = np.stack([row(shell, t, t.load) for t in tests], axis=1)
    readings = np.stack([row(shell, t, t.read) for t in tests], axis=1)
    apart = [k for k, t in enumerate(tests) if not np.allclose(t.load, t.read, atol=1e-6)]
    forces = np.concatenate([loads, readings[:, apart]], axis=1)

    def solve():
        if free:
            return {"moved": solve_free(model.free_system(bar), forces)}
        return {"moved": rim_system(model, "sliding", ribs).solve(forces)}

    asked = ("free at rest" if free else "flexed on the rim", forces)
    moved = kept_solution(model, bar, asked, solve)["moved"]
    u, v = moved[:, : len(tests)], moved[:, : len(tests)].copy()
    v[:, apart] = moved[:, len(tests) :]
    return u, v, readings


def balanced_row(shell: Shell, test: FlexTest, place: np.ndarray) -> np.ndarray:
    """Sag at a place against the plane through the pegs, as a row over the shell's DOFs: (n_dofs,).

    Transposed: a unit force there and what the pegs answer.
    """
    places = np.vstack([place, test.pegs])
    forces = np.append(1.0, -test.shares(place))
    return discs_row(shell, places, forces, (test.weight, *[test.peg] * 3))


def _rim_row(shell, test, place):
    """Sag at a place where the rim does not sag, as a row over the shell's DOFs: (n_dofs,)."""
    return disc_row(shell, place, test.weight)


def _energy_changes(shell, wood, u, v):
    """v'(dK)u for each pair of columns, by the logarithms of the constants and of the thickness: (k, 11)."""
    material = PointMaterial(shell, wood.compliance())
    changes = list(wood.compliance_by_logs().values())
    k = u.shape[1]
    both, one = strains(shell, np.concatenate([u, v], axis=1)), np.eye(k)
    out = np.zeros((k, len(CONSTANTS) + 1))
    for sign in (1.0, -1.0):  # a product of two fields from the energies of their sum and difference
        table = both.chosen(np.vstack([one, sign * one]))
        out[:, 1:-1] += 0.25 * sign * table.energy_by_compliance(material, changes).T
        # stretch and transverse shear go with the thickness, bending with its cube
        out[:, -1] += 0.25 * sign * (np.array([1.0, 3.0, 1.0]) @ table.energy_parts(material.stiffness))
    return out


def _most_force(stress, wood, test):
    """Force for the share of the strength at the worst place away from weight and pegs, and that place."""
    limit = usual_strength(wood)
    away = np.ones(stress.points.shape[1], dtype=bool)
    for middle, size in ((test.load, test.weight), *((peg, test.peg) for peg in test.pegs)):
        away &= np.hypot(*(stress.points - middle[:, None])) > CLEAR * size
    worst, where = 0.0, (float("nan"), float("nan"))
    for face in stress.faces.values():
        for used in (
            np.maximum(face.along, 0.0) / limit.bending,
            np.maximum(-face.along, 0.0) / limit.compression_along,
            np.maximum(face.across_tension, 0.0) / limit.tension_across,
            np.maximum(-face.across_compression, 0.0) / limit.compression_across,
            face.shear / limit.shear,
        ):
            at = int(np.argmax(np.where(away, used, 0.0)))
            if used[at] > worst:
                worst, where = float(used[at]), (float(stress.points[0, at]), float(stress.points[1, at]))
    return SHARE_OF_STRENGTH / worst, where
