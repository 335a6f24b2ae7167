"""Fields of the table [targets] of job.toml: what is wanted of the bar."""

from platemodel.job.field import FieldTable, mm, number

TARGETS = FieldTable(
    "targets",
    "What is wanted of the bar; only the verb choose asks for it.",
    (
        number(
            "foot_share_percent", 20, 200,
            "Least stiffness under the bass foot, of the usual bar on the usual top; 100 is as stiff.",
        ),
        number(
            "foot_of_old_percent", 20, 200,
            "Least stiffness under the bass foot, of the old bar on this top; 100 is as stiff.",
        ),
        number("foot_n_per_mm", 5, 2000, "Least stiffness under the bass foot, instead of a share."),
        number(
            "strip_share_percent", 20, 300,
            "Least stiffness of the bar with its strip of plate, of that of the usual ones.",
        ),
        number("mode_2_hz", 10, 900, "Mode 2 (X) of the free top with its bar, within 2 Hz."),
        number("mode_5_hz", 10, 900, "Mode 5 (ring) of the free top with its bar, within 2 Hz."),
        number("least_mode_5_hz", 10, 900, "Mode 5 not below this."),
        number("most_mode_5_hz", 10, 900, "Mode 5 not above this."),
        number("ratio_5_to_2", 1, 5, "Mode 5 over mode 2, within 0.02."),
        number("bar_mass_g", 0.5, 120, "Most that the bar may weigh."),
        mm("least_height", 3, 40, "Least height of the bar."),
        mm("most_height", 3, 40, "Greatest height of the bar that there is room for."),
        mm("sinking", 0.01, 5, "Most that the bass foot may sink under the strings on the first day."),
        mm("body_sinking", 0.01, 5, "The same in the closed body, by the model of the verb body."),
        number(
            "least_body_mobility_s_per_kg", 0.001, 1,
            "Least motion of the bass foot in the closed body, as the verb body tells it.",
        ),
        number("most_body_mobility_s_per_kg", 0.001, 1, "Its most; a higher bar moves less."),
    ),
)  # fmt: skip
