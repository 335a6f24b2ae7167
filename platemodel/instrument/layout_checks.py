"""Checks of a bar's place on its top, and the smallest trim beside a sound hole."""

from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import nearest_points

from platemodel.instrument.bar import Bar, TrimmedFlank
from platemodel.instrument.sound_hole import SoundHole
from platemodel.instrument.top import Top

# Limits for a 355 mm violin in m, scaled with body length; common practice, no source.
FOOT_INSET = (0.5e-3, 1.5e-3)
CLEARANCE = 1.5e-3
END_MARGIN = (38e-3, 43e-3)
SLACK = 0.05e-3  # below what a rule shows
LEAST_WIDTH = 0.6  # of the bar, below which a trimmed flank is refused as a remedy; a judgement, no source


@dataclass(frozen=True)
class Finding:
    """One thing worth knowing about a layout.

    Attributes
    ----------
    kind : str
        ``foot``, ``eye``, ``stem``, ``collision``, ``trim``, ``end`` or ``plate``.
    message : str
    value_mm, limit_mm : float
        What was found, and the limit that it misses.
    where : str
        Where on the top.
    """

    kind: str
    message: str
    value_mm: float
    limit_mm: float
    where: str


@dataclass(frozen=True)
class Collision:
    """Where a bar comes closer to a sound hole than the wanted clearance.

    Attributes
    ----------
    x_from, x_to : float
        Stretch of the bar that is too close, m.
    depth : float
        By how much the outer flank must stand back at the worst place, m.
    x_worst : float
        Where that is, m.
    overlap : float
        By how much the bar reaches over the opening itself at the worst place, m; 0 if it does not.
    """

    x_from: float
    x_to: float
    depth: float
    x_worst: float
    overlap: float


def collision(bar: Bar, hole: SoundHole, clearance: float = CLEARANCE) -> Collision | None:
    """Where and by how much a bar is too close to a sound hole, or None.

    Parameters
    ----------
    bar : Bar
    hole : SoundHole
    clearance : float
        Wanted distance between the outer flank and the hole, m.
    """
    x, room = _room(bar, hole.polygon.buffer(clearance))
    lack = bar.outer_at(x) - room
    close = lack > SLACK
    if not close.any():
        return None
    k = int(lack.argmax())
    x2, bare = _room(bar, hole.polygon)
    over = max(0.0, float((bar.outer_at(x2) - bare).max()))
    return Collision(float(x[close][0]), float(x[close][-1]), float(lack[k]), float(x[k]), over)


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


def check_layout(top: Top, bar: Bar) -> list[Finding]:
    """Every rule the bar's place misses, with value and limit; an empty list if it keeps them all."""
    s = top.outline.scale
    return [
        *_foot(top, bar, s),
        *_holes(top, bar, s),
        *_ends(top, bar, s),
    ]


def _foot(top, bar, s):
    if not bar.x_start < top.bridge.x < bar.x_end:
        message = "the bar does not pass under the bridge"
        return [
            Finding(
                "foot",
                message,
                1e3 * top.bridge.x,
                1e3 * bar.x_end,
                f"bridge line x = {1e3 * top.bridge.x:.1f} mm",
            )
        ]
    outer = bar.flanks(np.array([top.bridge.x]))[2][0]
    inset, (low, high) = outer - top.bridge.bass_edge, (s * v for v in FOOT_INSET)
    if low <= inset <= high:
        return []
    where = f"bridge line x = {1e3 * top.bridge.x:.1f} mm"
    limit = low if inset < low else high
    side = "outside" if inset < 0 else "inside"
    message = (
        f"outer edge of the bar {abs(1e3 * inset):.1f} mm {side} the outer edge of the bass foot; usual is "
        f"{1e3 * low:.1f} to {1e3 * high:.1f} mm inside (common practice, no source)"
    )
    return [Finding("foot", message, 1e3 * inset, 1e3 * limit, where)]


def _holes(top, bar, s):
    found = []
    clearance = s * CLEARANCE
    for hole in top.sound_holes:
        if hole.side != "bass":
            continue
        flank = bar.polygon
        eye, stem = eye_and_stem(hole)
        for kind, shape in (("eye", eye), ("stem", stem)):
            gap = flank.distance(shape)
            if gap < clearance - SLACK:
                part = "upper eye" if kind == "eye" else "stem"
                at = nearest_points(flank, shape)[0].x
                message = (
                    f"bar {1e3 * gap:.2f} mm from the {part} of the bass sound hole; at least "
                    f"{1e3 * clearance:.1f} mm are "
                    "usual, so that it stays clear of the eye and cannot be seen (common practice, no source)"
                )
                found.append(Finding(kind, message, 1e3 * gap, 1e3 * clearance, f"x = {1e3 * at:.1f} mm"))
        hit = collision(bar, hole, clearance)
        if hit is not None:
            found += _remedy(bar, hole, clearance, hit)
    return found


def _remedy(bar, hole, clearance, hit):
    where = f"x = {1e3 * hit.x_from:.1f} to {1e3 * hit.x_to:.1f} mm"
    over = f", and lies over the opening by {1e3 * hit.overlap:.2f} mm" if hit.overlap > 0 else ""
    found = [
        Finding(
            "collision",
            f"bar is too close to the bass sound hole by up to {1e3 * hit.depth:.2f} mm (worst at x = "
            f"{1e3 * hit.x_worst:.1f} mm){over}",
            1e3 * hit.depth, 0.0, where,
        )
    ]  # fmt: skip
    trim = smallest_trim(bar, hole, clearance)
    left = bar.width / 2 + float(trim.outer.min())
    if left < LEAST_WIDTH * bar.width:
        message = (
            f"clearing the hole would leave {1e3 * left:.2f} mm of the bar's {1e3 * bar.width:.2f} mm "
            "width; move the line "
            "or narrow the whole bar instead"
        )
    else:
        message = (
            f"a trim of the outer flank by up to {1e3 * hit.depth:.2f} mm clears the hole and keeps the "
            "line; "
            f"{1e3 * left:.2f} mm of width stay"
        )
    return [*found, Finding("trim", message, 1e3 * left, 1e3 * LEAST_WIDTH * bar.width, where)]


def _ends(top, bar, s):
    found = []
    low, high = (s * v for v in END_MARGIN)
    flank, edge = bar.polygon, top.outline.polygon
    if not edge.contains(flank):
        out = flank.difference(edge)
        x, y = out.representative_point().coords[0]
        return [
            Finding(
                "plate", "the bar leaves the plate", 1e6 * out.area, 0.0, f"({1e3 * x:.1f}, {1e3 * y:.1f}) mm"
            )
        ]
    for name, margin in (("lower", bar.x_start), ("upper", top.outline.body_length - bar.x_end)):
        if not low - SLACK <= margin <= high + SLACK:
            limit = low if margin < low else high
            message = (
                f"{name} end of the bar {1e3 * margin:.1f} mm from the end of the body; usual are "
                f"{1e3 * low:.0f} to "
                f"{1e3 * high:.0f} mm for this size (common practice, no source)"
            )
            found.append(Finding("end", message, 1e3 * margin, 1e3 * limit, f"{name} end"))
    return found


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
