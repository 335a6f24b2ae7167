"""Writes a starter job folder: every field explained, what is optional commented out with its usual value."""

import os
from pathlib import Path

import numpy as np

from platemodel.errors import PlatemodelError
from platemodel.files import write_folder, written_together
from platemodel.instrument import arching, outline_preset
from platemodel.instrument.body_dimensions import body_dimensions
from platemodel.instrument.dimensions import Dimensions, dimensions
from platemodel.instrument.layout import bar_ends, one_seventh
from platemodel.instrument.outline import Outline
from platemodel.instrument.strings import SetUp
from platemodel.job.build import DEFAULT_DENSITY
from platemodel.job.build_context import MM
from platemodel.job.fields import unit_of
from platemodel.job.schema import BODY_LENGTH_MM, COLUMNS, SECTIONS
from platemodel.job.tables import GRID_CORNER
from platemodel.wood.species import USUAL_SPECIES, from_species, species_table

CAUTIONS = """\
Before wood is cut
  An original or early bar, a bar carved in one piece with the top, a valuable or
  uncertain instrument, a crack under the bar, worm, or a top under 2 mm: ask a
  qualified restorer first. A bar can be a document. Measure and photograph it,
  and keep it with the instrument.
  What the tool gives is an estimate from your measurements. The maker decides.
"""
_WORDS = {
    "_mm": "mm",
    "_g": "g",
    "_kg_m3": "kg/m3",
    "_gpa": "GPa",
    "_deg": "degrees",
    "_hz": "Hz",
    "_n": "N",
    "_n_per_mm": "N/mm",
    "_s_per_kg": "s/kg",
    "_percent": "%",
    "_c": "degrees Celsius",
    "": "",
}
_HEAD = """\
# One {kind} top on the bench.
#
# Lengths are in mm, weights in g. Decimals are written with a point: 3.5
# A line that starts with # is not read. To give a measurement, take the # away
# in front of the field and put your own number. What you leave out is taken
# from the usual {kind}, scaled to the body length, and "check" lists it.
#
# Places on the top, seen from outside with the lower edge (button) towards you:
#   x counts up the axis from the lower edge of the body, button left out.
#   y counts across from the axis: minus to the bass side (left), plus to the
#     treble side (right). The axis is the line of the strings, which on an old
#     top need not be the joint.
# Lay the top on paper, mark the axis, and work from those two lines.
#
# Look at the folder at any time with:  platemodel check FOLDER
"""
_EXAMPLES = {
    "job.invented": "true", "job.date": "2024-05-31",
    "job.relative_humidity_percent": 45,
    "job.temperature_c": 20, "job.notes": '"bar removed, two cleats at the upper eye"',
    "measured.bar_on_top": "true",
    "bar.rule": '"bridge_foot"', "bar.edge": '"inner"', "bar.profile": '"medium"', "bar.lean_deg": 0,
    "bar.section_fill": 0.9,
    "strings.post_present": "true", "strings.post_inward_mm": 0, "strings.post_stiffness_n_per_mm": 100,
    "bridge.off_axis_mm": 0, "wood.top.grain_angle_deg": 0, "wood.top.ring_angle_deg": 0,
    "wood.top.run_out_deg": 0, "wood.top.found_from": '"weight and taps of modes 1, 2, 5"',
    "sound_holes.lean_deg": 27, "sound_holes.bass.lean_deg": 27, "sound_holes.treble.lean_deg": 27,
    "outline.half_widths_file": '"half_widths.csv"', "outline.points_file": '"outline.csv"',
    "arching.points_file": '"arching.csv"', "arching.long_arch_file": '"long_arch.csv"',
    "arching.straight_edge_mm": 30, "arching.sunk_kept": "true",
    "arching.cross_arches_file": '"cross_arches.csv"', "thickness.points_file": '"thickness.csv"',
    "sound_holes.bass.points_file": '"hole_bass.csv"', "sound_holes.treble.points_file": '"hole_treble.csv"',
    "outline.uncertainty_mm": 0.3, "arching.uncertainty_mm": 0.1, "thickness.uncertainty_mm": 0.05,
    "bar.heights_file": '"bar_heights.csv"', "old_bar.heights_file": '"old_bar_heights.csv"',
    "offcut.length_mm": 110, "offcut.width_mm": 25, "offcut.thickness_mm": 12, "offcut.mass_g": 13.9,
    "offcut.short_span_mm": 60, "offcut.short_load_g": 4000, "offcut.short_sag_mm": 0.1,
    "offcut.long_span_mm": 100, "offcut.long_load_g": 2500, "offcut.long_sag_mm": 0.19,
    "offcut.sag_sd_mm": 0.003,
    "targets.foot_share_percent": 100, "targets.foot_of_old_percent": 100, "targets.strip_share_percent": 100,
}  # fmt: skip
# Air tones, weights and tap tones of no instrument in particular; only the order of size is meant.
_STRONG = {"violin": (460, 530), "viola": (370, 430), "cello": (175, 200)}
_AIR = {"violin": 272, "viola": 225, "cello": 98}
_HEARD = {
    "violin": (66, (85, 160, 230, 260, 310, 340)),
    "viola": (95, (70, 130, 185, 210, 250, 275)),
    "cello": (400, (35, 65, 95, 108, 128, 142)),
}


