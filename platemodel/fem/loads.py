"""Loads on a shell as generalised forces: pressure, forces at points."""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats
from platemodel.fem.shell import Shell


def pressure_load(
    shell: Shell,
    pressure: float | Callable[[Floats, Floats], ArrayLike],
    direction: ArrayLike | None = None,
) -> Floats:
    """Return the forces of a pressure on the midsurface; theory (5.3).

    Parameters
    ----------
    pressure : float or callable
        Pa; a callable takes the parameters a1, a2, each (n,), and returns (n,).
    direction : array (3,), optional
        Direction in space in which it pushes, the same everywhere, of any length: a weight per area of the
        midsurface has (0, 0, -1). Default: square to the surface, positive along its normal.

    Returns
    -------
    array (n_dofs,)
        For `platemodel.fem.System.solve`.

    Raises
    ------
    ValueError
        A pressure that is not finite, or a direction of no length.
    """
    station = shell.quadrature
    push = np.asarray(pressure(*station.points) if callable(pressure) else pressure, dtype=float)
    if not np.all(np.isfinite(push)):
        msg = "pressure has values that are not finite numbers; it is given in Pa"
        raise ValueError(msg)
    if direction is None:
        towards = station.axes[:, 2]
    else:
        towards = np.broadcast_to(_unit(direction), (len(shell.area_weights), 3))
    force = (push * shell.area_weights)[:, None] * towards
    out = np.zeros(shell.n_dofs)
    dofs = shell.c1_dofs(station.elements)
    for c in range(3):
        share = station.c1[0] * force[:, c, None]
        out[: 3 * shell.n_c1] += np.bincount(
            (dofs + c * shell.n_c1).ravel(), share.ravel(), minlength=3 * shell.n_c1
        )
    return out


def point_load(shell: Shell, point: ArrayLike, force: ArrayLike) -> Floats:
    """Return the forces of one force at a point of the midsurface; theory (9.4).

    Parameters
    ----------
    point : array (2,)
        Parameters, m.
    force : array (3,)
        Components in space, N.

    Returns
    -------
    array (n_dofs,)
        For `platemodel.fem.System.solve`.

    Raises
    ------
    GeometryError
        The point lies outside the plate.
    ValueError
        Not two parameters, or not three finite components.
    """
    place, vector = np.asarray(point, dtype=float), np.asarray(force, dtype=float)
    if place.shape != (2,):
        msg = f"a point has two parameters a1, a2 in m; found the shape {place.shape}"
        raise ValueError(msg)
    if vector.shape != (3,) or not np.all(np.isfinite(vector)):
        msg = f"a force has three finite components x, y, z in N; found {force!r}"
        raise ValueError(msg)
    station = shell.locate(place[:, None])
    out = np.zeros(shell.n_dofs)
    out[shell.element_dofs[station.elements[0], :63]] = vector @ station.displacement_rows()[0]
    return out


def _unit(direction: ArrayLike) -> Floats:
    vector = np.asarray(direction, dtype=float)
    length = float(np.linalg.norm(vector))
    if vector.shape != (3,) or not np.isfinite(length) or length == 0:
        msg = f"a direction has three components x, y, z, not all zero; found {direction!r}"
        raise ValueError(msg)
    return vector / length
