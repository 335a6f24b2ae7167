"""Closing a gap between bar and plate: forces, stresses, which of the two gives way, and when to pare again.

The bar is bent to the readings by forces at the stations where it was read; between them it takes its own
elastic line. The bar presses where it still stands off, the plate presses back where they touch.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from scipy.optimize import lsq_linear

from platemodel.errors import GeometryError
from platemodel.instrument.bar import Bar
from platemodel.instrument.gaps import Gaps
from platemodel.study.gluing.bar_beam import BarBeam
from platemodel.wood.estimate import HALF_WIDTH
from platemodel.wood.species import spread_of_stiffness
from platemodel.wood.strength import Strength, k_mod, usual_strength

FILM = 0.05e-3  # m, gap that a thin glue film may keep; common practice, no source
LIGHT = 10.0  # N, what a light clamp or a thumb gives without thinking; common practice, no source
SHARE = 0.5  # of the strength that a weak board keeps for decades: our rule, no source
PAD = 2.0  # length of a clamp's pad in widths of the bar; common practice, no source
ONE_SIDED = 0.1e-3  # m between the two flanks that no bending closes; common practice, no source


@dataclass(frozen=True)
class Limits:
    """Largest stresses allowed, Pa: half of what the weakest twentieth of boards bears.

    Attributes
    ----------
    bending : float
        Locked into the bar for decades.
    peel : float
        Pull across the glue line for decades.
    dent : float
        Pressure of a clamp across the grain, for a day.
    """

    bending: float
    peel: float
    dent: float

    @classmethod
    def of(cls, wood) -> "Limits":
        """Limits of a wood; one that the table does not know is taken as the usual spruce."""
        return cls.of_strength(usual_strength(wood))

    @classmethod
    def of_strength(cls, found: Strength) -> "Limits":
        """``SHARE`` of the 5 % fractile times k_mod (EN 1995-1-1, table 3.1, solid timber, class 1)."""
        low = {k: found.bounds(k)[0] for k in ("bending", "tension_across", "compression_across")}
        return cls(
            SHARE * k_mod("permanent") * low["bending"],
            SHARE * k_mod("permanent") * low["tension_across"],
            SHARE * k_mod("short") * low["compression_across"],
        )


@dataclass(frozen=True, eq=False)
class Closing:
    """A bar pressed down on its plate.

    Attributes
    ----------
    force : array (n,)
        On the bar at the stations, N: positive pressed down by clamps, negative pushed back by the plate.
    closed : array (n,)
        What was closed at each station, m; the rest of the gap is glue.
    bar_gives, plate_gives : array (n,)
        Deviation from the chord of the outer stations by bending of bar and plate, m.
    """

    beam: BarBeam
    gaps: Gaps
    force: np.ndarray
    closed: np.ndarray
    bar_gives: np.ndarray
    plate_gives: np.ndarray
    limits: Limits

    def gap_pressed(self, at: np.ndarray) -> np.ndarray:
        """Gap closed at distances along the bar, m; between the stations along its own elastic line."""
        return np.interp(at, *self.beam.elastic_line(self.force, self.closed[[0, -1]]))

    @property
    def total(self) -> float:
        """Sum of the clamps' forces, N."""
        return float(self.force[self.force > 0].sum())

    @property
    def plate_share(self) -> float:
        """Share of the bending energy that goes into the plate: 0 for a rigid one."""
        bar, plate = self.force @ self.bar_gives, self.force @ self.plate_gives
        return float(plate / (bar + plate)) if bar + plate > 0 else 0.0

    @cached_property
    def stress(self) -> np.ndarray:
        """Stress at the free edge along ``beam.grid``, Pa, positive stretched."""
        return self.beam.stress(self.force)

    @property
    def peak_stress(self) -> float:
        """Largest bending stress of the bar, Pa, its size."""
        at_stations = self.beam.stress(self.force, self.beam.s)  # where the moment has its corners
        return float(max(np.abs(self.stress).max(), np.abs(at_stations).max()))

    @cached_property
    def peel(self) -> np.ndarray:
        """Pull across the joint at the stations once the clamps are off, Pa: (n,).

        The force that a clamp had to give must then come through the glue, spread over the reach of the
        station, at least over the bar's width.
        """
        s = self.beam.s
        edge = np.r_[s[0], 0.5 * (s[1:] + s[:-1]), s[-1]]
        width = self.beam.width(s)
        return np.maximum(self.force, 0.0) / (width * np.maximum(np.diff(edge), width))

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row a station: place, gap, force, stress, peel and a verdict in words; mm, N, MPa."""
        s = self.beam.s
        stress = np.abs(self.beam.stress(self.force, s))
        return pd.DataFrame(
            {
                "s_mm": 1e3 * s,
                "x_mm": 1e3 * self.beam.x(s),
                "gap_mm": 1e3 * self.gaps.gap,
                "closed_mm": 1e3 * self.closed,
                "force_n": self.force,
                "stress_mpa": 1e-6 * stress,
                "peel_mpa": 1e-6 * self.peel,
                "verdict": [self._verdict(i, stress[i]) for i in range(len(s))],
            }
        )

    def reasons(self, i: int, stress: float) -> list[str]:
        """Why a station is too large a gap, in words; empty when it is not."""
        limits, width = self.limits, float(self.beam.width(self.beam.s[i]))
        most = limits.dent * width * PAD * width
        out = []
        if abs(self.gaps.uneven[i]) > ONE_SIDED:
            out.append("one side only: no clamp closes it")
        if stress > limits.bending:
            out.append(f"{1e-6 * stress:.0f} MPa would be locked into the bar")
        if self.peel[i] > limits.peel:
            out.append(f"it would pull the joint with {1e-6 * self.peel[i]:.1f} MPa")
        if self.force[i] > most:
            out.append(f"{self.force[i]:.0f} N would dent the wood")
        return out

    def _verdict(self, i, stress):
        why = self.reasons(i, stress)
        if why and self.gaps.gap[i] > 0:
            return "too large: pare again (" + "; ".join(why) + ")"
        if self.gaps.gap[i] <= 0:
            return "touches"
        if self.gaps.gap[i] <= FILM and self.force[i] <= LIGHT:
            return "closed by the glue film"
        if self.force[i] <= 0:
            return "closes with its neighbours"
        if self.force[i] <= LIGHT:
            return "light clamp closes it"
        return f"needs {self.force[i]:.0f} N"

    @property
    def too_large(self) -> bool:
        """Whether some gap must not be clamped shut."""
        return self.verdict.startswith("too large")

    @property
    def verdict(self) -> str:
        """The whole joint in words."""
        if self.table["verdict"].str.startswith("too large").any():
            return "too large: pare again"
        if self.peak_stress > self.limits.bending:
            return f"too large: pare again ({1e-6 * self.peak_stress:.0f} MPa would be locked into the bar)"
        most = float(self.force.max(initial=0.0))
        if most <= LIGHT:
            return "light clamps close it"
        return f"needs up to {most:.0f} N in one place"


def close_gaps(
    bar: Bar, gaps: Gaps, film: float = FILM, plate: np.ndarray | None = None, shear: bool = True
) -> Closing:
    """Press a bar down until no gap is larger than the glue film.

    Parameters
    ----------
    film : float
        Gap that the glue may fill, m; 0 closes every reading fully.
    plate : array (n, n), optional
        Upright displacement of the plate along the bar's line at the stations per force there, m/N, up to
        rigid motions (`study.line_compliance`); default a plate held rigidly in its cradle.
    shear : bool
        Let the bar shear; False is the beam of the elementary books.

    Raises
    ------
    GeometryError
        Stations off the bar, or a compliance of another size.

    Notes
    -----
    Bar and plate yield one behind the other: both under the same forces, the sum of their deflections closes
    the gap. With B the rows from displacements at the stations to deviations from the chord (`BarBeam`) and C
    the sum of compliances, the forces of a closure v are B' C^-1 B v. Of all closures between gap - film and
    gap the one with the least energy is taken; its conditions say that clamps press only where the film
    remains, and that the plate pushes back only where it is touched.
    """
    beam = BarBeam(bar, gaps.s, shear)
    b = beam.balance
    soft = beam.compliance
    plate_part = np.zeros_like(soft)
    if plate is not None:
        plate = np.asarray(plate, dtype=float)
        if plate.shape != (len(gaps.s),) * 2:
            msg = f"plate compliance {plate.shape}; one row and column for each of {len(gaps.s)} stations"
            raise GeometryError(msg)
        plate_part = b @ plate @ b.T
        soft = soft + 0.5 * (plate_part + plate_part.T)
    if not film >= 0:
        msg = f"glue film {1e3 * film:.4g} mm must not be below zero"
        raise GeometryError(msg)
    root = np.linalg.cholesky(soft)
    closed = gaps.gap.copy() if film == 0 else _least_energy(np.linalg.solve(root, b), gaps.gap, film)
    inner = np.linalg.solve(root.T, np.linalg.solve(root, b @ closed))
    out = [np.zeros(len(gaps.s)) for _ in range(2)]
    for deviation, part in zip(out, (beam.compliance, plate_part), strict=True):
        deviation[1:-1] = part @ inner
    force = b.T @ inner
    force[np.abs(force) < 1e-9 * np.abs(force).max(initial=0.0)] = 0.0  # rounding, not a push
    return Closing(beam, gaps, force, closed, *out, Limits.of(bar.wood))


def _least_energy(rows, gap, film):
    low = np.maximum(gap - film, 0.0)
    scale = np.abs(rows).max()
    start = gap - 0.5 * (gap - low)
    free = gap - low > 1e-12
    if not free.any():
        return gap.copy()
    # Readings of zero are fixed: they touch, and a bound must have some width for the solver.
    fixed = rows[:, ~free] @ gap[~free]
    found = lsq_linear(
        rows[:, free] / scale * film,
        -fixed / scale,
        (low[free] / film, gap[free] / film),
        method="bvls",
        tol=1e-12,
    )
    closed = start
    closed[free] = found.x * film
    closed[~free] = gap[~free]
    return closed


def spread_of_force(bar: Bar, closing: Closing) -> tuple[float, float]:
    """Sum of the clamps' forces for softer and stiffer wood (5 and 95 % of boards), N.

    Forces on a rigid plate go in proportion to E_L; its coefficient of variation is the species table's.
    """
    cov = spread_of_stiffness(bar.wood)
    return closing.total * (1.0 - HALF_WIDTH * cov), closing.total * (1.0 + HALF_WIDTH * cov)