def new_job(
    folder: str | os.PathLike, like: str, body_length_mm: float | None = None, force: bool = False
) -> list[Path]:
    """Write a starter job folder.

    Parameters
    ----------
    folder : path
        New folder; its parent must exist.
    like : {"violin", "viola", "cello"}
    body_length_mm : float, optional
        Measured body length; without it the usual one.
    force : bool
        Replace the starter files in a folder that is already there; other files in it stay.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    PlatemodelError
        If the folder exists and `force` is not set, its parent does not exist, or it cannot be written.
    """
    folder = Path(folder)
    files = starter_files(like, body_length_mm)
    try:
        _refuse_place(folder, files, force)
        return _write(folder, files)
    except (OSError, ValueError) as error:
        msg = f"{folder}: cannot be written ({getattr(error, 'strerror', None) or error})"
        raise PlatemodelError(msg) from error


def _refuse_place(folder, files, force):
    if not folder.parent.is_dir():
        msg = f"{folder}: the folder {folder.parent} does not exist; make it first"
        raise PlatemodelError(msg)
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        msg = f"{folder}: there is a file of that name; choose another name"
        raise PlatemodelError(msg)
    if folder.exists() and any(folder.iterdir()) and not force:
        names = ", ".join(files)
        msg = f"{folder}: this folder is not empty; choose another name, or give --force to replace {names}"
        raise PlatemodelError(msg)


def _write(folder, files):
    def write(draft):
        for name, text in files.items():
            (draft / name).write_text(text, encoding="utf-8", newline="\n")

    if folder.exists() and any(folder.iterdir()):
        with written_together([folder / name for name in files]) as drafts:
            write(drafts[0].parent)
    else:
        write_folder(folder, write)
    return [folder / name for name in files]


def starter_files(like: str, body_length_mm: float | None = None) -> dict[str, str]:
    """Return the starter's file names and texts, see `new_job`."""
    low, high = BODY_LENGTH_MM[like]
    if body_length_mm is not None and not low <= body_length_mm <= high:
        msg = f"body length {body_length_mm:g} mm: allowed {low:g} to {high:g} mm for a {like}"
        raise PlatemodelError(msg)
    dims = dimensions(like, None if body_length_mm is None else body_length_mm * MM)
    outline = Outline.preset(like, dims.body_length)
    return {
        "job.toml": _job_toml(dims, outline, body_length_mm is not None),
        "thickness.csv": _blank_grid(outline, "Caliper readings: thickness h in mm, without the bar."),
        "arching.csv": _blank_grid(
            outline, "Heights z of the outer surface over the gluing plane, in mm.", arches=True
        ),
        "README.txt": _readme(like),
    }


