"""Smooth functions over the plan of a top with their derivatives, as a shell's shape is changed by them.

Arrays (6, ...) hold value and derivatives by x, y, xx, xy, yy.
"""

from collections.abc import Callable

import numpy as np


def bells(x: np.ndarray, y: np.ndarray, at: np.ndarray, radius: float) -> np.ndarray:
    """Gaussian bells of height 1.

    Parameters
    ----------
    x, y : array (n,)
        Where they are asked for, m.
    at : array (2, m)
        Their middles, m.
    radius : float
        Standard deviation, m.

    Returns
    -------
    array (6, n, m)
    """
    u, v = (x[:, None] - at[0]) / radius, (y[:, None] - at[1]) / radius
    g = np.exp(-0.5 * (u**2 + v**2))
    one, two = 1.0 / radius, 1.0 / radius**2
    return np.stack(
        [g, -one * u * g, -one * v * g, two * (u**2 - 1) * g, two * u * v * g, two * (v**2 - 1) * g]
    )


def differentiated(function: Callable, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Value and derivatives of a smooth function of x, y (m) by differences: (6, n)."""
    step = 2e-4
    at = {(i, j): function(x + i * step, y + j * step) for i in (-1, 0, 1) for j in (-1, 0, 1)}
    mid = at[0, 0]
    twist = at[1, 1] - at[1, -1] - at[-1, 1] + at[-1, -1]
    return np.stack(
        [
            mid,
            (at[1, 0] - at[-1, 0]) / (2 * step),
            (at[0, 1] - at[0, -1]) / (2 * step),
            (at[1, 0] - 2 * mid + at[-1, 0]) / step**2,
            twist / (4 * step**2),
            (at[0, 1] - 2 * mid + at[0, -1]) / step**2,
        ]
    )


def product(f: np.ndarray, g: np.ndarray) -> np.ndarray:
    """Product of two functions given with their derivatives (6, ...)."""
    return np.stack(
        [
            f[0] * g[0],
            f[1] * g[0] + f[0] * g[1],
            f[2] * g[0] + f[0] * g[2],
            f[3] * g[0] + 2 * f[1] * g[1] + f[0] * g[3],
            f[4] * g[0] + f[1] * g[2] + f[2] * g[1] + f[0] * g[4],
            f[5] * g[0] + 2 * f[2] * g[2] + f[0] * g[5],
        ]
    )
