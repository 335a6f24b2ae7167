"""What was found in a job folder, as text for the bench and as plain data."""

import dataclasses
import math

import numpy as np

from platemodel.errors import Problem
from platemodel.instrument.marks import OLD_BAR
from platemodel.instrument.sound_hole import eye_spacing
from platemodel.instrument.strings import KGF
from platemodel.job.geometry import plate_places
from platemodel.job.job import Job
from platemodel.wood.estimate import HALF_WIDTH

WIDTH = 96
MM = 1e-3


def report(job: Job) -> str:
    """Return the report of `platemodel check`: what was read, what was assumed, what looks odd."""
    made_up = " INVENTED DATA, no real instrument." if job.invented else ""
    lines = [
        f"{job.name} ({job.top.kind}).{made_up}",
        f"Read from {', '.join(job.files)}.",
        "",
        "Read (mm unless said)",
    ]
    lines += _aligned(read_values(job))
    lines += ["", f"Not measured, so assumed ({len(job.assumptions)})"]
    lines += _aligned([_parted(text) for text in job.assumptions]) or ["  nothing"]
    lines += ["", f"Looks odd ({len(job.findings)})"]
    for n, finding in enumerate(job.findings, 1):
        lines += _hanging(f"{finding.text} {finding.cure}".strip(), f"  {n}. ")
        lines += [f"       {line}" for line in finding.lines]
    lines += [] if job.findings else ["  nothing"]
    lines += [
        "",
        "Estimates from these measurements; the maker decides. Original or early bar, valuable",
        "instrument, crack under the bar: ask a qualified restorer before wood is removed.",
    ]
    return "\n".join(lines) + "\n"


def read_values(job: Job) -> list[tuple[str, str]]:
    """Return (label, text) for the main figures of a job."""
    return [
        *_shape(job.top),
        *_plate(job.top),
        _doubt(job.shape_errors),
        *_holes(job.top),
        *_wood("wood of the top", job.top.wood),
        *([("", f"found from {job.wood_from}")] if job.wood_from else []),
        *_offcut(job.offcut),
        *_bar(job),
        *_old_bar(job),
        *_strings(job),
        *_heard(job),
        *_felt(job),
        *_marks(job),
    ]


def _shape(top):
    upper, middle, lower = top.outline.widest()
    yield "body length", f"{top.outline.body_length / MM:.1f}"
    for label, line in (("upper bout", upper), ("middle bout", middle), ("lower bout", lower)):
        yield (
            label,
            f"{line.width / MM:.1f}  (bass {line.bass / MM:.1f}, treble {line.treble / MM:.1f}, "
            f"at x {line.x / MM:.0f})",
        )
    yield "outline", top.outline.source
    yield (
        "bridge line",
        f"x {top.bridge.x / MM:.1f}, stop {(top.outline.body_length - top.bridge.x) / MM:.1f}",
    )
    yield (
        "bridge feet",
        f"{top.bridge.foot_span_outer / MM:.1f} over both, "
        f"each {top.bridge.foot_length_across / MM:.1f} across",
    )


def _plate(top):
    x, y = plate_places(top)
    z, h = top.arching.value(x, y), top.thickness.value(x, y)
    k = int(z.argmax())
    yield (
        "arching",
        f"highest {z[k] / MM:.1f} at x {x[k] / MM:.0f}, y {y[k] / MM:+.0f}; "
        f"{top.arching.source}{_fit(top.arching)}",
    )
    low, high = int(h.argmin()), int(h.argmax())
    yield (
        "thickness",
        f"{h[low] / MM:.2f} at x {x[low] / MM:.0f}, y {y[low] / MM:+.0f}, to {h[high] / MM:.2f} at "
        f"x {x[high] / MM:.0f}, y {y[high] / MM:+.0f}; mean {h.mean() / MM:.2f}",
    )
    yield "", f"{top.thickness.source}{_fit(top.thickness)}"


def _fit(field):
    m = field.misfit
    if m is None:
        return ""
    scatter = "" if m.scatter is None else f"; a reading scatters by {m.scatter / MM:.2f}"
    return f", met within {m.largest / MM:.2f} (typically {m.rms / MM:.2f}{scatter})"


def _doubt(errors):
    return (
        "how far off",
        f"thickness {errors.thickness / MM:.2g}, arching {errors.arching / MM:.2g}, outline "
        f"{errors.outline / MM:.2g} at a place (standard deviations; what that does to the tones: "
        "platemodel modes)",
    )


def _holes(top):
    bass, treble = sorted(top.sound_holes, key=lambda h: h.side)
    yield "upper eyes", f"{eye_spacing(bass, treble) / MM:.1f} apart"
    for hole in (bass, treble):
        inner = (abs(hole.upper_eye.y) - hole.upper_eye.diameter / 2) / MM
        yield (
            f"{hole.side} sound hole",
            f"upper eye {inner:.1f} from the axis, at x {hole.upper_eye.x / MM:.1f}; "
            f"length {hole.length / MM:.1f}; {hole.source}",
        )


def _wood(label, wood):
    yield label, f"{wood.name}, {wood.density:.0f} kg/m3, sound {wood.c_L:.0f} m/s along the grain"
    yield "", f"E_L {wood.E_L / 1e9:.2f}, E_R {wood.E_R / 1e9:.2f}, G_LR {wood.G_LR / 1e9:.2f} GPa"


def _offcut(fit):
    if fit is None:
        return
    known, parts = fit.estimate, []
    for name, digits in (("E_R", 2), ("G_RT", 4)):
        value, band = 1e-9 * getattr(known.wood, name), 100 * HALF_WIDTH * known.sd(name)
        parts.append(f"{name} {value:.{digits}f} GPa ± {band:.0f} %")
    yield "offcut, bent across", f"{', '.join(parts)} (90 of 100); the verb wood starts from it"


