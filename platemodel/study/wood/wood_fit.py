"""The wood of a top from its weight and the pitch of its taps."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.linalg import block_diag

from platemodel.errors import AccuracyError
from platemodel.study.top.model import TopModel
from platemodel.study.top.recognise import KNOWN
from platemodel.study.wood.flex_rows import FlexRows
from platemodel.study.wood.next_taps import next_taps
from platemodel.study.wood.reading_doubts import Doubt, Prediction, doubts, is_odd
from platemodel.study.wood.top_taps import Errors, TopTaps
from platemodel.study.wood.wood_modes import WoodModes, WoodSolver
from platemodel.wood import CONSTANTS, USUAL_SPECIES, WoodEstimate, species_estimate
from platemodel.wood.bayes import linear_update, most_probable

FITTED = ("density", "E_L", "E_R", "G_LR")  # what taps and weight determine; the others stay with the species
# The linearised bands of 90 % held 88 % of 400 tops drawn from the species' spread: frequencies bend over so
# wide a range of woods. Bands are widened by so much.
WIDENING = 1.05
SETTLED = 1e-4  # standard deviations of the prior by which the last step of a fit still moves
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
    """Wood found from taps.

    Attributes
    ----------
    estimate : WoodEstimate
        Constants with bands and correlations.
    prior : WoodEstimate
        What was assumed of the species.
    modes : DataFrame
        A row a tapped mode: ``number, name, heard_hz, sd_hz`` (reading and model together), ``expected_hz``
        (before the fit), ``fitted_hz, residual_percent`` and ``slip_percent`` (what is put down to slips of
        thickness and arching, in ``fitted_hz``).
    mass : tuple of float or None
        Measured and fitted, kg.
    thickness : tuple of float
        Common factor of the thickness that fits best, and its relative sd.
    next_taps : DataFrame
        A row a mode not tapped: ``number, name, expected_hz, band_hz`` (half width, 90 %) and by how much the
        bands of ``E_L, E_R, G_LR`` would narrow, in percent; the most useful first.
    doubts : tuple of Doubt
        Empty unless the fit was asked for in spite of them.
    solves : int
        Full solves of the model that were needed.
    at_fit : WoodModes
    flexes : DataFrame
        Each flex reading beside what the other readings predict; see `FlexRows.table`. Empty without any.
    """

    estimate: WoodEstimate
    prior: WoodEstimate
    modes: pd.DataFrame
    mass: tuple[float, float] | None
    thickness: tuple[float, float]
    next_taps: pd.DataFrame
    doubts: tuple[Doubt, ...]
    solves: int
    at_fit: WoodModes
    flexes: pd.DataFrame

    def _repr_html_(self) -> str:
        return self.estimate._repr_html_() + self.modes.to_html(index=False, float_format="{:.1f}".format)


def identify_wood(
    model: TopModel,
    taps: TopTaps,
    prior: WoodEstimate | None = None,
    errors: Errors | None = None,
    despite_doubts: bool = False,
    solver: WoodSolver | None = None,
    progress: Callable[[str], None] | None = None,
) -> WoodFit:
    """Find density and stiffness of a top's wood from its weight and taps.

    Parameters
    ----------
    model : TopModel
        Outline, arching, thickness and sound holes as measured; its own wood is not used.
    taps : TopTaps
        What was heard and weighed, and the bar that was on.
    prior : WoodEstimate, optional
        What is known of the wood beforehand; default the usual spruce of tops.
    errors : Errors, optional
    despite_doubts : bool
        Fit taps that look wrong all the same.
    solver : WoodSolver, optional
        Of the same model and bar, to use its basis again.
    progress : callable, optional
        Called with a short status message.

    Returns
    -------
    WoodFit

    Raises
    ------
    ValueError
        A mode number the model does not give.
    TapError
        The taps fit no wood of the kind, or none at all in spite of the doubts; the message names the likely
        slip.

    Notes
    -----
    The most probable constants given readings with normal errors and the species' spread as prior (all in
    logarithms), by Gauss-Newton steps with exact derivatives; the band is that of the linearised posterior
    (e.g. Tarantola, Inverse Problem Theory, 2005, section 3.2). The caliper's common error is fitted along.
    """
    tell = progress or (lambda _: None)
    prior, errors = prior or species_estimate(USUAL_SPECIES), errors or Errors()
    numbers = sorted(taps.frequencies)
    solver = solver or WoodSolver(model, taps.bar, count=max(10, max(numbers, default=0) + 4))
    tell("solving for the species' median")
    start = solver.full(prior.wood)
    missing = [n for n in numbers if n not in start.index]
    if missing:
        msg = f"mode {missing[0]}: the model follows modes {min(start.index)} to {max(start.index)}"
        raise ValueError(msg)
    followed = tuple(sorted(start.index))
    order = [*(start.index[n] for n in followed), -1]
    tell("weighing slips of thickness and arching")
    scatter = solver.shape_scatter(prior.wood, start, errors.shape)[np.ix_(order, order)]
    problem = _Problem(prior, taps, errors, followed, scatter).flexed(model, prior.logs)
    point, solves = problem.start, 1
    while True:
        tell("fitting the wood")
        point = problem.fit(point, solver.reduced).mean
        before = solver.reduced(problem.wood(point))
        tell("solving with the wood found")
        at = solver.full(problem.wood(point))
        solves += 1
        last, problem = problem, problem.flexed(model, point)
        moved = max(
            *(abs(_tapped(at, n) / _tapped(before, n) - 1.0) for n in numbers),
            *np.abs(problem.sags.expected(point)[0] - last.sags.expected(point)[0]),
            0.0,
            0.0,
        )
        if moved < SAME or solves >= MOST_SOLVES:
            break
    found = ()
    if is_odd(problem.posterior(point, at)[2], len(problem.heard)):
        found = _doubts(problem, point, at, start)
        if not despite_doubts:
            raise TapError(found)
    try:
        return _report(problem, point, start, at, found, solves)
    except ValueError as error:  # the constants that fit are no sound material
        raise TapError(found or _doubts(problem, point, at, start)) from error


def _tapped(modes, number):
    return modes.frequencies[modes.index[number]]


@dataclass(frozen=True, eq=False)
class _Problem:
    """The fit's unknowns and readings, all as logarithms.

    Unknowns: the ten constants; the thickness factor; what slips of thickness and arching do to each mode
    that the model follows, and to the weight.
    """

    prior: WoodEstimate
    taps: TopTaps
    errors: Errors
    followed: tuple[int, ...]
    scatter: np.ndarray
    sags: FlexRows | None = None

    def flexed(self, model, point):
        """Return the same with the flex tests solved for a point's wood."""
        logs = np.asarray(point[: len(CONSTANTS)])
        rows = FlexRows.solved(model, self.taps.flexes, self.taps.bar, self.wood(logs), logs)
        return replace(self, sags=rows)

    def without_flexes(self):
        """Return the same as if nothing had been flexed."""
        empty = FlexRows((), self.sags.at, np.zeros(0), np.zeros((0, len(CONSTANTS) + 1)))
        return replace(self, sags=empty)

    @property
    def numbers(self):
        return sorted(self.taps.frequencies)

    @property
    def heard(self):
        """Logarithms of the readings: taps, weight, flexes."""
        values = [self.taps.frequencies[n] for n in self.numbers]
        values = values if self.taps.mass is None else [*values, self.taps.mass]
        return np.concatenate([np.log(values), self.sags.read])

    @property
    def tap_sd(self):
        return self.errors.tap_sd(self.taps)

    @property
    def sd(self):
        weighed = [] if self.taps.mass is None else [self.errors.weighing]
        return np.concatenate([self.tap_sd, weighed, self.sags.sd(self.errors.flexing)])

    @property
    def start(self):
        return np.concatenate([self.prior.logs, np.zeros(1 + len(self.scatter))])

    @property
    def prior_cov(self):
        return block_diag(self.prior.log_cov, self.errors.thickness**2, self.scatter)

    def wood(self, point):
        return self.prior.with_logs(point[: len(CONSTANTS)])

    def all_expected(self, point, modes):
        """Logarithms of all followed modes and of the weight, and their derivatives by the unknowns.

        The modes are solved for the point's wood; its thickness factor and slips come in to first order.
        """
        places = [modes.index[n] for n in self.followed]
        share = (modes.mass - modes.bar_mass) / modes.mass
        weight = np.zeros(modes.by_logs.shape[1])
        weight[0] = weight[-1] = share
        rows = np.hstack([np.vstack([modes.by_logs[places], weight]), np.eye(len(self.scatter))])
        logs = np.log(np.append(modes.frequencies[places], modes.mass))
        own = len(CONSTANTS)
        return logs + rows[:, own:] @ point[own:], rows

    @property
    def read(self):
        """Places of the taps and the weight among all that is expected of them."""
        places = [self.followed.index(n) for n in self.numbers]
        return places if self.taps.mass is None else [*places, len(self.followed)]

    def expected(self, point, modes):
        """Logarithms of the readings that are expected, and their derivatives."""
        logs, rows = self.all_expected(point, modes)
        sags, by = self.sags.expected(point)
        return np.concatenate([logs[self.read], sags]), np.vstack([rows[self.read], by])

    def fit(self, start, solve):
        """Most probable unknowns for the modes that ``solve`` gives for a wood."""

        def predict(point):
            return self.expected(point, solve(self.wood(point)))

        return most_probable(
            self.start,
            self.prior_cov,
            predict,
            self.heard,
            self.sd,
            start=start,
            tolerance=SETTLED,
            must_settle=False,  # readings that no wood explains are reported as doubts
        )

    def posterior(self, point, modes):
        """Mean of the posterior linearised at a point, its covariance, and minus twice its logarithm."""
        logs, rows = self.expected(point, modes)
        gap = self.heard - logs
        gain, cov = linear_update(self.prior_cov, rows, self.sd)
        away = point - self.start
        precision = np.linalg.pinv(self.prior_cov, hermitian=True)
        misfit = float((gap / self.sd) @ (gap / self.sd) + away @ precision @ away)
        return self.start + gain @ (gap + rows @ away), cov, misfit


