"""Checks of a bar's place on its top: everything that one fault causes is one finding, with its cure."""

from dataclasses import dataclass

from platemodel.instrument.bar import Bar
from platemodel.instrument.hole_clearance import CLEARANCE, SLACK, collision, eye_and_stem
from platemodel.instrument.layout_cures import ends_cure, foot_cure, foot_inset_of, hole_cure
from platemodel.instrument.top import Top

# Limits for a 355 mm violin in m, scaled with body length; common practice, no source.
FOOT_INSET = (0.5e-3, 1.5e-3)
END_MARGIN = (38e-3, 43e-3)


@dataclass(frozen=True)
class Finding:
    """One thing worth knowing about a layout.

    Attributes
    ----------
    kind : str
        ``foot``, ``hole``, ``end`` or ``plate``, of a mark those of `mark_checks`, of a job others.
    value_mm, limit_mm : float
        What was found, and the limit that it misses.
    where : str
        Where on the top.
    cure : str
        What to do, in whole sentences; may be empty.
    lines : tuple of str
        What to type for it in the table [bar] of job.toml.
    """

    kind: str
    message: str
    value_mm: float
    limit_mm: float
    where: str
    cure: str = ""
    lines: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """What was found and where, in whole sentences."""
        return f"{self.message[0].upper()}{self.message[1:]}. Where: {self.where}."


def check_layout(top: Top, bar: Bar) -> list[Finding]:
    """Every rule the bar's place misses, with value and limit; an empty list if it keeps them all."""
    s = top.outline.scale
    return [
        *_foot(top, bar, s),
        *_holes(top, bar, s),
        *_ends(top, bar, s),
    ]


def _foot(top, bar, s):
    where = f"bridge line x = {1e3 * top.bridge.x:.1f} mm"
    if not bar.x_start < top.bridge.x < bar.x_end:
        message = "the bar does not pass under the bridge"
        cure = "Give it another place along the body: length_mm and lower_margin_mm in [bar]."
        return [Finding("foot", message, 1e3 * top.bridge.x, 1e3 * bar.x_end, where, cure)]
    inset, (low, high) = foot_inset_of(top, bar), (s * v for v in FOOT_INSET)
    if _printed(low) <= _printed(inset) <= _printed(high):
        return []
    limit = low if inset < low else high
    side = "outside" if inset < 0 else "inside"
    message = (
        f"outer edge of the bar {abs(1e3 * inset):.1f} mm {side} the outer edge of the bass foot; usual is "
        f"{1e3 * low:.1f} to {1e3 * high:.1f} mm inside (common practice, no source)"
    )
    cure = foot_cure(top, bar, 0.5 * (low + high))
    return [Finding("foot", message, 1e3 * inset, 1e3 * limit, where, *cure)]


def _holes(top, bar, s):
    found, clearance = [], s * CLEARANCE
    for hole in top.sound_holes:
        hit = collision(bar, hole, clearance) if hole.side == "bass" else None
        if hit is not None:
            found.append(_beside(top, bar, hole, clearance, hit))
    return found


def _printed(value):
    """Length in mm as it is printed: what reads like the limit keeps it."""
    return round(1e3 * value, 1)


def _beside(top, bar, hole, clearance, hit):
    """One finding for all that a sound hole and a bar have against each other."""
    eye, stem = eye_and_stem(hole)
    near = [n for n, shape in (("upper eye", eye), ("stem", stem)) if _gap(bar, shape) < clearance - SLACK]
    part = " and the ".join(near) or "upper eye"
    gap = _gap(bar, hole.polygon)
    over = hit.overlap > SLACK
    if over:
        head = (
            f"bar lies over the opening of the bass sound hole by {1e3 * hit.overlap:.1f} mm, at the {part}"
        )
    else:
        head = f"bar {1e3 * gap:.1f} mm from the {part} of the bass sound hole"
    message = (
        f"{head}; at least {1e3 * clearance:.1f} mm clear are usual, so that it cannot be seen (common "
        "practice, no source)"
    )
    where = f"x = {1e3 * hit.x_from:.1f} to {1e3 * hit.x_to:.1f} mm"
    value = -hit.overlap if over else gap
    return Finding("hole", message, 1e3 * value, 1e3 * clearance, where, *hole_cure(top, bar, hit.depth))


def _gap(bar, shape):
    return float(bar.polygon.distance(shape))


def _ends(top, bar, s):
    low, high = (s * v for v in END_MARGIN)
    flank, edge = bar.polygon, top.outline.polygon
    if not edge.contains(flank):
        out = flank.difference(edge)
        x, y = out.representative_point().coords[0]
        where = f"({1e3 * x:.1f}, {1e3 * y:.1f}) mm"
        cure = "Shorten it, or move it towards the axis."
        return [Finding("plate", "the bar leaves the plate", 1e6 * out.area, 0.0, where, cure)]
    margins = {"lower": bar.x_start, "upper": top.outline.body_length - bar.x_end}
    off = {n: m for n, m in margins.items() if not low - SLACK <= m <= high + SLACK}
    if not off:
        return []
    limit = low if min(off.values()) < low else high
    worst = max(off.values(), key=lambda m: abs(m - limit))
    if len(off) == 1:
        (name,) = off
        where, what = f"{name} end", f"{name} end of the bar {1e3 * worst:.1f} mm from the end of the body"
    else:
        where = "both ends"
        far = " and ".join(dict.fromkeys(f"{1e3 * m:.1f}" for m in off.values()))
        what = f"ends of the bar {far} mm from the ends of the body"
    usual = f"usual are {1e3 * low:.0f} to {1e3 * high:.0f} mm for this size (common practice, no source)"
    cure = ends_cure(top, bar, low, high)
    return [Finding("end", f"{what}; {usual}", 1e3 * worst, 1e3 * limit, where, *cure)]
