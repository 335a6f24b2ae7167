"""Conflicts of a bar, and of the blocks against its clamps, with what a top carries.

The marks are geometry only: a crack is no free edge and a cleat no doubling of the plate in the model. What
they do to stiffness and tones is small beside the doubt of the wood, what they do to the joint is not.
"""

from collections.abc import Iterable, Sequence
from typing import Protocol

import numpy as np
from shapely.geometry import LineString, box

from platemodel.instrument.bar import Bar
from platemodel.instrument.layout_checks import Finding, check_layout
from platemodel.instrument.marks import CLEAT, CRACK, PATCH, POST_PATCH, WORM, Mark
from platemodel.instrument.top import Top

MM = 1e-3
#: A crack is taken to run on so far beyond its ends along its own line, m for a violin; a judgement.
RUNS_ON = 25e-3
BESIDE = 0.5  # of the bar's width: as near to its end is on it
CLEAR_OF_CRACK = (
    2e-3  # m for a violin between a crack and the bar's flank, room for cleats' ends; a judgement
)


PRESSED = (PATCH, POST_PATCH, CLEAT, CRACK, WORM)  # that a block must not press on
BRIDGE_IT = (
    "Cut the block clear of it or bridge it with a longer one; press lightly, and support the place from "
    "inside."
)


class Block(Protocol):
    """Block outside, against a clamp; see `study.gluing.clamps`."""

    x: float
    y: float
    along: float
    across: float


def in_the_way(top: Top, bar: Bar, marks: Iterable[Mark]) -> tuple[Finding, ...]:
    """Return all that stands in the way of a bar: the rules that its place misses, then the marks."""
    return (*check_layout(top, bar), *check_marks(bar, marks, top.outline.scale))


def check_marks(bar: Bar, marks: Iterable[Mark], scale: float = 1.0) -> list[Finding]:
    """Return every conflict of a bar's place with marks; an empty list if there is none.

    Parameters
    ----------
    scale : float
        Body length over that of a violin of 355 mm.
    """
    found = []
    for mark in marks:
        check = {CRACK: _crack, CLEAT: _cleat, PATCH: _patch, POST_PATCH: _patch, WORM: _worm}.get(mark.kind)
        finding = None if check is None else check(bar, mark, scale)
        if finding is not None:
            found.append(finding)
    return found


def end_faces(bar: Bar) -> dict[str, LineString]:
    """Lower and upper end of a bar: its end face in plan."""
    x, inner, outer = bar.flanks(np.array([bar.x_start, bar.x_end]))
    return {n: LineString([(x[k], inner[k]), (x[k], outer[k])]) for k, n in enumerate(("lower", "upper"))}


def run_on(crack: Mark, reach: float) -> LineString:
    """Line of a crack, carried on straight beyond both its ends by ``reach`` m."""
    p = crack.points
    first, last = p[0] - p[1], p[-1] - p[-2]
    ends = (p[0] + reach * first / np.hypot(*first), p[-1] + reach * last / np.hypot(*last))
    return LineString([ends[0], *p, ends[1]])


def _crack(bar, mark, scale):
    under = mark.shape.intersection(bar.polygon)
    if not under.is_empty:
        x0, _, x1, _ = (v / MM for v in under.bounds)
        length = under.length / MM
        how = f"runs under the bar for {length:.0f} mm" if length > 2 * bar.width / MM else "crosses the bar"
        return Finding(
            "crack", f"a crack {how}", length, 0.0, f"x = {x0:.0f} to {x1:.0f} mm",
            "Let a restorer close and cleat it before the bar goes on, or lay the bar clear of it: "
            "platemodel layout --lines puts the lines side by side.",
        )  # fmt: skip
    for name, face in end_faces(bar).items():
        gap = run_on(mark, RUNS_ON * scale).distance(face)
        if gap <= BESIDE * bar.width:
            away = mark.shape.distance(face) / MM
            return Finding(
                "crack", f"{name} end of the bar on the line of a crack, which ends {away:.0f} mm from it",
                away, RUNS_ON * scale / MM, mark.where,
                "The end of a bar pulls such a crack open: end the bar elsewhere (length_mm, "
                "lower_margin_mm), or cleat the crack beyond the end first.",
            )  # fmt: skip
    return None


def _cleat(bar, mark, _):
    over = mark.shape.intersection(bar.polygon)
    if over.area < 1e-6 * 0.5:  # half a square millimetre
        return None
    name = next((n for n, face in end_faces(bar).items() if mark.shape.distance(face) < bar.width), None)
    what = f"{name} end of the bar on a cleat" if name else "a cleat lies under the bar"
    return Finding(
        "cleat", what, 1e6 * over.area, 0.0, mark.where,
        "Take the cleat off and set it clear of the seat, or end the bar elsewhere; a bar glued over a cleat "
        "stands on two heights.",
    )  # fmt: skip


def _patch(bar, mark, _):
    if not mark.shape.intersects(bar.polygon):
        return None
    name = next((n for n, face in end_faces(bar).items() if mark.shape.intersects(face)), None)
    if mark.shape.contains(bar.polygon):
        return None
    what = f"{name} end of the bar on a {mark.kind}" if name else f"the bar runs over a {mark.kind}"
    over = mark.shape.intersection(bar.polygon)
    return Finding(
        "patch", what, 1e6 * over.area, 0.0, mark.where,
        "See that its joint is sound and level before the seat is fitted, and that the measured thickness "
        "there is that of plate and patch together.",
    )  # fmt: skip


def _worm(bar, mark, _):
    over = mark.shape.intersection(bar.polygon)
    if over.is_empty:
        return None
    return Finding(
        "worm", "worm under the bar", 1e6 * over.area, 0.0, mark.where,
        "Let a restorer judge and fill it first: eaten wood holds no glue line.",
    )  # fmt: skip


def check_blocks(blocks: Sequence[Block], marks: Iterable[Mark]) -> list[Finding]:
    """Blocks against the clamps that would press on a patch, a cleat, a crack or worm.

    Parameters
    ----------
    blocks : sequence of Block
        From the lower end of the bar up.
    """
    found = []
    for mark in marks:
        if mark.kind not in PRESSED:
            continue
        hit = [b for b in blocks if _outline(b).intersects(mark.shape)]
        if hit:
            at = " and ".join(f"{b.x / MM:.0f}" for b in hit)
            message = f"clamp block at {at} mm presses on a {mark.kind}"
            found.append(Finding("block", message, len(hit), 0.0, mark.where, BRIDGE_IT))
    return found


def marks_under(block: Block, marks: Iterable[Mark]) -> list[str]:
    """Kinds of marks that a block presses on, each once."""
    kinds = [m.kind for m in marks if m.kind in PRESSED and _outline(block).intersects(m.shape)]
    return list(dict.fromkeys(kinds))


def _outline(block):
    return box(
        block.x - block.along / 2, block.y - block.across / 2,
        block.x + block.along / 2, block.y + block.across / 2,
    )  # fmt: skip


def crossings(bar: Bar, mark: Mark) -> tuple[float, float] | None:
    """Stretch of a bar, m from its lower end along it, that meets a mark; None if it meets none of it."""
    meet = mark.shape.intersection(bar.polygon)
    if meet.is_empty:
        return None
    x0, _, x1, _ = meet.bounds
    along = np.hypot(1, bar.slope)
    return float(along * (x0 - bar.x_start)), float(along * (x1 - bar.x_start))