def _job_toml(dims, outline, measured_length):
    values = example_values(dims, outline)
    given = {"job.instrument"} | ({"outline.body_length_mm"} if measured_length else set())
    explained = {s.name: {f.key for f in s.fields} for s in SECTIONS}
    parts = [_HEAD.format(kind=dims.kind)]
    for section in SECTIONS:
        parts.append(f"\n[{section.name}]\n# {section.doc}\n")
        known = explained.get(section.explained_in, set())
        for field in section.fields:
            if field.key not in known:
                parts.append(f"\n#   {field.doc}\n{_field_line(section.name, field, values, given)}\n")
        if known:
            parts.append(f"\n#   As in [{section.explained_in}] above:\n")
            parts += [
                _field_line(section.name, f, values, given) + "\n" for f in section.fields if f.key in known
            ]
    return "".join(parts)


def _field_line(section, field, values, given):
    name = f"{section}.{field.key}"
    limits = f"{field.low:g} to {field.high:g}" if field.kind == "number" else " | ".join(field.choices)
    tail = ", ".join(t for t in (_WORDS[unit_of(field.key)], limits) if t)
    line = f"{'' if name in given else '# '}{field.key} = {values[name]}"
    return f"{line:<40}  # {tail}" if tail else line


def example_values(dims: Dimensions, outline: Outline) -> dict[str, str]:
    """Return for every field, as TOML text, the usual value or an example of the right size."""
    length, like = dims.body_length, dims.kind
    wood = from_species(USUAL_SPECIES, DEFAULT_DENSITY)
    line = one_seventh(outline)
    ends = bar_ends(outline, dims.bar_length, slope=line.slope)
    mm = {
        "outline.lower_corner_x": outline_preset.LOWER_CORNER * length,
        "outline.upper_corner_x": outline_preset.UPPER_CORNER * length,
        "arching.channel_width": arching.CHANNEL_WIDTH * length,
        "arching.channel_depth": arching.CHANNEL_DEPTH * length,
        "bar.lower_margin": ends[0],
        "bar.lower_end_from_axis": -line.at(ends[0]), "bar.upper_end_from_axis": -line.at(ends[1]),
    }  # fmt: skip
    for where in ("sound_holes", "sound_holes.bass", "sound_holes.treble"):
        mm[f"{where}.upper_eye_x"] = length - dims.eye_line
        mm[f"{where}.upper_eye_inner"] = dims.eye_spacing / 2
    values = {f"{k}_mm": f"{v / MM:.1f}" for k, v in mm.items()}
    values |= {k: str(v) for k, v in _EXAMPLES.items()}
    values["job.name"] = f'"old {dims.kind}, April"'
    for part in ("wood.top", "wood.bar", "wood.old_bar"):
        values[f"{part}.species"] = f'"{USUAL_SPECIES}"'
        values[f"{part}.density_kg_m3"] = f"{DEFAULT_DENSITY:.0f}"
        for name in ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT"):
            values[f"{part}.{name}_gpa"] = f"{getattr(wood, name) / 1e9:.3g}"
    strung = SetUp.usual(like, length)
    for n, tension in enumerate(strung.strings.tensions[::-1], 1):
        values[f"strings.tension_{n}_n"] = f"{tension:.0f}"
    values["strings.downforce_n"] = f"{strung.downforce:.0f}"
    values["strings.angle_deg"] = f"{np.degrees(strung.included):.1f}"
    values["strings.front_deg"] = values["strings.back_deg"] = f"{np.degrees(strung.front):.1f}"
    mass, taps = _HEARD[like]
    body = body_dimensions(like, length)
    values["neck.head_mass_g"] = f"{body.head_mass / MM:.0f}"
    values["back.mass_g"] = f"{1.45 * mass * (length / dimensions(like).body_length) ** 2:.0f}"
    values["strings.nut_height_mm"] = "0"
    values["measured.air_hz"] = f"{_AIR[like]}"
    low, high = _STRONG[like]
    values |= {"measured.body_tone_1_hz": f"{low}", "measured.body_tone_2_hz": f"{high}"}
    arch = dims.arch / MM
    values |= {"measured.arch_strung_mm": f"{arch - 1.8:.1f}", "measured.arch_off_mm": f"{arch - 1.5:.1f}"}
    values["measured.sunk_mm"] = "0.8"
    values |= _example_targets(dims, taps)
    values["job.instrument"] = f'"{like}"'
    values["measured.mass_g"] = f"{mass * (length / dimensions(like).body_length) ** 2:.1f}"
    values |= {f"measured.mode_{n}_hz": str(f) for n, f in enumerate(taps, 1)}
    for section in SECTIONS:
        for field in section.fields:
            if field.usual:
                figures = body if field.usual.startswith("body.") else dims
                usual = getattr(figures, field.usual.removeprefix("body."))
                values[f"{section.name}.{field.key}"] = f"{usual / MM:.1f}"
    as_new = {k.replace("bar.", "old_bar.", 1): v for k, v in values.items() if k.startswith("bar.")}
    values |= {k: v for k, v in as_new.items() if k not in values}
    values["old_bar.mass_g"] = values["targets.bar_mass_g"]
    return values


