"""From checked fields to the measured figures of the rest of the body."""

from platemodel.errors import GeometryError
from platemodel.instrument.body import check_figures
from platemodel.job.body_fields import BODY_SECTIONS, STRING_LEVERS
from platemodel.job.build_context import MM, Work

_OTHER = {
    "back.mass_g": "back_mass",
    "neck.head_mass_g": "head_mass",
    "strings.nut_height_mm": "nut_height",
}


def build_body(work: Work) -> dict[str, float]:
    """Figures of the body that were measured, by the names of `usual_body`, m and kg.

    What cannot be is refused here, so that the verb body need not.
    """
    if work.dims is None:
        return {}
    names = dict(_OTHER)
    for section in BODY_SECTIONS:
        names |= {f"{section.name}.{f.key}": f.usual.removeprefix("body.") for f in section.fields if f.usual}
    names |= {f"strings.{f.key}": f.usual.removeprefix("body.") for f in STRING_LEVERS if f.usual}
    given = {}
    for name, figure in names.items():
        value = work.fields.get(name.rsplit("_", 1)[0])
        if value is not None:
            given[figure] = value
    if not given:
        return {}
    try:
        check_figures(work.dims.kind, work.dims.body_length, given)
    except GeometryError as error:
        field = next(name for name, figure in names.items() if figure in given)
        work.refuse(field, f"{given[names[field]] / MM:g}", str(error))
        return {}
    return given
