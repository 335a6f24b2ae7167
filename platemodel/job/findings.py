"""What looks odd in a job against common practice: worth a second look, not an error."""

import math
from itertools import pairwise

from platemodel.instrument.arching import CHANNEL_WIDTH
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.mark_checks import in_the_way
from platemodel.instrument.sound_hole import eye_spacing
from platemodel.instrument.strings import SetUp
from platemodel.job.arch_oddities import arch_oddities, at
from platemodel.job.geometry import plate_places
from platemodel.job.schema import SECTIONS
from platemodel.job.slips import slips
from platemodel.job.wood_oddities import wood_oddities

MM = 1e-3
#: Measured over usual figure at this body length; common practice, no source.
USUAL_SPAN = {
    "outline.upper_bout": (0.94, 1.06), "outline.middle_bout": (0.92, 1.08),
    "outline.lower_bout": (0.94, 1.06),
    "arching.height": (0.85, 1.2), "arching.channel_width": (0.6, 1.6),
    "thickness.centre": (0.75, 1.3), "thickness.bouts": (0.8, 1.35),
    "thickness.edge": (0.75, 1.3), "sound_holes.eye_spacing": (0.9, 1.12), "sound_holes.length": (0.9, 1.1),
    "sound_holes.bass.length": (0.9, 1.1), "sound_holes.treble.length": (0.9, 1.1),
    "bridge.stop_length": (0.97, 1.03),
    "bridge.foot_span": (0.88, 1.12), "bar.length": (0.93, 1.05), "bar.width": (0.85, 1.15),
    "bar.height": (0.85, 1.15),
    "bar.lower_end_height": (0.65, 1.4), "bar.upper_end_height": (0.65, 1.4),
}  # fmt: skip
_USUAL = {
    f"{s.name}.{f.key.removesuffix('_mm')}": (f.usual, f.doc) for s in SECTIONS for f in s.fields if f.usual
}
CHANNEL = "arching.channel_width"  # as a share of the body, not among the usual dimensions
_PRACTICE = "common practice, no source"
ODD_OFFCUT = "weight and bends of the offcut do not fit each other: measure it again"


def find_odd(
    work, top, bar, old_bar, measured, stray_tables, set_up=None, taps=(), marks=(), offcut=None, states=()
) -> tuple[Finding, ...]:
    """Return every finding about a job: slips, sizes, plate, wood, bar, weight, taps, files not used."""
    doubted = [_about(*slip) for slip in slips(work, top.outline)]
    found = [
        *doubted,
        *_sizes(work),
        *_against_tables(work, top),
        *_traced_corners(top.outline),
        *_symmetry(top, work.dims.scale),
        *_plate(work, top, doubted),
        *(_about(*one) for one in arch_oddities(work, top, bar)),
        *(_about(*one) for one in wood_oddities(work, top, bar, old_bar)),
    ]
    if bar is not None:
        found += in_the_way(top, bar, marks)
    found += _heard_and_weighed(top, bar, measured, taps, states)
    found += [] if set_up is None else _strung(top, set_up)
    found += [] if offcut is None or not offcut.doubtful else [_about("wood", ODD_OFFCUT, "offcut")]
    found += [
        _about("file", f"{name} lies in the folder, but no field of job.toml names it", name)
        for name in stray_tables
    ]
    return tuple(found)


def _about(kind, message, where, value=math.nan, limit=math.nan):
    return Finding(kind, message, value / MM, limit / MM, where)


