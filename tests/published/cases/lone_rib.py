"""The rib alone, without its plate, on fields that do not vary across: a beam.

A real strip of plate too faint to matter would do in principle, but its flutter and the spread of stiffness
over nine orders ruin the eigenvalues. Instead the rib's own matrices are projected on smooth fields: u_x and
u_z are polynomials of x, interpolated into the shell's space, and the rib keeps its own shear field.
"""

import numpy as np
from numpy.polynomial import Legendre
from scipy.linalg import eigh

from platemodel.fem.rib import Rib, RibWood
from platemodel.fem.seat import Seat
from tests.fields import interpolate
from tests.published.cases.models import plate


def lengthwise(f):
    """Field that depends on x only, from a Legendre series."""
    return lambda x, y: np.stack([f(x), f.deriv()(x), 0 * x, f.deriv(2)(x), 0 * x, 0 * x])


def lone_rib(wood, width, height, length, ends, shear=True, plate_thickness=0.01, degree=16):
    """Natural frequencies of a rib as a beam bending upright, rigid motions included as zeros.

    Parameters
    ----------
    ends : {"free", "cantilever", "supported"}
        The supports act on the plate's midsurface; the axial displacement is free except at a clamped end.
    plate_thickness : float
        Of the plate that is not there: it only sets how far the rib lies from the midsurface, m.
    """
    shell = plate(wood, plate_thickness, length, 1.2 * width, 12, 1)
    seat = Seat(shell, (0.0, 0.6 * width), (length, 0.6 * width), width)
    rib = Rib(seat, height, RibWood(wood.compliance(), wood.density), shear=shear, glued_width=False)
    stiffness, mass = rib.matrices(shell.n_dofs + rib.n_own, shell.n_dofs)
    one, x = Legendre([1.0], [0.0, length]), Legendre([0.0, 1.0], [0.0, length])
    along, upright = {
        "free": (one, one),
        "cantilever": (one + x, (one + x) ** 2),
        "supported": (one, one - x**2),
    }[ends]
    columns = []
    for component, factor in ((0, along), (2, upright)):
        for k in range(degree):
            column = np.zeros(stiffness.shape[0])
            field = lengthwise(factor * Legendre.basis(k, [0.0, length]))
            column[component * shell.n_c1 : (component + 1) * shell.n_c1] = interpolate(shell, field)
            columns.append(column)
    own = np.eye(stiffness.shape[0])[:, shell.n_dofs :]
    basis = np.concatenate([np.stack(columns, axis=1), own], axis=1)
    values = eigh(basis.T @ stiffness @ basis, basis.T @ mass @ basis, eigvals_only=True)
    return np.sqrt(np.maximum(values, 0.0)) / (2 * np.pi)
