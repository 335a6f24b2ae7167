"""The wood of a top from its weight and the pitch of its taps."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.errors import AccuracyError
from platemodel.instrument.bar import Bar
from platemodel.study.top.model import TopModel
from platemodel.study.top.recognise import KNOWN
from platemodel.study.wood.reading_doubts import Doubt, Prediction, doubts, is_odd
from platemodel.study.wood.wood_modes import WoodModes, WoodSolver
from platemodel.wood import CONSTANTS, WoodEstimate, species_estimate
from platemodel.wood.bayes import linear_update
from platemodel.wood.species import USUAL_SPECIES
from platemodel.wood.strength import FRACTILE

FITTED = ("density", "E_L", "E_R", "G_LR")  # what taps and weight tell; the others keep to the species
# The linearised bands of 90 % held 88 % of 400 tops drawn from the species' spread: frequencies bend over so
# wide a range of woods. Bands are widened by so much.
BENT = 1.05
MOST_STEPS, SETTLED = 12, 1e-5
MOST_SOLVES, SAME = 5, 2e-4  # of the full model; largest relative change of a tapped mode between two of them


@dataclass(frozen=True)
class Errors:
    """Standard deviations, all relative; the defaults are judgements.

    Attributes
    ----------
    reading : float
        Of a frequency read from a tap.
    model : float
        What the model of a carefully measured top may be off by in one frequency: arching and thickness
        between the measured points, cleats, varnish, mesh.
    thickness : float
        Of the caliper, common to all points: 0.04 mm of 2.7 mm.
    weighing : float
        Scale, and varnish and glue that are not in the model.
    """

    reading: float = 0.005
    model: float = 0.01
    thickness: float = 0.015
    weighing: float = 0.01


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
        (before the fit), ``fitted_hz, residual_percent``.
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
    taps: Mapping[int, float],
    mass: float | None = None,
    bar: Bar | None = None,
    prior: WoodEstimate | None = None,
    errors: Errors = Errors(),
    reading: Mapping[int, float] | None = None,
    despite_doubts: bool = False,
    solver: WoodSolver | None = None,
    progress: Callable[[str], None] | None = None,
) -> WoodFit:
    """Find density and stiffness of a top's wood from its weight and taps.

    Parameters
    ----------
    model : TopModel
        Outline, arching, thickness and sound holes as measured; its own wood is not used.
    taps : mapping of int to float
        Mode number to frequency in Hz. Modes 1, 2 and 5 are told by their shape; the other numbers, from 3,
        are the other modes in the order of pitch.
    mass : float, optional
        Weight of the plate as tapped, kg, bar included if there was one.
    bar : Bar, optional
        The known bar that was on the top when tapped.
    prior : WoodEstimate, optional
        What is known of the wood beforehand; default tonewood spruce.
    errors : Errors
    reading : mapping of int to float, optional
        Relative standard deviation of the reading by mode number, where it is known.
    despite_doubts : bool
        Fit taps that look wrong all the same.
    solver : WoodSolver, optional
        Of the same model and bar, to use its basis again.
    progress : callable, optional
        Told in words what is being done.

    Returns
    -------
    WoodFit

    Raises
    ------
    ValueError
        No taps, a frequency or mass that is not positive, or a mode number the model does not give.
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
    _check(taps, mass)
    prior = prior or species_estimate(USUAL_SPECIES)
    solver = solver or WoodSolver(model, bar, count=max(10, max(taps) + 4))
    numbers = sorted(taps)
    tell("solving for the species' median")
    start = solver.full(prior.wood)
    missing = [n for n in numbers if n not in start.index]
    if missing:
        msg = f"mode {missing[0]}: the model follows modes {min(start.index)} to {max(start.index)}"
        raise ValueError(msg)
    sd = np.array([np.hypot((reading or {}).get(n, errors.reading), errors.model) for n in numbers])
    problem = _Problem(prior, numbers, np.log([taps[n] for n in numbers]), sd, mass, errors)
    point, at, solves = problem.start, start, 1
    while True:
        tell("fitting the wood")
        point = problem.descend(point, solver)
        before = solver.reduced(problem.wood(point))
        tell("solving with the wood found")
        at = solver.full(problem.wood(point))
        solves += 1
        moved = max(abs(_tapped(at, n) / _tapped(before, n) - 1.0) for n in numbers)
        if moved < SAME or solves >= MOST_SOLVES:
            break
    found = ()
    if is_odd(problem.misfit(point, at), len(numbers) + (mass is not None)):
        found = doubts(taps, mass, _prediction(problem, start))
        if not despite_doubts:
            raise TapError(found)
    try:
        return _report(problem, point, start, at, taps, found, solves)
    except ValueError as error:  # the constants that fit are no sound material
        raise TapError(found or doubts(taps, mass, _prediction(problem, start))) from error