def _sizes(work):
    d, kind = work.dims, work.fields.get("job.instrument")
    for name, (low, high) in USUAL_SPAN.items():
        value = work.fields.get(name)
        if value is None:
            continue
        usual = CHANNEL_WIDTH * d.body_length if name == CHANNEL else getattr(d, _USUAL[name][0])
        # as printed: 150.04 is no more than 150.0
        if not round(low * usual / MM, 1) <= round(value / MM, 1) <= round(high * usual / MM, 1):
            limit = low * usual if value < low * usual else high * usual
            label = name.replace(".", ", ").replace("_", " ")
            yield _about(
                "size",
                f"{label} {value / MM:.1f} mm; usual for a {kind} of {d.body_length / MM:.0f} mm is "
                f"{low * usual / MM:.1f} to {high * usual / MM:.1f} mm ({_PRACTICE})",
                name,
                value,
                limit,
            )


def _against_tables(work, top):
    """Sizes that were given beside a table which says something else."""
    limit = 1.5 * MM * work.dims.scale
    upper, middle, lower = top.outline.widest()
    pairs = [
        ("outline.upper_bout", upper.width),
        ("outline.middle_bout", middle.width),
        ("outline.lower_bout", lower.width),
    ]
    if not work.fields.values.keys() & {"outline.points_file", "outline.half_widths_file"}:
        pairs = []
    if top.arching.misfit is not None:
        x, y = plate_places(top, 0.02)
        pairs.append(("arching.height", float(top.arching.value(x, y).max())))
    for name, found in pairs:
        given = work.fields.get(name)
        if given is not None and abs(given - found) > limit:
            yield _about(
                "size",
                f"{name}_mm says {given / MM:.1f} mm, but the tables say {found / MM:.1f} mm and are used",
                name,
                given,
                found,
            )


def _traced_corners(outline):
    """Say so when a tracing has some corners, but fewer than four."""
    count = len(outline.corners)
    if outline.source.startswith("traced") and 0 < count < 4:
        yield _about(
            "outline",
            f"the tracing shows {count} corner{'s' * (count != 1)} instead of four: give each tip a point of "
            "its own, with more points near it; or is one worn away?",
            "outline.points_file",
        )


def _symmetry(top, scale):
    for label, line in zip(("upper bout", "waist", "lower bout"), top.outline.widest(), strict=True):
        gap = abs(line.bass - line.treble)
        if gap > 3 * MM * scale:
            yield _about(
                "symmetry",
                f"{label}: {line.bass / MM:.1f} mm to the bass side, {line.treble / MM:.1f} mm to the "
                "treble side; make sure that the axis is the line of the strings, not the joint",
                f"x = {line.x / MM:.0f} mm",
                gap,
                3 * MM * scale,
            )
    bass, treble = sorted(top.sound_holes, key=lambda h: h.side)
    inner = [abs(h.upper_eye.y) - h.upper_eye.diameter / 2 for h in (bass, treble)]
    gap = abs(inner[0] - inner[1])
    if gap > 1.5 * MM * scale:
        near = "bass" if inner[0] < inner[1] else "treble"
        yield _about(
            "symmetry",
            f"{near} sound hole {gap / MM:.1f} mm nearer to the axis than the other (upper eyes "
            f"{inner[0] / MM:.1f} and {inner[1] / MM:.1f} mm, {eye_spacing(bass, treble) / MM:.1f} mm apart)",
            "upper eyes",
            gap,
            1.5 * MM * scale,
        )


def _plate(work, top, doubted):
    d = work.dims
    x, y = plate_places(top)
    h = top.thickness.value(x, y)
    thin, thick = int(h.argmin()), int(h.argmax())
    # A restorer is asked below 2 mm; readings are good to 0.1 mm, so the light goes on a little before.
    least, most = 2.1 * MM * max(1.0, d.centre / (3.2 * MM)), 1.3 * d.centre
    if h[thin] < least:
        yield _about(
            "thin",
            f"top only {h[thin] / MM:.2f} mm thick; under {least / MM:.1f} mm ask an experienced restorer "
            f"before working on it ({_PRACTICE})",
            at(x[thin], y[thin]),
            h[thin],
            least,
        )
    if h[thick] > most:
        yield _about(
            "thick",
            f"top {h[thick] / MM:.1f} mm thick away from the edge; usual is up to {most / MM:.1f} mm "
            f"({_PRACTICE}); was an old bar or a patch measured along?",
            at(x[thick], y[thick]),
            h[thick],
            most,
        )
    for label, field, limit in (("height", top.arching, 0.6 * MM), ("thickness", top.thickness, 0.3 * MM)):
        m = field.misfit
        said = any(f.message.startswith(label) for f in doubted)
        if m is not None and not said and m.largest > limit * max(1.0, d.scale):
            yield _about(
                "misfit",
                f"one {label} stands {m.largest / MM:.1f} mm off the smooth surface through its "
                "neighbours; measure there again",
                at(m.x, m.y),
                m.largest,
                limit,
            )


