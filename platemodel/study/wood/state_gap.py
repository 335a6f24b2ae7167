"""How far a state of a top lies from what all its other states tell, and whether it may."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from platemodel.study.wood.fit_problem import FitProblem, StateRows
from platemodel.study.wood.reading_doubts import ODD
from platemodel.study.wood.wood_modes import WoodModes


@dataclass(frozen=True)
class StateGap:
    """A state against the others.

    Attributes
    ----------
    name : str
        Of the state.
    readings : tuple of (str, float)
        Each reading from what the others predict, in logarithms.
    off : float
        All of them together, squared, in standard deviations of both; NaN for a single state.
    fault : str
        The single fault that explains it best: all taps, all flexes, or one reading.
    size : float
        Of that fault, in logarithms.
    excess : float
        How far off over how far it may be, the greater of all readings together and of the best single fault.
    """

    name: str
    readings: tuple[tuple[str, float], ...]
    off: float
    fault: str
    size: float
    excess: float

    @property
    def fits(self) -> bool:
        """Neither all readings together nor a single fault lie farther off than in 999 of 1000 tops."""
        return self.excess <= 1.0


def state_gap(problem: FitProblem, state: StateRows, point: np.ndarray, at: Sequence[WoodModes]) -> StateGap:
    """Set a state beside what the others tell.

    Parameters
    ----------
    point : array
        Of the fit.
    at : sequence of WoodModes
        There, of each state.

    Notes
    -----
    With ``S`` the covariance of the readings about their prediction, a fault along ``v`` is best seen by
    ``v S^-1 off / sqrt(v S^-1 v)``, of unit variance (the most powerful test of a shift of known direction).
    All readings together see any pattern, but each of them later: chi-squared. The two share the odds of
    naming a state without cause, half each; so do the faults.
    """
    if len(problem.states) < 2:
        return StateGap(state.taps.name, (), np.nan, "", 0.0, 0.0)
    off, spread = problem.left_out(state, point, at)
    weight = np.linalg.inv(spread)
    names = [what for what, _ in state.model_sd(problem.errors)]
    whats, faults = _faults(names)
    slope, square = faults @ weight @ off, np.einsum("ij,jk,ik->i", faults, weight, faults)
    best = int(np.argmax(slope**2 / square))
    distance, odds = float(off @ weight @ off), 0.5 * (1.0 - ODD)
    excess = max(
        distance / chdtri(len(off), odds), slope[best] ** 2 / square[best] / chdtri(1, odds / len(faults))
    )
    return StateGap(
        state.taps.name,
        tuple(zip(names, off.tolist(), strict=True)),
        distance,
        whats[best],
        float(slope[best] / square[best]),
        float(excess),
    )


def _faults(names):
    """Names of the faults of a state, and their directions: (n, k)."""
    kind = np.array([name.partition(" ")[0] for name in names])
    together = [
        (what, (kind == which).astype(float))
        for which, what in (("mode", "all taps"), ("flex", "all flexes"))
        if (kind == which).sum() > 1
    ]
    whats, rows = zip(*together, *zip(names, np.eye(len(names)), strict=True), strict=True)
    return whats, np.array(rows)
