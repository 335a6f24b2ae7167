"""From checked fields and tables to the outline, and to the usual figures scaled to this body."""

import numpy as np

from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.outline import Outline
from platemodel.job.build_context import MM, Work
from platemodel.job.geometry import crossing_lines
from platemodel.job.schema import BODY_LENGTH_MM
from platemodel.job.tables import allowed_range


def build_outline(work: Work) -> Outline | None:
    """Outline from traced points, half widths or dimensions; also fixes `work.dims`."""
    f, kind = work.fields, work.fields.get("job.instrument")
    points = work.table("outline.points_file")
    if points is not None and "outline.half_widths_file" in f.values:
        work.refuse("outline.points_file", "two outlines", "give points_file or half_widths_file, not both")
        return None
    length = f.get("outline.body_length")
    if points is not None and (length is None or abs(np.ptp(points[:, 0]) - length) > 0.01 * length):
        traced = float(np.ptp(points[:, 0]))
        if length is not None:
            work.refuse(
                "outline.body_length_mm",
                f"{length / MM:.1f} mm, but the traced line is {traced / MM:.1f} mm long",
                _why_length(points, length),
            )
            return None
        length = traced
    low, high = BODY_LENGTH_MM[kind]
    if length is not None and not low <= length / MM <= high:
        work.refuse(
            "outline.body_length_mm" if "outline.body_length" in f.values else "outline.points_file",
            f"{length / MM:.1f} mm",
            f"{allowed_range(length / MM, low, high)} for a {kind}, in mm; is the instrument right?",
        )
        return None
    work.dims = work.attempt("outline.body_length_mm", dimensions, kind, length)
    if (
        work.dims is None
        or work.failed("outline")
        or work.lacks("outline.points_file")
        or work.lacks("outline.half_widths_file")
    ):
        return None
    if "outline.half_widths_file" not in f.values:
        work.set_aside(("outline.lower_corner_x", "outline.upper_corner_x"), "there is no half_widths_file")
    if length is None:
        work.assume(
            f"body length {work.dims.body_length / MM:.1f} mm",
            f"usual {kind}; {work.dims.status()['body_length']}",
        )
    if points is not None:
        return _traced_outline(work, points)
    if "outline.half_widths_file" in f.values:
        return _half_widths(work)
    widths = [work.usual(f"outline.{n}_bout", n, f"{n} bout") for n in ("upper", "middle", "lower")]
    work.assume("outline between these widths", "drawn, both halves alike")
    return work.attempt("outline", Outline.preset, kind, work.dims.body_length, *widths)


def _why_length(points, length):
    """Say which slip would make a traced line of another length than the body."""
    traced, wide = np.ptp(points, axis=0)
    for factor, unit in ((10.0, "centimetres"), (25.4, "inches"), (1000.0, "metres")):
        if abs(factor * traced - length) < 0.03 * length:
            return f"is the table in {unit}? It must be in mm"
    if abs(wide - length) < 0.03 * length:
        return "as wide as the body is long: turn it by 90 degrees, or swap the columns x_mm and y_mm"
    return "they must agree within 1 %; leave body_length_mm out, or trace again"


def _traced_outline(work, points):
    table = work.tables["outline.points_file"]
    scale = work.dims.scale
    start = float(points[:, 0].min())
    bass, treble = -float(points[:, 1].min()), float(points[:, 1].max())
    middle = 0.5 * (treble - bass)
    shift = f"; take {middle / MM:.1f} off every y" if min(bass, treble) < 0.8 * max(bass, treble) else ""
    if abs(start) > 2 * MM * scale:
        work.refuse(
            "x_mm",
            f"{start / MM:.1f} mm at the lowest point",
            f"x counts from the lower edge, so the lowest x is 0: take {start / MM:.1f} off every x{shift}",
            int(table.lines[points[:, 0].argmin()]),
            table.file,
        )
    elif min(bass, treble) < 0.8 * max(bass, treble):
        work.refuse(
            "y_mm",
            f"{bass / MM:.1f} mm to the bass side and {treble / MM:.1f} mm to the treble side",
            f"y counts from the axis; the two sides may differ by a fifth at most{shift}",
            None,
            table.file,
        )
    elif lines := crossing_lines(points, table.lines):
        work.refuse(
            "",
            f"a line that crosses itself, at rows on line {lines[0]} and line {lines[1]}",
            "put the points in order round the edge, and mend those rows",
            lines[0],
            table.file,
        )
    else:
        noise = work.fields.get("outline.uncertainty")
        return work.attempt("outline.points_file", Outline.from_points, points, noise=noise)
    return None


def _half_widths(work):
    f, kind = work.fields, work.fields.get("job.instrument")
    rows = work.table("outline.half_widths_file")
    corners = None
    given = [f.get("outline.lower_corner_x"), f.get("outline.upper_corner_x")]
    if None not in given:
        corners = tuple(given)
    elif given != [None, None]:
        work.refuse(
            "outline.lower_corner_x_mm",
            "one corner",
            "give both lower_corner_x_mm and upper_corner_x_mm, or none",
        )
    rows = rows[np.argsort(rows[:, 0])]
    return work.attempt(
        "outline.half_widths_file",
        Outline.from_half_widths,
        *rows.T,
        work.dims.body_length,
        kind,
        corners,
        corners,
    )
