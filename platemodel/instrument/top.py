"""A top on the bench: everything the mechanics needs to know of it."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import Polygon

from platemodel.errors import GeometryError
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.field import SmoothField, grid_lines
from platemodel.instrument.outline import Outline
from platemodel.instrument.sound_hole import SoundHole
from platemodel.wood.orthotropic import Orthotropic

MIDSURFACE_PITCH = 0.0057  # of the body length, 2 mm for a violin


@dataclass(frozen=True, eq=False)
class Top:
    """The top without its bar.

    Attributes
    ----------
    kind : str
        ``violin``, ``viola`` or ``cello``.
    arching : SmoothField
        Height of the outer surface over the gluing plane, m.
    thickness : SmoothField
        Square to the surface, m.
    grain_angle : float
        Angle of the grain to the axis in plan, rad, positive towards the treble side.
    ring_angle : float
        Angle of the annual rings from upright, about the grain, rad; 0 is quarter sawn.
    run_out : float
        Angle by which the grain dives out of the plan, rad; positive rises towards the upper end.

    Raises
    ------
    GeometryError
        If a sound hole leaves the plate or meets another one.
    """

    name: str
    kind: str
    outline: Outline
    arching: SmoothField
    thickness: SmoothField
    sound_holes: tuple[SoundHole, ...]
    wood: Orthotropic
    bridge: Bridge
    grain_angle: float = 0.0
    ring_angle: float = 0.0
    run_out: float = 0.0

    def __post_init__(self):
        object.__setattr__(self, "sound_holes", tuple(self.sound_holes))
        edge = self.outline.polygon
        for i, hole in enumerate(self.sound_holes):
            if not edge.contains(hole.polygon):
                x, y = hole.polygon.difference(edge).representative_point().coords[0]
                msg = f"{hole.side} sound hole leaves the plate near ({1000 * x:.1f}, {1000 * y:.1f}) mm"
                raise GeometryError(msg)
            for other in self.sound_holes[:i]:
                if hole.polygon.intersects(other.polygon):
                    x, y = hole.polygon.intersection(other.polygon).representative_point().coords[0]
                    msg = (
                        f"{hole.side} and {other.side} sound holes meet near ({1000 * x:.1f}, "
                        f"{1000 * y:.1f}) mm"
                    )
                    raise GeometryError(msg)

    @cached_property
    def plan(self) -> Polygon:
        """Plate in plan, sound holes cut out."""
        return Polygon(self.outline.points, [h.points for h in self.sound_holes])

    @cached_property
    def _midsurface(self) -> SmoothField:
        x, y = grid_lines(self.arching.box, MIDSURFACE_PITCH * self.outline.body_length)
        X, Y = np.meshgrid(x, y, indexing="ij")
        x0, y0, x1, y1 = self.arching.box
        U, V = X, Y  # foot on the outer surface whose normal passes through the midsurface above (X, Y)
        for _ in range(4):
            z, z_x, z_y = self.arching.gradient(U, V)
            step = self.thickness.value(U, V) / (2 * np.sqrt(1 + z_x**2 + z_y**2))
            height = z - step
            U, V = np.clip(X - step * z_x, x0, x1), np.clip(Y - step * z_y, y0, y1)
        return SmoothField(x, y, height, "midsurface")

    def midsurface(self) -> SmoothField:
        """Height of the midsurface over the gluing plane, m: outer surface less h/2 along its normal.

        To first order this is z - h/2 sqrt(1 + |grad z|^2); near the edge, where slope and thickness change
        together, that would be some 0.03 mm off, so the foot of each normal is found by iteration.
        """
        return self._midsurface

    def volume(self) -> float:
        """Volume without bar, m3: thickness times the area of the midsurface, sound holes left out."""
        step = 0.003 * self.outline.body_length
        x0, y0, x1, y1 = self.outline.box()
        x = np.arange(x0 + step / 2, x1, step)
        y = np.arange(y0 + step / 2, y1, step)
        X, Y = (a.ravel() for a in np.meshgrid(x, y, indexing="ij"))
        shapely.prepare(self.plan)
        inside = shapely.contains_xy(self.plan, X, Y)
        X, Y = X[inside], Y[inside]
        _, m_x, m_y = self.midsurface().gradient(X, Y)
        mean = np.mean(self.thickness.value(X, Y) * np.sqrt(1 + m_x**2 + m_y**2))
        return float(mean * self.plan.area)

    def mass_estimate(self) -> float:
        """Mass without bar, kg."""
        return self.wood.density * self.volume()

    def grain_axes(self) -> np.ndarray:
        """(3, 3) rows: unit vectors along L, R and T in space (x, y, z).

        At zero angles L is x, R is y and T is z. The rings turn about L by ``ring_angle`` first, then L rises
        by ``run_out``, then everything turns in plan by ``grain_angle``.
        """
        c, s = np.cos(self.ring_angle), np.sin(self.ring_angle)
        axes = np.array([[1, 0, 0], [0, c, s], [0, -s, c]], float)
        c, s = np.cos(self.run_out), np.sin(self.run_out)
        axes = axes @ np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
        c, s = np.cos(self.grain_angle), np.sin(self.grain_angle)
        return axes @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
