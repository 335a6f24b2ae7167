"""From checked fields to the bar: where it runs, its ends, and its heights."""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from shapely.geometry import LineString

from platemodel.errors import GeometryError
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import scaled_wood
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.layout import BarLine, bar_ends, bar_on_line, bridge_foot_rule, one_seventh
from platemodel.instrument.outline import Outline
from platemodel.instrument.sound_hole import SoundHole
from platemodel.job.build_context import MM, Work
from platemodel.wood.orthotropic import Orthotropic

#: Of its width, that a bar may lie over a sound hole: so much can be trimmed off its flank, and the model
#: joins bar and plate further in.
OVER_HOLE = 0.2
HEAVIER = 0.15  # of its weight, by which an old bar may differ from its size times its density
DENSITIES = 250.0, 700.0  # kg/m3, as for density_kg_m3
NEW, OLD = "bar", "old_bar"  # tables of job.toml
_WORDS = {NEW: "bar", OLD: "old bar"}


def build_bar(
    work: Work, outline: Outline, bridge: Bridge, wood: Orthotropic, section: str = NEW
) -> Bar | None:
    """Build the bar that the job folder describes; None if it cannot be built, with the problem noted.

    Parameters
    ----------
    outline, bridge : Outline, Bridge
    wood : Orthotropic
        Wood of the bar.
    section : {"bar", "old_bar"}
        Table of job.toml that describes it.
    """
    file = f"{section}.heights_file"
    if work.failed(section) or work.lacks(file):
        return None
    measured = _measured_heights(work, outline, file)
    if measured is None and file in work.tables:
        return None
    words = _WORDS[section]
    width = work.usual(f"{section}.width", "bar_width", f"{words} width")
    ends = (
        _ends(work, outline, section) if measured is None else (float(measured[0, 0]), float(measured[-1, 0]))
    )
    if ends is None:
        return None
    line = _line(work, outline, bridge, width, ends, section)
    if line is None:
        return None
    fill = work.fields.get(f"{section}.section_fill")
    if fill is None:
        fill = 1.0
        work.assume(f"section of the {words}", f"full rectangle; {section}.section_fill not given")
    if measured is None:
        bar = _on_line(work, line, ends, width, bridge, wood, fill, section)
    else:
        names = ("height", "lower_end_height", "upper_end_height", "profile", "length", "lower_margin")
        work.set_aside(tuple(f"{section}.{name}" for name in names), "the heights were measured")
        middle = line.moved_to("middle", width)
        bar = work.attempt(
            file,
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
    if bar is None or not _on_plate(work, bar, outline, section):
        return None
    return replace(bar, lean=work.fields.get(f"{section}.lean", 0.0))


def build_old_bar(
    work: Work, outline: Outline, bridge: Bridge, like: Orthotropic, build_wood: Callable
) -> Bar | None:
    """Build the old bar, its density from its weight; None if it is not described or cannot be built.

    Parameters
    ----------
    outline, bridge : Outline, Bridge
    like : Orthotropic
        Wood of the top, that fills in what is not known of the bar's.
    build_wood : callable
        `platemodel.job.build.build_wood`.
    """
    if not any(name.startswith(f"{OLD}.") for name in work.fields.values):
        return None
    wood = build_wood(work, OLD, like)
    bar = None if wood is None else build_bar(work, outline, bridge, wood, OLD)
    mass = work.fields.get(f"{OLD}.mass")
    if bar is None or mass is None:
        return bar
    if f"wood.{OLD}.density" in work.fields.values:
        computed = bar.mass()
        if abs(mass / computed - 1.0) > HEAVIER:
            work.refuse(
                f"{OLD}.mass_g",
                f"{1e3 * mass:.1f} g",
                f"{1e3 * computed:.1f} g follows from its size and wood.{OLD}.density_kg_m3; measure "
                "again, or leave one of the two out",
            )
            return None
        return bar
    density = wood.density * mass / bar.mass()
    low, high = DENSITIES
    if not low <= round(density) <= high:
        work.refuse(
            f"{OLD}.mass_g",
            f"{1e3 * mass:.1f} g for a bar of {1e6 * bar.mass() / wood.density:.1f} cm3",
            f"that is {density:.0f} kg/m3, and wood of a bar has {low:.0f} to {high:.0f}; check weight and "
            "size",
        )
        return None
    known = [name for name in work.fields.values if re.fullmatch(rf"wood\.{OLD}\.[EG]_\w+", name)]
    ratio = density / wood.density
    return replace(bar, wood=scaled_wood(wood, 1.0 if known else ratio, ratio))


def _measured_heights(work, outline, name):
    rows = work.table(name)
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
            work.tables[name].file,
        )
        return None
    return rows


