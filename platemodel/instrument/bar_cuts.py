"""Cuts on a glued bar: where wood comes off its free edge, how much, and how far it may go."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from platemodel.instrument.bar import Bar

STEPS = 41  # places along the bar at which a cut is given
TELLS = 0.3  # a place's share above which meeting the floor counts as having no room left


@dataclass(frozen=True)
class Place:
    """Where wood can come off: a share of the cut's depth at each point of the bar.

    Attributes
    ----------
    share : callable
        ``share(s)`` of the position from -1 (lower end) over 0 (bridge) to 1 (upper end), 0 to 1.
    words : str
        Where the cut is deepest and where it runs out.
    by_tap : bool
        Whether a tap may decide on it. How high an end is left is a matter of its peel and of the step that
        the plate feels there, not of pitch.
    """

    name: str
    share: Callable[[np.ndarray], np.ndarray]
    words: str = ""
    by_tap: bool = True


def _flank(s):
    return 4.0 * np.abs(s) * (1.0 - np.abs(s))


PLACES = (
    Place("all along", lambda s: 1.0 - s**2, "deepest at the bridge line, nothing at the ends"),
    Place("both flanks", _flank, "deepest halfway to the ends, nothing at the bridge line and the ends"),
    Place(
        "lower flank",
        lambda s: np.where(s < 0, _flank(s), 0.0),
        "deepest halfway between bridge line and lower end, nothing at either",
    ),
    Place(
        "upper flank",
        lambda s: np.where(s > 0, _flank(s), 0.0),
        "deepest halfway between bridge line and upper end, nothing at either",
    ),
    Place(
        "both ends",
        lambda s: np.clip((np.abs(s) - 0.6) / 0.4, 0.0, 1.0),
        "deepest at the ends, over the last two fifths of each side",
        by_tap=False,
    ),
)


def place_named(name: str) -> Place:
    """Return one of `PLACES`.

    Raises
    ------
    ValueError
        Unknown name.
    """
    for place in PLACES:
        if place.name == name:
            return place
    msg = f"place {name!r}: allowed are {', '.join(p.name for p in PLACES)}"
    raise ValueError(msg)


def cut(bar: Bar, place: Place, depth: float, x_bridge: float, least_end: float) -> Bar:
    """Return the bar with wood taken off its free edge.

    Parameters
    ----------
    depth : float
        m, where the place's share is 1.
    x_bridge : float
        Bridge line, m; the middle of a bar that does not pass under it.
    least_end : float
        m; nothing is cut below it.

    Notes
    -----
    Nothing is cut below the straight lines from the height at the bridge line to those of the ends either, so
    that the flanks never become hollow.

    Raises
    ------
    ValueError
        Negative depth.
    """
    if depth < 0:
        msg = f"depth {1e3 * depth:.3g} mm: wood cannot be put back; at least 0"
        raise ValueError(msg)
    x, before, share, corners = _edge(bar, place, x_bridge)
    at = before[corners]
    line = np.interp(x, x[corners], np.maximum(at - depth * share[corners], least_end))
    floor = np.minimum(before, np.maximum(line, least_end))
    return replace(bar, stations=x, heights=np.maximum(before - depth * share, floor))


def room(bar: Bar, place: Place, x_bridge: float, least_height: float, least_end: float) -> float:
    """Depth of cut at which a place first meets a limit, m.

    Parameters
    ----------
    x_bridge : float
        Bridge line, m.
    least_height : float
        At the bridge line, m.
    least_end : float
        Everywhere, m.

    Returns
    -------
    float
        Not negative. Besides both heights, the straight line of `cut` is a limit.
    """
    x, before, share, corners = _edge(bar, place, x_bridge)
    found = []
    middle = corners[1]
    if share[middle] > 0:
        found.append((before[middle] - least_height) / share[middle])
    cuts = share > TELLS
    found.append(((before - least_end)[cuts] / share[cuts]).min())
    ends = corners[[0, 2]]
    if (share[ends] > 0).any():
        found.append(((before - least_end)[ends] / np.maximum(share[ends], 1e-9)).min())
    line = np.interp(x, x[corners], before[corners])
    sinks = share - np.interp(x, x[corners], share[corners])
    hollows = sinks > TELLS
    if hollows.any():
        found.append(((before - line)[hollows] / sinks[hollows]).min())
    return max(float(min(found)), 0.0)


def deepest_height(bar: Bar, place: Place, x_bridge: float) -> float:
    """Least height of the bar where a place's cut is deepest, m."""
    _, before, share, _ = _edge(bar, place, x_bridge)
    return float(before[share > 0.9 * share.max()].min())


def bridge_line(bar: Bar, x_bridge: float) -> float:
    """Place of the bridge line on the bar, m; the bar's middle where it does not pass under the bridge."""
    return x_bridge if bar.x_start < x_bridge < bar.x_end else 0.5 * (bar.x_start + bar.x_end)


def bridge_height(bar: Bar, x_bridge: float) -> float:
    """Height under the bridge, m."""
    return float(bar.height(np.array([bridge_line(bar, x_bridge)]))[0])


def with_bridge_height(bar: Bar, height: float, x_bridge: float) -> Bar:
    """Return the bar with another height under the bridge, its ends unchanged.

    Parameters
    ----------
    height : float
        m.
    x_bridge : float
        Bridge line, m.

    Raises
    ------
    ValueError
        A height below the straight line between the ends, or a bar that does not rise over it.
    """
    ends = np.interp(bar.stations, bar.stations[[0, -1]], bar.heights[[0, -1]])
    there = bridge_line(bar, x_bridge)
    line = float(np.interp(there, bar.stations, ends))
    rise = bridge_height(bar, x_bridge) - line
    if rise < 1e-5:
        msg = "the bar does not rise between its ends, so its height under the bridge cannot change alone"
        raise ValueError(msg)
    if height < line:
        msg = (
            f"{1e3 * height:.3g} mm under the bridge is lower than the ends allow; at least "
            f"{1e3 * line:.3g} mm"
        )
        raise ValueError(msg)
    return replace(bar, heights=ends + (bar.heights - ends) * (height - line) / rise)


@lru_cache(maxsize=64)  # a cut is asked for at many depths
def _edge(bar, place, x_bridge):
    """Points along the bar, height and share of the cut there, indices of lower end, bridge, upper end."""
    middle = bridge_line(bar, x_bridge)
    first, last = bar.stations[[0, -1]]
    fine = np.r_[np.linspace(first, last, STEPS), middle]
    apart = np.abs(fine[:, None] - bar.stations).min(axis=1) > 1e-6
    x = np.unique(np.r_[bar.stations, fine[apart]])
    corners = np.array([0, int(np.abs(x - middle).argmin()), len(x) - 1])
    side = np.where(x < middle, middle - first, last - middle)
    share = place.share(np.clip((x - x[corners[1]]) / side, -1.0, 1.0))
    return x, bar.height(x), share, corners
