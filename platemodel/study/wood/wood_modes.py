"""Plate modes of one top as a function of its wood: solved in full, or on a basis of shapes already found."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import eigh

from platemodel.fem.strains import PointMaterial, Strains, strains
from platemodel.fem.system import System
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import scaled_wood
from platemodel.instrument.shape_errors import ShapeErrors
from platemodel.study.top.air import added_mass, modes_in_air
from platemodel.study.top.meshed_top import bar_rib, bar_stiffness_change
from platemodel.study.top.model import TopModel
from platemodel.study.top.recognise import KNOWN, likeness
from platemodel.study.top.sampling import normal_displacement, plan_grid
from platemodel.study.top.shape_scatter import shape_scatter
from platemodel.wood import CONSTANTS, Orthotropic


@dataclass(frozen=True, eq=False)
class WoodModes:
    """Elastic modes of a top of a given wood, in air.

    Attributes
    ----------
    frequencies : array (k,)
        Hz, ascending.
    by_logs : array (k, 11)
        Derivatives of the logarithms of the frequencies by the logarithms of the ten constants in the order
        of ``CONSTANTS`` and, last, of the thickness everywhere.
    by_bar : array (k,)
        Derivatives by the logarithm of a common factor on the bar's moduli; 0 without a bar.
    bar_log : float
        That logarithm in this solution.
    mass : float
        Of the plate, bar included, kg.
    bar_mass : float
        kg.
    index : dict of int to int
        Mode number to its place among the modes: 1, 2, 5 by shape, the others in the order of pitch.
    shapes : array (m, k)
        Normal displacement on the plan grid.
    vectors : array (n_dofs, k)
        Shapes in the DOFs of shell and bar, normalised with the air's mass.
    """

    frequencies: np.ndarray
    by_logs: np.ndarray
    by_bar: np.ndarray
    bar_log: float
    mass: float
    bar_mass: float
    index: dict[int, int]
    shapes: np.ndarray
    vectors: np.ndarray


@dataclass(frozen=True, eq=False)
class _Projected:
    """The system on the basis of shapes, its parts by top and bar."""

    table: Strains
    top_mass: np.ndarray
    rib_stiffness: np.ndarray
    rib_mass: np.ndarray
    air_mass: np.ndarray
    shapes: np.ndarray
    density: float
    shell_mass: float
    bar_mass: float
    bar_log: float
    bar_change: np.ndarray


def _square(matrix, vectors):
    """Return v'Mv of each column."""
    return (vectors * (matrix @ vectors)).sum(axis=0)


