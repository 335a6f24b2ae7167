"""The fields of job.toml and the columns of its tables: names, units, allowed ranges and where to measure.

This is data: the reader checks by it, the starter folder and `docs/data-formats.md` are written from it.
Ranges are wide; they only have to catch a wrong unit or a slip of the pen. What is unusual but possible is
left to the findings of the reader.
"""

from platemodel.job.bar_fields import BAR, OLD_BAR
from platemodel.job.body_fields import AIR_TONE, ARCHES, BODY_SECTIONS, BODY_TONES, STRING_LEVERS
from platemodel.job.field import Field, FieldTable
from platemodel.job.field import mm as _mm
from platemodel.job.field import number as _number
from platemodel.job.offcut_fields import OFFCUT
from platemodel.job.tables import Column
from platemodel.job.target_fields import TARGETS

KINDS = ("violin", "viola", "cello")
#: Allowed body length in mm, small instruments included; it catches the wrong instrument.
BODY_LENGTH_MM = {"violin": (180.0, 385.0), "viola": (330.0, 470.0), "cello": (420.0, 810.0)}


_HOLE = (
    _mm("upper_eye_x", 80, 560, "Middle of the upper eye, from the lower edge of the body, along the axis."),
    _mm("length", 35, 180, "Over-all length, along the axis.", "hole_length"),
    Field("lean_deg", "number", "Angle between the line through both eye centres and the axis.", 5, 50),
    _mm("upper_eye", 3, 20, "Diameter of the upper eye.", "upper_eye"),
    _mm("lower_eye", 3, 26, "Diameter of the lower eye.", "lower_eye"),
    _mm("stem_width", 2.5, 16, "Width of the slit half way between the eyes.", "stem_width"),
)


def _doubt(what, sizes):
    """How far off one reading may be, which is the same question for every kind of reading."""
    doc = f"How far off one {what} may be, as a standard deviation: {sizes} (common practice, no source)."
    return _mm("uncertainty", 0.005, 3, doc)


def _one_hole(side):
    return FieldTable(
        f"sound_holes.{side}",
        f"Only what differs on the {side} side.",
        (
            _mm(
                "upper_eye_inner",
                5,
                80,
                "From the axis to the nearest edge of the upper eye, square to the axis.",
            ),
            Field(
                "points_file",
                "file",
                "Traced line of this hole, columns x_mm, y_mm. Replaces all sizes of this hole.",
            ),
            *_HOLE,
        ),
        "sound_holes",
    )


_WOOD = (
    Field(
        "species", "text", "Wood it is, or comes nearest to. It fills in every figure you did not measure."
    ),
    Field(
        "density_kg_m3", "number", "Weight of an offcut in g over its volume in cm3, times 1000.", 250, 700
    ),
    Field("E_L_gpa", "number", "Stiffness along the grain, from a tapped or bent strip.", 4, 25),
    Field(
        "E_R_gpa",
        "number",
        "Stiffness across the grain, along the rays (across a quarter-sawn plate).",
        0.2,
        3,
    ),
    Field(
        "E_T_gpa",
        "number",
        "Stiffness across the grain, along the rings (through a quarter-sawn plate).",
        0.1,
        2,
    ),
    Field(
        "G_LR_gpa",
        "number",
        "Shear stiffness in the face of a quarter-sawn plate, from its twist tap.",
        0.2,
        2.5,
    ),
    Field("G_LT_gpa", "number", "Shear stiffness in the flat-sawn face.", 0.2, 2.5),
    Field("G_RT_gpa", "number", "Rolling shear stiffness, across the grain.", 0.005, 0.5),
)


