"""Unknowns without inertia, as a rib's sinking: they follow the others at rest."""

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from platemodel.fem.arrays import Floats


def massless_condensed(stiffness: Floats, mass: Floats) -> tuple[Floats, Floats]:
    """Eliminate the unknowns that have no mass; exact at any frequency.

    Parameters
    ----------
    stiffness : array (n, n)
        Symmetric or Hermitian, definite on the massless unknowns.
    mass : array (n, n)

    Returns
    -------
    tuple of array (m, m), array (m, m)
        Stiffness and mass of the others, in their order.
    """
    heavy = np.diagonal(mass) != 0
    if heavy.all():
        return stiffness, mass
    k = stiffness[np.ix_(heavy, heavy)]
    mixed, light = stiffness[np.ix_(~heavy, heavy)], stiffness[np.ix_(~heavy, ~heavy)]
    return k - mixed.conj().T @ cho_solve(cho_factor(light), mixed), mass[np.ix_(heavy, heavy)]
