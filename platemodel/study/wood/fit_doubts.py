"""What looks wrong in a fit of the wood: a tap, the weight, a flex, or a whole state."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from platemodel.study.wood.fit_problem import WIDENING, FitProblem, StateRows
from platemodel.study.wood.reading_doubts import Doubt, Prediction, doubts, is_odd
from platemodel.study.wood.wood_modes import WoodModes


def flex_table(
    problem: FitProblem, point: np.ndarray, at: Sequence[WoodModes], fitted: np.ndarray
) -> pd.DataFrame:
    """Set the flexes of all states beside what weights and taps tell, and beside the fit.

    Parameters
    ----------
    problem : FitProblem
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


def state_fits(
    problem: FitProblem, state: StateRows, point: np.ndarray, at: Sequence[WoodModes]
) -> tuple[float, bool]:
    """Return how far a state's readings lie from what the others tell, and whether that fits.

    Squared, in standard deviations of both; NaN for a single state.
    """
    if len(problem.states) < 2:
        return np.nan, True
    off = problem.state_distance(state, point, at)[0]
    return off, not is_odd(off, len(state.heard))


def fit_doubts(
    problem: FitProblem, point: np.ndarray, at: Sequence[WoodModes], start: Sequence[WoodModes]
) -> tuple[Doubt, ...]:
    """Say which taps, weight, flexes or state look wrong.

    Parameters
    ----------
    problem : FitProblem
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
        state.followed,
        logs[:-1],
        float(logs[-1]),
        rows,
        problem.prior_cov,
        sd,
        problem.errors.weighing,
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
    far = []
    for state in problem.states:
        distance, off = problem.state_distance(state, point, at)
        if is_odd(distance, len(state.heard)):
            far.append((distance / len(state.heard), state, off))
    if not far:
        return []
    _, state, off = max(far, key=lambda f: f[0])
    names = [f"mode {n}" for n in state.numbers]
    names += [] if state.taps.mass is None else ["weight"]
    names += [f"flex {r.test.kind}" for r in state.taps.flexes]
    apart = ", ".join(f"{name} {100 * np.expm1(o):+.1f} %" for name, o in zip(names, off, strict=True))
    text = (
        f"the state {state.taps.name!r} does not agree with the others ({apart} from what they predict): "
        "was it this bar, this height, this air? Leave the state out, or read it again"
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
