"""The free plate in air, whose moving mass adds to that of the plate."""

from functools import lru_cache
from threading import Lock

import numpy as np
from scipy.linalg import eigh

from platemodel.fem.eigen import Modes, orthonormal, shifted
from platemodel.fem.factors import factorise
from platemodel.fem.plate_in_air import AirPanels, inset_grid
from platemodel.fem.system import System
from platemodel.instrument.top import Top
from platemodel.study.top.meshed_top import MeshedTop
from platemodel.study.top.sampling import normal_rows

PANELS_ALONG = 40  # of the body: some 650 panels; a disc of as many is within 1 % of its closed form
RANK = 1e-12  # of the largest: directions that add nothing to a space
MOST_PASSES, AT_REST = 6, 1e-7  # of the search; relative change of a mode's omega2 at which it ends
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
    panels.forces(np.zeros((panels.middles.shape[1], 1)))  # factorised here, by one thread alone
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
    A is full, if small, so that K + shift (M + A) is not factorised. The modes are sought among those in
    vacuum, the rigid motions, and what is left over r = K x - omega2 (M + A) x bends the plate to,
    (K + shift M)^-1 r, which is added until the modes rest.
    """
    stiffness, mass = system.matrices
    shift, rows, panels = system.shift(), air_rows(model), air_panels(model.top)
    solve = factorise(shifted(stiffness, mass, shift)).solve
    found = system.modes(count, shift=shift, solve=solve)
    first = 6  # after the rigid motions
    space = _Space(stiffness, mass, rows, panels)
    space.add(np.column_stack([orthonormal(system.rigid_motions(), mass), found.vectors]))
    before, moving = found.omega2, np.ones(count, dtype=bool)
    for _ in range(MOST_PASSES):
        values, turn = space.lowest(first, count)
        moving &= np.abs(values / before - 1.0) >= AT_REST
        if not moving.any():
            break
        before = values
        left = space.bent @ turn[:, moving] - space.heavy @ turn[:, moving] * values[moving]
        bent = solve(np.asfortranarray(left))
        for _ in range(2):  # twice is enough for rounding
            bent = bent - space.shapes @ (space.inertia.T @ bent)
        size, turn = np.linalg.eigh(bent.T @ (mass @ bent))
        keep = size > RANK * size[-1]
        space.add(bent @ (turn[:, keep] / np.sqrt(size[keep])))
    values, turn = space.lowest(first, count)
    vectors = space.shapes @ turn
    largest = vectors[np.abs(vectors).argmax(axis=0), np.arange(count)]
    return Modes(values, vectors * np.sign(largest), found.rigid, found.residual)


class _Space:
    """Shapes among which the modes in air are sought, with what stiffness, mass and air make of each."""

    def __init__(self, stiffness, mass, rows, panels):
        self.stiffness, self.mass, self.rows, self.panels = stiffness, mass, rows, panels
        self.shapes = self.inertia = self.heavy = self.bent = np.zeros((stiffness.shape[0], 0))

    def add(self, shapes):
        """Take in further shapes, orthonormal in the mass to those before."""
        inertia = self.mass @ shapes
        heavy, n = inertia.copy(), self.rows.shape[1]
        heavy[:n] += self.rows.T @ self.panels.forces(self.rows @ shapes[:n])
        for name, more in (("shapes", shapes), ("inertia", inertia), ("heavy", heavy)):
            setattr(self, name, np.column_stack([getattr(self, name), more]))
        self.bent = np.column_stack([self.bent, self.stiffness @ shapes])

    def lowest(self, first, count):
        """Eigenvalues by number from the first asked for, and their shapes in the space."""
        masses = self.shapes.T @ self.heavy
        last = first + count - 1
        return eigh(self.shapes.T @ self.bent, 0.5 * (masses + masses.T), subset_by_index=(first, last))
