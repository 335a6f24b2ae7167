"""Strains that a part has by itself: swelling of a plate, a rib glued on bent; as loads on the system."""

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats
from platemodel.fem.rib import Rib, scale
from platemodel.fem.section import stiffness
from platemodel.fem.shell import Shell


def swelling_load(shell: Shell, strain: ArrayLike) -> Floats:
    """Load that stands for a plate which would be longer by itself.

    Parameters
    ----------
    strain : array (3,)
        Along the material's axes L, R, T, the same through the thickness and everywhere.

    Returns
    -------
    array (n_dofs,)

    Notes
    -----
    The energy is that of the strain less the free one e0, so the load is the integral of B' D e0; shear that
    e0 has in the local frame, where the grain leaves the surface, included. That a curved plate's curvature
    also changes as it swells is left out; it is thickness over twelve radii of the stretch.
    """
    station, area = shell.quadrature, shell.area_weights
    stiff = stiffness(shell.section, station.axes, shell.thickness)
    axes = shell.section.axes
    turn = np.eye(3)[None] if axes is None else axes @ np.swapaxes(station.axes, 1, 2)  # (n, LRT, local)
    free = np.einsum("nia,i,nib->nab", turn, np.asarray(strain, dtype=float), turn)
    stretch = np.stack([free[:, 0, 0], free[:, 1, 1], 2.0 * free[:, 0, 1]], axis=1)[:, :, None]
    shear = 2.0 * free[:, :2, 2, None]
    force = stiff.membrane @ stretch
    membrane = station.membrane_rows()
    parts = [np.swapaxes(membrane, 1, 2) @ force]
    if shell.shear:
        across = stiff.shear @ (shear - stiff.tilt @ stretch)
        parts[0] = parts[0] - np.swapaxes(membrane, 1, 2) @ (np.swapaxes(stiff.tilt, 1, 2) @ across)
        parts.append(np.swapaxes(station.shear_rows(), 1, 2) @ across)
    local = np.concatenate(parts, axis=1)[:, :, 0] * area[:, None]
    out = np.zeros(shell.n_dofs)
    np.add.at(out, shell.element_dofs[station.elements][:, : local.shape[1]], local)
    return out


def bent_load(rib: Rib, curvature: ArrayLike) -> Floats:
    """Load that stands for a rib which is bent by itself, as a bar that was glued on with a spring.

    Parameters
    ----------
    curvature : float or array (n,)
        Second derivative of how far the unstressed rib stands off its seat along the normal, at the seat's
        points, 1/m.

    Returns
    -------
    array (shell DOFs + n_own,)
        The middle of its section is not stretched: it was bent about it before the glue set.
    """
    seat, n = rib.seat, len(rib.seat.weights)
    bent = -seat.side * np.broadcast_to(np.asarray(curvature, dtype=float), n)
    # forces that a section bent by as much would need; a rib shorter by c turns 1/c as fast, c times as long
    forces = np.linalg.inv(rib.blade)[:, :, 1] * (seat.weights * rib.shorter * bent)[:, None]
    out = []
    for rows, columns in ((seat.rows, seat.shell.n_dofs), (seat.own_rows, rib.n_own)):
        total = np.zeros(columns)
        for strain, force in zip(rib.blade_strains(), forces.T, strict=True):
            for name, factor in strain.items():
                if name in rows and columns and (rows is seat.rows or name in rib.own_names):
                    total += (scale(force * np.broadcast_to(factor, n), rows[name]).sum(axis=0)).A1[:columns]
        out.append(total)
    return np.concatenate(out)
