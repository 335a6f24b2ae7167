"""Fields of the bars in job.toml: the one to come, and the one that was on the top before."""

from platemodel.job.field import Field, FieldTable, mm

_FIELDS = (
    Field(
        "rule",
        "choice",
        "How it is placed: bridge_foot (outer edge just inside the foot), one_seventh, or placed.",
        choices=("bridge_foot", "one_seventh", "placed"),
    ),
    Field(
        "edge",
        "choice",
        "Which line of the bar the distances from the axis mean.",
        choices=("inner", "middle", "outer"),
    ),
    mm(
        "lower_end_from_axis",
        2,
        80,
        'With rule = "placed": distance from the axis at the lower end of the bar.',
    ),
    mm(
        "upper_end_from_axis",
        2,
        80,
        'With rule = "placed": distance from the axis at the upper end of the bar.',
    ),
    mm("lower_margin", 5, 200, "From the lower edge of the body to the lower end of the bar."),
    mm(
        "length",
        120,
        700,
        "Length of the bar, end to end along the bar as it lies on the bench; not along the axis.",
        "bar_length",
    ),
    mm("width", 2.5, 16, "Width at the glued face.", "bar_width"),
    mm("height", 4, 40, "Height at the bridge line, measured from the plate.", "bar_height"),
    mm("lower_end_height", 0.5, 15, "Height at the lower end.", "bar_end"),
    mm("upper_end_height", 0.5, 15, "Height at the upper end.", "bar_end"),
    Field(
        "profile",
        "choice",
        "Shape between bridge and ends, from a straight slope to a full back.",
        choices=("straight", "medium", "parabola", "full"),
    ),
    Field("heights_file", "file", "Measured heights instead, columns x_mm, height_mm, end to end."),
    Field("lean_deg", "number", "Lean from upright; + tilts the free edge to the treble side.", -20, 20),
    Field(
        "section_fill",
        "number",
        "Section over width times height: 1 square, about 0.9 with a rounded top.",
        0.5,
        1,
    ),
)
BAR = FieldTable("bar", "The bar. Leave the whole table out for a top without a bar.", _FIELDS)
OLD_BAR = FieldTable(
    "old_bar",
    "The bar that was on the top before, as it was on; the new one is set beside it.",
    (
        Field("mass_g", "number", "Weight of the old bar, when it came off whole.", 0.5, 120),
        *_FIELDS,
    ),
    "bar",
)
