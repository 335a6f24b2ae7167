"""Fields of job.toml for the rest of the body: ribs, blocks, back and neck; the verb body asks for them."""

from platemodel.job.field import FieldTable, mm, number

RIBS = FieldTable(
    "ribs",
    "Ribs and linings; only the verb body asks for them.",
    (
        mm("lower", 15, 140, "Height of the ribs alone at the lower end.", "body.rib_lower"),
        mm("upper", 15, 140, "Height of the ribs alone at the upper end.", "body.rib_upper"),
        mm("thickness", 0.5, 3, "Thickness of the ribs.", "body.rib_thickness"),
        mm("lining_width", 0, 6, "Linings, along the glued face; 0 without.", "body.lining_width"),
        mm("lining_height", 2, 25, "Linings, up the ribs.", "body.lining_height"),
        mm("overhang", 0.5, 8, "Edge over the ribs.", "body.overhang"),
    ),
)
BLOCKS = FieldTable(
    "blocks",
    "Blocks; only the verb body asks for them.",
    (
        mm("upper_along", 8, 60, "Upper block, along the axis.", "body.upper_block_along"),
        mm("upper_across", 25, 150, "Upper block, across.", "body.upper_block_across"),
        mm("lower_along", 8, 60, "Lower block, along the axis.", "body.lower_block_along"),
        mm("lower_across", 25, 150, "Lower block, across.", "body.lower_block_across"),
        mm("corner", 0, 60, "Corner block, from its corner's tip; 0 without.", "body.corner_block"),
    ),
)
BACK = FieldTable(
    "back",
    "The back; only the verb body asks for it.",
    (
        mm("arch", 6, 50, "Highest point of its arch over the gluing plane.", "body.back_arch"),
        mm("centre", 1.5, 10, "Thickness in the centre.", "body.back_centre"),
        mm("bouts", 1.2, 8, "Thickness in the middle of the bouts.", "body.back_bouts"),
        mm("edge", 1.5, 8, "Thickness at the edge.", "body.back_edge"),
        number("mass_g", 30, 1500, "Weight of the back alone; its wood is then as dense as that says."),
    ),
)
NECK = FieldTable(
    "neck",
    "Neck and fingerboard; only the verb body asks for them.",
    (
        mm("nut_from_edge", 60, 350, "From the upper edge of the body to the nut.", "body.nut_from_edge"),
        mm("width", 15, 45, "Width of the neck in its middle.", "body.neck_width"),
        mm("depth", 10, 45, "Depth of the neck in its middle, without fingerboard.", "body.neck_depth"),
        mm("board_length", 100, 700, "Length of the fingerboard.", "body.fingerboard_length"),
        mm("board_width", 18, 65, "Width of the fingerboard in its middle.", "body.fingerboard_width"),
        mm("board_depth", 2, 20, "Mean thickness of the fingerboard.", "body.fingerboard_depth"),
        number("head_mass_g", 20, 900, "Weight of pegbox, scroll and pegs."),
        mm("head_length", 40, 350, "From the nut to the end of the scroll.", "body.head_length"),
    ),
)
BODY_SECTIONS = (RIBS, BLOCKS, BACK, NECK)
STRING_LEVERS = (
    mm("bridge_height", 10, 130, "Strings over the top at the bridge; for body.", "body.bridge_height"),
    mm(
        "saddle_height", 0, 20, "Strings over the gluing plane at the saddle; for body.", "body.saddle_height"
    ),
    mm("nut_height", -60, 60, "Strings over the gluing plane at the nut; for body."),
)
ARCHES = (
    mm("arch_strung", 2, 60, "Height of the arch beside the bass foot over the edge, strings on; for body."),
    mm("arch_off", 2, 60, "The same place with the strings off for a day or more; for body."),
    mm("sunk", 0, 10, "How far the arch lies lower there than it was made, strings on; for body."),
)
BODY_TONES = (
    number(
        "body_tone_1_hz", 80, 1000, "Lower of the two strong tones over the air tone, tapped on the bridge."
    ),
    number("body_tone_2_hz", 80, 1000, "The upper of the two."),
)
AIR_TONE = number("air_hz", 40, 400, "Air tone of the closed instrument, blown or tapped; for the verb body.")