def _heard_and_weighed(top, bar, measured, taps, states):
    new = {state.name for state in states if state.bar == "new"}
    if measured.mass is not None:
        computed = top.mass_estimate() + (bar.mass() if measured.bar_on_top and bar is not None else 0.0)
        ratio = measured.mass / computed
        if not 0.93 <= ratio <= 1.07:
            yield _about(
                "mass",
                f"weighed {1e3 * measured.mass:.1f} g, computed {1e3 * computed:.1f} g; thickness or density "
                f"is off by {100 * abs(ratio - 1):.0f} %; {ratio * top.wood.density:.0f} kg/m3 would fit "
                "(cleats, varnish and patches weigh too)",
                "mass",
            )
        if measured.bar_on_top and bar is None:
            yield _about("mass", "weighed with a bar on, but job.toml has no table [bar]", "mass")
    for a, b in pairwise(taps):
        if a.state == b.state and a.frequency >= b.frequency:
            yield _about(
                "taps",
                f"mode {a.mode} at {a.frequency:.0f} Hz is not below mode {b.mode} at {b.frequency:.0f} Hz; "
                "modes are numbered from low to high",
                "measured",
            )
    if bar is None and any(r.state in new for r in taps):
        yield _about("taps", "tapped with a bar on, but job.toml has no table [bar]", "measured")
    humidity = measured.relative_humidity
    if humidity is not None and not 0.30 <= humidity <= 0.65:
        yield _about(
            "humidity",
            f"relative humidity {100 * humidity:.0f} %; taps and bar fit are usually taken between 30 and "
            f"65 % ({_PRACTICE})",
            "job",
        )


def _strung(top, set_up):
    usual = SetUp.usual(top.kind, top.outline.body_length)
    angle, middle = (math.degrees(s.included) for s in (set_up, usual))
    if set_up.given is None and abs(angle - middle) > 5:
        yield _about(
            "strings",
            f"string angle {angle:.1f} degrees; usual for a {top.kind} is about {middle:.0f} ({_PRACTICE}); "
            "the included angle is asked for, not the angle by which the strings break",
            "strings",
        )
    ratio = set_up.downforce / usual.downforce
    if not 0.6 <= ratio <= 1.5:
        yield _about(
            "strings",
            f"load on the top {set_up.downforce:.0f} N; usual for a {top.kind} is about "
            f"{usual.downforce:.0f} N ({_PRACTICE}); {_why_load(set_up, ratio)}",
            "strings",
        )
    if set_up.post.present and set_up.post.behind < 0:
        yield _about(
            "strings",
            "sound post in front of the treble foot; usual is behind it, towards the lower edge",
            "strings.post_behind_mm",
            set_up.post.behind,
            0.0,
        )


def _why_load(set_up, ratio):
    """Which slip would make a load so much larger or smaller than usual."""
    if ratio > 1:
        if set_up.given is not None:
            return "it is the part of the pull that presses on the top, not the sum of the tensions"
        return "are the tensions of a heavier set, or is the angle the one by which the strings break?"
    if set_up.given is not None:
        return "is it in kgf? 1 kgf is 9.81 N"
    return "are all tensions in newtons (1 kgf is 9.81 N), and is the angle the included one?"