SECTIONS = (
    FieldTable(
        "job",
        "What lies on the bench.",
        (
            Field(
                "instrument",
                "choice",
                "Usual figures of this instrument fill in whatever you do not measure.",
                required=True,
                choices=KINDS,
            ),
            Field("name", "text", "Your name for this job. Without it: the name of the folder."),
            Field("invented", "flag", "true for made-up data; every sheet then says so."),
            Field("date", "date", "Day of the measurements, year-month-day."),
            Field(
                "relative_humidity_percent",
                "number",
                "Relative humidity where the top lay. Taps drift with it.",
                5,
                95,
            ),
            Field("temperature_c", "number", "Temperature where the top lay, degrees Celsius.", -10, 50),
            Field("notes", "text", "Anything the next person should know."),
        ),
    ),
    FieldTable(
        "outline",
        "Edge of the top, from a tracing or with dividers: the straight distance, not over the arch.",
        (
            _mm(
                "body_length", 180, 810, "Length of the body along the axis, button left out.", "body_length"
            ),
            _mm("upper_bout", 90, 420, "Widest place of the upper bout, edge to edge.", "upper"),
            _mm("middle_bout", 55, 300, "Narrowest place of the waist, edge to edge.", "middle"),
            _mm("lower_bout", 110, 520, "Widest place of the lower bout, edge to edge.", "lower"),
            Field("half_widths_file", "file", "Half widths at stations, columns x_mm, bass_mm, treble_mm."),
            Field("points_file", "file", "Traced line, columns x_mm, y_mm, in order round the edge."),
            _mm(
                "lower_corner_x",
                60,
                450,
                "With half_widths_file: tip of the lower corners, from the lower edge.",
            ),
            _mm(
                "upper_corner_x",
                90,
                600,
                "With half_widths_file: tip of the upper corners, from the lower edge.",
            ),
            _doubt("place of the edge", "0.1 by a scan, 0.3 traced with a pencil, 0.5 with dividers"),
        ),
    ),
    FieldTable(
        "arching",
        "Height of the outer surface over the gluing plane of the ribs, so edge thickness included.",
        (
            _mm("height", 6, 50, "Highest point of the arch.", "arch"),
            _mm("channel_width", 2, 30, "From the edge in to the bottom of the channel."),
            _mm("channel_depth", 0, 3, "How far the bottom of the channel lies below the edge."),
            _mm(
                "straight_edge",
                5,
                120,
                "Height of the straight edge over the gluing plane, where a table has a column depth_mm.",
            ),
            Field("sunk_kept", "flag", "true when a sunk or hollow arch is to be kept as it is."),
            Field("points_file", "file", "Heights at places, columns x_mm, y_mm, z_mm, or a grid."),
            Field("long_arch_file", "file", "Heights along the axis, columns x_mm, z_mm."),
            Field(
                "cross_arches_file",
                "file",
                "Heights across, columns x_mm, y_mm, z_mm; five cross arches will do.",
            ),
            _doubt("height", "0.05 by a scan, 0.1 by a dial gauge, 0.3 by a straight edge and a rule"),
        ),
    ),
    FieldTable(
        "thickness",
        "Thickness of the plate by caliper, without the bar.",
        (
            _mm("centre", 1, 9, "Between the sound holes.", "centre"),
            _mm("bouts", 1, 8, "In the middle of the bouts.", "bouts"),
            _mm("edge", 1.5, 8, "At the edge, all round; also the height of the arching there.", "edge"),
            Field(
                "points_file",
                "file",
                "Caliper readings, columns x_mm, y_mm, h_mm, or a grid; 20 mm apart will do.",
            ),
            _doubt("thickness", "0.03 by a magnetic gauge, 0.05 by a caliper, 0.1 by one held askew"),
        ),
    ),
    FieldTable(
        "sound_holes",
        "Both sound holes.",
        (
            _mm("eye_spacing", 18, 130, "Between the nearest edges of the two upper eyes.", "eye_spacing"),
            *_HOLE,
        ),
    ),
    _one_hole("bass"),
    _one_hole("treble"),
    FieldTable(
        "wood.top",
        "Wood of the top. Without an offcut, leave it out: the weight of the top is a check.",
        (
            *_WOOD,
            Field("found_from", "text", "What these figures were found from; `wood --keep` writes it."),
            Field(
                "grain_angle_deg",
                "number",
                "Slant of the grain to the axis; + leans to the treble side going up.",
                -15,
                15,
            ),
            Field(
                "ring_angle_deg",
                "number",
                "Tilt of the rings from upright, seen in the end grain; 0 is quarter-sawn.",
                -45,
                45,
            ),
            Field(
                "run_out_deg",
                "number",
                "Angle of the grain to the gluing plane; + comes outwards going up.",
                -15,
                15,
            ),
        ),
    ),
    FieldTable("wood.bar", "Wood of the bar. Left out, it is taken to be as the top's.", _WOOD, "wood.top"),
    FieldTable(
        "wood.old_bar",
        "Wood of the old bar. Left out, it is as the top's, but as heavy as old_bar.mass_g says.",
        _WOOD,
        "wood.top",
    ),
    OFFCUT,
    FieldTable(
        "bridge",
        "Where the bridge stands.",
        (
            _mm(
                "stop_length",
                90,
                460,
                "From the upper edge of the body to the bridge line (inner notches).",
                "stop",
            ),
            _mm("foot_span", 18, 120, "Over the outer edges of both feet.", "foot_span"),
            _mm("foot_across", 5, 40, "Size of one foot across the strings.", "foot_across"),
            _mm("foot_along", 1.5, 20, "Size of one foot along the strings.", "foot_along"),
            _mm("off_axis", -15, 15, "Middle of the bridge away from the axis; + to the treble side."),
        ),
    ),
    FieldTable(
        "strings",
        "Strings and sound post of the instrument set up; only the verb load asks for them.",
        (
            *(
                _number(f"tension_{n}_n", 10, 400, f"Pull of string {n}{what}, from the maker's table.")
                for n, what in ((1, " (the highest)"), (2, ""), (3, ""), (4, " (the lowest)"))
            ),
            _number("angle_deg", 120, 178, "Included angle of the strings over the bridge; 180 is straight."),
            _number("front_deg", -5, 40, "Fall of the strings to the fingerboard, against the gluing plane."),
            _number("back_deg", -5, 40, "Fall of the strings to the tailpiece, against the gluing plane."),
            _number("downforce_n", 5, 1000, "Push of all strings on the top, instead of tensions and angle."),
            _mm("spacing", 15, 70, "Between the two outer strings on the bridge.", "string_spacing"),
            Field("post_present", "flag", "false when the sound post is out."),
            _mm("post_behind", -10, 40, "Post behind the treble foot, middle to middle.", "post_behind"),
            _mm("post_inward", -15, 15, "Post nearer to the axis than the treble foot, middle to middle."),
            _mm("post_diameter", 3, 16, "Diameter of the post.", "post_diameter"),
            _number("post_stiffness_n_per_mm", 10, 1e5, "Of post and back together; else 60 to 150."),
            *STRING_LEVERS,
        ),
    ),
    *BODY_SECTIONS,
    BAR,
    OLD_BAR,
    TARGETS,
    FieldTable(
        "measured",
        "Weighed and heard; compared with the model, never needed.",
        (
            Field("mass_g", "number", "Weight of the top alone, to 0.1 g.", 15, 900),
            Field(
                "bar_on_top", "flag", "true when a bar was on the top for the weighing and the taps below."
            ),
            *(
                Field(f"mode_{n}_hz", "number", f"Tap tone of the free top, mode {n}{what}.", 10, 900)
                for n, what in ((1, " (twist)"), (2, " (X)"), (3, ""), (4, ""), (5, " (ring)"), (6, ""))
            ),
            AIR_TONE,
            *BODY_TONES,
            *ARCHES,
        ),
    ),
)