def _prediction(problem, start):
    """Prediction from the species' spread: logarithms, covariance and rows by mode."""
    logs, rows = problem.all_expected(problem.start, start)
    return Prediction(
        problem.followed,
        logs[:-1],
        float(logs[-1]),
        rows,
        problem.prior_cov,
        dict(zip(problem.numbers, problem.tap_sd, strict=True)),
        problem.errors.weighing,
    )


def _report(problem, point, start, at, found, solves):
    taps, weighed = problem.taps.frequencies, problem.taps.mass
    mean, cov, _ = problem.posterior(point, at)
    cov = WIDENING**2 * cov
    n = len(CONSTANTS)
    estimate = WoodEstimate(
        problem.wood(mean),
        0.5 * (cov[:n, :n] + cov[:n, :n].T),
        f"{problem.prior.source}; {_sources(problem)} on the top itself",
    )
    logs, by = problem.all_expected(point, at)
    fitted = dict(zip((*problem.followed, 0), np.exp(logs + by @ (mean - point)), strict=True))
    slips = dict(zip(problem.followed, mean[n + 1 :], strict=False))
    rows = []
    for number, sd in zip(problem.numbers, problem.tap_sd, strict=True):
        heard, fit = taps[number], fitted[number]
        rows.append(
            {
                "number": number,
                "name": KNOWN.get(number, ""),
                "heard_hz": heard,
                "sd_hz": sd * heard,
                "expected_hz": start.frequencies[start.index[number]],
                "fitted_hz": fit,
                "residual_percent": 100.0 * (heard / fit - 1.0),
                "slip_percent": 100.0 * np.expm1(slips[number]),
            }
        )
    further = float(np.hypot(problem.errors.reading, problem.errors.model))
    mass = None if weighed is None else (weighed, float(fitted[0]))
    return WoodFit(
        estimate,
        problem.prior,
        pd.DataFrame(rows),
        mass,
        (float(np.exp(mean[n])), float(np.sqrt(cov[n, n]))),
        next_taps(problem.followed, problem.numbers, by[:-1], fitted, cov, further),
        tuple(found),
        solves,
        at,
        _flex_table(problem, point, at, mean),
    )


