"""Tops and bars with usual dimensions, for tries and comparisons; no real instrument."""

from platemodel.instrument import arching, thickness
from platemodel.instrument.bar import Bar
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.dimensions import Dimensions, dimensions
from platemodel.instrument.layout import bar_ends, bar_on_line, bridge_foot_rule, one_seventh
from platemodel.instrument.outline import Outline
from platemodel.instrument.sound_hole import SoundHole
from platemodel.instrument.top import Top
from platemodel.wood.orthotropic import Orthotropic
from platemodel.wood.species import USUAL_SPECIES, from_species

__all__ = ["Dimensions", "dimensions", "preset_bar", "preset_bridge", "preset_top", "preset_wood"]


def preset_wood(density: float = 400.0) -> Orthotropic:
    """Tonewood spruce (plates of Badiane et al., JASA 2023), stiffness in proportion to density."""
    return from_species(USUAL_SPECIES, density=density)


def preset_bridge(dims: Dimensions) -> Bridge:
    """Bridge at the usual stop."""
    return Bridge(dims.x_bridge, dims.foot_span, dims.foot_across, dims.foot_along)


def preset_top(kind: str, body_length: float | None = None, wood: Orthotropic | None = None) -> Top:
    """Build a top with usual dimensions, scaled to a body length (m).

    Parameters
    ----------
    kind : str
        ``violin``, ``viola`` or ``cello``.
    body_length : float, optional
        m.
    """
    d = dimensions(kind, body_length)
    outline = Outline.preset(kind, d.body_length)
    return Top(
        name=f"usual {kind}, {1000 * d.body_length:.0f} mm",
        kind=kind,
        outline=outline,
        arching=arching.preset(outline, d.arch, d.edge),
        thickness=thickness.preset(outline, d.centre, d.bouts, d.edge),
        sound_holes=(SoundHole.preset(d, "bass"), SoundHole.preset(d, "treble")),
        wood=wood or preset_wood(),
        bridge=preset_bridge(d),
    )


def preset_bar(top: Top, wood: Orthotropic | None = None) -> Bar:
    """Usual bar for a top: one-seventh line moved to the bridge foot, usual section, profile power 1.5.

    Without ``wood`` it is of the top's wood.
    """
    d = dimensions(top.kind, top.outline.body_length)
    line = bridge_foot_rule(one_seventh(top.outline), top.bridge, d.bar_width, 1e-3 * d.scale)
    return bar_on_line(
        line,
        bar_ends(top.outline, d.bar_length, slope=line.slope),
        d.bar_width,
        top.bridge,
        d.bar_height,
        (d.bar_end, d.bar_end),
        wood or top.wood,
        "medium",
        pitch=5e-3 * d.scale,
    )
