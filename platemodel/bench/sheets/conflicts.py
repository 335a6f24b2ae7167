"""Conflicts of a layout, drawn where they are: hatch on the place, the smallest trim as a line."""

import numpy as np
from matplotlib.axes import Axes
from shapely.geometry import Polygon, box

from platemodel.bench.kit.colours import ALARM
from platemodel.bench.kit.paper import from_inside
from platemodel.bench.sheets.marks import hatched
from platemodel.instrument.bar import Bar
from platemodel.instrument.hole_clearance import CLEARANCE, LEAST_WIDTH, collision, smallest_trim
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.top import Top


def words_of(findings: tuple[Finding, ...], kind: str, where: str | None = None) -> str:
    """Few words for a conflict of a kind (at a place), for the drawing; empty if there is none."""
    for f in findings:
        if f.kind != kind or (where is not None and f.where not in (where, "both ends")):
            continue
        return {
            "foot": f"usual {'at least' if f.value_mm < f.limit_mm else 'at most'} {f.limit_mm:.1f}",
            "hole": f"usual at least {f.limit_mm:.1f}",
            "end": f"usual {'at least' if f.value_mm < f.limit_mm else 'at most'} {f.limit_mm:.0f}",
            "plate": f"{f.value_mm:.0f} square mm of the bar",
        }[kind]
    return ""


def beside_hole(top: Top, bar: Bar) -> list[tuple[str, str]]:
    """By how much a bar is too near to the bass sound hole, and what a trim would leave."""
    clearance = CLEARANCE * top.outline.scale
    out = []
    for hole in top.sound_holes:
        hit = collision(bar, hole, clearance) if hole.side == "bass" else None
        if hit is None:
            continue
        stretch = f"x {1e3 * hit.x_from:.0f} to {1e3 * hit.x_to:.0f}"
        out.append(("too close", f"by up to {1e3 * hit.depth:.1f}, {stretch}"))
        left = bar.width / 2 + float(smallest_trim(bar, hole, clearance).outer.min())
        if left >= LEAST_WIDTH * bar.width:
            out.append(("trim", f"outer flank (dashed): {1e3 * left:.1f} of width stay"))
        else:
            out.append(("trim", f"no: only {1e3 * left:.1f} would stay; move or narrow"))
    return out


def draw_conflicts(ax: Axes, top: Top, bar: Bar, findings: tuple[Finding, ...]) -> Axes:
    """Hatch every place of conflict and draw the smallest trim; returns the Axes."""
    kinds = {f.kind for f in findings}
    if "hole" in kinds:
        _beside_hole(ax, top, bar)
    if "foot" in kinds and bar.x_start < top.bridge.x < bar.x_end:
        _at_foot(ax, top, bar)
    if "plate" in kinds:
        _hatch(ax, bar.polygon.difference(top.outline.polygon), "conflict-plate", dense=True)
    for f in findings:
        if f.kind == "end":
            for name, x0 in (("lower end", bar.x_start), ("upper end", bar.x_end - bar.width)):
                if f.where in (name, "both ends"):
                    _hatch(ax, bar.polygon.intersection(box(x0, -1, x0 + bar.width, 1)), "conflict-end")
    return ax


def _beside_hole(ax, top, bar):
    clearance = CLEARANCE * top.outline.scale
    for hole in top.sound_holes:
        if hole.side != "bass":
            continue
        _hatch(ax, bar.polygon.intersection(hole.polygon.buffer(clearance)), "conflict-clearance")
        _hatch(ax, bar.polygon.intersection(hole.polygon), "conflict-overlap", dense=True)
        trim = smallest_trim(bar, hole, clearance)
        if trim is not None:
            sec = np.hypot(1, bar.slope)
            line = np.c_[trim.stations, bar.at(trim.stations) - trim.outer * sec]
            u, v = from_inside(line).T
            ax.plot(u, v, color=ALARM, lw=1.4, ls=(0, (3, 1.5)), zorder=8, gid="trim")


def _at_foot(ax, top, bar):
    """Hatch from the outer edge of the bar to the outer edge of the foot."""
    x, half = top.bridge.x, top.bridge.foot_along / 2
    outer, edge = float(bar.flanks(np.array([x]))[2][0]), top.bridge.bass_edge
    _hatch(ax, box(x - half, min(outer, edge), x + half, max(outer, edge)), "conflict-foot")


def _hatch(ax, shape, gid, dense=False):
    for part in getattr(shape, "geoms", [shape]):
        if isinstance(part, Polygon) and part.area > 0:
            hatched(ax, from_inside(np.array(part.exterior.coords)[:-1]), dense, gid)