def _ends(work, outline, section):
    length, margin = work.fields.get(f"{section}.length"), work.fields.get(f"{section}.lower_margin")
    words = _WORDS[section]
    if length is None:
        length = work.usual(f"{section}.length", "bar_length", f"{words} length")
    slope = _slope(work, outline, length, section)
    if margin is None:
        work.assume(f"{words} ends", "equal margins to both edges of the body; common practice, no source")
        return work.attempt(f"{section}.length_mm", bar_ends, outline, length, slope=slope)
    along = length / np.hypot(1, slope)
    if margin + along > outline.body_length:
        work.refuse(
            f"{section}.length_mm",
            f"{length / MM:.1f} mm from a margin of {margin / MM:.1f} mm",
            f"the bar must end on the body of {outline.body_length / MM:.1f} mm",
        )
        return None
    return margin, margin + along


def _from_axis(work, section):
    """Distances of both ends from the axis, as far as they are given."""
    return [work.fields.get(f"{section}.{end}_end_from_axis") for end in ("lower", "upper")]


def _slope(work, outline, length, section):
    """dy/dx of a bar of that length; where there is no line, 0, and the line's own check tells."""
    given = _from_axis(work, section)
    if work.fields.get(f"{section}.rule", "placed") == "placed" and None not in given:
        rise = given[0] - given[1]
        return rise / np.sqrt(length**2 - rise**2)
    try:
        return one_seventh(outline).slope
    except GeometryError:
        return 0.0


def _line(work, outline, bridge, width, ends, section):
    f, words = work.fields, _WORDS[section]
    rule, edge = f.get(f"{section}.rule"), f.get(f"{section}.edge")
    placed = tuple(f"{section}.{end}_end_from_axis" for end in ("lower", "upper"))
    given = _from_axis(work, section)
    if rule is None:
        rule = "placed" if None not in given else "bridge_foot"
        if rule == "bridge_foot":
            work.assume(
                f"place of the {words}",
                "just inside the bridge foot, slant by the one-seventh rule; common practice, no source",
            )
    if edge is None:
        edge = "inner"
    if f"{section}.edge" not in f.values and rule != "bridge_foot":
        work.assume(
            f"distances of the {words} from the axis", f"mean its inner edge; {section}.edge not given"
        )
    if rule == "placed":
        if None in given:
            work.refuse(
                f"{section}.rule",
                '"placed"',
                "give lower_end_from_axis_mm and upper_end_from_axis_mm as well",
            )
            return None
        return BarLine(ends[0], -given[0], ends[1], -given[1], edge)
    work.set_aside(placed, f'{section}.rule is "{rule}"')
    line = work.attempt(f"{section}.rule", one_seventh, outline, edge)
    if line is not None and rule == "bridge_foot":
        return work.attempt(f"{section}.rule", bridge_foot_rule, line, bridge, width, MM * work.dims.scale)
    return line


def _on_line(work, line, ends, width, bridge, wood, fill, section):
    words = _WORDS[section]
    height = work.usual(f"{section}.height", "bar_height", f"{words} height at the bridge")
    low = work.usual(f"{section}.lower_end_height", "bar_end", f"{words} height at the lower end")
    high = work.usual(f"{section}.upper_end_height", "bar_end", f"{words} height at the upper end")
    profile = work.fields.get(f"{section}.profile")
    if profile is None:
        profile = "medium"
        work.assume(f"{words} profile", "medium, power 1.5; common practice, no source")
    if max(low, high) > height:
        work.refuse(
            f"{section}.height_mm",
            f"{height / MM:.1f} mm, lower than an end of {max(low, high) / MM:.1f} mm",
            "the bar is highest at the bridge",
        )
        return None
    return work.attempt(
        section,
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


def check_over_holes(work: Work, bar: Bar, holes: Sequence[SoundHole], section: str = NEW) -> bool:
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
            section,
            f"a bar that lies over the {hole.side} sound hole {how}, from x {x0 / MM:.1f} to "
            f"{x1 / MM:.1f} mm (the middles of its ends are {ends} mm from the axis)",
            "there is no wood to glue it to; move the bar towards the axis (rule, lower_end_from_axis_mm, "
            "upper_end_from_axis_mm), make it narrower (width_mm), or measure the hole again (sound_holes)",
        )
        return False
    return True


def _on_plate(work, bar, outline, section):
    if outline.polygon.contains(bar.polygon):
        return True
    x, y = bar.polygon.difference(outline.polygon).representative_point().coords[0]
    work.refuse(
        section,
        f"a bar off the plate near x {x / MM:.1f}, y {y / MM:.1f} mm",
        "the bar must lie inside the outline: shorten it, or move it towards the axis",
    )
    return False
