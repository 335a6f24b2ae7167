"""Clamp forces that a hand can set: alike, or of three grades, and what their doubt does to the joint."""

from dataclasses import dataclass

import numpy as np

from platemodel.study.gluing.clamps import EVEN, ClampPlan, line_pressures

#: How a small screw clamp is set for each grade; common practice, no source.
FEEL = {
    "light": "finger-tight",
    "middle": "finger-tight and a quarter turn",
    "firm": "finger-tight and half a turn",
}
STEP = 1.4  # from grade to grade: what a hand tells apart; our choice, no source
OFF = 0.3  # of its force that a clamp set by hand may be off; our estimate, no source
DRAWS, SEED, SHARE = 400, 7, 0.1


@dataclass(frozen=True, eq=False)
class HandForces:
    """Forces of a clamp plan as a hand sets them.

    Attributes
    ----------
    force : ndarray
        (n,) of each clamp, N, from the lower end up.
    grades : tuple of str
        Of each clamp: ``light``, ``middle`` or ``firm``.
    at, pressure : ndarray
        (m,) places along the bar, m, and pressure of the glue line there, Pa.
    evenness : float
        Least over greatest pressure of the glue line with these forces; 0 where the bar lifts.
    if_off : float
        The evenness that is kept in nine of ten tries when each clamp is off by up to ``OFF``.
    """

    force: np.ndarray
    grades: tuple[str, ...]
    at: np.ndarray
    pressure: np.ndarray
    evenness: float
    if_off: float

    @property
    def equal(self) -> bool:
        """Whether all clamps are set alike."""
        return len(set(self.grades)) == 1


def hand_forces(plan: ClampPlan) -> HandForces:
    """Find the simplest forces a hand can set that press about as evenly as the plan's own.

    Notes
    -----
    Equal forces are taken where they keep the glue line even by our rule, or as even as three grades do. The
    seat is taken to pull as well as to push; where it would pull, the evenness is 0.
    """
    beam, closing = plan.beam, plan.closing
    width = plan.bar.width_at(plan.bar.x_at(beam.points))
    gap = None if closing is None else closing.gap_pressed
    per_newton, base = line_pressures(beam, width, plan.s, plan.pad, gap)

    def evenness(forces):
        p = per_newton @ np.asarray(forces).T + base[:, None]
        return np.maximum(p.min(axis=0), 0.0) / p.max(axis=0)

    total, n = plan.force.sum(), plan.count
    equal = np.full(n, total / n)
    level = np.clip(np.rint(np.log(plan.force / equal) / np.log(STEP)), -1, 1).astype(int)
    graded = STEP ** level.astype(float)
    graded *= total / graded.sum()
    even_equal, even_graded = evenness(np.stack([equal, graded]))
    alike = even_equal >= min(EVEN, even_graded)
    force = equal if alike else graded
    names = np.array(tuple(FEEL))
    grades = tuple(names[np.zeros(n, int) + 1] if alike else names[level + 1])
    off = np.random.default_rng(SEED).uniform(1.0 - OFF, 1.0 + OFF, (DRAWS, n))
    return HandForces(
        force, grades, beam.points, per_newton @ force + base, float(even_equal if alike else even_graded),
        float(np.quantile(evenness(off * force), SHARE)),
    )  # fmt: skip
