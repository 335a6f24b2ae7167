"""The bar alone as a tapered beam: how it yields, and its moments, under forces at stations."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from platemodel.errors import GeometryError
from platemodel.instrument.bar import Bar

SHEAR_FACTOR = 5.0 / 6.0  # rectangle
PIECES = 400  # of the bar's length for the integrals; h^-3 of a tapered end within 1e-5


@dataclass(frozen=True, eq=False)
class BarBeam:
    """A bar as a straight Timoshenko beam (of Euler-Bernoulli when ``shear`` is off).

    Forces act at stations, square to the glued face, positive towards the plate. Only sets of forces without
    resultant and moment are meant: such a bar is in balance by itself, wherever it lies.

    Attributes
    ----------
    s : array (n,)
        Stations, distance from the lower end, m, increasing.
    shear : bool
        Let the bar shear, with G_LT along its height.

    Raises
    ------
    GeometryError
        Fewer than 3 stations, or stations off the bar.
    """

    bar: Bar
    s: np.ndarray
    shear: bool = True

    def __post_init__(self):
        s = np.array(self.s, dtype=float)
        s.flags.writeable = False
        object.__setattr__(self, "s", s)
        length = self.bar.length
        if s.size < 3 or (np.diff(s) <= 0).any():
            msg = "a bar's beam needs at least 3 increasing stations"
            raise GeometryError(msg)
        if s[0] < -1e-6 or s[-1] > length + 1e-6:
            msg = (
                f"stations from {1e3 * s[0]:.4g} to {1e3 * s[-1]:.4g} mm; the bar is {1e3 * length:.4g} mm "
                "long, counted from its lower end"
            )
            raise GeometryError(msg)

    def x(self, s) -> np.ndarray:
        """Place along the body of a distance along the bar, m."""
        return self.bar.x_at(s)

    def height(self, s) -> np.ndarray:
        """Height, m."""
        return self.bar.height(np.clip(self.x(s), self.bar.x_start, self.bar.x_end))

    def width(self, s) -> np.ndarray:
        """Width, m."""
        return self.bar.width_at(self.x(s))

    def bending_stiffness(self, s) -> np.ndarray:
        """E_L I, N m2; a rounded top takes its share off area and inertia alike."""
        bar = self.bar
        return bar.wood.E_L * bar.section_fill * self.width(s) * self.height(s) ** 3 / 12.0

    @cached_property
    def grid(self) -> tuple[np.ndarray, np.ndarray]:
        """Middles and lengths of the pieces of the integrals, m: the stations lie between pieces."""
        cut = np.union1d(np.linspace(self.s[0], self.s[-1], PIECES + 1), self.s)
        return 0.5 * (cut[1:] + cut[:-1]), np.diff(cut)

    @cached_property
    def balance(self) -> np.ndarray:
        """Rows that take displacements at the stations to deviations from the chord of the outer two.

        (n - 2, n). Transposed, a force at an inner station with its two reactions at the outer ones.
        """
        s = self.s
        share = (s[1:-1] - s[0]) / (s[-1] - s[0])
        inner = np.zeros((len(s) - 2, len(s)))
        inner[:, 1:-1] = np.eye(len(s) - 2)
        inner[:, 0] -= 1.0 - share
        inner[:, -1] -= share
        return inner

    def moments(self, force: np.ndarray, at=None) -> np.ndarray:
        """Bending moment under a balanced set of forces, N m, positive when the free edge is stretched.

        Parameters
        ----------
        force : array (n,) or (n, k)
            At the stations, N, positive towards the plate.
        at : array (m,), optional
            Distances, m; default the middles of ``grid``.

        Returns
        -------
        array (m,) or (m, k)
        """
        at = self.grid[0] if at is None else np.asarray(at, dtype=float)
        return np.maximum(at[:, None] - self.s, 0.0) @ force

    def _shears(self, force):
        return (self.grid[0][:, None] > self.s).astype(float) @ force

    @cached_property
    def compliance(self) -> np.ndarray:
        """Deviation of the inner stations from the chord per force there, m/N: (n - 2, n - 2).

        Unit loads on a beam on two supports: the integral of m m' / EI + q q' / kGA (Mohr, Maxwell).
        """
        middle, ds = self.grid
        unit = self.balance.T
        m, q = self.moments(unit), self._shears(unit)
        out = m.T @ (m * (ds / self.bending_stiffness(middle))[:, None])
        if self.shear:
            bar = self.bar
            area = bar.section_fill * self.width(middle) * self.height(middle)
            out += q.T @ (q * (ds / (SHEAR_FACTOR * bar.wood.G_LT * area))[:, None])
        return out

    def stress(self, force: np.ndarray, at=None) -> np.ndarray:
        """Bending stress at the free edge, Pa, positive stretched; the glued face has the opposite."""
        at = self.grid[0] if at is None else np.asarray(at, dtype=float)
        return (
            self.moments(force, at) * 0.5 * self.height(at) * self.bar.wood.E_L / self.bending_stiffness(at)
        )

    def elastic_line(self, force: np.ndarray, ends=(0.0, 0.0)) -> tuple[np.ndarray, np.ndarray]:
        """Shape that a balanced set of forces bends the bar into.

        Parameters
        ----------
        force : array (n,)
        ends : (float, float)
            Displacement of the outer two stations, m, towards the plate.

        Returns
        -------
        s, displacement : array (m,)
            m; between the stations and at them.
        """
        middle, ds = self.grid
        s = np.r_[self.s[0], self.s[0] + np.cumsum(ds)]
        curvature = self.moments(force) / self.bending_stiffness(middle)
        turn = np.r_[0.0, np.cumsum(curvature * ds)]
        slope = 0.5 * (turn[1:] + turn[:-1])
        if self.shear:
            area = self.bar.section_fill * self.width(middle) * self.height(middle)
            slope = slope - self._shears(force) / (SHEAR_FACTOR * self.bar.wood.G_LT * area)
        v = np.r_[0.0, np.cumsum(slope * ds)]
        share = (s - s[0]) / (s[-1] - s[0])
        return s, v + ends[0] + (ends[1] - ends[0] - v[-1]) * share
