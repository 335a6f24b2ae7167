"""Error of a reduced model's answer, estimated from its residual with a few fixed random vectors."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from platemodel.fem.arrays import Floats
from platemodel.fem.factors import factorise
from platemodel.fem.system import System

PROBES = 24
# The mean of 24 squared normal numbers is below this once in a thousand (chi-square distribution).
LUCK = 0.36


@dataclass(frozen=True, eq=False)
class Norm:
    """Energy of a reference model, K + shift M with a slender rib, as random vectors measure it.

    Attributes
    ----------
    probes : array (n_shell, PROBES)
        Normal random vectors whose covariance is the reference's flexibility: the mean of their squared
        products with a residual r estimates r' (K + shift M)^-1 r without bias, whatever r is.
    shift : float
        1/s2.
    """

    probes: np.ndarray
    shift: float


@dataclass(frozen=True, eq=False)
class FactorisedReference:
    """A reference model, factorised.

    Attributes
    ----------
    apply : callable
        Solution for loads (n_shell, k), the rib's own unknowns unloaded.
    solve : callable
        The same for loads on all unknowns left by the constraints.
    """

    norm: Norm
    apply: Callable[[np.ndarray], np.ndarray]
    solve: Callable[[np.ndarray], np.ndarray]


def reference(system: System, shift: float, probes: int = PROBES) -> FactorisedReference:
    """Factorise a reference model.

    Parameters
    ----------
    system : System
        Shell, a rib at least as slender as those to come, and the supports.
    shift : float
        Times the mass added to the stiffness, 1/s2.
    probes : int
        Number of random vectors.

    References
    ----------
    Smetana, Zahm, Patera: Randomized residual-based error estimators for parametrized equations, SIAM J. Sci.
    Comput. 41 (2019), from memory.
    """
    stiffness, mass = system.matrices
    free = system.basis
    matrix = stiffness + shift * mass
    if free is not None:
        matrix = (free.T @ matrix @ free).tocsc()
    factors = factorise(matrix)
    n = system.shell.n_dofs

    def solve(loads: Floats) -> Floats:
        return factors.solve(loads)

    def apply(loads: Floats) -> Floats:
        full = np.zeros((system.n_dofs, loads.shape[1]))
        full[:n] = loads
        if free is None:
            return factors.solve(full)[:n]
        return (free @ factors.solve(np.asfortranarray(free.T @ full)))[:n]

    # matrix = P' L D L' P, so that solving for P' L D^(1/2) z gives covariance matrix^-1
    z = np.random.default_rng(1).standard_normal((matrix.shape[0], probes))
    z = factors.lower @ (np.sqrt(np.abs(factors.upper.diagonal()))[:, None] * z)
    random = factors.solve(np.asfortranarray(z[factors.rows]))
    norm = Norm((random if free is None else free @ random)[:n], shift)
    return FactorisedReference(norm, apply, solve)
