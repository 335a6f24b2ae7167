"""A rim of upright panels between two plates, without unknowns of its own."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats, Ints
from platemodel.fem.face import Face
from platemodel.fem.squares import Piece, Squares, scaled

Pair = Callable[[str, str, Floats, ArrayLike, ArrayLike], list[Piece]]


@dataclass(frozen=True, eq=False)
class Garland:
    """Flat panels between points on the inner faces of two plates, one over the other, round a closed line.

    Attributes
    ----------
    lower, upper : Face
        At the same n plan points, counter-clockwise seen from above.
    """

    lower: Face
    upper: Face

    @cached_property
    def _next(self) -> tuple[Ints, Ints]:
        n = len(self.lower.r)
        return np.arange(n), (np.arange(n) + 1) % n

    @cached_property
    def chords(self) -> list[tuple[Floats, Floats]]:
        """Chord and its length on lower and upper face: two of (array (n, 3), array (n,))."""
        i, j = self._next
        out = []
        for face in (self.lower, self.upper):
            chord = face.r[j] - face.r[i]
            out.append((chord, np.linalg.norm(chord, axis=1)))
        return out

    @cached_property
    def height(self) -> Floats:
        """Of each panel, m: (n,)."""
        return np.linalg.norm(self._upright, axis=1)

    @cached_property
    def _upright(self) -> Floats:
        i, j = self._next
        return 0.5 * ((self.upper.r - self.lower.r)[i] + (self.upper.r - self.lower.r)[j])

    @cached_property
    def length(self) -> Floats:
        """Of each panel, m: (n,)."""
        return 0.5 * (self.chords[0][1] + self.chords[1][1])

    @cached_property
    def up(self) -> Floats:
        """Unit vectors along the height: (n, 3)."""
        return self._upright / self.height[:, None]

    @cached_property
    def _tangent(self) -> tuple[Floats, Floats]:
        """Tangent square to the height, and how much shorter the mean chord is along it."""
        mean = 0.5 * sum(chord / length[:, None] for chord, length in self.chords)
        mean = mean - (mean * self.up).sum(1)[:, None] * self.up
        cosine = np.linalg.norm(mean, axis=1)
        return mean / cosine[:, None], cosine

    @cached_property
    def outward(self) -> Floats:
        """Unit vectors square to the panels: (n, 3)."""
        return np.cross(self._tangent[0], self.up)

    @cached_property
    def curvature(self) -> Floats:
        """Of the line in plan at each panel, 1/m, positive where it bulges outwards: (n,)."""
        tangent = self._tangent[0]
        angle = np.arctan2(tangent[:, 1], tangent[:, 0])
        turn = (angle - np.roll(angle, 1) + np.pi) % (2.0 * np.pi) - np.pi
        return 0.5 * (turn + np.roll(turn, -1)) / self.length

    def _pieces(self, first: Mapping[str, int]) -> Pair:
        """Rows of a panel: ``pair(plate, "moved" or "turned", vector, at_start, at_stop)``."""
        i, j = self._next
        faces = {"lower": self.lower, "upper": self.upper}

        def pair(plate: str, what: str, vector: Floats, start: ArrayLike, stop: ArrayLike) -> list[Piece]:
            face, offset = faces[plate], first[plate]
            out = []
            for index, factor in ((i, start), (j, stop)):
                rows = np.einsum("nc,ncj->nj", vector, getattr(face, what)[index])
                out.append((face.dofs[index] + offset, np.broadcast_to(factor, (len(i),))[:, None] * rows))
            return out

        return pair

    def stiffness(
        self,
        n_dofs: int,
        first: Mapping[str, int],
        section: Floats,
        stretch: float | Floats,
        shear: float | Floats,
        twist: ArrayLike = 0.0,
    ) -> Squares:
        """Energy of the panels.

        Parameters
        ----------
        n_dofs : int
        first : dict
            Number of the first unknown of "lower" and "upper" plate.
        section : array (n, 4, 4)
            Per length, from `RimSection.stiffness`; see `panel_sections`.
        stretch, shear : float or array (n,)
            Per length, from `RimSection.upright`.
        twist : array (n, 2) or what broadcasts to it
            Of lower and upper joint, from `RimSection.twist`.

        Returns
        -------
        Squares

        Notes
        -----
        A panel between nodes i and j: stretch of each glued face e = c . (U_j - U_i)/l along its own chord c;
        rotation a = t . W - nu . (U_upper - U_lower)/H; stretch upright k . (U_upper - U_lower)/H; shear
        t . (U_upper - U_lower)/H + the mean of k . dU/ds; twist of a joint t . (W_j - W_i)/l. Each vanishes
        in rigid motion.
        """
        pair, (tangent, cosine) = self._pieces(first), self._tangent
        names = ("lower", "upper")
        stretched, slope, turned = {}, {}, {}
        for name, (chord, length) in zip(names, self.chords, strict=True):
            unit = chord / length[:, None]
            stretched[name] = pair(name, "moved", unit, -1.0 / length, 1.0 / length)
            slope[name] = pair(name, "moved", self.up, -1.0 / (length * cosine), 1.0 / (length * cosine))
            turned[name] = pair(name, "turned", tangent, 0.5, 0.5)

        def across(vector: Floats) -> list[Piece]:
            """Difference of the two faces along a vector, over the height."""
            upper, lower = (pair(name, "moved", vector, 0.5, 0.5) for name in ("upper", "lower"))
            return scaled(upper, 1.0 / self.height) + scaled(lower, -1.0 / self.height)

        tilt = across(self.outward)
        q = [stretched["lower"], stretched["upper"]]
        q += [turned[name] + scaled(tilt, -1.0) for name in names]
        root = np.swapaxes(np.linalg.cholesky(section), 1, 2)
        out = Squares(n_dofs)
        for row in range(4):
            out.add([piece for k in range(4) for piece in scaled(q[k], root[:, row, k])], self.length)
        out.add(across(self.up), self.length * stretch)
        sheared = across(tangent) + scaled(slope["lower"], 0.5) + scaled(slope["upper"], 0.5)
        out.add(sheared, self.length * shear)
        twist = np.broadcast_to(np.asarray(twist, dtype=float), (len(self.length), 2))
        for name, weight in zip(names, twist.T, strict=True):
            if weight.any():
                rate = pair(name, "turned", tangent, -1.0 / self.length, 1.0 / self.length)
                out.add(rate, self.length * weight)
        return out

    def mass(self, n_dofs: int, first: Mapping[str, int], line_mass: float | Floats) -> Squares:
        """Inertia of the panels, moving linearly through the height; ``line_mass`` in kg/m: Squares."""
        pair, (tangent, _) = self._pieces(first), self._tangent
        out, weight = Squares(n_dofs), self.length * line_mass
        for vector in (tangent, self.outward, self.up):
            upper, lower = (pair(name, "moved", vector, 0.5, 0.5) for name in ("upper", "lower"))
            out.add(upper + scaled(lower, 0.5), weight / 3.0)
            out.add(lower, weight / 4.0)
        return out


def panel_sections(curvature: Floats, grid: Floats, tables: Sequence[Floats], shares: ArrayLike) -> Floats:
    """Stiffness of each panel from a few solved sections.

    Parameters
    ----------
    curvature : array (n,)
        1/m; where the line is hollow, outwards and inwards change parts.
    grid : array (m,)
        Curvatures of the tables, ascending, not negative.
    tables : sequence of array (m, 4, 4)
        From `RimSection.stiffness`, one a direction of the plates' grain.
    shares : array (n, number of tables)
        Of each table in each panel; compliances are averaged.

    Returns
    -------
    array (n, 4, 4)
    """
    at = np.clip(np.abs(curvature), grid[0], grid[-1])
    weights = np.stack([np.interp(at, grid, unit) for unit in np.eye(len(grid))], axis=1)
    give = sum(
        share[:, None, None] * np.einsum("nm,mij->nij", weights, np.linalg.inv(table))
        for share, table in zip(np.asarray(shares).T, tables, strict=True)
    )
    sign = np.where(curvature < 0, -1.0, 1.0)
    flip = np.stack([sign, sign, np.ones_like(sign), np.ones_like(sign)], axis=1)
    stiff = np.linalg.inv(give)
    return 0.5 * (stiff + np.swapaxes(stiff, 1, 2)) * flip[:, :, None] * flip[:, None, :]
