"""The free plate in air, whose moving mass adds to that of the plate."""

from functools import lru_cache

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
    A is full, if small, so that K + shift (M + A) is not factorised. The modes are sought among those in
    vacuum, the rigid motions, and what is left over r = K x - omega2 (M + A) x bends the plate to,
    (K + shift M)^-1 r, which is added until the modes rest.
    """
    stiffness, mass = system.matrices
    shift, rows, panels = system.shift(), air_rows(model), air_panels(model.top)
    solve = factorise(shifted(stiffness, mass, shift)).solve
    found = system.modes(count, shift=shift, solve=solve)
    first = 6  # after the rigid motions
    space = np.column_stack([orthonormal(system.rigid_motions(), mass), found.vectors])
    before = found.omega2
    for _ in range(MOST_PASSES):
        values, vectors, heavy = _ritz(stiffness, mass, rows, panels, space, first, count)
        if np.abs(values / before - 1.0).max() < AT_REST:
            break
        before = values
        left = stiffness @ vectors - heavy * values
        bent = solve(np.asfortranarray(left))
        for _ in range(2):  # twice is enough for rounding
            bent = bent - space @ (space.T @ (mass @ bent))
        size, turn = np.linalg.eigh(bent.T @ (mass @ bent))
        keep = size > RANK * size[-1]
        space = np.column_stack([space, bent @ (turn[:, keep] / np.sqrt(size[keep]))])
    largest = vectors[np.abs(vectors).argmax(axis=0), np.arange(count)]
    return Modes(values, vectors * np.sign(largest), found.rigid, found.residual)


def _ritz(stiffness, mass, rows, panels, space, first, count):
    """Eigenvalues and vectors within a space, and (M + A) times the vectors."""
    moved = rows @ space[: rows.shape[1]]
    heavy = mass @ space
    heavy[: rows.shape[1]] += rows.T @ panels.forces(moved)
    air_and_mass = space.T @ heavy
    last = first + count - 1
    values, turn = eigh(
        space.T @ (stiffness @ space), 0.5 * (air_and_mass + air_and_mass.T), subset_by_index=(first, last)
    )
    return values, space @ turn, heavy @ turn
