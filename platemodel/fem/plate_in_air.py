"""Air that a vibrating plate carries along: added mass from incompressible flow round a thin sheet.

The plate is short against the wavelength of its low modes, so the air flows round its edges as if it were
incompressible. A sheet of doublets lies on the plate, of constant strength on each of many small panels; the
strengths, jumps of the velocity potential, follow from the velocity that the plate gives to the air (e.g.
Katz & Plotkin, Low-Speed Aerodynamics, 2001, chapter 10, from memory). The air's kinetic energy is a
quadratic form in the plate's motion: an added mass.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from scipy import sparse
from scipy.linalg import inv

from platemodel.fem.arrays import Floats, Sparse

AIR_DENSITY = 1.20  # kg/m3, 20 degrees C at sea level
# A sheet of panels reaches about a quarter of a panel beyond its last edge: the rule of vortex lattices
# (Rubbert 1964, from memory). Panels are laid in an outline that is so much smaller.
INSET = 0.25
_AROUND = ((0, 0), (1, 0), (1, 1), (0, 1))  # corners of a panel, counter-clockwise
_CYCLE = ((1, 2), (2, 0), (0, 1))


@dataclass(frozen=True, eq=False)
class AirPanels:
    """Square panels, in plan, on a surface that need not be flat.

    Attributes
    ----------
    middles : array (2, n)
        Middles of the panels in plan, m; on a square grid.
    pitch : float
        Side of a panel in plan, m.
    height : callable
        ``height(x, y)`` of the surface, m.
    """

    middles: np.ndarray
    pitch: float
    height: Callable[[np.ndarray, np.ndarray], np.ndarray]

    @cached_property
    def _corners(self) -> Floats:
        """Corners of the panels in turn: (4, n, 3)."""
        half = 0.5 * self.pitch
        out = []
        for a, b in _AROUND:
            x, y = self.middles[0] + (2 * a - 1) * half, self.middles[1] + (2 * b - 1) * half
            out.append(np.stack([x, y, self.height(x, y)], axis=1))
        return np.array(out)

    @cached_property
    def _surface(self) -> tuple[Floats, Floats, Floats]:
        """Middles (n, 3), unit normals (n, 3) and areas (n,)."""
        c = self._corners
        cross = 0.5 * np.cross(c[2] - c[0], c[3] - c[1])
        area = np.linalg.norm(cross, axis=1)
        return c.mean(axis=0), cross / area[:, None], area

    @cached_property
    def _carried(self) -> Floats:
        """Mass of air of density 1 that goes with the panels' motions, symmetric: (n, n), m3."""
        middle, normal, area = self._surface
        start, end, share = self._edges()
        strengths = inv((share.T @ _edge_flow(middle, normal, start, end).T).T)
        out = area[:, None] * strengths
        return 0.5 * (out + out.T)

    def _edges(self) -> tuple[Floats, Floats, Sparse]:
        """Edges of all panels, each once: start and end (m, 3), and which panels go along them: (m, n)."""
        corners = self._corners
        n = corners.shape[1]
        base = np.rint((self.middles - self.middles.min(axis=1, keepdims=True)) / self.pitch).astype(int)
        number = np.array([(base[0] + a) * (base[1].max() + 2) + base[1] + b for a, b in _AROUND])
        pairs = np.stack([number, np.roll(number, -1, axis=0)], axis=-1).reshape(-1, 2)
        forward = np.where(pairs[:, 0] < pairs[:, 1], 1.0, -1.0)
        _, first, edge = np.unique(np.sort(pairs, axis=1), axis=0, return_index=True, return_inverse=True)
        share = sparse.csr_matrix((forward * forward[first][edge], (edge, np.tile(np.arange(n), 4))))
        return corners.reshape(-1, 3)[first], np.roll(corners, -1, axis=0).reshape(-1, 3)[first], share

    def added_mass(self, motions: np.ndarray, density: float = AIR_DENSITY) -> np.ndarray:
        """Mass of air that goes with motions of the plate.

        Parameters
        ----------
        motions : array (n, k)
            Motion along the surface's normal at the panels' middles.
        density : float
            Of the air, kg/m3.

        Returns
        -------
        array (k, k)
            kg where the motions are plain numbers: twice the kinetic energy of the air is ``v' A v`` for
            velocities ``motions @ v``.
        """
        return motions.T @ self.forces(motions, density)

    def forces(self, motions: np.ndarray, density: float = AIR_DENSITY) -> np.ndarray:
        """Force of each panel on air that accelerates with such motions, kg times acceleration: (n, k)."""
        return density * (self._carried @ motions)


def _edge_flow(points: Floats, normals: Floats, start: Floats, end: Floats) -> Floats:
    """Velocity along normals at points (n, 3) by vortex lines of unit strength between ends (m, 3): (n, m).

    Biot and Savart's law for straight pieces. No point lies on the line of an edge.
    """
    line = end - start
    u = [points[:, c, None] - start[:, c] for c in range(3)]
    lu = np.sqrt(u[0] ** 2 + u[1] ** 2 + u[2] ** 2)
    # n . (u x v) with v = u - line, and u . v
    turn = [np.outer(normals[:, i], line[:, j]) - np.outer(normals[:, j], line[:, i]) for i, j in _CYCLE]
    along = turn[0] * u[0] + turn[1] * u[1] + turn[2] * u[2]
    inner = lu**2 - sum(u[c] * line[:, c] for c in range(3))
    lv = np.sqrt(lu**2 - 2.0 * (lu**2 - inner) + (line**2).sum(axis=1))
    return along * (lu + lv) / (lu * lv * (lu * lv + inner)) / (4.0 * np.pi)


def inset_grid(polygon: shapely.Polygon, pitch: float) -> np.ndarray:
    """Middles of square panels for a plate with an outline in plan.

    Parameters
    ----------
    polygon : shapely Polygon
        Outline with its holes, m.
    pitch : float
        m.

    Returns
    -------
    array (2, n)
    """
    inner = polygon.buffer(-INSET * pitch)
    x0, y0, x1, y1 = polygon.bounds
    lines = []
    for low, high in ((x0, x1), (y0, y1)):
        count = int(np.ceil((high - low) / pitch))
        lines.append(0.5 * (low + high) + pitch * (np.arange(count) - 0.5 * (count - 1)))
    grid = np.stack([g.ravel() for g in np.meshgrid(*lines, indexing="ij")])
    return grid[:, shapely.contains_xy(inner, *grid)]
