"""The wood of a top from its weight and the pitch of its taps."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from scipy.linalg import block_diag

from platemodel.errors import AccuracyError
from platemodel.instrument.bar import Bar
from platemodel.study.top.model import TopModel
from platemodel.study.top.recognise import KNOWN
from platemodel.study.wood.reading_doubts import HANDLING, Doubt, Prediction, doubts, is_odd
from platemodel.study.wood.shape_errors import ShapeErrors
from platemodel.study.wood.wood_modes import WoodModes, WoodSolver
from platemodel.wood import CONSTANTS, USUAL_SPECIES, WoodEstimate, species_estimate
from platemodel.wood.bayes import linear_update, most_probable
from platemodel.wood.estimate import HALF_WIDTH

FITTED = ("density", "E_L", "E_R", "G_LR")  # what taps and weight tell; the others keep to the species
# The linearised bands of 90 % held 88 % of 400 tops drawn from the species' spread: frequencies bend over so
# wide a range of woods. Bands are widened by so much.
WIDENING = 1.05
MOST_TAPPED = 8  # a further tap is advised among the lowest so many modes
SETTLED = 1e-4  # standard deviations of the prior by which the last step of a fit still moves
MOST_SOLVES, SAME = 5, 2e-4  # of the full model; largest relative change of a tapped mode between two of them


@dataclass(frozen=True)
class Errors:
    """Standard deviations, relative unless said otherwise; the defaults are judgements.

    Attributes
    ----------
    reading : float
        Of a frequency read from a tap, where the reading does not say.
    handling : float
        Least doubt of a tap, whatever a recording says: it is held and struck a little differently each time.
    model : float
        What the model may be off by in one frequency for other reasons than thickness and arching: cleats,
        varnish, uneven wood, mesh.
    thickness : float
        Of the caliper, common to all points: 0.04 mm of 2.7 mm.
    weighing : float
        Scale, and varnish and glue that are not in the model: 1 g on a violin's top.
    shape : ShapeErrors
        Errors of thickness and arching that differ from place to place, m.
    """

    reading: float = 0.005
    handling: float = HANDLING
    model: float = 0.005
    thickness: float = 0.015
    weighing: float = 0.015
    shape: ShapeErrors = field(default_factory=ShapeErrors)

    def tap_sd(self, taps: "TopTaps") -> np.ndarray:
        """Relative standard deviation of each tap, reading and model together, by rising mode number."""
        own = [max(taps.sd.get(n, self.reading), self.handling) for n in sorted(taps.frequencies)]
        return np.hypot(own, self.model)


@dataclass(frozen=True)
class TopTaps:
    """What was heard of a top, and in which state.

    Attributes
    ----------
    frequencies : mapping of int to float
        Mode number to Hz. Modes 1, 2 and 5 are told by their shape; the other numbers, from 3, are the other
        modes in the order of pitch.
    mass : float, optional
        Weight of the plate as tapped, kg, bar included if there was one.
    bar : Bar, optional
        The known bar that was on the top when tapped.
    sd : mapping of int to float
        Relative standard deviation of a reading by mode number, where it is known.

    Raises
    ------
    ValueError
        No taps, a frequency or mass that is not positive, or a mode number that is none.
    """

    frequencies: Mapping[int, float]
    mass: float | None = None
    bar: Bar | None = None
    sd: Mapping[int, float] = field(default_factory=dict)

    def __post_init__(self):
        if not self.frequencies:
            msg = "no taps; at least one mode's frequency in Hz is needed"
            raise ValueError(msg)
        for number, f in self.frequencies.items():
            if not (np.isfinite(f) and f > 0):
                msg = f"mode {number}: {f} Hz; a frequency is positive"
                raise ValueError(msg)
            if int(number) != number or number < 1:
                msg = f"mode {number}; modes are numbered from 1"
                raise ValueError(msg)
        if self.mass is not None and not (np.isfinite(self.mass) and self.mass > 0):
            msg = f"mass {self.mass} kg; must be positive"
            raise ValueError(msg)


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

    def _repr_html_(self) -> str:
        return self.estimate._repr_html_() + self.modes.to_html(index=False, float_format="{:.1f}".format)


def identify_wood(
    model: TopModel,
    taps: TopTaps,
    prior: WoodEstimate | None = None,
    errors: Errors = Errors(),
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
    errors : Errors
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
    prior = prior or species_estimate(USUAL_SPECIES)
    numbers = sorted(taps.frequencies)
    solver = solver or WoodSolver(model, taps.bar, count=max(10, max(numbers) + 4))
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
    problem = _Problem(prior, taps, errors, followed, scatter)
    point, solves = problem.start, 1
    while True:
        tell("fitting the wood")
        point = problem.fit(point, solver.reduced).mean
        before = solver.reduced(problem.wood(point))
        tell("solving with the wood found")
        at = solver.full(problem.wood(point))
        solves += 1
        moved = max(abs(_tapped(at, n) / _tapped(before, n) - 1.0) for n in numbers)
        if moved < SAME or solves >= MOST_SOLVES:
            break
    found = ()
    if is_odd(problem.posterior(point, at)[2], len(problem.heard)):
        found = doubts(taps.frequencies, taps.mass, _prediction(problem, start))
        if not despite_doubts:
            raise TapError(found)
    try:
        return _report(problem, point, start, at, found, solves)
    except ValueError as error:  # the constants that fit are no sound material
        raise TapError(found or doubts(taps.frequencies, taps.mass, _prediction(problem, start))) from error


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

    @property
    def numbers(self):
        return sorted(self.taps.frequencies)

    @property
    def heard(self):
        """Logarithms of the readings, the weight last."""
        values = [self.taps.frequencies[n] for n in self.numbers]
        return np.log(values if self.taps.mass is None else [*values, self.taps.mass])

    @property
    def tap_sd(self):
        return self.errors.tap_sd(self.taps)

    @property
    def sd(self):
        return self.tap_sd if self.taps.mass is None else np.append(self.tap_sd, self.errors.weighing)

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
        """Places of the readings among all that is expected."""
        places = [self.followed.index(n) for n in self.numbers]
        return places if self.taps.mass is None else [*places, len(self.followed)]

    def expected(self, point, modes):
        """Logarithms of the readings that are expected, and their derivatives."""
        logs, rows = self.all_expected(point, modes)
        return logs[self.read], rows[self.read]

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
            must_settle=False,  # readings that no wood explains are told as doubts
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
    """Gather what the species' spread lets one expect: logarithms, covariance and rows by mode."""
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
    sources = "weight and taps" if weighed is not None else "taps"
    listed = ", ".join(str(k) for k in problem.numbers)
    estimate = WoodEstimate(
        problem.wood(mean),
        0.5 * (cov[:n, :n] + cov[:n, :n].T),
        f"{problem.prior.source}; {sources} of modes {listed} on the top itself",
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
    mass = None if weighed is None else (weighed, float(fitted[0]))
    return WoodFit(
        estimate,
        problem.prior,
        pd.DataFrame(rows),
        mass,
        (float(np.exp(mean[n])), float(np.sqrt(cov[n, n]))),
        _next_taps(problem, by, fitted, cov),
        tuple(found),
        solves,
        at,
    )


def _next_taps(problem, by, fitted, cov):
    """Tabulate what each mode not yet tapped would add."""
    goals = [CONSTANTS.index(c) for c in ("E_L", "E_R", "G_LR")]
    noise = problem.errors.reading**2 + problem.errors.model**2
    rows = []
    for number, row in zip(problem.followed, by[:-1], strict=True):
        if number in problem.numbers or number > MOST_TAPPED:
            continue
        spread = cov @ row
        variance = float(row @ spread)
        after = np.array([cov[g, g] - spread[g] ** 2 / (variance + noise) for g in goals])
        narrower = 100.0 * (1.0 - np.sqrt(after / np.array([cov[g, g] for g in goals])))
        rows.append(
            {
                "number": number,
                "name": KNOWN.get(number, ""),
                "expected_hz": fitted[number],
                "band_hz": HALF_WIDTH * np.sqrt(variance + noise) * fitted[number],
                "E_L_percent": narrower[0],
                "E_R_percent": narrower[1],
                "G_LR_percent": narrower[2],
            }
        )
    columns = ["number", "name", "expected_hz", "band_hz", "E_L_percent", "E_R_percent", "G_LR_percent"]
    table = pd.DataFrame(rows, columns=columns)
    if len(table):
        # the order of the largest gain in the product of the three bands
        gain = -np.log1p(-table[columns[4:]] / 100.0).sum(axis=1)
        table = table.loc[gain.sort_values(ascending=False).index].reset_index(drop=True)
    return table