def _tapped(modes, number):
    return modes.frequencies[modes.index[number]]


def _check(taps, mass):
    if not taps:
        msg = "no taps; at least one mode's frequency in Hz is needed"
        raise ValueError(msg)
    for number, f in taps.items():
        if not (np.isfinite(f) and f > 0):
            msg = f"mode {number}: {f} Hz; a frequency is positive"
            raise ValueError(msg)
        if int(number) != number or number < 1:
            msg = f"mode {number}; modes are numbered from 1"
            raise ValueError(msg)
    if mass is not None and not (np.isfinite(mass) and mass > 0):
        msg = f"mass {mass} kg; must be positive"
        raise ValueError(msg)


@dataclass(frozen=True, eq=False)
class _Problem:
    """Unknowns: logarithms of the ten constants, then that of the thickness factor."""

    prior: WoodEstimate
    numbers: list[int]
    heard: np.ndarray
    sd: np.ndarray
    mass: float | None
    errors: Errors

    @property
    def start(self):
        return np.append(self.prior.logs, 0.0)

    @property
    def prior_cov(self):
        n = len(CONSTANTS)
        out = np.zeros((n + 1, n + 1))
        out[:n, :n] = self.prior.log_cov
        out[n, n] = self.errors.thickness**2
        return out

    def wood(self, point):
        return self.prior.with_logs(point[:-1])

    def readings(self, point, modes):
        """Measured minus computed, its derivatives by the unknowns (m, 11), and sd."""
        places = [modes.index[n] for n in self.numbers]
        rows = modes.by_logs[places]
        # the thickness factor is not in the solved model, but its first-order effect is
        gap = self.heard - np.log(modes.frequencies[places]) - rows[:, -1] * point[-1]
        sd = self.sd
        if self.mass is not None:
            top = modes.mass - modes.bar_mass
            share = top / modes.mass
            row = np.zeros(len(point))
            row[0] = row[-1] = share
            rows = np.vstack([rows, row])
            gap = np.append(gap, np.log(self.mass / modes.mass) - share * point[-1])
            sd = np.append(sd, self.errors.weighing)
        return gap, rows, sd

    def posterior(self, point, modes):
        """Mean of the linearised posterior and its covariance."""
        gap, rows, sd = self.readings(point, modes)
        gain, cov = linear_update(self.prior_cov, rows, sd)
        return self.start + gain @ (gap + rows @ (point - self.start)), cov

    def misfit(self, point, modes):
        """Minus twice the logarithm of the posterior, up to a constant."""
        gap, _, sd = self.readings(point, modes)
        away = point - self.start
        return float((gap / sd) @ (gap / sd) + away @ (np.linalg.pinv(self.prior_cov, hermitian=True) @ away))

    def descend(self, point, solver):
        """Gauss-Newton on the reduced model; a step that does not help is halved."""
        modes = solver.reduced(self.wood(point))
        value = self.misfit(point, modes)
        for _ in range(MOST_STEPS):
            step = self.posterior(point, modes)[0] - point
            share = 1.0
            while True:
                try:
                    there = solver.reduced(self.wood(point + share * step))
                    new = self.misfit(point + share * step, there)
                except ValueError:
                    new = np.inf
                if new <= value * (1 + 1e-9) + 1e-9 or share < 0.1:
                    break
                share *= 0.5
            if not np.isfinite(new):
                break
            point, modes, value = point + share * step, there, new
            if np.abs(share * step).max() < SETTLED:
                break
        return point


