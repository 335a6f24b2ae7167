"""Where else a bar could go: a few lines by the usual rules, and beside what stands in the way."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from platemodel.instrument.bar import Bar
from platemodel.instrument.hole_clearance import collision
from platemodel.instrument.layout import BarLine, bridge_foot_rule, one_seventh
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.layout_cures import MOST_SHIFT, clear_of_hole, line_to_type, moved, set_out
from platemodel.instrument.mark_checks import CLEAR_OF_CRACK, in_the_way
from platemodel.instrument.marks import CRACK, Mark
from platemodel.instrument.top import Top

MOST = 4  # side by side
SAME = 0.3e-3  # m: lines nearer than this at both ends are one
FOOT_INSET = 1e-3  # m for a violin, as the foot's rule is taught; common practice, no source
OVER_HOLE = 0.2  # of its width that a bar may lie over a sound hole: so much can be trimmed
PLANNED = "as planned"
OLD = "the old bar, as it was"
NO_WOOD = ("plate",)


@dataclass(frozen=True, eq=False)
class Candidate:
    """One line that a bar could have.

    Attributes
    ----------
    names : tuple of str
        What leads to it; several rules may lead to one line.
    bar : Bar
        On this line, else as planned, its flank not trimmed.
    lines : tuple of str
        What to type in [bar] of job.toml; empty for the line that is planned.
    seated : bool
        Whether there is wood under it: it lies on the plate, and over a hole by no more than can be trimmed.
    """

    names: tuple[str, ...]
    bar: Bar
    conflicts: tuple[Finding, ...]
    lines: tuple[str, ...]
    seated: bool

    @property
    def name(self) -> str:
        """Names, joined."""
        return " = ".join(self.names)


def candidate_lines(top: Top, bar: Bar, marks: Iterable[Mark] = ()) -> tuple[Candidate, ...]:
    """Two to four lines for a bar, the planned one first.

    Parameters
    ----------
    bar : Bar
        As planned: its length, width, heights and ends are kept.

    Returns
    -------
    tuple of Candidate
        The line that is planned, one clear of a crack under it, one clear of the sound hole with its slant
        kept, the foot's rule, and the one-seventh rule read for the inner edge and for the middle, as far as
        they differ, and not more than ``MOST``.
    """
    marks = tuple(marks)
    plain = replace(bar, trim=None)
    found: list[tuple[list[str], Bar]] = [([PLANNED], bar)]
    for name, other in _others(top, plain, marks):
        twin = next((f for f in found if _same(f[1], other)), None)
        if twin:
            twin[0].append(name)
        elif len(found) < MOST:
            found.append(([name], set_out(other)))
    return tuple(_candidate(top, names, other, marks, other is bar) for names, other in found)


def old_line(top: Top, bar: Bar, old: Bar, marks: Iterable[Mark] = ()) -> Candidate:
    """Return the bar that was on before, to stand beside the lines that a new one could have.

    Parameters
    ----------
    top : Top
    bar : Bar
        As planned.
    old : Bar
    marks : iterable of Mark

    Returns
    -------
    Candidate
        The old bar itself with what stood in its way; ``lines`` put the planned bar where it lay.
    """
    line = BarLine(old.x_start, old.y_start, old.x_end, old.y_end, "middle")
    found = _candidate(top, [OLD], old, tuple(marks), planned=False)
    return replace(found, lines=line_to_type(set_out(on_line(replace(bar, trim=None), line))))


def _others(top, bar, marks):
    crack = _clear_of_cracks(top, bar, marks)
    if crack is not None:
        yield "clear of the crack, slant kept", crack
    inner, middle = (one_seventh(top.outline, edge) for edge in ("inner", "middle"))
    foot = bridge_foot_rule(inner, top.bridge, bar.width, FOOT_INSET * top.outline.scale)
    foot = on_line(bar, foot)
    clear = clear_of_hole(top, bar)
    if clear is not None and _same(clear, bar):
        clear = clear_of_hole(top, foot)  # the planned one is clear already
    if clear is not None:
        yield "clear of the eye, slant kept", clear
    yield "foot's rule", foot
    yield "seventh, inner edge", on_line(bar, inner)
    yield "seventh, middle", on_line(bar, middle)


def on_line(bar: Bar, line: BarLine) -> Bar:
    """Put a bar on another line, its ends along the body and all else kept."""
    middle = line.moved_to("middle", bar.width)
    return replace(bar, y_start=float(middle.at(bar.x_start)), y_end=float(middle.at(bar.x_end)))


def _same(a, b):
    return max(abs(a.y_start - b.y_start), abs(a.y_end - b.y_end)) < SAME


def _clear_of_cracks(top, bar, marks):
    """Nearest parallel bar, with wood under it, that stands off every crack under this one; or None."""
    cracks = [m.shape for m in marks if m.kind == CRACK and m.shape.intersects(bar.polygon)]
    if not cracks:
        return None
    wanted = CLEAR_OF_CRACK * top.outline.scale
    holes = [h.polygon for h in top.sound_holes]
    reach = np.arange(0.0, MOST_SHIFT * bar.width, 0.1e-3)
    for step in reach:
        for dy in (step, -step):
            other = moved(bar, dy)
            clear = all(other.polygon.distance(c) >= wanted for c in cracks)
            if (
                clear
                and top.outline.polygon.contains(other.polygon)
                and not any(map(other.polygon.intersects, holes))
            ):
                return other
    return None


def _candidate(top, names, bar, marks, planned):
    conflicts = in_the_way(top, bar, marks)
    hits = [collision(bar, h, 0.0) for h in top.sound_holes]
    over = max((h.overlap for h in hits if h is not None), default=0.0)
    seated = over <= OVER_HOLE * bar.width and not any(f.kind in NO_WOOD for f in conflicts)
    return Candidate(tuple(names), bar, conflicts, () if planned else line_to_type(bar), seated)
