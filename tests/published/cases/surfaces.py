"""Midsurfaces of the shell cases."""

import numpy as np

from platemodel.fem.surface import Surface, SurfacePoints, graph


def paraboloid(k_x, k_y):
    """z = (k_x x^2 + k_y y^2) / 2."""

    def height(x, y):
        one, zero = np.ones_like(x), np.zeros_like(x)
        return np.stack([0.5 * (k_x * x**2 + k_y * y**2), k_x * x, k_y * y, k_x * one, zero, k_y * one])

    return graph(height)


def cylinder(radius):
    """Parameters: x along the axis, arc length from the top (y = 0)."""

    def evaluate(x, arc):
        c, s = np.cos(arc / radius), np.sin(arc / radius)
        zero, one = np.zeros_like(x), np.ones_like(x)
        flat = np.zeros((len(x), 3))
        return SurfacePoints(
            np.stack([x, radius * s, radius * c], axis=1),
            np.stack([one, zero, zero], axis=1),
            np.stack([zero, c, -s], axis=1),
            flat,
            flat,
            np.stack([zero, -s, -c], axis=1) / radius,
        )

    return Surface(evaluate)


def sphere(radius):
    """Parameters: longitude and latitude, times the radius."""

    def evaluate(a, b):
        cp, sp, cq, sq = np.cos(a / radius), np.sin(a / radius), np.cos(b / radius), np.sin(b / radius)
        zero = np.zeros_like(a)
        return SurfacePoints(
            radius * np.stack([cq * cp, cq * sp, sq], axis=1),
            np.stack([-cq * sp, cq * cp, zero], axis=1),
            np.stack([-sq * cp, -sq * sp, cq], axis=1),
            np.stack([-cq * cp, -cq * sp, zero], axis=1) / radius,
            np.stack([sq * sp, -sq * cp, zero], axis=1) / radius,
            np.stack([-cq * cp, -cq * sp, -sq], axis=1) / radius,
        )

    return Surface(evaluate)


_CENTRE = np.full(3, 1 / 3)
_FIRST = np.array([-1.0, 1.0, 0.0]) / np.sqrt(2)
_SECOND = np.array([-1.0, -1.0, 2.0]) / np.sqrt(6)
# Corners of the flat triangle through (1,0,0), (0,1,0), (0,0,1), in its own plane.
OCTANT = ((np.eye(3) - _CENTRE) @ np.stack([_FIRST, _SECOND], axis=1)).T


def octant_plane(x, y):
    """Points (..., 3) of the flat triangle that the octant is projected on."""
    return _CENTRE + np.asarray(x)[..., None] * _FIRST + np.asarray(y)[..., None] * _SECOND


def octant(radius):
    """Octant of a sphere over a flat triangle, seen from the centre: no pole, so no degenerate corner."""

    def evaluate(x, y):
        point = octant_plane(x, y)
        length = np.linalg.norm(point, axis=1)[:, None]
        unit = point / length

        def first(q):
            return (q - unit * (unit @ q)[:, None]) / length

        def second(q, s):
            turn = first(s)
            change = turn * (unit @ q)[:, None] + unit * (turn @ q)[:, None]
            return -change / length - first(q) * (unit @ s)[:, None] / length

        return SurfacePoints(
            *(
                radius * v
                for v in (
                    unit,
                    first(_FIRST),
                    first(_SECOND),
                    second(_FIRST, _FIRST),
                    second(_FIRST, _SECOND),
                    second(_SECOND, _SECOND),
                )
            )
        )

    return Surface(evaluate)
