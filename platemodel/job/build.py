"""From checked fields and tables to arching, thickness, sound holes, wood and bridge."""

from dataclasses import replace

import numpy as np
import shapely

from platemodel.instrument import arching, thickness
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.outline import Outline
from platemodel.instrument.sound_hole import SoundHole
from platemodel.job.build_context import MM, Work
from platemodel.job.geometry import crossing_lines, outside_edge
from platemodel.job.schema import WITH_FEWER
from platemodel.wood.orthotropic import Orthotropic
from platemodel.wood.species import USUAL_SPECIES, from_species, species_table

DEFAULT_DENSITY = 400.0
_CONSTANTS = ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")


def build_arching(work: Work, outline: Outline, edge: float):
    """Height of the outer surface, from tables of heights or drawn from the highest point."""
    f = work.fields
    names = ("arching.points_file", "arching.long_arch_file", "arching.cross_arches_file")
    if work.failed("arching") or any(work.lacks(n) for n in names):
        return None
    parts = {n: work.table(n) for n in names if n in work.tables}
    if not _from_straight_edge(work, parts):
        return None
    if not parts:
        height = work.usual("arching.height", "arch", "arching height")
        work.assume(
            "arching drawn from its height",
            "full long arch, channel inside the edge; common practice, no source",
        )
        return work.attempt(
            "arching",
            arching.preset,
            outline,
            height,
            edge,
            channel_width=f.get("arching.channel_width"),
            channel_depth=f.get("arching.channel_depth"),
        )
    if set(parts) == {"arching.long_arch_file"}:
        if _bowl(work, parts["arching.long_arch_file"], outline):
            return None
        lines = _few_heights(parts["arching.long_arch_file"], outline.body_length, edge)
        if len(lines) < 3:
            work.refuse(
                "arching.long_arch_file",
                f"{len(lines)} usable heights",
                "at least 3 are needed along the middle of the body, higher than the edge",
            )
            return None
        work.assume("cross arches drawn", "common practice, no source")
        return work.attempt(
            "arching.long_arch_file",
            arching.preset,
            outline,
            float(lines[:, 1].max()),
            edge,
            lines,
            f.get("arching.channel_width"),
            f.get("arching.channel_depth"),
        )
    work.set_aside(("arching.channel_width", "arching.channel_depth"), "the arching was measured")
    for name, part in parts.items():
        if name == "arching.long_arch_file":
            parts[name] = np.c_[part[:, 0], np.zeros(len(part)), part[:, 1]]
    if any([_outside(work, name, part, outline) for name, part in parts.items()]):
        return None
    if not _spread(work, list(parts)[-1], np.vstack(list(parts.values())), outline):
        return None
    if _hollow(work, list(parts)[-1], np.vstack(list(parts.values())), outline):
        return None
    return work.attempt(
        next(iter(parts)),
        arching.from_points,
        outline,
        *np.vstack(list(parts.values())).T,
        edge,
        f.get("arching.uncertainty"),
    )


def _from_straight_edge(work, parts):
    """Turn depths below the straight edge into heights, in place; False where that cannot be done."""
    edge = work.fields.get("arching.straight_edge")
    deep = [n for n in parts if "depth_mm" in work.tables[n].instead]
    if deep and edge is None:
        work.refuse(
            "arching.straight_edge_mm",
            f"nothing, but {work.tables[deep[0]].file} has the column depth_mm",
            "give the height of the straight edge over the gluing plane of the ribs",
        )
        return False
    if not deep:
        work.set_aside(("arching.straight_edge",), "no table has the column depth_mm")
    for name in deep:
        table = work.tables[name]
        values = np.c_[table.values[:, :-1], edge / MM - table.values[:, -1]]
        work.tables[name] = replace(table, values=values)
        parts[name] = work.table(name)
    return True


BOWL = (
    "an arch rises towards the middle. Were these depths below a straight edge? Then name the column "
    "depth_mm, and give the height of the straight edge over the gluing plane as straight_edge_mm"
)


def _bowl(work, rows, outline):
    """Whether a long arch falls towards its middle; a problem if so."""
    x = rows[:, 0] / outline.body_length
    middle, ends = rows[(x > 0.35) & (x < 0.65), 1], rows[(x < 0.25) | (x > 0.75), 1]
    if not len(middle) or not len(ends) or np.median(middle) >= np.median(ends):
        return False
    inner, outer = (np.median(part) / MM for part in (middle, ends))
    found = f"about {inner:.1f} mm in the middle and {outer:.1f} mm to its ends"
    work.refuse("", found, BOWL, None, work.tables["arching.long_arch_file"].file)
    return True


