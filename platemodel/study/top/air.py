"""The free plate in air: the air that it carries along makes it heavier."""

from functools import lru_cache

import numpy as np
from scipy.linalg import eigh

from platemodel.fem.eigen import Modes, factorise, orthonormal, shifted
from platemodel.fem.plate_in_air import AirPanels, inset_grid
from platemodel.fem.system import System
from platemodel.instrument.top import Top
from platemodel.study.top.meshed_top import MeshedTop
from platemodel.study.top.sampling import normal_rows

PANELS_ALONG = 40  # of the body: some 650 panels; a disc of as many is within 1 % of its closed form
_RANK = 1e-10  # of the largest: directions of the search space that add nothing


@lru_cache(maxsize=8)
def air_panels(top: Top) -> AirPanels:
    """Panels of the sheet that stands for a top in the air round it, on its midsurface.

    The bar is left out: it stands in air that moves with the plate.
    """
    pitch = top.outline.body_length / PANELS_ALONG
    field = top.midsurface()
    x0, y0, x1, y1 = field.box

    def height(x, y):
        return field.value(np.clip(x, x0, x1), np.clip(y, y0, y1))

    return AirPanels(inset_grid(top.plan, pitch), pitch, height)


def air_rows(model: MeshedTop):
    """Rows giving the motion along the normal at the middles of the panels: sparse (panels, n_dofs)."""
    return normal_rows(model, air_panels(model.top).middles)


def added_mass(model: MeshedTop, vectors: np.ndarray) -> np.ndarray:
    """Mass of air that goes with shapes of a plate.

    Parameters
    ----------
    model : MeshedTop
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
    model : MeshedTop
    system : System
        The model's shell, without or with a bar, and no supports.
    count : int

    Returns
    -------
    Modes
        Normalised with the air's mass: K x = omega2 (M + A) x, x' (M + A) x = 1. Derivatives of omega2 by
        what changes K and M are then x' (dK - omega2 dM) x as in vacuum.

    Notes
    -----
    A is full, if small. The modes are sought among those in vacuum, the rigid motions, and what the air's
    forces on the former do to the plate, (K + shift M)^-1 A x: errors go with the square of what is left.
    """
    stiffness, mass = system.matrices
    shift, rows, panels = system.shift(), air_rows(model), air_panels(model.top)
    solve = factorise(shifted(stiffness, mass, shift)).solve
    found = system.modes(count, shift=shift, solve=solve)
    n = model.shell.n_dofs
    push = np.zeros_like(found.vectors)
    push[:n] = rows.T @ panels.forces(rows @ found.vectors[:n])
    bent = solve(np.asfortranarray(push))
    rigid = orthonormal(system.rigid_motions(), mass)
    known = np.column_stack([rigid, found.vectors])
    for _ in range(2):  # twice is enough for rounding
        bent = bent - known @ (known.T @ (mass @ bent))
    size, turn = np.linalg.eigh(bent.T @ (mass @ bent))
    keep = size > _RANK * size[-1]
    space = np.column_stack([known, bent @ (turn[:, keep] / np.sqrt(size[keep]))])
    heavy = space.T @ (mass @ space) + panels.added_mass(rows @ space[:n])
    stiff = space.T @ (stiffness @ space)
    first = rigid.shape[1]
    values, turn = eigh(stiff, heavy, subset_by_index=(first, first + count - 1))
    vectors = space @ turn
    vectors = vectors * np.sign(vectors[np.abs(vectors).argmax(axis=0), np.arange(count)])
    return Modes(values, vectors, found.rigid, found.residual)
