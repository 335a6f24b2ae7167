"""Parametric outline of a violin-family top, own construction."""

import numpy as np

from platemodel.instrument.loops import hermite_curve, joined

# Named points of the right half in fractions of the body length (x) and of the half width of the nearest
# named bout.
LOWER_LINE, UPPER_LINE = 0.20, 0.80  # widest lines, from the lower edge
WAIST_LINE = 0.535
LOWER_CORNER, UPPER_CORNER = 0.431, 0.655
CORNER_WIDTH = 0.019  # the straight line across a corner
SPACING = 0.002  # between points


def violin_shape(
    body_length: float, upper: float, middle: float, lower: float
) -> tuple[np.ndarray, np.ndarray]:
    """Loop and corner indices of a symmetric top.

    The half outline is three runs (lower bout, C-bout, upper bout), each of constant-curvature-like pieces
    between named points where place, tangent and radius are given, so that curvature is continuous along a
    run. Each of the four corners is cut by a short straight line, as the corners of real tops are, which
    makes two corner points.

    Parameters
    ----------
    body_length, upper, middle, lower : float
        Length and full widths, m.
    """
    length, u, m, w = body_length, upper / 2, middle / 2, lower / 2
    half_pi, deg = np.pi / 2, np.pi / 180
    tip_l = np.array([LOWER_CORNER * length, 0.89 * w])  # outer tips of the corners
    tip_u = np.array([UPPER_CORNER * length, 0.92 * u])
    c_up = tip_u[0] - tip_l[0]  # size of the C-bout
    # Tangent angles where the runs meet a corner, seen on the side y > 0 going from the lower to the upper
    # end.
    out_l, in_l, in_u, out_u = 33 * deg, 260 * deg, 90 * deg, -30 * deg
    axis_l, axis_u = 60 * deg, 120 * deg  # the way the lower and the upper corner point
    in_tip_l = tip_l + CORNER_WIDTH * length * np.array([np.sin(axis_l), -np.cos(axis_l)])
    in_tip_u = tip_u + CORNER_WIDTH * length * np.array([-np.sin(axis_u), np.cos(axis_u)])
    lower_run = [
        (0, 0, half_pi, -1 / (2.3 * w)),
        (LOWER_LINE * length, w, 0, -1 / (0.74 * w)),
        (*tip_l, out_l, 1 / (0.24 * w)),
    ]
    c_run = [
        (*in_tip_l, in_l - 2 * np.pi, 1 / (0.26 * c_up)),
        (WAIST_LINE * length, m, 0, 1 / (1.05 * c_up)),
        (*in_tip_u, in_u, 1 / (0.26 * c_up)),
    ]
    upper_run = [
        (*tip_u, out_u, 1 / (0.26 * u)),
        (UPPER_LINE * length, u, 0, -1 / (0.76 * u)),
        (length, 0, -half_pi, -1 / (1.9 * u)),
    ]
    side = [hermite_curve(run, SPACING * length) for run in (lower_run, c_run, upper_run)]
    cuts = [np.array([tip_l, in_tip_l]), np.array([in_tip_u, tip_u])]
    up = [side[0], cuts[0], side[1], cuts[1], side[2]]
    # Bass side upwards (y < 0), then the treble side downwards: counter-clockwise.
    bass = [s * [1, -1] for s in up]
    treble = [s[::-1] for s in reversed(up)]
    top = np.vstack([bass[-1], treble[0][1:]])
    bottom = np.vstack([treble[-1], bass[0][1:]])
    return joined([bottom, *bass[1:-1], top, *treble[1:-1]])