def _hollow(work, name, rows, outline):
    """Whether the readings fall towards the middle, as depths from a straight edge do; a problem if so."""
    inwards = shapely.distance(shapely.points(rows[:, :2]), outline.polygon.exterior)
    middle, rim = (rows[zone, 2] for zone in (inwards > 0.6 * inwards.max(), inwards < 0.3 * inwards.max()))
    if len(middle) < 3 or len(rim) < 3 or np.median(middle) >= np.median(rim):
        return False
    work.refuse(
        "",
        f"about {np.median(middle) / MM:.1f} mm in the middle of the plate and {np.median(rim) / MM:.1f} mm "
        "near its edge",
        BOWL,
        None,
        work.tables[name].file,
    )
    return True


def _few_heights(rows, length, edge):
    """At most 7 heights of a long arch, away from both ends: more would make the drawn curve wavy."""
    rows = rows[np.argsort(rows[:, 0])]
    rows = rows[(rows[:, 0] > 0.08 * length) & (rows[:, 0] < 0.92 * length) & (rows[:, 1] > edge)]
    keep = np.unique(np.linspace(0, max(len(rows) - 1, 0), 7).round().astype(int))
    return rows[keep] if len(rows) else rows


def build_thickness(work: Work, outline: Outline, edge: float):
    """Thickness, from caliper readings or drawn from three figures."""
    name = "thickness.points_file"
    if work.lacks(name):
        return None
    rows = work.table(name)
    if rows is None:
        centre = work.usual("thickness.centre", "centre", "thickness in the centre")
        bouts = work.usual("thickness.bouts", "bouts", "thickness in the bouts")
        return work.attempt("thickness", thickness.preset, outline, centre, bouts, edge)
    work.set_aside(("thickness.centre", "thickness.bouts"), "the thickness was measured")
    if _outside(work, name, rows, outline) or not _spread(work, name, rows, outline):
        return None
    noise = work.fields.get("thickness.uncertainty")
    return work.attempt(name, thickness.from_points, outline, *rows.T, edge, noise)


def _outside(work, name, rows, outline):
    """Whether places lie off the plate; each becomes a problem with its line."""
    table = work.tables[name]
    bad = np.flatnonzero(outside_edge(outline, rows[:, :2], 3 * MM * work.dims.scale))
    for k in bad[:5]:
        x, y = rows[k, :2] / MM
        work.refuse(
            "x_mm, y_mm",
            f"{x:g}, {y:g}",
            "this place is off the plate; check it, and its sign",
            int(table.lines[k]),
            table.file,
        )
    if len(bad) > 5:
        work.refuse(
            "x_mm, y_mm",
            f"{len(bad) - 5} more places off the plate",
            "mend the ones above first",
            None,
            table.file,
        )
    return bool(len(bad))


def _spread(work, name, rows, outline):
    """Whether places cover the body; a table of one bout says nothing of the other."""
    table = work.tables[name]
    x0, y0, x1, y1 = outline.box()
    along, across = np.ptp(rows[:, 0]) / (x1 - x0), np.ptp(rows[:, 1]) / (y1 - y0)
    if len(rows) >= 12 and along > 0.5 and across > 0.33:
        return True
    work.refuse(
        "",
        f"{len(rows)} places over {100 * along:.0f} % of the length and {100 * across:.0f} % of the width",
        "at least 12 places in mm are needed, over half the length and a third of the width; else "
        f"{WITH_FEWER[name]} instead",
        None,
        table.file,
    )
    return False


def build_bridge(work: Work) -> Bridge | None:
    """Bridge feet on the top."""
    if work.failed("bridge"):
        return None
    stop = work.usual("bridge.stop_length", "stop", "stop length")
    span, across, along = (
        work.usual(f"bridge.{n}", n, f"bridge, {label}")
        for n, label in (
            ("foot_span", "over both feet"),
            ("foot_across", "foot across"),
            ("foot_along", "foot along"),
        )
    )
    if not 0.4 * work.dims.body_length < stop < 0.7 * work.dims.body_length:
        work.refuse(
            "bridge.stop_length_mm",
            f"{stop / MM:.1f} mm on a body of {work.dims.body_length / MM:.1f} mm",
            "allowed 40 to 70 % of the body, from its upper edge; usual is 55 %",
        )
        return None
    return work.attempt(
        "bridge",
        Bridge,
        work.dims.body_length - stop,
        span,
        across,
        along,
        work.fields.get("bridge.off_axis", 0.0),
    )