#: Columns of every table, by the field of job.toml that names its file.
_X = Column("x_mm", -5, 810, "from the lower edge, along the axis")
_Y = Column("y_mm", -270, 270, "from the axis; minus on the bass side, plus on the treble side")
_DEPTH = Column("depth_mm", -1, 60, "instead: depth of the outer surface below the straight edge")
_Z = Column("z_mm", -3, 50, "height of the outer surface over the gluing plane", _DEPTH)
_HEIGHTS = (_X, Column("height_mm", 0.5, 40, "height of the bar over the plate"))
COLUMNS = {
    "outline.points_file": (_X, _Y),
    "outline.half_widths_file": (
        _X,
        Column("bass_mm", 0, 270, "from the axis to the edge on the bass side"),
        Column("treble_mm", 0, 270, "from the axis to the edge on the treble side"),
    ),
    "arching.points_file": (_X, _Y, _Z),
    "arching.long_arch_file": (_X, _Z),
    "arching.cross_arches_file": (_X, _Y, _Z),
    "thickness.points_file": (_X, _Y, Column("h_mm", 0.8, 9, "thickness, without the bar")),
    "sound_holes.bass.points_file": (_X, _Y),
    "sound_holes.treble.points_file": (_X, _Y),
    "bar.heights_file": _HEIGHTS,
    "old_bar.heights_file": _HEIGHTS,
}
#: Leading columns that name a place and must not repeat; traced lines are ordered and checked otherwise.
DISTINCT = {
    "outline.half_widths_file": 1,
    "arching.points_file": 2,
    "arching.long_arch_file": 1,
    "arching.cross_arches_file": 2,
    "thickness.points_file": 2,
    "bar.heights_file": 1,
    "old_bar.heights_file": 1,
}
#: What to do with fewer rows than `MIN_ROWS`.
WITH_FEWER = {
    "outline.points_file": "give half_widths_file or the three bouts",
    "outline.half_widths_file": "give the three bouts",
    "arching.points_file": "give height_mm, or long_arch_file",
    "arching.long_arch_file": "give height_mm",
    "arching.cross_arches_file": "give height_mm, or long_arch_file",
    "thickness.points_file": "give centre_mm and bouts_mm",
}
#: Fewest rows of a table that make sense.
MIN_ROWS = {
    "outline.points_file": 24,
    "outline.half_widths_file": 5,
    "arching.points_file": 12,
    "arching.long_arch_file": 3,
    "arching.cross_arches_file": 9,
    "thickness.points_file": 12,
    "sound_holes.bass.points_file": 12,
    "sound_holes.treble.points_file": 12,
    "bar.heights_file": 2,
    "old_bar.heights_file": 2,
}
