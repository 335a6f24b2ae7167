"""From checked fields to the bar: where it runs, its ends, and its heights."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely.geometry import LineString

from platemodel.instrument.bar import Bar
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.layout import BarLine, bar_ends, bar_on_line, bridge_foot_rule, one_seventh
from platemodel.instrument.outline import Outline
from platemodel.instrument.sound_hole import SoundHole
from platemodel.job.build_context import MM, Work
from platemodel.wood.orthotropic import Orthotropic

#: Of its width, that a bar may lie over a sound hole: so much can be trimmed off its flank, and the model
#: joins bar and plate further in.
OVER_HOLE = 0.2
_PLACED = ("bar.lower_end_from_axis", "bar.upper_end_from_axis")


def build_bar(work: Work, outline: Outline, bridge: Bridge, wood: Orthotropic) -> Bar | None:
    """Bar as the job folder says, or None with a problem.

    Parameters
    ----------
    work : Work
    outline, bridge : Outline, Bridge
    wood : Orthotropic
        Wood of the bar.
    """
    if work.failed("bar") or work.lacks("bar.heights_file"):
        return None
    measured = _measured_heights(work, outline)
    if measured is None and "bar.heights_file" in work.tables:
        return None
    width = work.usual("bar.width", "bar_width", "bar width")
    ends = _ends(work, outline) if measured is None else (float(measured[0, 0]), float(measured[-1, 0]))
    if ends is None:
        return None
    line = _line(work, outline, bridge, width, ends)
    if line is None:
        return None
    fill = work.fields.get("bar.section_fill")
    if fill is None:
        fill = 1.0
        work.assume("section of the bar", "full rectangle; bar.section_fill not given")
    if measured is None:
        bar = _on_line(work, line, ends, width, bridge, wood, fill)
    else:
        work.set_aside(
            (
                "bar.height",
                "bar.lower_end_height",
                "bar.upper_end_height",
                "bar.profile",
                "bar.length",
                "bar.lower_margin",
            ),
            "the heights were measured",
        )
        middle = line.moved_to("middle", width)
        bar = work.attempt(
            "bar.heights_file",
            Bar,
            ends[0],
            float(middle.at(ends[0])),
            ends[1],
            float(middle.at(ends[1])),
            width,
            measured[:, 0],
            measured[:, 1],
            wood,
            section_fill=fill,
        )
    if bar is None or not _on_plate(work, bar, outline):
        return None
    return replace(bar, lean=work.fields.get("bar.lean", 0.0))


def _measured_heights(work, outline):
    rows = work.table("bar.heights_file")
    if rows is None:
        return None
    rows = rows[np.argsort(rows[:, 0])]
    low, high = float(rows[0, 0]), float(rows[-1, 0])
    if low < 0 or high > outline.body_length:
        work.refuse(
            "x_mm",
            f"{low / MM:.1f} to {high / MM:.1f}",
            f"the bar lies between 0 and {outline.body_length / MM:.1f} mm",
            None,
            work.tables["bar.heights_file"].file,
        )
        return None
    return rows


def _ends(work, outline):
    length, margin = work.fields.get("bar.length"), work.fields.get("bar.lower_margin")
    if length is None:
        length = work.usual("bar.length", "bar_length", "bar length")
    if margin is None:
        work.assume("bar ends", "equal margins to both edges of the body; common practice, no source")
        return work.attempt("bar.length_mm", bar_ends, outline, length)
    if margin + length > outline.body_length:
        work.refuse(
            "bar.length_mm",
            f"{length / MM:.1f} mm from a margin of {margin / MM:.1f} mm",
            f"the bar must end on the body of {outline.body_length / MM:.1f} mm",
        )
        return None
    return margin, margin + length


def _line(work, outline, bridge, width, ends):
    f = work.fields
    rule, edge = f.get("bar.rule"), f.get("bar.edge")
    given = [f.get(n) for n in _PLACED]
    if rule is None:
        rule = "placed" if None not in given else "bridge_foot"
        if rule == "bridge_foot":
            work.assume(
                "place of the bar",
                "just inside the bridge foot, slant by the one-seventh rule; common practice, no source",
            )
    if edge is None:
        edge = "inner"
    if "bar.edge" not in f.values and rule != "bridge_foot":
        work.assume("distances of the bar from the axis", "mean its inner edge; bar.edge not given")
    if rule == "placed":
        if None in given:
            work.refuse(
                "bar.rule", '"placed"', "give lower_end_from_axis_mm and upper_end_from_axis_mm as well"
            )
            return None
        return BarLine(ends[0], -given[0], ends[1], -given[1], edge)
    work.set_aside(_PLACED, f'bar.rule is "{rule}"')
    line = work.attempt("bar.rule", one_seventh, outline, edge)
    if line is not None and rule == "bridge_foot":
        return work.attempt("bar.rule", bridge_foot_rule, line, bridge, width, MM * work.dims.scale)
    return line


def _on_line(work, line, ends, width, bridge, wood, fill):
    height = work.usual("bar.height", "bar_height", "bar height at the bridge")
    low = work.usual("bar.lower_end_height", "bar_end", "bar height at the lower end")
    high = work.usual("bar.upper_end_height", "bar_end", "bar height at the upper end")
    profile = work.fields.get("bar.profile")
    if profile is None:
        profile = "medium"
        work.assume("bar profile", "medium, power 1.5; common practice, no source")
    if max(low, high) > height:
        work.refuse(
            "bar.height_mm",
            f"{height / MM:.1f} mm, lower than an end of {max(low, high) / MM:.1f} mm",
            "the bar is highest at the bridge",
        )
        return None
    return work.attempt(
        "bar",
        bar_on_line,
        line,
        ends,
        width,
        bridge,
        height,
        (low, high),
        wood,
        profile,
        fill,
        pitch=5 * MM * work.dims.scale,
    )


def check_over_holes(work: Work, bar: Bar, holes: Sequence[SoundHole]) -> bool:
    """Refuse a bar of which more than `OVER_HOLE` lies over a sound hole: there is no wood to glue it to.

    A bar that reaches over the edge by less is a finding (`instrument.layout_checks`), with its remedy.

    Returns
    -------
    bool
        Whether the bar may stay.
    """
    middle = LineString([(bar.x_start, bar.y_start), (bar.x_end, bar.y_end)])
    for hole in holes:
        near = middle.intersection(hole.polygon.buffer((0.5 - OVER_HOLE) * bar.width))
        if near.is_empty:
            continue
        x0, _, x1, _ = near.bounds
        over = bar.width / 2 - middle.distance(hole.polygon)
        how = f"by {over / MM:.1f} mm" if over < bar.width / 2 else "with its middle"
        ends = " and ".join(f"{-y / MM:.1f}" for y in (bar.y_start, bar.y_end))
        work.refuse(
            "bar",
            f"a bar that lies over the {hole.side} sound hole {how}, from x {x0 / MM:.1f} to "
            f"{x1 / MM:.1f} mm (the middles of its ends are {ends} mm from the axis)",
            "there is no wood to glue it to; move the bar towards the axis (rule, lower_end_from_axis_mm, "
            "upper_end_from_axis_mm), make it narrower (width_mm), or measure the hole again (sound_holes)",
        )
        return False
    return True


def _on_plate(work, bar, outline):
    if outline.polygon.contains(bar.polygon):
        return True
    x, y = bar.polygon.difference(outline.polygon).representative_point().coords[0]
    work.refuse(
        "bar",
        f"a bar off the plate near x {x / MM:.1f}, y {y / MM:.1f} mm",
        "the bar must lie inside the outline: shorten it, or move it towards the axis",
    )
    return False
