"""What cures a conflict of a bar's place: another line, a trim, other ends; in words and lines to type."""

from dataclasses import replace

import numpy as np
from shapely.affinity import translate

from platemodel.instrument.bar import Bar
from platemodel.instrument.hole_clearance import CLEARANCE, LEAST_WIDTH, SLACK, collision, smallest_trim
from platemodel.instrument.top import Top

MM = 1e-3
STEP = 0.1 * MM  # to which a line is set out, and typed
Cure = tuple[str, tuple[str, ...]]  # words, and lines for the table [bar] of job.toml
MOST_SHIFT = 3.0  # widths of the bar: a line further off is another bar


def inner_ends(bar: Bar) -> tuple[float, float]:
    """Distances from the axis to the inner edge of a bar at its lower and its upper end, m."""
    inner = bar.flanks(np.array([bar.x_start, bar.x_end]))[1]
    return float(-inner[0]), float(-inner[1])


def line_to_type(bar: Bar) -> tuple[str, ...]:
    """Lines for the table [bar] of job.toml that put a bar where this one is."""
    lower, upper = (v / MM for v in inner_ends(bar))
    return (
        'rule = "placed"',
        'edge = "inner"',
        f"lower_end_from_axis_mm = {lower:.1f}",
        f"upper_end_from_axis_mm = {upper:.1f}",
    )


def moved(bar: Bar, dy: float) -> Bar:
    """Parallel bar, moved by dy (m); plus moves towards the axis. A trim is not taken along."""
    return replace(bar, y_start=bar.y_start + dy, y_end=bar.y_end + dy, trim=None)


def set_out(bar: Bar) -> Bar:
    """Bar whose inner edge is set out to a tenth of a millimetre at both ends, no farther from the axis."""
    lower, upper = (v - STEP * np.floor(v / STEP + 0.01) for v in inner_ends(bar))
    return replace(bar, y_start=bar.y_start + lower, y_end=bar.y_end + upper)


def clear_of_hole(top: Top, bar: Bar) -> Bar | None:
    """Parallel bar nearest to this one that keeps clear of the bass sound hole; None if it is too far off."""
    wanted = CLEARANCE * top.outline.scale
    holes = [h.polygon for h in top.sound_holes if h.side == "bass"]
    plain = moved(bar, 0.0)

    def clear(dy):
        shape = translate(plain.polygon, 0.0, dy)
        return all(shape.distance(hole) >= wanted - SLACK for hole in holes)

    low, high = 0.0, MOST_SHIFT * bar.width
    if not clear(high):
        return None
    while high - low > 0.1 * STEP:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if clear(middle) else (middle, high)
    return set_out(moved(plain, high))


def foot_inset_of(top: Top, bar: Bar) -> float:
    """How far the bar's outer edge lies inside the outer edge of the bass foot, m."""
    return float(bar.flanks(np.array([top.bridge.x]))[2][0]) - top.bridge.bass_edge


def hole_cure(top: Top, bar: Bar, depth: float) -> Cure:
    """Say what cures a bar that is too near to the bass sound hole.

    Parameters
    ----------
    depth : float
        By how much the outer flank must stand back, m.
    """
    words, lines = _move(top, bar)
    return f"{words} {_trim_words(top, bar, depth)}", lines


def _move(top, bar):
    other = clear_of_hole(top, bar)
    if other is None:
        return "No parallel line near by is clear of it: give the bar another slant, or make it narrower.", ()
    shift = 0.5 * (other.y_start + other.y_end - bar.y_start - bar.y_end)
    inset = foot_inset_of(top, other)
    stands = f"{abs(inset) / MM:.1f} mm {'inside' if inset >= 0 else 'outside'} the foot's"
    words = (
        f"Move the bar {shift / MM:.1f} mm towards the axis, its slant kept: type the lines below in [bar]; "
        f"its outer edge then stands {stands}."
    )
    return words, line_to_type(other)


def _trim_words(top, bar, depth):
    hole = next(h for h in top.sound_holes if h.side == "bass")
    trim = smallest_trim(bar, hole, CLEARANCE * top.outline.scale)
    left = max(bar.width / 2 + float(trim.outer.min()), 0.0)
    if left < LEAST_WIDTH * bar.width:
        return (
            f"A trim of the flank is no way out: it would leave {left / MM:.1f} of {bar.width / MM:.1f} mm "
            "of its width."
        )
    return (
        f"Or keep the line and trim the outer flank there by up to {depth / MM:.1f} mm; {left / MM:.1f} of "
        f"{bar.width / MM:.1f} mm of its width stay."
    )


def foot_cure(top: Top, bar: Bar, inset: float) -> Cure:
    """Say what puts the bar's outer edge so far (m) inside the outer edge of the bass foot."""
    other = set_out(moved(bar, inset - foot_inset_of(top, bar)))
    wanted = CLEARANCE * top.outline.scale
    near = any(collision(other, h, wanted) for h in top.sound_holes if h.side == "bass")
    if near:
        words = (
            "Moved back under the foot it would come too near to the bass sound hole: platemodel layout "
            "--lines puts the lines side by side."
        )
        return words, ()
    words = f"To put it {inset / MM:.1f} mm inside, its slant kept, type the lines below in [bar]."
    return words, line_to_type(other)


def ends_cure(top: Top, bar: Bar, low: float, high: float) -> Cure:
    """Say what puts the ends of the bar between two distances (m) from the ends of the body."""
    body = top.outline.body_length
    lower, upper = (float(np.clip(v, low, high)) for v in (bar.x_start, body - bar.x_end))
    along = (body - lower - upper) * np.hypot(1, bar.slope)
    lines = [f"length_mm = {along / MM:.1f}"]
    if abs(lower - upper) > STEP:
        lines.append(f"lower_margin_mm = {lower / MM:.1f}")
    return "To end there, type in [bar] what stands below.", tuple(lines)