def _sources(problem):
    """Name the sources that the fit rests on."""
    parts = [] if problem.taps.mass is None else ["weight"]
    if problem.numbers:
        parts.append(f"taps of modes {', '.join(map(str, problem.numbers))}")
    if problem.taps.flexes:
        parts.append(f"flexes {', '.join(dict.fromkeys(r.test.kind for r in problem.taps.flexes))}")
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def _flex_table(problem, point, at, fitted):
    mean, cov, _ = problem.without_flexes().posterior(point, at)
    return problem.sags.table((mean, WIDENING**2 * cov), fitted, point, problem.errors.flexing)


def _doubts(problem, point, at, start):
    """Say which taps, weight or flexes look wrong."""
    taps, found = problem.taps, ()
    rest = problem.without_flexes()
    # judged by the prediction before the fit: the fit has followed a wrong flex
    prediction = _prediction(problem, start)
    if taps.frequencies and (not taps.flexes or _odd_without_flexes(rest, prediction)):
        found = doubts(taps.frequencies, taps.mass, prediction)
    table = _flex_table(problem, point, at, point)
    if len(table) and not found:
        worst = table.loc[table["away"].abs().idxmax()]
        side = "more" if worst["away"] > 0 else "less"
        read = f"read {worst['read_mm']:.2f} mm under {worst['weight_g']:.0f} g"
        expected = f"expected {worst['others_mm']:.2f} ± {worst['others_sd_mm']:.2f} mm"
        text = (
            f"the flex {worst['kind']} sags {side} than all else lets one expect: {read}, {expected}; "
            "look at pegs, weight and gauge, and read it again"
        )
        found = (Doubt((), "flex", text),)
    return found


def _odd_without_flexes(rest, prediction):
    given = [(n, rest.taps.frequencies[n], sd) for n, sd in prediction.sd.items()]
    return is_odd(prediction.distance(given, rest.taps.mass), len(rest.heard))