def build_holes(work: Work, bridge: Bridge) -> list[SoundHole | None]:
    """Bass and treble sound hole, traced or drawn; None for one that cannot be built."""
    if work.failed("sound_holes"):
        return [None, None]
    left_out: dict[str, list[str]] = {}
    holes = [_hole(work, side, bridge, left_out) for side in ("bass", "treble")]
    if left_out.get("bass") == left_out.get("treble") and left_out.get("bass"):
        left_out = {"both": left_out["bass"]}
    for side, names in left_out.items():
        which = "both sound holes" if side == "both" else f"{side} sound hole"
        if names:
            work.assume(
                f"{which} drawn", f"usual {work.dims.kind} for {', '.join(names)}; common practice, no source"
            )
    return holes


def _hole(work, side, bridge, left_out):
    name = f"sound_holes.{side}.points_file"
    if work.lacks(name):
        return None
    points = work.table(name)
    if points is not None:
        own = tuple(
            k for k in work.fields.values if k.startswith(f"sound_holes.{side}.") and not k.endswith("_file")
        )
        work.set_aside(own, "this hole was traced")
        table = work.tables[name]
        if lines := crossing_lines(points, table.lines):
            work.refuse(
                "",
                f"a line that crosses itself, at rows on line {lines[0]} and line {lines[1]}",
                "put the points in order round the hole, and mend those rows",
                lines[0],
                table.file,
            )
            return None
        return work.attempt(name, SoundHole.from_points, points, side)

    def measured(key):
        return work.fields.get(f"sound_holes.{side}.{key}", work.fields.get(f"sound_holes.{key}"))

    sizes = {k: measured(k) for k in ("length", "lean", "upper_eye", "lower_eye", "stem_width")}
    inner = work.fields.get(f"sound_holes.{side}.upper_eye_inner")
    spacing = 2 * inner if inner is not None else work.fields.get("sound_holes.eye_spacing")
    wanted = {**sizes, "eye spacing": spacing, "place of the upper eye": measured("upper_eye_x")}
    left_out[side] = [k.replace("_", " ") for k, v in wanted.items() if v is None]
    sizes = {k: v for k, v in sizes.items() if v is not None}
    return work.attempt(
        f"sound_holes.{side}",
        SoundHole.preset,
        work.dims,
        side,
        x_bridge=bridge.x,
        x_upper_eye=measured("upper_eye_x"),
        eye_spacing=spacing,
        **sizes,
    )


def build_wood(work: Work, part: str, like: Orthotropic | None = None) -> Orthotropic | None:
    """Wood of the top or of the bar; what was not measured follows the species, or for the bar the top."""
    section, words = f"wood.{part}", part.replace("_", " ")
    f = work.fields
    if work.failed(section):
        return None
    known = {k: f.get(f"{section}.{k}") for k in _CONSTANTS}
    density, species = f.get(f"{section}.density"), f.get(f"{section}.species")
    weighed = f.get(f"{part}.mass") is not None
    if like is not None and density is None and species is None and not any(known.values()):
        rest = "its density from its weight" if weighed else "not measured"
        work.assume(f"wood of the {words}", f"as the top; {rest}")
        return like
    table = species_table()
    if species is None:
        species = like.name if like is not None and like.name in table.index else USUAL_SPECIES
        work.assume(
            f"wood of the {words}: {species}", "from the table of woods" if like is None else "as the top"
        )
    if density is None:
        density = like.density if like is not None else DEFAULT_DENSITY
        if not weighed:
            work.assume(
                f"wood of the {words}: density {density:.0f} kg/m3",
                "as the top" if like is not None else "middling for tops; common practice, no source",
            )
    rest = [k for k in _CONSTANTS if known[k] is None]
    if known["E_L"] is None:
        work.assume(
            f"wood of the {words}: E_L from the density",
            f"speed of sound of {species}; a tapped strip tells more",
        )
    if rest and rest != ["E_L"]:
        work.assume(
            f"wood of the {words}: {', '.join(k for k in rest if k != 'E_L')}", f"ratios of {species}"
        )
    names = {n.casefold(): n for n in table.index}
    if species.casefold() not in names:
        work.refuse(
            f"{section}.species", f'"{species}"', "one of " + ", ".join(f'"{n}"' for n in table.index)
        )
        return None
    return work.attempt(section, from_species, names[species.casefold()], density, **known)