def _example_targets(dims, taps):
    """Examples of targets, of the right size."""
    height = dims.bar_height / MM
    mass = 400.0 * dims.bar_length * dims.bar_width * 0.7 * dims.bar_height * 1e3
    examples = {
        "foot_n_per_mm": "90", "mode_2_hz": taps[1], "mode_5_hz": taps[4], "least_mode_5_hz": taps[4] - 10,
        "most_mode_5_hz": taps[4] + 10, "ratio_5_to_2": "2.2", "bar_mass_g": f"{mass:.1f}",
        "least_height_mm": f"{0.85 * height:.1f}", "most_height_mm": f"{1.2 * height:.1f}",
        "sinking_mm": "0.4", "body_sinking_mm": "0.3", "least_body_mobility_s_per_kg": "0.05",
        "most_body_mobility_s_per_kg": "0.09",
    }  # fmt: skip
    return {f"targets.{k}": str(v) for k, v in examples.items()}


def _blank_grid(outline, title, arches=False):
    """Grid with places along its edges and no readings, about 20 mm apart on a violin."""
    length = outline.body_length
    step = 20.0 if length < 0.5 else 40.0
    x = np.arange(step, length / MM - step / 2, step)
    half = int(max(outline.widest()[2].bass, outline.widest()[0].bass) / MM // step)
    y = np.arange(-half, half + 1) * step
    lines = [
        f"# {title}",
        "# Down the side: x from the lower edge. Along the top: y from the axis, minus = bass side.",
        "# Leave a cell empty where there is no wood or no reading. Lines may be added or taken out.",
    ]
    if arches:
        lines.append(
            "# Middle column: the long arch. Five full rows: the cross arches. The rest may stay empty."
        )
    lines.append("# When it is filled in, take the # away in front of points_file in job.toml.")
    lines.append(";".join([GRID_CORNER, *(f"{v:g}" for v in y)]))
    lines += [f"{v:g}" + ";" * len(y) for v in x]
    return "\n".join(lines) + "\n"


def _readme(like):
    tables = "\n".join(
        f"  {name:<32} {', '.join(c.name for c in columns)}" for name, columns in COLUMNS.items()
    )
    woods = ", ".join(species_table().index)
    return f"""\
This folder describes one {like} top.

  job.toml        the measurements, with where and how to take each; open it in any text editor
  thickness.csv   a blank grid for caliper readings
  arching.csv     a blank grid for heights

Only the instrument must be given. Fill in what you measured; the rest follows the usual {like}.
Worth the most, in this order: thickness, wood (weigh and tap an offcut or a strip), arching, outline,
sound holes, bridge.

Look at it, as often as you like:

  platemodel check FOLDER

Tables are text files (CSV), one row a line. With ; between the cells a decimal comma may be used.
Lines that start with # are not read. Each table needs its column names in the first line:

{tables}

Recordings of taps (WAV) are read by "platemodel taps"; what you keep of them stands in taps.csv.
Heights and thicknesses may also be written as a grid, as in the blank tables here. Lists may carry
one more column, note, for remarks.

Woods that can be named as species: {woods}.

{CAUTIONS}"""
