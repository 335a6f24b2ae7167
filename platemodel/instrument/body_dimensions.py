"""Usual dimensions of the closed body, each with its status."""

from dataclasses import dataclass, fields, replace

from platemodel.instrument.dimensions import dimensions, usual_status, usual_values

# mm and grams
_USUAL = (
    ("rib_lower", 32, 38, 118, "recalled", "memory"),
    ("rib_upper", 30, 36, 114, "recalled", "memory"),
    ("rib_thickness", 1.0, 1.1, 1.5, "recalled", "memory"),
    ("lining_width", 2.0, 2.0, 3.0, "practice", "practice"),
    ("lining_height", 7.5, 8.0, 15, "practice", "practice"),
    ("overhang", 2.5, 3.0, 4.5, "practice", "practice"),
    ("upper_block_along", 17, 19, 35, "practice", "practice"),
    ("upper_block_across", 50, 52, 90, "practice", "practice"),
    ("lower_block_along", 15, 17, 30, "practice", "practice"),
    ("lower_block_across", 46, 48, 90, "practice", "practice"),
    ("corner_block", 18, 20, 35, "practice", "practice"),
    ("back_arch", 15.0, 16.5, 27, "recalled", "memory"),
    ("back_centre", 4.4, 4.6, 6.8, "recalled", "memory"),
    ("back_bouts", 2.6, 2.8, 4.0, "recalled", "memory"),
    ("back_edge", 4.0, 4.0, 4.8, "practice", "practice"),
    ("bridge_height", 33, 38, 90, "recalled", "memory"),
    ("nut_from_edge", 130, 148, 280, "recalled", "memory"),
    ("saddle_height", 3.0, 3.5, 7, "practice", "practice"),
    ("neck_width", 26, 28, 32, "practice", "practice"),
    ("neck_depth", 20, 21, 29, "practice", "practice"),
    ("fingerboard_length", 270, 300, 580, "recalled", "memory"),
    ("fingerboard_width", 32, 35, 46, "practice", "practice"),
    ("fingerboard_depth", 7.0, 7.5, 11, "practice", "practice"),
    ("head_mass", 70, 90, 400, "memory", "memory"),
    ("head_length", 105, 120, 230, "practice", "practice"),
)
_GRAMS = ("head_mass",)


@dataclass(frozen=True)
class BodyDimensions:
    """Usual dimensions of ribs, blocks, back and neck of one instrument; metres and kilograms.

    ``rib_lower`` and ``rib_upper`` are the ribs' heights at the lower and the upper end, ``*_along`` and
    ``*_across`` sizes of the blocks in plan, ``corner_block`` the reach of a corner block from its corner,
    ``bridge_height`` that of the strings' line over the top at the bridge, ``nut_from_edge`` the distance
    of the nut from the body's upper edge, ``saddle_height`` that of the strings over the top's edge at the
    saddle.
    """

    kind: str
    rib_lower: float
    rib_upper: float
    rib_thickness: float
    lining_width: float
    lining_height: float
    overhang: float
    upper_block_along: float
    upper_block_across: float
    lower_block_along: float
    lower_block_across: float
    corner_block: float
    back_arch: float
    back_centre: float
    back_bouts: float
    back_edge: float
    bridge_height: float
    nut_from_edge: float
    saddle_height: float
    neck_width: float
    neck_depth: float
    fingerboard_length: float
    fingerboard_width: float
    fingerboard_depth: float
    head_mass: float
    head_length: float

    def status(self) -> dict[str, str]:
        """Where each figure comes from."""
        return usual_status(_USUAL, self.kind)


def body_dimensions(kind: str, body_length: float | None = None) -> BodyDimensions:
    """Usual dimensions of a kind's body, scaled to a body length (m); masses go with its cube.

    Raises
    ------
    ValueError
        Unknown kind, or a body length that is not plausible for it.
    """
    scale = dimensions(kind, body_length).body_length / dimensions(kind).body_length
    dims = BodyDimensions(kind, **usual_values(_USUAL, kind))
    powers = {f.name: 3 if f.name in _GRAMS else 1 for f in fields(dims) if f.name != "kind"}
    return replace(dims, **{name: getattr(dims, name) * scale**p for name, p in powers.items()})
