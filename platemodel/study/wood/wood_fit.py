"""The wood of a top from its weight, the pitch of its taps and its flexes, in one or several states."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.errors import AccuracyError
from platemodel.progress import Progress, no_message
from platemodel.study.top.model import TopModel
from platemodel.study.top.recognise import KNOWN
from platemodel.study.wood.fit_doubts import fit_doubts, flex_table
from platemodel.study.wood.fit_problem import THICKNESS, WIDENING, FitProblem
from platemodel.study.wood.next_taps import next_taps
from platemodel.study.wood.reading_doubts import Doubt, is_odd
from platemodel.study.wood.state_gap import state_gap
from platemodel.study.wood.top_taps import Errors, TopTaps
from platemodel.study.wood.wood_modes import WoodSolver
from platemodel.wood import CONSTANTS, USUAL_SPECIES, WoodEstimate, species_estimate

FITTED = ("density", "E_L", "E_R", "G_LR")  # what taps and weight determine; the others stay with the species
MOST_SOLVES, SAME = 5, 2e-4  # of the full model; largest relative change of a tapped mode between two of them


class TapError(AccuracyError):
    """Taps that no wood of the kind explains.

    Attributes
    ----------
    doubts : tuple of Doubt
    """

    def __init__(self, found: Sequence[Doubt]):
        self.doubts = tuple(found)
        super().__init__("; ".join(d.message for d in found))


@dataclass(frozen=True, eq=False)
class WoodFit:
    """Wood found from what was heard, weighed and felt.

    Attributes
    ----------
    estimate : WoodEstimate
        Constants with bands and correlations, in the air of the first state.
    prior : WoodEstimate
        What was assumed of the species.
    modes : DataFrame
        A row a tapped mode: ``state, number, name, heard_hz, sd_hz`` (reading and model together),
        ``expected_hz`` (before the fit), ``fitted_hz, residual_percent`` and ``slip_percent`` (what is put
        down to slips of thickness and arching, in ``fitted_hz``).
    states : DataFrame
        A row a state: ``state, weighed_g, fitted_g`` (without patches), ``shift_percent, shift_sd_percent``
        (of all taps, against the first state's day, the air's effect included), ``bar_percent,
        bar_sd_percent`` (the bar's moduli against those given), ``off`` (its readings from what all other
        states tell, squared, in standard deviations; NaN for a single state), ``fits``.
    mass : tuple of float or None
        Measured and fitted of the first state that was weighed, kg.
    thickness : tuple of float
        Common factor of the thickness that fits best, and its relative sd.
    next_taps : DataFrame
        A row a mode not tapped in the first state: ``number, name, expected_hz, band_hz`` (half width, 90 %)
        and by how much the bands of ``E_L, E_R, G_LR`` would narrow, in percent; the most useful first.
    doubts : tuple of Doubt
        Empty unless the fit was asked for in spite of them.
    solves : int
        Full solves of the model that were needed, of each state.
    flexes : DataFrame
        Each flex reading beside what the other readings predict; see `FlexRows.table`. Empty without any.
    """

    estimate: WoodEstimate
    prior: WoodEstimate
    modes: pd.DataFrame
    states: pd.DataFrame
    mass: tuple[float, float] | None
    thickness: tuple[float, float]
    next_taps: pd.DataFrame
    doubts: tuple[Doubt, ...]
    solves: int
    flexes: pd.DataFrame

    def _repr_html_(self) -> str:
        return self.estimate._repr_html_() + self.modes.to_html(index=False, float_format="{:.1f}".format)


def identify_wood(
    model: TopModel,
    taps: TopTaps | Sequence[TopTaps],
    prior: WoodEstimate | None = None,
    errors: Errors | None = None,
    despite_doubts: bool = False,
    solver: WoodSolver | Sequence[WoodSolver] | None = None,
    progress: Progress = no_message,
) -> WoodFit:
    """Find density and stiffness of a top's wood from its weight, taps and flexes.

    Parameters
    ----------
    model : TopModel
        Outline, arching, thickness and sound holes as measured; its own wood is not used.
    taps : TopTaps or sequence of TopTaps
        What was heard, weighed and felt, and the bar that was on; of several states of the top one each.
    prior : WoodEstimate, optional
        What is known of the wood beforehand; default the usual spruce of tops.
    despite_doubts : bool
        Fit taps that look wrong all the same.
    solver : WoodSolver or sequence of WoodSolver, optional
        Of the same model and bars, one a state, to use their basis again.

    Raises
    ------
    ValueError
        A mode number the model does not give.
    TapError
        The readings fit no wood of the kind, or none at all in spite of the doubts; the message names the
        likely slip, or the state that does not go with the others.

    Notes
    -----
    The most probable constants given readings with normal errors and the species' spread as prior (all in
    logarithms), by Gauss-Newton steps with exact derivatives; the band is that of the linearised posterior
    (e.g. Tarantola, Inverse Problem Theory, 2005, section 3.2). The caliper's common error is fitted along,
    and with several states the shift of each day and what is not known of the bars.
    """
    prior, errors = prior or species_estimate(USUAL_SPECIES), errors or Errors()
    states = (taps,) if isinstance(taps, TopTaps) else tuple(taps)
    solvers = _solvers(model, states, solver)
    progress("solving for the species' median")
    start = [one.full(prior.wood) for one in solvers]
    for state, modes in zip(states, start, strict=True):
        missing = [n for n in sorted(state.frequencies) if n not in modes.index]
        if missing:
            msg = f"mode {missing[0]}: the model follows modes {min(modes.index)} to {max(modes.index)}"
            raise ValueError(msg)
    followed = [tuple(sorted(modes.index)) for modes in start]
    progress("weighing slips of thickness and arching")
    effects = [
        one.shape_effects(prior.wood, modes, errors.shape)[:, [*(modes.index[n] for n in numbers), -1]]
        for one, modes, numbers in zip(solvers, start, followed, strict=True)
    ]
    problem = FitProblem.of(prior, errors, states, followed, np.hstack(effects))
    point = problem.start
    problem, solves = problem.flexed(model, point), 1

    def asked(point, full=False):
        return [
            one.full(problem.wood_in(rows, point), rows.bar_log(point))
            if full
            else one.reduced(problem.wood_in(rows, point))
            for one, rows in zip(solvers, problem.states, strict=True)
        ]

    while True:
        progress("fitting the wood")
        point = problem.fit(point, asked).mean
        before = problem.expected(point, asked(point))[0]
        progress("solving with the wood found")
        at = asked(point, full=True)
        solves += 1
        problem = problem.flexed(model, point)
        moved = np.abs(problem.expected(point, at)[0] - before).max()
        if moved < SAME or solves >= MOST_SOLVES:
            break
    found = ()
    fits = [state_gap(problem, state, point, at).fits for state in problem.states]
    if is_odd(problem.posterior(point, at)[2], len(problem.heard)) or not all(fits):
        found = fit_doubts(problem, point, at, start)
        if not despite_doubts:
            raise TapError(found)
    try:
        return _report(problem, point, start, at, found, solves)
    except ValueError as error:  # the constants that fit are no sound material
        raise TapError(found or fit_doubts(problem, point, at, start)) from error


def _solvers(model, states, given):
    if given is not None:
        return [given] if isinstance(given, WoodSolver) else list(given)
    return [WoodSolver(model, s.bar, count=max(10, max(s.frequencies, default=0) + 4)) for s in states]


def _report(problem, point, start, at, found, solves):
    mean, cov, _ = problem.posterior(point, at)
    cov = WIDENING**2 * cov
    n = len(CONSTANTS)
    estimate = WoodEstimate(
        problem.wood(mean),
        0.5 * (cov[:n, :n] + cov[:n, :n].T),
        f"{problem.prior.source}; {_sources(problem)} on the top itself",
    )
    fitted, rows = [], []
    for state, modes in zip(problem.states, at, strict=True):
        logs, by = state.all_expected(point, modes)
        fitted.append((dict(zip((*state.followed, 0), np.exp(logs + by @ (mean - point)), strict=True)), by))
    for state, first, (fit, _) in zip(problem.states, start, fitted, strict=True):
        slips = dict(zip(state.followed, mean[state.slips], strict=False))
        for number, sd in zip(state.numbers, problem.errors.tap_sd(state.taps), strict=True):
            heard = state.taps.frequencies[number]
            rows.append(
                {
                    "state": state.taps.name,
                    "number": number,
                    "name": KNOWN.get(number, ""),
                    "heard_hz": heard,
                    "sd_hz": sd * heard,
                    "expected_hz": first.frequencies[first.index[number]],
                    "fitted_hz": fit[number],
                    "residual_percent": 100.0 * (heard / fit[number] - 1.0),
                    "slip_percent": 100.0 * np.expm1(slips[number]),
                }
            )
    one, (fit, by) = problem.states[0], fitted[0]
    further = float(np.hypot(problem.errors.reading, problem.errors.model))
    states = _state_table(problem, mean, cov, at, point, [f[0][0] for f in fitted])
    weighed = states[states["weighed_g"].notna()]
    return WoodFit(
        estimate,
        problem.prior,
        pd.DataFrame(rows),
        states,
        None if weighed.empty else tuple(1e-3 * weighed.iloc[0][["weighed_g", "fitted_g"]].astype(float)),
        (float(np.exp(mean[THICKNESS])), float(np.sqrt(cov[THICKNESS, THICKNESS]))),
        next_taps(one.followed, one.numbers, by[:-1], fit, cov, further),
        tuple(found),
        solves,
        flex_table(problem, point, at, mean),
    )


def _state_table(problem, mean, cov, at, point, masses):
    rows = []
    for state, mass in zip(problem.states, masses, strict=True):
        taps = state.taps
        moved = state.logs(mean) - mean[: len(CONSTANTS)]
        # what the constants do to a plate of equal shares of E_L, E_R and G_LR
        shift = np.mean([moved[CONSTANTS.index(c)] for c in ("E_L", "E_R", "G_LR")]) - moved[0]
        gap = state_gap(problem, state, point, at)
        rows.append(
            {
                "state": taps.name,
                "weighed_g": np.nan if taps.mass is None else 1e3 * (taps.mass - taps.added),
                "fitted_g": 1e3 * mass,
                "shift_percent": 50.0 * shift,
                "shift_sd_percent": 0.0 if state.day is None else 100.0 * np.sqrt(cov[state.day, state.day]),
                "bar_percent": np.nan if state.bar is None else 100.0 * np.expm1(mean[state.bar]),
                "bar_sd_percent": np.nan if state.bar is None else 100.0 * np.sqrt(cov[state.bar, state.bar]),
                "off": gap.off,
                "fits": gap.fits,
            }
        )
    return pd.DataFrame(rows)


def _sources(problem):
    """Name what the fit rests on."""
    if len(problem.states) > 1:
        return "readings in the states " + ", ".join(s.taps.name for s in problem.states)
    (state,) = problem.states
    parts = [] if state.taps.mass is None else ["weight"]
    if state.numbers:
        parts.append(f"taps of modes {', '.join(map(str, state.numbers))}")
    if state.taps.flexes:
        parts.append(f"flexes {', '.join(dict.fromkeys(r.test.name for r in state.taps.flexes))}")
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)
