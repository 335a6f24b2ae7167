"""What a shell does on a pair of lines, and between them: rows that vanish in rigid motion, up to round-off.

Between the lines everything is a secant, a difference over the gap, with the strip's frame made of the
chord from line to line and the mean of the two tangents.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from platemodel.fem.arrays import Floats
from platemodel.fem.shell import Shell
from platemodel.fem.station import Station


def along_line(station: Station) -> dict[str, Floats]:
    """Element-wise rows on one line along which the frame runs: dict of (n, 63).

    ``e_t`` stretch; ``k_t`` curvature along, change of rotation per length; ``s_t`` the same within the
    surface; ``q_t`` slope; ``u_t, u_b, u_n``.
    """
    membrane, moved = station.membrane_rows(), station.axes @ station.displacement_rows()
    return {
        "e_t": membrane[:, 0],
        "k_t": station.curvature_rows()[:, 0] - station.second_form()[:, :1] * membrane[:, 0],
        "q_t": station.slope_rows()[:, 0],
        "s_t": station.sideways_rows(),
        "u_t": moved[:, 0],
        "u_b": moved[:, 1],
        "u_n": moved[:, 2],
    }


def across(shell: Shell, pair: Sequence[Station]) -> dict[str, Any]:
    """Element-wise rows of what a strip does between two lines, as secants.

    Parameters
    ----------
    pair : sequence of two Station
        The lines at smaller and at greater b, first axes along them.

    Returns
    -------
    dict
        ``gap``: distance of the lines, m, (n,). Lists of two arrays (n, columns), which add up: ``e_b``
        stretch, ``k_b`` bending (difference of the directors) and ``g_tb`` in-plane shear of the strip;
        ``q_b`` slope across; ``twist`` rate of rotation about the mean tangent.

    Notes
    -----
    With d the chord, t the mean tangent, b = d/|d|, n normal to both, D the derivative along t at the lines:
    e_b = b.du/|d|, q_b = n.du/|d|, g = t.du/|d| + b.mean(D u). The rotation W that chord and tangent make,
    from W x b . n = q_b and W x t = mean(D u) square to t, is taken off what the lines' own frames turn by:
    k_b = (d(director) - W.dt)/|d|, twist = (n.d(D u) - W.(dt x n))/|d| - b_tb e_b - b_tt g. All of them
    vanish for a rigid motion.
    """
    first, second = pair
    chord = second.surface.r - first.surface.r
    gap = np.linalg.norm(chord, axis=1)
    over = 1.0 / gap[:, None]
    b = chord * over
    t = [station.axes[:, 0] for station in pair]
    mean = 0.5 * (t[0] + t[1])
    size = np.linalg.norm(mean, axis=1)[:, None]
    n = np.cross(mean, b)
    n /= np.linalg.norm(n, axis=1)[:, None]
    side = np.cross(n, mean) / size
    turn = np.linalg.inv(np.stack([np.cross(b, n), np.cross(mean, n), size * n], axis=1))
    step = (t[1] - t[0]) * over
    tilt = np.cross(step, n)
    form = 0.5 * (first.second_form() + second.second_form())
    out = {"gap": gap, "e_b": [], "k_b": [], "g_tb": [], "q_b": [], "twist": []}
    for sign, station in zip((-1.0, 1.0), pair, strict=True):
        u, slope = station.displacement_rows(), station.gradient_rows()[:, 0]
        q_b = sign * over * _dot(n, u)
        rotation = turn @ np.stack([q_b, 0.5 * _dot(n, slope), 0.5 * _dot(side, slope)], axis=1)
        e_b = sign * over * _dot(b, u)
        g_tb = sign * over * _dot(mean, u) + 0.5 * _dot(b, slope)
        twist = sign * over * _dot(n, slope) - _dot(tilt, rotation)
        k_b = sign * over * shell.director_rows(station)[:, 1]
        k_b[:, : u.shape[2]] -= _dot(step, rotation)
        out["e_b"].append(e_b)
        out["k_b"].append(k_b)
        out["g_tb"].append(g_tb)
        out["q_b"].append(q_b)
        out["twist"].append(twist - form[:, 2:] * e_b - form[:, :1] * g_tb)
    return out


def _dot(vector: Floats, rows: Floats) -> Floats:
    """Rows of the component along a vector: (n, 3) and (n, 3, m) to (n, m)."""
    return (vector[:, None] @ rows)[:, 0]
