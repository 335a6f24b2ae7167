"""Room between a bar and a sound hole, and the smallest trim beside it."""

from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Point, Polygon

from platemodel.instrument.bar import Bar, TrimmedFlank
from platemodel.instrument.sound_hole import SoundHole

CLEARANCE = 1.5e-3  # m for a 355 mm violin, scaled with body length; common practice, no source
SLACK = 0.05e-3  # below what a rule shows
LEAST_WIDTH = 0.6  # of the bar, below which a trimmed flank is refused as a remedy; a judgement, no source


@dataclass(frozen=True)
class Collision:
    """Where a bar comes closer to a sound hole than the wanted clearance.

    Attributes
    ----------
    x_from, x_to : float
        Stretch of the bar that is too close, m.
    depth : float
        By how much the outer flank must stand back at the worst place, m.
    overlap : float
        By how much the bar reaches over the opening itself at the worst place, m; 0 if it does not.
    """

    x_from: float
    x_to: float
    depth: float
    overlap: float


def collision(bar: Bar, hole: SoundHole, clearance: float = CLEARANCE) -> Collision | None:
    """Where and by how much a bar is too close to a sound hole, or None.

    Parameters
    ----------
    clearance : float
        Wanted distance between the outer flank and the hole, m.
    """
    x, room = _room(bar, hole.polygon.buffer(clearance))
    lack = bar.outer_at(x) - room
    close = lack > SLACK
    if not close.any():
        return None
    x2, bare = _room(bar, hole.polygon)
    over = max(0.0, float((bar.outer_at(x2) - bare).max()))
    return Collision(float(x[close][0]), float(x[close][-1]), float(lack.max()), over)


def smallest_trim(bar: Bar, hole: SoundHole, clearance: float = CLEARANCE) -> TrimmedFlank | None:
    """Smallest cut of the outer flank that clears a sound hole; None if none is needed.

    The bar keeps its line. The flank follows the hole at the clearance, and nowhere stands back further than
    it must.
    """
    x, room = _room(bar, hole.polygon.buffer(clearance))
    outer = np.minimum(bar.outer_at(x), room)
    cut = outer < bar.width / 2 - 1e-9
    if not (room < bar.outer_at(x) - SLACK).any():
        return None
    i, j = np.flatnonzero(cut)[[0, -1]]
    keep = slice(max(i - 1, 0), j + 2)
    return TrimmedFlank(x[keep], outer[keep])


def eye_and_stem(hole: SoundHole) -> tuple[Polygon, Polygon]:
    """Upper eye as a disc, and the rest of the hole from half an eye's radius beyond it."""
    centre, radius = Point(hole.upper_eye.x, hole.upper_eye.y), hole.upper_eye.diameter / 2
    eye = centre.buffer(radius, quad_segs=64)
    return eye, hole.polygon.difference(centre.buffer(1.5 * radius, quad_segs=64))


def _room(bar: Bar, shape: Polygon) -> tuple[np.ndarray, np.ndarray]:
    """Distance from the axis, square to it, that is free of a shape on the bass side, along the bar.

    Where the shape leaves the whole of the bass side free the room is infinite.
    """
    x0, _, x1, _ = shape.bounds
    a, b = max(bar.x_start, x0 - 2e-3), min(bar.x_end, x1 + 2e-3)
    if a >= b:
        return np.array([bar.x_start]), np.array([np.inf])
    x = np.linspace(a, b, max(3, round((b - a) / 0.25e-3) + 1))
    sec = np.hypot(1, bar.slope)
    axis = bar.at(x)
    reach = 4 * bar.width
    room = np.full(x.shape, np.inf)
    for i, (xi, yi) in enumerate(zip(x, axis, strict=True)):
        # The bar covers x in plan along y; the difference to square is 1e-4 at a degree.
        hit = LineString([(xi, yi + bar.width / 2 * sec), (xi, yi - reach)]).intersection(shape)
        if not hit.is_empty:
            room[i] = (yi - hit.bounds[3]) / sec
    return x, room
