"""Cautions and the words for invented data: every page and every text takes them from here."""

from platemodel.job import Job

INVENTED = "Invented data, no real instrument."
INVENTED_PIECES = "INVENTED DATA, no real pieces."

ESTIMATE = "A model's estimate, not an instruction to cut: the maker decides."
RESTORER = (
    "An original or early bar, a valuable instrument or a crack under the bar goes to a qualified restorer "
    "first."
)
MARGINS = "A comparison and a warning, not a certificate."

MODES = (
    "A model's estimate from the measurements given, for the free plate in air, without varnish or ribs.",
    f"It is no instruction to cut: the maker decides. {RESTORER}",
)
STROKES = (
    "True for small strokes: the plate answers otherwise after every one, so compute again after half a "
    "millimetre off the bar. By the model, not yet tried on a trimmed bar.",
    "No wood is taken from an old top: there the maps only tell where wear and earlier work count. "
    f"{ESTIMATE} {RESTORER}",
)
LOAD = (
    f"{MARGINS} Strengths are handbook means of small clear pieces, from memory. Ribs, back, glue, cracks, "
    "moisture and the pull along the body are not in it.",
    f"No instruction to cut or to string up: the maker decides. {RESTORER}",
)
BODY = (
    f"{MARGINS} Not in it: sound radiated to the room, the player's hold, ribs moving in the air, tailpiece "
    "and fittings. Creep is a band from memory, no prediction.",
    f"No instruction to cut or to string up: the maker decides. {RESTORER}",
)
WOOD = (
    "A model's estimate from the measurements given. Slips in arching or thickness, cleats, varnish and "
    "cracks go into the constants; the band allows 0.1 mm of thickness, 0.5 mm of arching, 0.5 % of pitch.",
    f"It is no instruction to cut: the maker decides. {RESTORER}",
)
CHOICE = (
    "A model's estimate with a band, not an instruction to cut: leave the bar high, come down in steps, tap "
    "and flex at each; the maker decides.",
    RESTORER,
)
SAMPLES = (
    "Estimates from the readings given, with 90 % bands; not an instruction to cut: the maker decides.",
    RESTORER,
)
TRIM = (
    f"{ESTIMATE} Wood cannot be put back. {RESTORER}",
    "Blades: top in its cradle, edge away from the other hand and from the plate; guard the plate beside the "
    "bar. Let the glue dry 12 to 24 hours first (common practice, no source).",
    "Tap in the same air, hold and place each time; a tap tone is no target by itself. Measure heights from "
    "the plate, at the bridge line.",
)
STOPS = (f"{ESTIMATE} Wood cannot be put back. {RESTORER}",)
FLEX = (
    "An old thin top is flexed with a light hand or not at all; over a crack, worm or a loose cleat, not "
    "at all. The weights keep sound wood, away from pegs and weight, below a tenth of its "
    "strength by the model.",
    f"{ESTIMATE} {RESTORER}",
)
DAY = (
    "Only on a practice top that may be spoilt: never on an instrument, for curiosity's sake.",
    "Blade against a stop, both hands behind the edge. What the model says has been checked against solid "
    "elements, not yet on a trimmed bar: your result decides, and either answer is worth reporting.",
)
GLUE = f"A model's estimate, no instruction to glue: the maker decides. {RESTORER}"
GLUING = (
    ("Heat", "Hide glue at 60 °C scalds: pot with thermostat and lid, no flame. Warm the bare wood inside, "
     "to 40 °C at most, and feel the varnish side with the hand; old joints and cleats may let go."),
    ("Blades", "Bar against a stop, both hands behind the edge; pare the bar, never the plate."),
    ("Dust", "Old dust can hold worm poison, lead and mould: wear gloves and mask, take it up damp, do not "
     "sweep dry."),
    ("Varnish", "Soft-lined blocks shaped to the arch; no alcohol, no wet cloth, no steam near it; try "
     "blocks and pads dry, and take every clamp off slowly."),
    ("Practice", "Hide glue only, so that it can be undone. Fit without light or chalk gaps first: clamps do "
     "not mend a bad fit. Dry run with the clock; photograph, write down, keep the old bar."),
)  # fmt: skip
LAYOUT = (
    f"A drawing from your measurements, not an instruction to cut; the maker decides. {RESTORER}",
    "Check against the top itself before the first mark. No wood is taken from the plate to suit a bar. "
    "Make pencil marks soft and few; no scribing into an old top.",
)
CUT_LIST = (
    "Heights count from the plate up the bar's side. They are limits to stop at, not to reach: leave the bar "
    "higher, tap, flex, weigh, go on in small steps. Wood cannot be put back.",
    "Keep both hands behind the edge of knife, chisel and gouge; hold the bar in a vice or against a stop, "
    "the top in a padded cradle. Hot glue scalds. Old dust can harm: mask, no dry sanding of old varnish.",
    f"No wood is taken from the plate to suit a bar: the bar is fitted to the plate. {RESTORER} The maker "
    "decides.",
)
PACK = (
    "A model's estimate from the measurements given, with its band, no instruction to cut. The maker "
    "decides.",
    "An original or early bar, a bar carved in one piece with the top, a crack under the bar, a top thinner "
    "than 2 mm or a valuable instrument goes to a qualified restorer or conservator first.",
    "Take no wood from the plate to suit a bar; keep and label the old bar; write down what was there "
    "before.",
    "Knives: bar against a stop, hands behind the edge. Hot glue scalds. Old dust can be poisonous: mask, "
    "gloves, no dry sweeping.",
)


def invented_note(job: Job) -> str:
    """Sentence for a page of an invented job; empty for a real one."""
    return INVENTED if job.invented else ""


def text_title(job: Job) -> str:
    """First line of a text: the job's name, and loudly that it is invented if so."""
    return f"{job.name}. INVENTED DATA, no real instrument." if job.invented else job.name


def data_title(job: Job) -> dict:
    """First fields of plain data: the job's name, and whether it is invented."""
    return {"name": job.name, "invented": job.invented}
