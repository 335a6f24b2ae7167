"""The free plate in air, whose moving mass adds to that of the plate."""

from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

import numpy as np
from scipy.sparse import csc_matrix, csr_matrix

from platemodel.fem.eigen import Modes, low_modes
from platemodel.fem.plate_in_air import AirPanels, inset_grid
from platemodel.fem.system import System
from platemodel.instrument.top import Top
from platemodel.study.top.meshed_top import MeshedTop
from platemodel.study.top.sampling import normal_rows

PANELS_ALONG = 40  # of the body: some 650 panels; a disc of as many is within 1 % of its closed form
_MAKING = Lock()  # panels are made once, not by two threads that both find none


def air_panels(top: Top) -> AirPanels:
    """Panels of the sheet that stands for a top in the air round it, on its midsurface.

    The bar is left out: it stands in air that moves with the plate.
    """
    with _MAKING:
        return _air_panels(top)


@lru_cache(maxsize=8)
def _air_panels(top):
    pitch = top.outline.body_length / PANELS_ALONG
    field = top.midsurface()
    x0, y0, x1, y1 = field.box

    def height(x, y):
        return field.value(np.clip(x, x0, x1), np.clip(y, y0, y1))

    panels = AirPanels(inset_grid(top.plan, pitch), pitch, height)
    panels.forces(np.zeros((panels.middles.shape[1], 1)))  # inverted here, by one thread alone
    return panels


def air_rows(model: MeshedTop):
    """Rows giving the motion along the normal at the middles of the panels: sparse (panels, n_dofs)."""
    return normal_rows(model, air_panels(model.top).middles)


def added_mass(model: MeshedTop, vectors: np.ndarray) -> np.ndarray:
    """Mass of air that goes with shapes of a plate.

    Parameters
    ----------
    vectors : array (n_dofs, k)
        Shapes in the shell's DOFs; further rows are left alone.

    Returns
    -------
    array (k, k)
        kg for shapes in m; plain numbers for mass-normalised shapes.
    """
    return air_panels(model.top).added_mass(air_rows(model) @ vectors[: model.shell.n_dofs])


def modes_in_air(model: MeshedTop, system: System, count: int) -> Modes:
    """Modes of a free plate in air.

    Parameters
    ----------
    system : System
        The model's shell, without or with a bar, and no supports.

    Returns
    -------
    Modes
        Normalised with the air's mass: K x = omega2 (M + A) x, x' (M + A) x = 1. Derivatives of omega2 by
        what changes K and M are then x' (dK - omega2 dM) x as in vacuum.

    Notes
    -----
    A is full, if small, so that M + A is only multiplied with; K alone is factorised, see
    `platemodel.fem.system.System.solve_balanced`.
    """
    stiffness, mass = system.matrices
    heavy = _MassInAir(mass, air_rows(model), air_panels(model.top))
    return low_modes(stiffness, heavy, 0.0, count, system.rigid_motions(), solve=system.solve_balanced)


@dataclass(frozen=True, eq=False)
class _MassInAir:
    """Mass of a plate and of the air that goes with it, to multiply with."""

    mass: csc_matrix
    rows: csr_matrix
    panels: AirPanels

    def __matmul__(self, shapes):
        out, n = self.mass @ shapes, self.rows.shape[1]
        out[:n] += self.rows.T @ self.panels.forces(self.rows @ shapes[:n])
        return out