class WoodSolver:
    """Modes of one top, with or without a known bar, for any wood of the top.

    Parameters
    ----------
    bar : Bar, optional
        Glued on, its wood known.
    count : int
        Modes solved for.
    air : bool
        With the air round the plate; False is the plate in vacuum, as other solvers compute it.
    """

    def __init__(self, model: TopModel, bar: Bar | None = None, count: int = 10, air: bool = True):
        self.model, self.bar, self.count, self.air = model, bar, count, air
        self._shell = model.shell
        self._grid = plan_grid(model.top)
        own = 0 if bar is None else bar_rib(model, bar).n_own
        self._basis = np.zeros((model.shell.n_dofs + own, 0))
        self._projected: _Projected | None = None

    def full(self, wood: Orthotropic, bar_log: float = 0.0) -> WoodModes:
        """Solve the full model and add its shapes to the basis.

        Parameters
        ----------
        wood : Orthotropic
            Of the top.
        bar_log : float
            Logarithm of a factor on the bar's moduli.
        """
        shell = self._shell.with_material(wood.compliance(), wood.density)
        ribs, change = (), None
        if self.bar is not None:
            model = self.model.with_shell(shell)
            bar = replace(self.bar, wood=scaled_wood(self.bar.wood, np.exp(bar_log), 1.0))
            ribs = (bar_rib(model, bar),)
            change = bar_stiffness_change(model, bar, ribs[0])
        system = System(shell, ribs)
        modes = modes_in_air(self.model, system, self.count) if self.air else system.modes(self.count)
        self._extend(system, modes.vectors, shell, bar_log, change)
        own = modes.vectors[: shell.n_dofs]
        return self._result(
            wood,
            PointMaterial(shell, wood.compliance()),
            modes.omega2,
            strains(shell, own),
            normal_displacement(self.model, self._grid.points, own),
            (own * (shell.M @ own)).sum(axis=0),
            shell.mass,
            sum(rib.mass for rib in ribs),
            np.zeros(self.count) if change is None else _square(change, modes.vectors),
            bar_log,
            modes.vectors,
        )

    def shape_effects(self, wood: Orthotropic, modes: WoodModes, errors: ShapeErrors) -> np.ndarray:
        """Work out what slips of thickness, arching and outline do to the logarithms of pitch and weight.

        Parameters
        ----------
        modes : WoodModes
            Of this wood.

        Returns
        -------
        array (n, k + 1)
            See `platemodel.study.top.shape_scatter.ShapeScatter.rows`.
        """
        shell = self._shell.with_material(wood.compliance(), wood.density)
        omega2 = (2.0 * np.pi * modes.frequencies) ** 2
        return shape_scatter(self.model, shell, modes.vectors, omega2, modes.mass, errors).rows

    def reduced(self, wood: Orthotropic) -> WoodModes:
        """Solve on the basis of all shapes found so far; the bar's own stiffness as at the last full solve.

        Raises
        ------
        RuntimeError
            Before the first full solve.
        """
        on = self._projected
        if on is None:
            msg = "no basis yet; call full() first"
            raise RuntimeError(msg)
        ratio = wood.density / on.density
        material = PointMaterial(self._shell, wood.compliance())
        stiff = on.table.stiffness(material) + on.rib_stiffness
        values, turn = eigh(
            stiff,
            ratio * on.top_mass + on.rib_mass + on.air_mass,
            subset_by_index=(0, min(self.count, len(stiff)) - 1),
        )
        top_share = ratio * np.einsum("ik,ij,jk->k", turn, on.top_mass, turn)
        table, shapes = on.table.chosen(turn), on.shapes @ turn
        mass = ratio * on.shell_mass
        return self._result(
            wood,
            material,
            values,
            table,
            shapes,
            top_share,
            mass,
            on.bar_mass,
            _square(on.bar_change, turn),
            on.bar_log,
            self._basis @ turn,
        )

    def _extend(self, system, vectors, shell, bar_log, change):
        n = self._shell.n_dofs
        basis = np.concatenate([self._basis, vectors], axis=1)
        stiff, mass = system.matrices
        gram = basis.T @ (mass @ basis)
        size, turn = np.linalg.eigh(gram)
        keep = size > 1e-7 * size[-1]
        self._basis = basis = basis @ (turn[:, keep] / np.sqrt(size[keep]))
        top = basis[:n]
        top_k, top_m = top.T @ (shell.K @ top), top.T @ (shell.M @ top)
        rib_k, rib_m = basis.T @ (stiff @ basis) - top_k, basis.T @ (mass @ basis) - top_m
        self._projected = _Projected(
            strains(shell, top),
            top_m,
            rib_k,
            rib_m,
            added_mass(self.model, basis) if self.air else np.zeros((basis.shape[1],) * 2),
            normal_displacement(self.model, self._grid.points, basis),
            shell.section.density,
            shell.mass,
            sum(rib.mass for rib in system.ribs),
            bar_log,
            np.zeros((basis.shape[1],) * 2) if change is None else basis.T @ (change @ basis),
        )

    def _result(
        self, wood, material, omega2, table, shapes, top_share, top_mass, bar_mass, by_bar, bar_log, vectors
    ):
        by = table.energy_by_compliance(material, list(wood.compliance_by_logs().values()))
        parts = table.energy_parts(material.stiffness)
        by_logs = np.empty((len(omega2), len(CONSTANTS) + 1))
        by_logs[:, 0] = -0.5 * top_share
        by_logs[:, 1:-1] = (0.5 * by / omega2).T
        # stretch and transverse shear go with the thickness, bending with its cube; the rotary inertia's cube
        # and the shift of the midsurface are left out
        by_logs[:, -1] = 0.5 * (np.array([1.0, 3.0, 1.0]) @ parts) / omega2 - 0.5 * top_share
        return WoodModes(
            np.sqrt(omega2) / (2.0 * np.pi),
            by_logs,
            0.5 * by_bar / omega2,
            bar_log,
            top_mass + bar_mass,
            bar_mass,
            self._index(shapes),
            shapes,
            vectors,
        )

    def _index(self, shapes):
        """Modes 1, 2, 5: the likest shapes; the other numbers go to the other modes in the order of pitch."""
        index = {}
        for number, score in likeness(self._grid, shapes).items():
            taken = list(index.values())
            index[number] = int(np.argmax(np.where(np.isin(np.arange(len(score)), taken), -1.0, score)))
        others = (place for place in range(shapes.shape[1]) if place not in index.values())
        numbers = (n for n in range(1, shapes.shape[1] + 1) if n not in KNOWN)
        return index | dict(zip(numbers, others, strict=False))
