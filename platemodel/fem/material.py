"""What parts are made of: the wood of a rib, isotropic compliance, and the check that all must pass."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats

# Entries that mirror each other may differ by this much of the geometric mean of their diagonal entries: far
# above round-off, far below any measured constant's own error.
SYMMETRY = 1e-6


@dataclass(frozen=True)
class RibWood:
    """What a rib is made of.

    Attributes
    ----------
    compliance : array (6, 6)
        Engineering compliance in material axes, 1/Pa, order LL, RR, TT, RT, LT, LR.
    density : float
        kg/m3.
    axes : array (3, 3) or None
        Rows L, R, T in space; None: L along the rib, R across it, T along the normal.
    """

    compliance: np.ndarray
    density: float
    axes: np.ndarray | None = None


def isotropic_compliance(young: float, poisson: float) -> Floats:
    """Engineering compliance of an isotropic material.

    Parameters
    ----------
    young : float
        Young's modulus, Pa.
    poisson : float
        Poisson's ratio, above -1 and below 0.5.

    Returns
    -------
    array (6, 6)
        1/Pa, order 11, 22, 33, 23, 13, 12, shear strains doubled.

    Raises
    ------
    ValueError
        Constants that no stable material has.
    """
    if not (np.isfinite(young) and young > 0):
        msg = f"Young's modulus is {young} Pa; it must be positive"
        raise ValueError(msg)
    if not -1.0 < poisson < 0.5:
        msg = f"Poisson's ratio is {poisson}; it must lie above -1 and below 0.5"
        raise ValueError(msg)
    out = np.zeros((6, 6))
    out[:3, :3] = -poisson / young
    np.fill_diagonal(out, [1.0 / young] * 3 + [2.0 * (1.0 + poisson) / young] * 3)
    return out


def checked_compliance(compliance: ArrayLike) -> Floats:
    """Return a compliance as an array, if a material can have it.

    Parameters
    ----------
    compliance : array (6, 6)
        1/Pa, normal strains first.

    Raises
    ------
    ValueError
        Not 6 x 6, not finite, not symmetric, or not positive definite (it would give energy away).
    """
    out = np.asarray(compliance, dtype=float)
    if out.shape != (6, 6):
        msg = f"compliance has the shape {out.shape}; it must be (6, 6), order LL, RR, TT, RT, LT, LR"
        raise ValueError(msg)
    if not np.all(np.isfinite(out)):
        msg = "compliance has entries that are not finite numbers"
        raise ValueError(msg)
    diagonal = out.diagonal()
    if np.any(diagonal <= 0):
        worst = int(diagonal.argmin())
        msg = f"compliance[{worst}, {worst}] is {diagonal[worst]:.4g} 1/Pa; the diagonal must be positive"
        raise ValueError(msg)
    scaled = out / np.sqrt(np.outer(diagonal, diagonal))
    gap = np.abs(scaled - scaled.T)
    if gap.max() > SYMMETRY:
        i, j = (int(k) for k in np.unravel_index(gap.argmax(), gap.shape))
        msg = (
            f"compliance is not symmetric: [{i}, {j}] is {out[i, j]:.4g} and [{j}, {i}] is {out[j, i]:.4g} "
            "1/Pa; the two must be equal (nu_12 / E_1 = nu_21 / E_2)"
        )
        raise ValueError(msg)
    least = float(np.linalg.eigvalsh(0.5 * (scaled + scaled.T))[0])
    if least <= 0:
        msg = (
            "compliance is not positive definite: some strain would give energy away "
            f"(least eigenvalue {least:.3g} with the diagonal scaled to 1); check Poisson's ratios"
        )
        raise ValueError(msg)
    return out