def _bar(job):
    bar = job.bar
    if bar is None:
        yield "bar", "none (no table [bar])"
        return
    at = np.array([bar.x_start, job.top.bridge.x, bar.x_end])
    inner, outer = (-a / MM for a in bar.flanks(at)[1:])
    yield "bar", _size(bar)
    yield "  from the axis", "lower end   bridge   upper end"
    yield "  inner edge", "{:9.1f}{:9.1f}{:12.1f}".format(*inner)
    yield "  outer edge", "{:9.1f}{:9.1f}{:12.1f}".format(*outer)
    yield "  height", "{:9.1f}{:9.1f}{:12.1f}".format(*(bar.height(at) / MM))
    if bar.wood is not job.top.wood:
        yield from _wood("wood of the bar", bar.wood)


def _old_bar(job):
    bar = job.old_bar
    if bar is None:
        return
    lower, upper = (-y / MM for y in (bar.y_start, bar.y_end))
    high = bar.height(np.array([bar.x_start, job.top.bridge.x, bar.x_end])) / MM
    yield "old bar", f"{_size(bar)}, {bar.wood.density:.0f} kg/m3"
    yield (
        "",
        f"middle {lower:.1f} to {upper:.1f} from the axis; height {' / '.join(f'{h:.1f}' for h in high)}",
    )


def _size(bar):
    return (
        f"x {bar.x_start / MM:.1f} to {bar.x_end / MM:.1f}, length {bar.length / MM:.1f}, "
        f"width {bar.width / MM:.1f}, {1e3 * bar.mass():.1f} g"
    )


def _strings(job):
    s = job.set_up
    if s is None:
        return
    pull = ", ".join(f"{n} {t:.0f}" for n, t in zip(s.strings.names, s.strings.tensions, strict=True))
    how = "put in" if s.given is not None else f"at {np.degrees(s.included):.1f} degrees included"
    yield "strings", f"tension {pull} N, together {s.strings.total:.0f} N ({s.strings.total / KGF:.1f} kgf)"
    yield "load on the top", f"{s.downforce:.1f} N ({s.downforce / KGF:.1f} kgf), {how}; not the tension"
    yield "sound post", "in place" if s.post.present else "out"


def _heard(job):
    mass = 1e3 * job.top.mass_estimate()
    text = f"computed {mass:.1f} g without bar"
    if job.bar is not None:
        text += f", {mass + 1e3 * job.bar.mass():.1f} g with it"
    if job.measured.mass is not None:
        how = "with" if job.measured.bar_on_top else "without"
        text += f"; weighed {1e3 * job.measured.mass:.1f} g {how} bar"
    yield "weight", text
    for bar_on in (False, True):
        heard = job.heard(bar_on).values()
        if heard:
            tones = ", ".join(f"mode {r.mode} {r.frequency:.1f} ± {r.sd:.1f} Hz" for r in heard)
            yield f"taps {'with' if bar_on else 'without'} bar", tones


def _felt(job):
    for state in job.states:
        read = [
            f"{r.test.name} {r.sag / MM:.3g} ± {r.sd / MM:.2g} mm under {r.weight_g:.0f} g"
            for r in job.felt_in(state)
        ]
        if read:
            yield f"flexed {state.words}", "; ".join(read)


def _marks(job):
    for mark in job.marks:
        if mark.kind == OLD_BAR and job.old_bar is not None:
            continue  # told with its sizes
        yield mark.kind, mark.where + (f"; {mark.note}" if mark.note else "")


def _parted(assumption):
    """Split 'what (why)' for two columns; other texts stay whole."""
    what, mark, why = assumption.partition(" (")
    return (what, why[:-1]) if mark and why.endswith(")") else ("", assumption)


def _aligned(rows):
    width = max((len(label) for label, _ in rows), default=0) + 3
    out = []
    for label, text in rows:
        out += _hanging(text, f"  {label:<{width}}")
    return out


def _hanging(text, head):
    """Wrap a text to the page, further lines indented under its first; runs of spaces in short texts stay."""
    room = WIDTH - len(head)
    if len(text) <= room:
        return [head + text]
    lines, line = [], ""
    for word in text.split(" "):
        if line and len(line) + 1 + len(word) > room:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}" if line else word
    lines.append(line)
    return [(head if i == 0 else " " * len(head)) + part for i, part in enumerate(lines)]


def as_data(job: Job) -> dict:
    """Return a job's report as plain data for JSON; lengths in mm, weights in g."""
    numbers = {
        "mass_computed_g": 1e3 * job.top.mass_estimate(),
        "mass_weighed_g": None if job.measured.mass is None else 1e3 * job.measured.mass,
        "bar_mass_g": None if job.bar is None else 1e3 * job.bar.mass(),
        "taps": [dataclasses.asdict(r) for r in job.taps],
    }
    return _plain(
        {
            "ok": True,
            "name": job.name,
            "instrument": job.top.kind,
            "invented": job.invented,
            "files": list(job.files),
            **numbers,
            "read": [{"what": label, "text": text} for label, text in read_values(job)],
            "assumed": list(job.assumptions),
            "odd": [dataclasses.asdict(f) for f in job.findings],
            "problems": [],
        }
    )


def problems_as_data(problems: tuple[Problem, ...]) -> dict:
    """Return the problems of a refused job as plain data for JSON."""
    return {"ok": False, "problems": [dataclasses.asdict(p) for p in problems]}


def _plain(value):
    """Turn numpy numbers into Python numbers and what is not a number into None, which JSON can carry."""
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, float | np.floating):
        return round(float(value), 4) if math.isfinite(value) else None
    return value
