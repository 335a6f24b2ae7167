"""Thickness of the plate, square to its surface."""

import numpy as np

from platemodel.errors import GeometryError
from platemodel.instrument.field import SmoothField
from platemodel.instrument.outline import Outline
from platemodel.instrument.rim import RimGrid

EDGE_REACH = 0.034  # of the body length: how far the thicker edge reaches inwards, 12 mm for a violin
FLANKS = 0.92  # of the bouts: thickness at the flanks, inside the thicker edge
MIDDLE = 0.47  # of the body length: middle of the thicker centre


def preset(outline: Outline, centre: float, bouts: float, edge: float) -> SmoothField:
    """Usual thicknesses: thickest round the bridge, thinnest along the flanks, a thicker edge.

    Parameters
    ----------
    centre, bouts : float
        Thickness round the bridge and in the middle of the bouts, m.
    edge : float
        Thickness at the rim, m.
    """
    flanks = FLANKS * bouts
    for name, value in (("centre", centre), ("bouts", bouts), ("edge", edge)):
        if value <= 0:
            msg = f"thickness: {name} = {1000 * value:.4g} mm must be positive"
            raise GeometryError(msg)
    length = outline.body_length
    grid = RimGrid(outline)
    middle = np.exp(-(((grid.X - MIDDLE * length) / (0.16 * length)) ** 2) - (grid.Y / (0.11 * length)) ** 2)
    flank = _smoothstep(np.abs(grid.Y) / (0.5 * outline.widest()[2].width), 0.35, 0.9)
    inner = bouts + (centre - bouts) * middle + (flanks - bouts) * flank * (1 - middle)
    w = grid.edge_weight(EDGE_REACH * length)
    return SmoothField(
        grid.x, grid.y, inner + (edge - inner) * w, "drawn: usual thicknesses (common practice, no source)"
    )


def from_points(
    outline: Outline,
    x: np.ndarray,
    y: np.ndarray,
    h: np.ndarray,
    edge: float | None = None,
    noise: float | None = None,
) -> SmoothField:
    """Thickness through caliper readings, as smooth as their uncertainty allows.

    Parameters
    ----------
    x, y, h : array_like
        (n,) places and thicknesses, m.
    edge : float, optional
        Thickness at the rim, m, where the readings stop short of the thicker edge; readings near the rim
        rule.
    noise : float, optional
        Standard uncertainty of a reading, m; without it the readings' own scatter is found.

    Raises
    ------
    GeometryError
        If a reading is unusable.
    """
    x, y, h = (np.ravel(np.asarray(a, float)) for a in (x, y, h))
    if h.size and h.min() <= 0:
        k = int(h.argmin())
        msg = f"thickness {1000 * h[k]:.4g} mm at ({1000 * x[k]:.4g}, {1000 * y[k]:.4g}) mm must be positive"
        raise GeometryError(msg)
    grid = RimGrid(outline)
    box = (grid.x[0], grid.y[0], grid.x[-1], grid.y[-1])
    pitch = grid.x[1] - grid.x[0]
    source = f"{h.size} caliper readings"
    if edge is None:
        field = SmoothField.from_points(x, y, h, box, pitch, noise)
        values = _within(field.value(grid.X, grid.Y), 0.8 * h.min(), 1.2 * h.max())
        return SmoothField(grid.x, grid.y, values, source).with_misfit(x, y, h, field.misfit.scatter)
    reach = EDGE_REACH * outline.body_length
    middle = float(np.median(h))
    base = SmoothField(grid.x, grid.y, middle + (edge - middle) * grid.edge_weight(reach))
    field = SmoothField.from_points(x, y, h, box, pitch, noise, (base,))
    values = _within(field.value(grid.X, grid.Y), 0.8 * min(h.min(), edge), 1.2 * max(h.max(), edge))
    values += (base.values - values) * grid.unread_edge(x, y, 0.4 * reach)
    out = SmoothField(grid.x, grid.y, values, f"{source}, edge as given")
    return out.with_misfit(x, y, h, field.misfit.scatter)


def _within(values, low, high):
    """Keep values softly between limits, because a fit runs away beyond the readings."""
    soft = 0.04 * (high - low)
    values = low + soft * np.logaddexp(0, (values - low) / soft)
    return high - soft * np.logaddexp(0, (high - values) / soft)


def _smoothstep(t, a, b):
    s = np.clip((t - a) / (b - a), 0, 1)
    return s**3 * (10 - 15 * s + 6 * s**2)
