"""Conflicts of a layout, drawn where they are: hatch on the place, the smallest trim as a line."""

import numpy as np
from matplotlib.axes import Axes
from shapely.geometry import Polygon, box

from platemodel.bench.kit.colours import ALARM
from platemodel.bench.sheets.marks import from_inside, hatched
from platemodel.instrument.bar import Bar
from platemodel.instrument.layout_checks import CLEARANCE, Finding, smallest_trim
from platemodel.instrument.top import Top


def words_of(findings: tuple[Finding, ...], kind: str, where: str | None = None) -> str:
    """Few words for a conflict of a kind (at a place), for the drawing; empty if there is none."""
    for f in findings:
        if f.kind != kind or (where is not None and f.where != where):
            continue
        return {
            "foot": f"usual {'at least' if f.value_mm < f.limit_mm else 'at most'} {f.limit_mm:.1f}",
            "eye": f"usual at least {f.limit_mm:.1f}",
            "stem": f"usual at least {f.limit_mm:.1f}",
            "collision": f"by up to {f.value_mm:.1f}; {f.where}",
            "trim": f"outer flank (dashed): {f.value_mm:.1f} of width stay"
            if f.value_mm >= f.limit_mm
            else f"no: only {f.value_mm:.1f} would stay; move or narrow",
            "end": f"usual {'at least' if f.value_mm < f.limit_mm else 'at most'} {f.limit_mm:.0f}",
            "plate": f"{f.value_mm:.0f} square mm of the bar",
        }[kind]
    return ""


def draw_conflicts(ax: Axes, top: Top, bar: Bar, findings: tuple[Finding, ...]) -> Axes:
    """Hatch every place of conflict and draw the smallest trim; returns the Axes."""
    kinds = {f.kind for f in findings}
    if kinds & {"collision", "eye", "stem"}:
        _beside_hole(ax, top, bar)
    if "foot" in kinds and bar.x_start < top.bridge.x < bar.x_end:
        _at_foot(ax, top, bar)
    if "plate" in kinds:
        _hatch(ax, bar.polygon.difference(top.outline.polygon), "conflict-plate", dense=True)
    for f in findings:
        if f.kind == "end":
            x0 = bar.x_start if f.where.startswith("lower") else bar.x_end - bar.width
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