def _prediction(problem, start):
    """Gather what the species' spread lets one expect: logarithms, covariance and rows by mode."""
    numbers = sorted(start.index)
    places = [start.index[n] for n in numbers]
    rows = start.by_logs[places]
    share = (start.mass - start.bar_mass) / start.mass
    mass_row = np.zeros(rows.shape[1])
    mass_row[0] = mass_row[-1] = share
    return Prediction(
        tuple(numbers),
        np.log(start.frequencies[places]),
        np.log(start.mass),
        np.vstack([rows, mass_row]),
        problem.prior_cov,
        dict(zip(problem.numbers, problem.sd, strict=True)),
        problem.errors.weighing,
    )


def _report(problem, point, start, at, taps, found, solves):
    mean, cov = problem.posterior(point, at)
    cov = BENT**2 * cov
    n = len(CONSTANTS)
    sources = "weight and taps" if problem.mass is not None else "taps"
    listed = ", ".join(str(k) for k in problem.numbers)
    estimate = WoodEstimate(
        problem.wood(mean),
        0.5 * (cov[:n, :n] + cov[:n, :n].T),
        f"{problem.prior.source}; {sources} of modes {listed} on the top itself",
    )
    shift = at.by_logs @ (mean - point)
    fitted = at.frequencies * np.exp(shift + at.by_logs[:, -1] * point[-1])
    rows = []
    for number, sd in zip(problem.numbers, problem.sd, strict=True):
        heard, fit = taps[number], fitted[at.index[number]]
        rows.append(
            {
                "number": number,
                "name": KNOWN.get(number, ""),
                "heard_hz": heard,
                "sd_hz": sd * heard,
                "expected_hz": start.frequencies[start.index[number]],
                "fitted_hz": fit,
                "residual_percent": 100.0 * (heard / fit - 1.0),
            }
        )
    mass = None
    if problem.mass is not None:
        share = (at.mass - at.bar_mass) / at.mass
        mass = (problem.mass, at.mass * float(np.exp(share * (mean[0] - point[0] + mean[-1]))))
    return WoodFit(
        estimate,
        problem.prior,
        pd.DataFrame(rows),
        mass,
        (float(np.exp(mean[-1])), float(np.sqrt(cov[-1, -1]))),
        _next_taps(problem, at, fitted, cov),
        tuple(found),
        solves,
        at,
    )


def _next_taps(problem, at, fitted, cov):
    """Tabulate what each mode not yet tapped would add."""
    goals = [CONSTANTS.index(c) for c in ("E_L", "E_R", "G_LR")]
    noise = problem.errors.reading**2 + problem.errors.model**2
    rows = []
    for number in sorted(at.index):
        place = at.index[number]
        if number in problem.numbers or (place in {at.index[n] for n in problem.numbers}) or place > 7:
            continue
        row = at.by_logs[place]
        spread = cov @ row
        variance = float(row @ spread)
        after = np.array([cov[g, g] - spread[g] ** 2 / (variance + noise) for g in goals])
        narrower = 100.0 * (1.0 - np.sqrt(after / np.array([cov[g, g] for g in goals])))
        rows.append(
            {
                "number": number,
                "name": KNOWN.get(number, ""),
                "expected_hz": fitted[place],
                "band_hz": FRACTILE * np.sqrt(variance + noise) * fitted[place],
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
