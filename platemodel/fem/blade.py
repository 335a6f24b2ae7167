"""Stretch, bending, shear and slip of a rib whose grain and free edge leave its line: a tapered blade.

Theory 7: stress runs along the seat at the root and along the free edge at the bottom.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from platemodel.fem.arrays import Floats

# A free edge steeper than this to the root is taken for as steep: what tapers faster has ended.
STEEPEST = 0.5
# Slip is solved without taper; beside an opening the lines that a rib is read on leave hardly any of it, and
# what it has in common with stretch and bending could be more than all of it. A judgement.
MOST_COMMON = 0.9
STOUT = 300.0  # heights in lengths of fading beyond which cosh would overflow; it is infinite from 20 on


def taper(height: Floats, fraction: Floats, speed: Floats) -> Floats:
    """Rate at which a height (n,) changes along a rib: at fractions (n,), speed in m per fraction (n,)."""
    return np.clip(np.gradient(height, fraction) / speed, -STEEPEST, STEEPEST)


def blade_compliance(
    compliance: Floats, height: Floats, rate: Floats, root: tuple[Floats, Floats, Floats] | None
) -> Floats:
    """Strains of a section for unit forces, times its area.

    Parameters
    ----------
    compliance : array (3, n)
        S11, S15, S55 of the wood, 1/Pa; axis 1 along the root, 5 its shear with the direction towards the
        free edge.
    height, rate : array (n,)
        m; change of the height along the root.
    root : tuple of three arrays (n,) or None
        Slip of the root, sinking into it and what either causes of the other, times the area, m3/N; None
        for a rib whose root does not give.

    Returns
    -------
    array (n, k, k)
        Of normal force, moment about the middle (positive where it stretches the free edge), shear, the
        root's shear flow, and the line force on the root.

    Notes
    -----
    With u from 0 (root) to 1 (free edge) and psi the rate, stress s = N/A + M z/I, shear
    u psi s + 6 u (1 - u) Q/A + (1 - u)(1 - 5 u/2) q/w: exact for constant N and M, and the last two do no
    work on each other. Own derivation.
    """
    (along, cross, shear), h, psi = compliance, height, rate
    terms = {
        (0, 0): along + cross * psi + shear * psi**2 / 3.0,
        (1, 1): (12.0 * (along + cross * psi) + 4.8 * shear * psi**2) / h**2,
        (0, 1): psi * (2.0 * cross + shear * psi) / h,
        (2, 2): 1.2 * shear,
        (0, 2): cross + 0.5 * shear * psi,
        (1, 2): 0.6 * shear * psi / h,
    }
    if root is not None:
        terms[3, 3], terms[4, 4], terms[3, 4] = root
        terms[0, 3] = h * (2.0 * cross - shear * psi) / 24.0
        terms[1, 3] = -cross - 0.25 * shear * psi
    size = 3 if root is None else 5
    out = np.zeros((len(h), size, size))
    for (i, j), value in terms.items():
        out[:, i, j] = out[:, j, i] = value
    return out if root is None else _within(out)


def _within(compliance: Floats) -> Floats:
    """Limit what slip has in common with the rest to `MOST_COMMON` of its own give: (n, 5, 5)."""
    rest = [0, 1, 2, 4]
    block, common = compliance[:, rest][:, :, rest], compliance[:, rest, 3]
    taken = (common * np.linalg.solve(block, common[:, :, None])[:, :, 0]).sum(axis=1)
    share = np.sqrt(np.minimum(1.0, MOST_COMMON * compliance[:, 3, 3] / np.maximum(taken, 1e-300)))
    compliance[:, rest, 3] *= share[:, None]
    compliance[:, 3, rest] *= share[:, None]
    return compliance


def as_squares(compliance: Floats) -> tuple[Floats, Floats]:
    """Energy of strains e, e' C^-1 e, as a sum of squares: the sum of w_i (F e)_i^2.

    Parameters
    ----------
    compliance : array (n, k, k)

    Returns
    -------
    factors : array (n, k, k)
        Lower triangles with ones on the diagonal.
    weights : array (n, k)
    """
    size = compliance.shape[1]
    scale = np.sqrt(np.einsum("nii->ni", compliance))
    root = np.linalg.cholesky(compliance / (scale[:, :, None] * scale[:, None]))
    lower = scale[:, :, None] * root
    inverse = np.linalg.solve(lower, np.broadcast_to(np.eye(size), lower.shape))
    diagonal = np.einsum("nii->ni", lower)
    return np.tril(diagonal[:, :, None] * inverse), 1.0 / diagonal**2


@dataclass(frozen=True)
class Tapering:
    """How a rib's height changes along it, and what that does where it twists; n points.

    Attributes
    ----------
    rate : array (n,)
        Change of the height along the root.
    sideways : array (n,)
        Sideways curvature for unit twist: what the change of warping stretches, in the mean over the height.
    twisted : array (n,)
        Twice the same weighed with the shear along the height, which falls towards the free edge, over the
        mean shear of a tall blade.
    """

    rate: np.ndarray
    sideways: np.ndarray
    twisted: np.ndarray


EVEN = Tapering(np.zeros(1), np.zeros(1), np.zeros(1))


def tapering(thickness: Floats, height: Floats, shears: tuple[Floats, Floats], rate: Floats) -> Tapering:
    """Work out what the free edge of a blade that twists does to its warping as the height changes.

    Parameters
    ----------
    thickness, height : array (n,)
        m.
    shears : pair of array (n,)
        Compliances S55 (along the height) and S66 (across the thickness), 1/Pa.
    rate : array (n,)
        Change of the height along the root.

    Notes
    -----
    Prandtl's stress function is taken as a parabola over the thickness times g = 1 - cosh(d/l) / cosh(h/l),
    d the depth below the root, l = `fade` (Kantorovich). With shear 2 b g along the height the warping is
    b (d - 2 G), G the integral of g from the root, and changes with h by -2 b G_h. Against finite elements of
    the T (spruce, 12 to 3.5 mm high) ``sideways`` is 0 to 15 % and ``twisted`` 0 to 26 % too small.
    """
    x = height / fade(thickness, shears[0], shears[1])
    edge, rest = np.tanh(x), 1.0 - 1.0 / np.cosh(np.minimum(x, STOUT))
    sideways, twisted = 2.0 * edge * rest / x, 4.0 * edge * (rest - 0.5 * edge**2) / x
    return Tapering(rate, rate * sideways, rate * twisted)


def fade(thickness: Any, along: Any, across: Any) -> Any:
    """Distance from a free edge over which the shear of twist fades, t sqrt(S66 / 10 S55)."""
    return thickness * np.sqrt(across / (10.0 * along))
