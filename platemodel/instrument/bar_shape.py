"""A bar made from another one: height, ends, profile, length, width, place, wood."""

from dataclasses import replace

import numpy as np

from platemodel.instrument.bar import Bar
from platemodel.instrument.profile import height_profile
from platemodel.instrument.top import Top
from platemodel.wood import Orthotropic

ON_THE_LINE = ("height", "ends", "power")  # change nothing of the glued face
OF_THE_LINE = ("length", "width", "position")
LEAST_END = 2e-3  # m: a bar's end is not thinned below this


def usual_least_end(top: Top) -> float:
    """Height below which the ends of a bar are not thinned, m: 2 mm for a violin, more for a longer body."""
    return max(LEAST_END, LEAST_END * top.outline.scale)


def bar_of_height(bar: Bar, height: float) -> Bar:
    """Return the bar with another height at its highest place, its ends unchanged.

    Parameters
    ----------
    height : float
        m.

    Raises
    ------
    ValueError
        Height below that of the ends, or a bar that does not rise between its ends.
    """
    ends = np.interp(bar.stations, bar.stations[[0, -1]], bar.heights[[0, -1]])
    top = bar.heights.max()
    lowest = max(LEAST_END, float(bar.heights[[0, -1]].max()))
    if height < lowest:
        msg = f"bar height {1e3 * height:.3g} mm is below its ends; at least {1e3 * lowest:.3g} mm"
        raise ValueError(msg)
    if int(bar.heights.argmax()) in (0, len(bar.heights) - 1):
        msg = (
            "the bar is highest at an end (or of even height), so its height cannot change alone; "
            "give it a profile that rises between its ends"
        )
        raise ValueError(msg)
    share = (bar.heights - ends) / np.maximum(top - ends, 1e-12)
    return replace(bar, heights=ends + share * (height - ends))


def shaped_bar(
    bar: Bar,
    height: float | None = None,
    ends: float | None = None,
    power: float | None = None,
    length: float | None = None,
    width: float | None = None,
    position: float = 0.0,
    wood: Orthotropic | None = None,
    stiffness: float = 1.0,
    density: float = 1.0,
) -> Bar:
    """Return the bar with some of its figures changed.

    Parameters
    ----------
    height : float, optional
        Greatest height, m.
    ends : float, optional
        Height of both ends, m.
    power : float, optional
        Exponent of the height profile; the bar then has that profile, whatever it had before.
    length, width : float, optional
        m. A longer bar grows by the same at both ends; its highest place stays where it is.
    position : float
        How far it moves towards the treble side, m, parallel to itself.
    stiffness, density : float
        Factors on all moduli and on the density of its wood.

    Raises
    ------
    ValueError
        A height below the ends.
    GeometryError
        A figure that no bar can have.
    """
    apex = float(bar.stations[bar.heights.argmax()])
    top = float(bar.heights.max())
    if length is not None and length != bar.length:
        bar = _longer(bar, 0.5 * (length - bar.length) * np.cos(bar.angle), apex)
    if width is not None and width != bar.width:
        bar = replace(bar, width=width)
    if position:
        bar = replace(bar, y_start=bar.y_start + position, y_end=bar.y_end + position)
    if ends is not None or power is not None:
        bar = _profiled(bar, height or top, ends, power, apex)
    elif height is not None and height != top:
        bar = bar_of_height(bar, height)
    if wood is not None:
        bar = replace(bar, wood=wood)
    if stiffness != 1.0 or density != 1.0:
        bar = replace(bar, wood=scaled_wood(bar.wood, stiffness, density))
    return bar


def _longer(bar, by, apex):
    """Stretch either side of the highest place, so that both ends move out by the same (m along the body)."""
    a, b = bar.x_start - by, bar.x_end + by
    x = bar.stations
    lower = apex - (apex - x) * (apex - a) / max(apex - bar.x_start, 1e-9)
    upper = apex + (x - apex) * (b - apex) / max(bar.x_end - apex, 1e-9)
    x = np.where(x < apex, lower, upper)
    return replace(
        bar, x_start=float(x[0]), x_end=float(x[-1]), stations=x,
        y_start=float(bar.at(x[0])), y_end=float(bar.at(x[-1])),
    )  # fmt: skip


def _profiled(bar, height, ends, power, apex):
    low, high = (float(h) if ends is None else ends for h in bar.heights[[0, -1]])
    if height < max(low, high):
        msg = f"bar height {1e3 * height:.3g} mm is below its ends of {1e3 * max(low, high):.3g} mm"
        raise ValueError(msg)
    if power is None:
        share = bar.heights - np.interp(bar.stations, bar.stations[[0, -1]], bar.heights[[0, -1]])
        if share.max() <= 0:
            msg = "the bar does not rise between its ends; give a profile power"
            raise ValueError(msg)
        base = np.interp(bar.stations, bar.stations[[0, -1]], [low, high])
        at = int(bar.heights.argmax())
        return bar.with_height(base + share / share[at] * (height - base[at]))
    x = bar.stations
    return bar.with_height(height_profile(x, apex, x[0], x[-1], height, low, high, power))


def even_bar(bar: Bar, height: float) -> Bar:
    """Return the bar with one height (m) from end to end, as it is when it is glued."""
    return bar.with_height(np.full_like(bar.heights, height))


def raised_bar(bar: Bar, by: float) -> Bar:
    """Return the bar higher by the same (m) all along."""
    return bar.with_height(bar.heights + by)


def bar_between(low: Bar, high: Bar, share: float) -> Bar:
    """Return the bar whose heights lie between those of two on one line: 0 the first, 1 the second."""
    upper = np.interp(low.stations, high.stations, high.heights)
    return low.with_height(low.heights + share * (upper - low.heights))


def scaled_wood(wood: Orthotropic, stiffness: float, density: float) -> Orthotropic:
    """Wood with all moduli and the density scaled."""
    moduli = ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")
    factors = {name: stiffness * getattr(wood, name) for name in moduli}
    return replace(wood, density=density * wood.density, **factors)
