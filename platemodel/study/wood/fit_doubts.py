"""What looks wrong in a fit of the wood: a tap, the weight, a flex, or a whole state."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from platemodel.study.wood.fit_problem import WIDENING, FitProblem
from platemodel.study.wood.reading_doubts import Doubt, Prediction, doubts, is_odd
from platemodel.study.wood.state_gap import state_gap
from platemodel.study.wood.wood_modes import WoodModes


def flex_table(
    problem: FitProblem, point: np.ndarray, at: Sequence[WoodModes], fitted: np.ndarray
) -> pd.DataFrame:
    """Set the flexes of all states beside what weights and taps tell, and beside the fit.

    Parameters
    ----------
    point : array
        Of the fit.
    at : sequence of WoodModes
        There, of each state.
    fitted : array
        Unknowns of the fit.
    """
    mean, cov, _ = problem.without_flexes().posterior(point, at)
    parts = []
    for state in problem.states:
        if not state.taps.flexes:
            continue
        sd = state.sd(problem.errors)[-len(state.taps.flexes) :]
        table = state.sags.table(
            state.expected_sags(point), (mean - point, WIDENING**2 * cov), fitted - point, sd
        )
        parts.append(table.assign(state=state.taps.name))
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def fit_doubts(
    problem: FitProblem, point: np.ndarray, at: Sequence[WoodModes], start: Sequence[WoodModes]
) -> tuple[Doubt, ...]:
    """Say which taps, weight, flexes or state look wrong.

    Parameters
    ----------
    point : array
        Of the fit.
    at, start : sequence of WoodModes
        Of each state, there and for the species' median.
    """
    found = []
    for state, modes in zip(problem.states, start, strict=True):
        found += [_named(problem, state, d) for d in _tap_doubts(problem, state, modes)]
    found = found or _state_doubts(problem, point, at)
    return tuple(found or _flex_doubts(problem, point, at))


def _named(problem, state, doubt):
    if len(problem.states) < 2:
        return doubt
    return Doubt(doubt.modes, doubt.kind, f"{state.taps.name}: {doubt.message}")


def _tap_doubts(problem, state, start):
    """Taps and weight of one state by themselves, judged before the fit: it has followed a wrong flex."""
    taps, mass = state.taps, state.taps.mass
    mass = None if mass is None else mass - taps.added
    if not taps.frequencies:
        return ()
    logs, rows = state.all_expected(problem.start, start)
    sd = dict(zip(state.numbers, problem.errors.tap_sd(taps), strict=True))
    prediction = Prediction(
        state.followed, logs[:-1], float(logs[-1]), rows, problem.prior_cov, sd, problem.errors.weighing
    )
    count = len(taps.frequencies) + (mass is not None)
    given = [(n, taps.frequencies[n], s) for n, s in sd.items()]
    alone = len(problem.states) < 2 and not taps.flexes
    if not alone and not is_odd(prediction.distance(given, mass), count):
        return ()
    return doubts(taps.frequencies, mass, prediction)


def _state_doubts(problem, point, at):
    """Name the state that goes least with the others, if one does not."""
    if len(problem.states) < 2:
        return []
    far = [gap for gap in (state_gap(problem, s, point, at) for s in problem.states) if not gap.fits]
    if not far:
        return []
    worst = max(far, key=lambda gap: gap.excess)
    apart = ", ".join(f"{what} {100 * np.expm1(off):+.1f} %" for what, off in worst.readings)
    others = [s.taps.name for s in problem.states if s.taps.name != worst.name]
    them = f"{others[0]!r}, or that one is wrong" if len(others) == 1 else "the others"
    text = (
        f"the state {worst.name!r} does not agree with {them} ({apart} from what is predicted without it; "
        f"likeliest {worst.fault} {100 * np.expm1(worst.size):+.1f} %): was it this bar, this height, this "
        "air? Leave the state out, or read it again"
    )
    return [Doubt((), "state", text)]


def _flex_doubts(problem, point, at):
    table = flex_table(problem, point, at, point)
    if not len(table):
        return []
    worst = table.loc[table["away"].abs().idxmax()]
    side = "more" if worst["away"] > 0 else "less"
    read = f"read {worst['read_mm']:.2f} mm under {worst['weight_g']:.0f} g"
    expected = f"expected {worst['others_mm']:.2f} ± {worst['others_sd_mm']:.2f} mm"
    text = (
        f"the flex {worst['kind']} sags {side} than all the rest predicts: {read}, {expected}; "
        "look at pegs, weight and gauge, and read it again"
    )
    return [Doubt((), "flex", text)]
