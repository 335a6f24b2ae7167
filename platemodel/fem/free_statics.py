"""Statics of a free body: loads that balance, and displacements measured against three of its own points.

A plate on three pegs is a free body under loads that balance each other. Its displacements are known up to a
rigid motion, and a reading is one that no rigid motion changes: the sag at one place against the plane
through three others.
"""

import numpy as np
from numpy.typing import ArrayLike

from platemodel.errors import GeometryError
from platemodel.fem.arrays import Floats
from platemodel.fem.shell import Shell
from platemodel.fem.supports import point_rows
from platemodel.fem.system import System

BALANCED = 1e-8  # largest resultant of loads that balance, relative to the loads; round-off leaves 1e-12
# Points of a disc of radius 1 and their weights, exact for polynomials of degree 5 (Abramowitz and Stegun
# 25.4.61, from memory): the middle, and six on a circle of radius sqrt(2/3).
_ANGLES = np.arange(6) * np.pi / 3.0
DISC = np.vstack([[0.0, 0.0], np.sqrt(2.0 / 3.0) * np.stack([np.cos(_ANGLES), np.sin(_ANGLES)], axis=1)])
DISC_WEIGHTS = np.array([0.25] + [0.125] * 6)
UPRIGHT = (0.0, 0.0, 1.0)


def disc_row(shell: Shell, middle: ArrayLike, diameter: float, direction: ArrayLike = UPRIGHT) -> Floats:
    """Mean displacement over a small disc of the parameter plane, along a direction: (n_dofs,).

    Parameters
    ----------
    middle : array (2,)
        Parameters, m.
    diameter : float
        m.
    direction : array (3,)

    Notes
    -----
    As a load: a unit force spread over the disc. A force on a mathematical point of a plate that shears would
    sink in without limit.

    Raises
    ------
    GeometryError
        The disc is not wholly on the shell.
    """
    points = np.asarray(middle, dtype=float)[:, None] + 0.5 * diameter * DISC.T
    return point_rows(shell, points, direction).T @ DISC_WEIGHTS


def discs_row(shell: Shell, places: Floats, forces: Floats, diameters: Floats) -> Floats:
    """Sum of the upright displacements at some places, each times its weight, as a row: (n_dofs,).

    Transposed it is that set of upright forces. With weights that add up to nothing, moments included, no
    rigid motion changes the sum.

    Parameters
    ----------
    places : array (n, 2)
        Parameters, m.
    forces, diameters : array (n,)
        Weight of each place, and the disc that it is spread over, m.
    """
    rows = [
        force * disc_row(shell, place, diameter)
        for place, force, diameter in zip(places, forces, diameters, strict=True)
    ]
    return sum(rows[1:], rows[0])


def solve_free(system: System, loads: ArrayLike) -> Floats:
    """Displacements of a free body under loads that balance, up to a rigid motion.

    Parameters
    ----------
    system : System
        Without supports.
    loads : array (n_dofs of the shell, k)
        N per DOF.

    Returns
    -------
    array (n_dofs of shell and ribs, k)

    Raises
    ------
    GeometryError
        Loads that do not balance: a free body would fly off.
    ValueError
        The system has supports.

    Notes
    -----
    See `System.solve_balanced`: one factorisation serves all loads, and the modes.
    """
    force, shell = np.asarray(loads, dtype=float), system.shell
    rigid = system.rigid_motions()[: shell.n_dofs]
    rigid = rigid / np.array([1.0, 1.0, 1.0, *[np.sqrt(shell.area)] * 3])
    # compared with what the positive half of each load would do alone
    size = np.abs(rigid.T) @ np.abs(force)
    if np.abs(rigid.T @ force).max() > BALANCED * max(size.max(), 1e-300):
        msg = "the loads do not balance: their sum and their moments must be zero on a free body"
        raise GeometryError(msg)
    missing = system.n_dofs - len(force)
    return system.solve_balanced(np.concatenate([force, np.zeros((missing, *force.shape[1:]))]))
