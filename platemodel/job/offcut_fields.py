"""Fields of job.toml for an offcut of the top's wood; the verb wood asks for them."""

from platemodel.job.field import FieldTable, mm, number

OFFCUT = FieldTable(
    "offcut",
    "Quarter-sawn offcut of the top's own wood, lengthwise along the rays, bent; only the verb wood uses it.",
    (
        mm("length", 30, 400, "Across the grain, along the rays."),
        mm("width", 5, 100, "Along the grain."),
        mm("thickness", 2, 30, "Along the rings: the way it bends."),
        number("mass_g", 0.5, 500, "Its weight."),
        mm("short_span", 10, 300, "Between the supports, some five thicknesses apart."),
        number("short_load_g", 20, 20_000, "Weight set on in the middle of that span."),
        mm("short_sag", 0.005, 5, "Gauge with that weight less gauge without."),
        mm("long_span", 20, 390, "Between the supports, some twice as far apart."),
        number("long_load_g", 20, 20_000, "Weight set on in the middle of that span."),
        mm("long_sag", 0.005, 5, "Gauge with that weight less gauge without."),
        mm("sag_sd", 0.001, 0.2, "Doubt of a sag, one standard deviation; else 0.01."),
    ),
)
