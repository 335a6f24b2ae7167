"""Drawing of an f-shaped sound hole, own construction."""

import numpy as np

from platemodel.errors import GeometryError
from platemodel.instrument.loops import hermite_curve, joined, resampled

LEAVE, MEET = np.deg2rad(-35.0), np.deg2rad(52.0)  # on the eye, from its upper-end side towards the stem


def f_shape(
    x_eye: float,
    y_eye: float,
    d_up: float,
    d_low: float,
    length: float,
    lean: float,
    stem: float,
    spacing: float,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Loop, corner indices and lower-eye centre of a hole on the treble side (y > 0).

    Both hooks are drawn alike, the lower one turned by half a turn and with the larger eye. Four corners: the
    tip of each wing, and where the end of each wing meets its eye.

    Parameters
    ----------
    x_eye, y_eye : float
        Centre of the upper eye, m.
    d_up, d_low : float
        Eye diameters, m.
    length : float
        Over all along x, m.
    lean : float
        Angle of the line through both eye centres to the x axis, rad.
    stem : float
        Width of the stem in its middle, m.
    spacing : float
        Distance of points, m.

    Raises
    ------
    GeometryError
        If the eyes leave no room for the wings.
    """
    crown_up, crown_low = 0.80 * d_up, 0.78 * d_low  # from eye centre to the end of the hole
    span = length - crown_up - crown_low
    up = np.array([x_eye, y_eye])
    low = up + np.array([-span, span * np.tan(lean)])
    mid = (up + low) / 2  # of the stem
    tilt = 0.32 * lean  # of the stem to the axis, on average; it leans more in its middle than at its ends
    upper = _hook(up, d_up / 2, crown_up, mid, tilt, stem, spacing)
    # Turned about the middle of the hole, the lower eye comes to lie on the upper one.
    lower = [2 * mid - chain for chain in _hook(up, d_low / 2, crown_low, mid, tilt, stem, spacing)]
    # Each hook is (eye and outer edge down to the stem's middle, inner edge from there to the wing tip,
    # wing's end).
    segments = [
        np.vstack([upper[0], lower[1][1:]]),
        lower[2],
        np.vstack([lower[0], upper[1][1:]]),
        upper[2],
    ]
    points, corners = joined(segments)
    return points, corners, low


def _hook(eye, r, crown, mid, tilt, stem, spacing):
    mid_tilt, end_tilt = 1.4 * tilt, 0.5 * tilt
    across = np.array([np.sin(tilt), np.cos(tilt)])  # square to the stem, away from the axis
    stem_out, stem_in = mid + across * stem / 2, mid - across * stem / 2
    slope = np.tan(tilt)
    # The stem narrows towards the tip: to three quarters at the level of the eye.
    tip_x = eye[0] + 0.05 * r
    tip = np.array([tip_x, stem_in[1] - slope * (tip_x - stem_in[0]) + 0.16 * stem])
    out_y = stem_out[1] - slope * (eye[0] - stem_out[0])
    wing = tip[1] - (eye[1] + r)
    if wing < 0.35 * r:
        msg = (
            f"sound hole: only {1000 * wing:.2f} mm are left for the wing beside an eye of {2000 * r:.3g} "
            "mm; let the hole lean more, or take a smaller eye or a narrower stem"
        )
        raise GeometryError(msg)
    width = out_y - eye[1]
    # Round the eye the long way, from the wing's end by the inner side to where the outer edge leaves it.
    phi = np.linspace(MEET, LEAVE + 2 * np.pi, max(16, int(r * 5 / spacing)))
    circle = eye + r * np.c_[np.cos(phi), np.sin(phi)]
    leave = eye + r * np.array([np.cos(LEAVE), np.sin(LEAVE)])
    outer = hermite_curve(
        [
            (*leave, LEAVE + np.pi / 2, 0.35 / r),
            (eye[0] + crown, eye[1] + 0.48 * width, np.pi / 2, 1 / (0.50 * width)),
            (eye[0] - 0.5 * width, out_y + 0.10 * slope * width, np.pi - 0.8 * tilt, 1 / (6 * width)),
            (*stem_out, np.pi - mid_tilt, 0.0),
        ],
        spacing,
    )
    inner = hermite_curve([(*stem_in, -mid_tilt, 0.0), (*tip, -end_tilt, 1 / (15 * width))], spacing)
    meet = eye + r * np.array([np.cos(MEET), np.sin(MEET)])
    end = resampled(np.array([tip, meet]), spacing)
    return np.vstack([circle[:-1], outer]), inner, end
