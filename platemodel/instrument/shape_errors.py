"""How far the shape of a top is off what was measured."""

from dataclasses import dataclass


@dataclass(frozen=True)
class ShapeErrors:
    """How far a carefully measured plate is off what was measured, as smooth random fields.

    Attributes
    ----------
    thickness, arching, outline : float
        Standard deviation at a point, m; of the outline square to the edge.
    thickness_reach, arching_reach, outline_reach : float
        Of the body length: errors at places twice as far apart as this are related by exp(-1). Thickness is
        read every 20 mm, arches are taken every 60 to 80 mm on a violin, an outline is traced in a few
        strokes.
    """

    thickness: float = 0.1e-3
    arching: float = 0.5e-3
    outline: float = 0.3e-3
    thickness_reach: float = 0.06
    arching_reach: float = 0.12
    outline_reach: float = 0.12
