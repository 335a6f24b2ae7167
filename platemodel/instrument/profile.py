"""Height profile of a bar along its length."""

import numpy as np

PROFILES = {"straight": 1.0, "medium": 1.5, "parabola": 2.0, "full": 3.0}


def profile_power(power: float | str) -> float:
    """Exponent of a named profile (straight 1, medium 1.5, parabola 2, full 3), or the number itself."""
    if isinstance(power, str):
        if power not in PROFILES:
            msg = (
                f"profile {power!r} is unknown; allowed are {', '.join(PROFILES)} or a number from 0.5 to 10"
            )
            raise ValueError(msg)
        return PROFILES[power]
    if not 0.5 <= power <= 10:
        msg = f"profile power {power} is outside 0.5 to 10"
        raise ValueError(msg)
    return float(power)


def height_profile(
    x: np.ndarray,
    x_bridge: float,
    x_start: float,
    x_end: float,
    h_bridge: float,
    h_lower_end: float,
    h_upper_end: float,
    power: float | str = "medium",
) -> np.ndarray:
    """Bar height h(s) = h_e + (h_b - h_e)(1 - |s|^p), with s from 0 at the bridge to 1 at either end.

    Each side is normalised by its own length, because the bridge does not stand over the middle of the bar.

    Parameters
    ----------
    x : array_like
        Places along the body from the lower edge, m; must lie on the bar.
    x_bridge, x_start, x_end : float
        Bridge line, lower end and upper end of the bar, m, increasing as x_start < x_bridge < x_end.
    h_bridge, h_lower_end, h_upper_end : float
        Heights, m.
    power : float or str
        Exponent p, or a name from ``PROFILES``.

    Returns
    -------
    ndarray
        Heights, shape of ``x``, m.

    Raises
    ------
    ValueError
        If the bridge line is not between the ends, or ``x`` leaves the bar.
    """
    p = profile_power(power)
    x = np.asarray(x, dtype=float)
    if not x_start < x_bridge < x_end:
        msg = (
            f"bridge line at {x_bridge * 1000:.4g} mm is not between the ends of the bar at "
            f"{x_start * 1000:.4g} and {x_end * 1000:.4g} mm"
        )
        raise ValueError(msg)
    tiny = 1e-9
    if x.size and (x.min() < x_start - tiny or x.max() > x_end + tiny):
        msg = f"places {x.min() * 1000:.4g} to {x.max() * 1000:.4g} mm leave the bar"
        raise ValueError(msg)
    lower = x < x_bridge
    s = np.where(lower, (x_bridge - x) / (x_bridge - x_start), (x - x_bridge) / (x_end - x_bridge))
    h_end = np.where(lower, h_lower_end, h_upper_end)
    return h_end + (h_bridge - h_end) * (1 - np.clip(s, 0, 1) ** p)
