"""How far the shape of a job's top may be off, from what was measured of it and how."""

from platemodel.instrument.shape_errors import ShapeErrors
from platemodel.instrument.top import Top
from platemodel.job.build_context import MM, Work

# Standard deviations at a point, m, where the job does not say: judgements, common practice, no source. Drawn
# from a few figures a shape is off by what makers' shapes differ, on a violin; on larger instruments by more.
READ = {"thickness": 0.1 * MM, "arching": 0.3 * MM, "outline": 0.3 * MM}
PARTLY = {"arching": 0.7 * MM, "outline": 0.5 * MM}  # a long arch alone; half widths
DRAWN = {"thickness": 0.2 * MM, "arching": 1.0 * MM, "outline": 1.0 * MM}
_READ = {
    "thickness": ("thickness.points_file",),
    "arching": ("arching.points_file", "arching.cross_arches_file"),
    "outline": ("outline.points_file",),
}
_PARTLY = {"arching": ("arching.long_arch_file",), "outline": ("outline.half_widths_file",)}


def shape_errors(work: Work, top: Top) -> ShapeErrors:
    """Doubt of thickness, arching and outline: as stated, else by how they were measured."""
    return ShapeErrors(**{part: _doubt(work, top, part) for part in READ})


def _doubt(work, top, part):
    stated = work.fields.get(f"{part}.uncertainty")
    if stated is not None:
        return stated
    given = work.fields.values.keys()
    if given & set(_READ[part]):
        misfit = getattr(getattr(top, part), "misfit", None)
        return max(READ[part], 0.0 if misfit is None else misfit.scatter or 0.0)
    scale = max(1.0, work.dims.scale)
    return scale * (PARTLY if given & set(_PARTLY.get(part, ())) else DRAWN)[part]
