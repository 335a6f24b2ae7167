"""Smooth fields put into a shell's space, for tests that need a known deformation."""

import numpy as np


def interpolate(shell, f):
    """Argyris DOFs of one displacement component, (n_c1,).

    ``f(x, y)`` takes arrays (n,) of parameters and returns (6, n): value, _1, _2, _11, _12, _22.
    """
    mesh, out = shell.mesh, np.zeros(shell.n_c1)
    at = np.asarray(f(*mesh.p))
    for vertex in range(mesh.p.shape[1]):
        out[shell.vertex_dofs(vertex)] = at[:, vertex]
    start, stop = mesh.p[:, mesh.facets].swapaxes(0, 1)
    side = (stop - start) / np.hypot(*(stop - start))
    middle = np.asarray(f(*(0.5 * (start + stop))))
    slope = side[1] * middle[1] - side[0] * middle[2]
    for facet, value in enumerate(slope):
        out[shell.facet_dof(facet)] = value
    return out


def displacement(shell, u=None, v=None, w=None):
    """DOFs of a displacement (n_dofs,) whose Cartesian components are given as in `interpolate`."""
    out = np.zeros(shell.n_dofs)
    for component, f in enumerate((u, v, w)):
        if f is not None:
            out[component * shell.n_c1 : (component + 1) * shell.n_c1] = interpolate(shell, f)
    return out


def polynomial(coefficients):
    """Field sum of c x^i y^j, from {(i, j): c}."""

    def power(t, n, k):
        """k-th derivative of t^n."""
        if n < k:
            return np.zeros_like(t)
        return np.prod(np.arange(n - k + 1, n + 1)) * t ** (n - k)

    def f(x, y):
        orders = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2))
        return np.stack(
            [
                sum(c * power(x, i, p) * power(y, j, q) for (i, j), c in coefficients.items())
                for p, q in orders
            ]
        )

    return f


def inflation(shell, radius, w):
    """Radial growth by w of a cylinder whose second parameter is the arc length from its top."""

    def component(value, slope):
        def f(x, s):
            v, zero = value(s / radius), 0 * x
            return w * np.stack([v, zero, slope(s / radius) / radius, zero, zero, -v / radius**2])

        return f

    return displacement(shell, v=component(np.sin, np.cos), w=component(np.cos, lambda a: -np.sin(a)))
