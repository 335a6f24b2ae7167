"""The body under a top: ribs with linings and blocks, back, neck; and how high the strings run."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from platemodel.errors import GeometryError
from platemodel.instrument import arching, thickness
from platemodel.instrument.body_dimensions import BodyDimensions, body_dimensions
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.field import SmoothField
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bridge
from platemodel.instrument.top import Top
from platemodel.wood.orthotropic import Orthotropic
from platemodel.wood.species import from_species

MORE = ("nut_height", "back_mass")  # figures without a usual one


@dataclass(frozen=True)
class Ribs:
    """The garland.

    Attributes
    ----------
    lower, upper : float
        Height between the plates' inner faces at the lower and the upper end of the body, m; between them it
        falls evenly.
    thickness : float
        m.
    lining_width, lining_height : float
        m; a width of 0 is no lining.
    overhang : float
        Of the plates' edges over the ribs, m.
    wood, lining_wood : Orthotropic
        Grain along the ribs, rings upright in the ribs' plane (slab cut ribs are a little softer).
    """

    lower: float
    upper: float
    thickness: float
    lining_width: float
    lining_height: float
    overhang: float
    wood: Orthotropic
    lining_wood: Orthotropic

    def __post_init__(self):
        for name in ("lower", "upper", "thickness", "overhang"):
            if not getattr(self, name) > 0:
                msg = f"ribs: {name} {1e3 * getattr(self, name):.4g} mm must be positive"
                raise GeometryError(msg)
        if self.lining_width < 0 or not 0 < 2 * self.lining_height < min(self.lower, self.upper):
            msg = (
                f"ribs: linings {1e3 * self.lining_width:.4g} by {1e3 * self.lining_height:.4g} mm do not "
                f"fit twice into ribs of {1e3 * min(self.lower, self.upper):.4g} mm"
            )
            raise GeometryError(msg)

    def height(self, x, body_length: float):
        """Height at places along the body, m."""
        return self.lower + (self.upper - self.lower) * np.asarray(x, dtype=float) / body_length


@dataclass(frozen=True)
class Blocks:
    """Blocks at both ends and in the corners.

    Attributes
    ----------
    upper, lower : tuple of float
        Size along and across, m.
    corner : float
        Reach of a corner block from the corner's tip, m; 0 is none.
    wood : Orthotropic
        Grain upright.
    """

    upper: tuple[float, float]
    lower: tuple[float, float]
    corner: float
    wood: Orthotropic


@dataclass(frozen=True, eq=False)
class Back:
    """The back, of the top's outline, arched outwards.

    Attributes
    ----------
    arching : SmoothField
        Height of its outer surface over its own gluing plane, m.
    thickness : SmoothField
        m.
    wood : Orthotropic
        Grain along the body, quarter sawn.
    """

    arching: SmoothField
    thickness: SmoothField
    wood: Orthotropic


@dataclass(frozen=True)
class Neck:
    """Neck, fingerboard and head.

    Attributes
    ----------
    nut_from_edge : float
        From the body's upper edge, m.
    width, depth : float
        Of the neck's half-round section without the fingerboard, m.
    board_length, board_width, board_depth : float
        Fingerboard, from the nut towards the bridge, m.
    head_mass, head_length : float
        Pegbox, scroll and pegs, beyond the nut; kg, m.
    """

    nut_from_edge: float
    width: float
    depth: float
    wood: Orthotropic
    board_length: float
    board_width: float
    board_depth: float
    board_wood: Orthotropic
    head_mass: float
    head_length: float


@dataclass(frozen=True)
class Levers:
    """How high the strings run: their pull bows the body by these levers.

    Attributes
    ----------
    bridge : float
        Strings over the outer face of the top at the bridge, m.
    saddle : float
        Strings over the gluing plane at the saddle, m.
    nut : float or None
        Over the gluing plane at the nut, m; None: as the fall of the strings to the fingerboard says.
    """

    bridge: float
    saddle: float
    nut: float | None = None


@dataclass(frozen=True, eq=False)
class Body:
    """The closed body without its top.

    Attributes
    ----------
    outline : Outline
        Of top and back.
    usual : tuple of str
        Names of the figures that follow the usual instrument.
    """

    outline: Outline
    ribs: Ribs
    blocks: Blocks
    back: Back
    neck: Neck
    levers: Levers
    usual: tuple[str, ...] = ()

    @cached_property
    def inside(self) -> shapely.Polygon:
        """Plan of the air: the outline less overhang and rib."""
        return self.outline.polygon.buffer(-(self.ribs.overhang + self.ribs.thickness))

    def rim_line(self, count: int) -> np.ndarray:
        """Points on the middle line of the ribs, counter-clockwise, m: (2, count)."""
        depth = self.ribs.overhang + 0.5 * self.ribs.thickness
        ring = self.outline.polygon.buffer(-depth, join_style="mitre", mitre_limit=2.5).exterior
        at = np.linspace(0.0, ring.length, count, endpoint=False)
        points = shapely.get_coordinates(shapely.line_interpolate_point(ring, at))
        return (points if ring.is_ccw else points[::-1]).T.copy()

    @cached_property
    def footprints(self) -> dict[str, shapely.Polygon]:
        """Plan of each block: ``lower``, ``upper`` and ``corner 1`` and so on."""
        x0, _, x1, _ = self.outline.polygon.bounds
        depth = self.ribs.overhang + self.ribs.thickness
        (up, wide_up), (low, wide_low) = self.blocks.upper, self.blocks.lower
        out = {
            "lower": shapely.box(x0, -0.5 * wide_low, x0 + depth + low, 0.5 * wide_low),
            "upper": shapely.box(x1 - depth - up, -0.5 * wide_up, x1, 0.5 * wide_up),
        }
        if self.blocks.corner > 0:
            tips = self.outline.points[np.asarray(self.outline.corners, dtype=int)]
            reach = shapely.union_all(
                shapely.buffer(shapely.points(tips), self.blocks.corner)
            )  # a tip may be two points
            for k, part in enumerate(getattr(reach, "geoms", [reach])):
                out[f"corner {k + 1}"] = part
        return {name: shape.intersection(self.inside) for name, shape in out.items()}

    def back_as_top(self, kind: str) -> Top:
        """Return the back as a plate on its own, seen from outside.

        Its mass, volume and midsurface are then there as a top's are.
        """
        bridge = preset_bridge(dimensions(kind, self.outline.body_length))
        return Top(
            "back", kind, self.outline, self.back.arching, self.back.thickness, (), self.back.wood, bridge
        )


def check_figures(kind: str, body_length: float, given: dict[str, float]) -> None:
    """Check measured figures of a body with the usual ones for the rest, without building it.

    Raises
    ------
    GeometryError
        They do not go together.
    """
    dims = body_dimensions(kind, body_length)
    dims = replace(dims, **{k: v for k, v in given.items() if k not in MORE})
    _ribs(dims)
    if not dims.back_arch > dims.back_edge:
        msg = (
            f"the back's arch of {1e3 * dims.back_arch:.4g} mm is not above its edge of "
            f"{1e3 * dims.back_edge:.4g} mm; both count from the gluing plane"
        )
        raise GeometryError(msg)


def _ribs(dims):
    return Ribs(
        dims.rib_lower, dims.rib_upper, dims.rib_thickness, dims.lining_width, dims.lining_height,
        dims.overhang, from_species("maple"), from_species("willow"),
    )  # fmt: skip


def usual_body(top: Top, dims: BodyDimensions | None = None, **given) -> Body:
    """Body with usual dimensions for a top of any size.

    Parameters
    ----------
    dims : BodyDimensions, optional
        Default the usual ones of the top's kind and body length.
    **given
        Any of the body's dimensions, m and kg, in place of the usual one; besides ``nut_height`` and
        ``back_mass``, which have no usual figure.
    """
    length = top.outline.body_length
    more = {name: given.pop(name, None) for name in MORE}
    dims = replace(dims or body_dimensions(top.kind, length), **given)
    maple, spruce = (from_species(name) for name in ("maple", "tonewood spruce"))
    outline = top.outline
    back = Back(
        arching.preset(outline, dims.back_arch, dims.back_edge),
        thickness.preset(outline, dims.back_centre, dims.back_bouts, dims.back_edge),
        maple,
    )
    body = Body(
        outline,
        _ribs(dims),
        Blocks((dims.upper_block_along, dims.upper_block_across),
               (dims.lower_block_along, dims.lower_block_across), dims.corner_block, spruce),
        back,
        Neck(dims.nut_from_edge, dims.neck_width, dims.neck_depth, maple, dims.fingerboard_length,
             dims.fingerboard_width, dims.fingerboard_depth, from_species("ebony"), dims.head_mass,
             dims.head_length),
        Levers(dims.bridge_height, dims.saddle_height, more["nut_height"]),
        tuple(name for name in dims.status() if name not in given),
    )  # fmt: skip
    if more["back_mass"] is None:
        return body
    density = more["back_mass"] / body.back_as_top(top.kind).volume()
    return replace(body, back=replace(back, wood=from_species("maple", density=density)))
