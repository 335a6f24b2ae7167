"""An offcut of the top's wood, bent across the grain on a short and a long span: what it says of the wood."""

from platemodel.errors import PlatemodelError
from platemodel.instrument.strings import KGF
from platemodel.job.bar import DENSITIES
from platemodel.job.build_context import MM, Work
from platemodel.job.offcut_fields import OFFCUT
from platemodel.wood.closed_form import modulus_from_bend
from platemodel.wood.orthotropic import Orthotropic
from platemodel.wood.piece_fit import PieceFit
from platemodel.wood.species import species_of
from platemodel.wood.strip import Strip, StripBend, strip_fit

NAME = OFFCUT.name
SPANS = ("short", "long")
LEAST_SPAN = 4.0  # thicknesses: nearer together the supports crush the wood more than it bends; a judgement
STIFFNESS = 0.05e9, 3e9  # Pa, of a strip bent across the grain, rolling shear in it; wide, to catch a slip
SIZES = ("length", "width", "thickness", "mass")


def build_offcut(work: Work, wood: Orthotropic) -> PieceFit | None:
    """Wood of the offcut, from its weight and bends; None where nothing is said of it, or with a problem.

    Parameters
    ----------
    work : Work
    wood : Orthotropic
        Of the top; its name chooses the species.
    """
    if not any(name.startswith(f"{NAME}.") for name in work.fields.values) or work.failed(NAME):
        return None
    strip = _strip(work)
    bends = [] if strip is None else [b for which in SPANS if (b := _bend(work, strip, which))]
    if strip is None or work.failed(NAME):
        return None
    if not bends:
        words = "give short_span_mm, short_load_g and short_sag_mm, or the same of the long span, or both"
        return _refuse(work, "short_span_mm", "no bend", words)
    if len(bends) == 2 and bends[0].span >= bends[1].span:
        short, long = (1e3 * b.span for b in bends)
        return _refuse(work, "short_span_mm", f"{short:g}", f"less than long_span_mm, {long:g}")
    try:
        return strip_fit(species_of(wood), bends)
    except PlatemodelError as error:
        return _refuse(work, "short_sag_mm", "readings that no wood gives", str(error))


def _strip(work):
    """Make the piece; None with a problem."""
    given = {name: work.fields.get(f"{NAME}.{name}") for name in SIZES}
    for name in (name for name, value in given.items() if value is None):
        unit = "g" if name == "mass" else "mm"
        _refuse(
            work, f"{name}_{unit}", "nothing", "length, width, thickness and weight of the offcut are needed"
        )
    if None in given.values():
        return None
    strip = Strip(*given.values(), along="R", thickness_along="T")
    low, high = DENSITIES
    if not low <= round(strip.density) <= high:
        words = (
            f"with its sizes that is {strip.density:.0f} kg/m3; {low:.0f} to {high:.0f} is wood: check both"
        )
        return _refuse(work, "mass_g", f"{1e3 * strip.mass:g}", words)
    return strip


def _bend(work, strip, which):
    """Make the bend on one of the spans; None where there was none, or with a problem."""
    units = {"span": "mm", "load": "g", "sag": "mm"}
    given = {name: work.fields.get(f"{NAME}.{which}_{name}") for name in units}
    missing = [f"{which}_{name}_{units[name]}" for name, value in given.items() if value is None]
    if missing:
        if len(missing) < len(given):
            there = ", ".join(f"{which}_{n}_{units[n]}" for n, value in given.items() if value is not None)
            _refuse(work, missing[0], "nothing", f"it goes with {there}")
        return None
    span, load, sag = given.values()
    least, most = LEAST_SPAN * strip.thickness / MM, strip.length / MM
    if not round(least, 1) <= span / MM <= most:
        words = f"{least:.1f} (four thicknesses) to {most:g} (its length)"
        return _refuse(work, f"{which}_span_mm", f"{span / MM:g}", words)
    force = load * KGF
    stiff = modulus_from_bend(force, sag, span, strip.width, strip.thickness)
    low, high = STIFFNESS
    if not low <= stiff <= high:
        words = (
            f"under {1e3 * load:g} g on {span / MM:g} mm it makes the wood {1e-9 * stiff:.2g} GPa stiff "
            f"across; {1e-9 * low:g} to {1e-9 * high:g} is spruce: check sizes, weight and gauge"
        )
        return _refuse(work, f"{which}_sag_mm", f"{sag / MM:g}", words)
    doubt = work.fields.get(f"{NAME}.sag_sd")
    return StripBend(strip, force, sag, span, **({} if doubt is None else {"sd_deflection": doubt}))


def _refuse(work, key, found, allowed):
    work.refuse(f"{NAME}.{key}", found, allowed)
    work.fields.failed.add(f"{NAME}.{key}")
