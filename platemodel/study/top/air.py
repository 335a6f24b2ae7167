"""The free plate in air: the air that it carries along makes it heavier."""

from functools import lru_cache

import numpy as np
from scipy.linalg import eigh

from platemodel.fem.eigen import Modes
from platemodel.fem.plate_in_air import AirPanels, inset_grid
from platemodel.instrument.top import Top
from platemodel.study.top.model import TopModel
from platemodel.study.top.sampling import normal_displacement

PANELS_ALONG = 40  # of the body: some 600 panels; a disc of as many is within 1 % of its closed form


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


def added_mass(model: TopModel, vectors: np.ndarray) -> np.ndarray:
    """Mass of air that goes with shapes of a plate.

    Parameters
    ----------
    model : TopModel
    vectors : array (n_dofs, k)
        Shapes in the shell's DOFs; further rows are left alone.

    Returns
    -------
    array (k, k)
        kg for shapes in m; plain numbers for mass-normalised shapes.
    """
    panels = air_panels(model.top)
    return panels.added_mass(normal_displacement(model, panels.middles, vectors[: model.shell.n_dofs]))


def loaded(omega2: np.ndarray, air: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Modes in air as sums of those in vacuum.

    Parameters
    ----------
    omega2 : array (k,)
        Of modes in vacuum, 1/s2, ascending.
    air : array (k, k)
        Added mass of their mass-normalised shapes.

    Returns
    -------
    omega2 : array (k,)
        In air.
    turn : array (k, k)
        Columns: the modes in air, normalised with the air's mass, each of the sign of its largest part.
    """
    values, turn = eigh(np.diag(omega2), np.eye(len(omega2)) + air)
    largest = turn[np.abs(turn).argmax(axis=0), np.arange(len(values))]
    return values, turn * np.sign(largest)


def in_air(model: TopModel, modes: Modes) -> Modes:
    """Modes of a free plate in air.

    Parameters
    ----------
    model : TopModel
    modes : Modes
        In vacuum, without or with a bar.

    Returns
    -------
    Modes
        Normalised with the air's mass: K x = omega2 (M + A) x, x' (M + A) x = 1. Derivatives of omega2 by
        what changes K and M are then x' (dK - omega2 dM) x as in vacuum.
    """
    omega2, turn = loaded(modes.omega2, added_mass(model, modes.vectors))
    return Modes(omega2, modes.vectors @ turn, modes.rigid, modes.residual)
