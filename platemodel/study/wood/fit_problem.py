"""The unknowns and readings of a fit of the wood: one wood, one top, one or several of its states."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import block_diag

from platemodel.study.top.model import TopModel
from platemodel.study.wood.flex_rows import FlexRows
from platemodel.study.wood.top_taps import Errors, TopTaps
from platemodel.study.wood.wood_modes import WoodModes
from platemodel.wood import CONSTANTS, Orthotropic, WoodEstimate
from platemodel.wood.bayes import Posterior, linear_update, most_probable

SETTLED = 1e-4  # standard deviations of the prior by which the last step of a fit still moves
# The linearised bands of 90 % held 88 % of 400 tops drawn from the species' spread: frequencies bend over so
# wide a range of woods. Bands are widened by so much.
WIDENING = 1.05
N = len(CONSTANTS)
THICKNESS = N  # place of the thickness factor among the unknowns
MODULI = np.array([name[0] in "EG" for name in CONSTANTS])


@dataclass(frozen=True, eq=False)
class StateRows:
    """One state of the top in the fit.

    Attributes
    ----------
    followed : tuple of int
        Numbers of the modes that the model follows.
    slips : slice
        Place among the unknowns of what slips of thickness and arching do to each followed mode and to the
        weight.
    bar, day : int or None
        Places of the factor on the bar's moduli and of the day's common shift.
    shift : array (10,)
        By how much the air of the day moves the logarithms of the constants.
    sags : FlexRows or None
        Once they were solved for a wood.
    """

    taps: TopTaps
    followed: tuple[int, ...]
    slips: slice
    bar: int | None
    day: int | None
    shift: np.ndarray
    sags: FlexRows | None = None

    @property
    def numbers(self) -> list[int]:
        """Modes that were tapped, rising."""
        return sorted(self.taps.frequencies)

    def logs(self, point: np.ndarray) -> np.ndarray:
        """Logarithms of the constants in this state's air."""
        out = point[:N] + self.shift
        return out if self.day is None else out + 2.0 * point[self.day] * MODULI

    def bar_log(self, point: np.ndarray) -> float:
        """Logarithm of the factor on the bar's moduli."""
        return 0.0 if self.bar is None else float(point[self.bar])

    def rows(self, by_logs: np.ndarray, by_bar: np.ndarray, size: int) -> np.ndarray:
        """Arrange derivatives by constants, thickness and bar as those by all unknowns: (k, size)."""
        out = np.zeros((len(by_logs), size))
        out[:, : N + 1] = by_logs
        if self.bar is not None:
            out[:, self.bar] = by_bar
        if self.day is not None:
            out[:, self.day] = 2.0 * by_logs[:, :N] @ MODULI
        return out

    def all_expected(self, point: np.ndarray, modes: WoodModes) -> tuple[np.ndarray, np.ndarray]:
        """Logarithms of all followed modes and of the weight, and their derivatives by the unknowns.

        The modes are solved for the point's wood; its thickness factor and slips come in to first order, and
        so does what the bar's factor is off the one they were solved with.
        """
        places = [modes.index[n] for n in self.followed]
        share = (modes.mass - modes.bar_mass) / modes.mass
        weight = np.zeros(modes.by_logs.shape[1])
        weight[0] = weight[-1] = share
        by_bar = np.append(modes.by_bar[places], 0.0)
        rows = self.rows(np.vstack([modes.by_logs[places], weight]), by_bar, len(point))
        rows[:, self.slips] = np.eye(len(places) + 1)
        logs = np.log(np.append(modes.frequencies[places], modes.mass))
        slips = point[self.slips] + rows[:, THICKNESS] * point[THICKNESS]
        return logs + slips + by_bar * (self.bar_log(point) - modes.bar_log), rows

    @property
    def read(self) -> list[int]:
        """Places of the taps and the weight among all that is expected of them."""
        places = [self.followed.index(n) for n in self.numbers]
        return places if self.taps.mass is None else [*places, len(self.followed)]

    @property
    def heard(self) -> np.ndarray:
        """Logarithms of the readings: taps, weight, flexes."""
        values = [self.taps.frequencies[n] for n in self.numbers]
        values = values if self.taps.mass is None else [*values, self.taps.mass - self.taps.added]
        return np.concatenate([np.log(values), self.sags.read])

    def sd(self, errors: Errors) -> np.ndarray:
        """Relative standard deviations of the readings and of the model together."""
        taps, flexes = errors.tap_sd(self.taps), self.sags.sd(errors.flexing)
        weighed = [] if self.taps.mass is None else [errors.weighing]
        if self.taps.added:  # patches stiffen as well, and where they lie is not in the model
            share = self.taps.added / self.taps.mass
            taps, flexes = np.hypot(taps, 0.5 * share), np.hypot(flexes, share)
        return np.concatenate([taps, weighed, flexes])

    def model_sd(self, errors: Errors) -> list[tuple[str, float]]:
        """Return what each reading is of, and what the model may be off by in it, relative."""
        weighed = [] if self.taps.mass is None else [("weight", errors.weighing)]
        flexes = [(f"flex {r.test.name}", errors.flexing) for r in self.sags.readings]
        return [*((f"mode {n}", errors.model) for n in self.numbers), *weighed, *flexes]

    def expected(self, point: np.ndarray, modes: WoodModes) -> tuple[np.ndarray, np.ndarray]:
        """Logarithms of the readings that are expected, and their derivatives."""
        logs, rows = self.all_expected(point, modes)
        sags, by = self.expected_sags(point)
        return np.concatenate([logs[self.read], sags]), np.vstack([rows[self.read], by])

    def expected_sags(self, point: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Logarithms of the flexes that are expected, and their derivatives."""
        on = self.sags
        away = np.append(self.logs(point) - on.at, point[THICKNESS])
        logs = on.logs + on.by_logs @ away + on.by_bar * (self.bar_log(point) - on.bar_log)
        return logs, self.rows(on.by_logs, on.by_bar, len(point))


@dataclass(frozen=True, eq=False)
class FitProblem:
    """Unknowns and readings, all as logarithms.

    Unknowns: the ten constants; the thickness factor; a factor on the moduli of each bar in doubt; the common
    shift of each day but the first; what slips of thickness and arching do to each state's modes and weight.

    Attributes
    ----------
    extra_cov : array
        Prior covariance of bars, days and slips.
    """

    prior: WoodEstimate
    errors: Errors
    states: tuple[StateRows, ...]
    extra_cov: np.ndarray

    @classmethod
    def of(
        cls,
        prior: WoodEstimate,
        errors: Errors,
        states: Sequence[TopTaps],
        followed: Sequence[tuple[int, ...]],
        effects: np.ndarray,
    ) -> "FitProblem":
        """Lay out the unknowns.

        Parameters
        ----------
        followed : sequence of tuple of int
            Mode numbers that the model follows in each state.
        effects : array (n, m)
            What the independent slips of thickness and arching do to each state's followed modes and weight,
            the states one after the other.
        """
        days = [t.day or f"state {k}" for k, t in enumerate(states)]
        shifted = [d for d in dict.fromkeys(days) if d != days[0]]
        bars = list(dict.fromkeys(t.bar_key for t in states if t.bar is not None and t.bar_sd > 0))
        spread = {t.bar_key: t.bar_sd for t in states}
        first, at = N + 1 + len(bars) + len(shifted), 0
        rows = []
        for taps, day, modes in zip(states, days, followed, strict=True):
            size = len(modes) + 1
            rows.append(
                StateRows(
                    taps,
                    tuple(modes),
                    slice(first + at, first + at + size),
                    N + 1 + bars.index(taps.bar_key) if taps.bar_key in bars else None,
                    None if day == days[0] else N + 1 + len(bars) + shifted.index(day),
                    np.asarray(taps.shift),
                )
            )
            at += size
        by_day = dict(zip(days, states, strict=True))
        day_sd = [errors.day_sd(by_day[d]) for d in shifted]
        own = np.square([*(spread[b] for b in bars), *day_sd])
        return cls(prior, errors, tuple(rows), block_diag(np.diag(own), effects.T @ effects))

    @property
    def start(self) -> np.ndarray:
        """The prior's middle."""
        return np.concatenate([self.prior.logs, np.zeros(1 + len(self.extra_cov))])

    @property
    def prior_cov(self) -> np.ndarray:
        """Covariance of all unknowns before the readings."""
        return block_diag(self.prior.log_cov, self.errors.thickness**2, self.extra_cov)

    def wood(self, point: np.ndarray) -> Orthotropic:
        """Return the wood of a point, in the air of the first state."""
        return self.prior.with_logs(point[:N])

    def wood_in(self, state: StateRows, point: np.ndarray) -> Orthotropic:
        """Return the wood of a point in a state's air."""
        return self.prior.with_logs(state.logs(point))

    def flexed(self, model: TopModel, point: np.ndarray) -> "FitProblem":
        """Return the same with the flex tests solved for a point's wood."""
        states = []
        for state in self.states:
            taps, logs = state.taps, state.logs(point)
            wood, bar_log = self.prior.with_logs(logs), state.bar_log(point)
            rows = FlexRows.solved(model, taps.flexes, taps.bar, wood, logs, bar_log)
            states.append(replace(state, sags=rows))
        return replace(self, states=tuple(states))

    def without_flexes(self) -> "FitProblem":
        """Return the same as if nothing had been flexed."""
        states = (replace(s, sags=s.sags.none()) for s in self.states)
        return replace(self, states=tuple(states))

    @property
    def heard(self) -> np.ndarray:
        """Logarithms of all readings."""
        return np.concatenate([s.heard for s in self.states])

    @property
    def sd(self) -> np.ndarray:
        """Relative standard deviations of all readings."""
        return np.concatenate([s.sd(self.errors) for s in self.states])

    @property
    def noise(self) -> np.ndarray:
        """Covariance of the errors of all readings: what the model is off by is in part the plate's own."""
        what, sd = zip(*(part for s in self.states for part in s.model_sd(self.errors)), strict=True)
        same = np.equal.outer(what, what)
        np.fill_diagonal(same, False)
        return np.diag(self.sd**2) + self.errors.shared * same * np.outer(sd, sd)

    def places(self, state: StateRows) -> np.ndarray:
        """Places of a state's readings among all."""
        sizes = [len(s.heard) for s in self.states]
        first = sum(sizes[: self.states.index(state)])
        return np.arange(first, first + sizes[self.states.index(state)])

    def expected(self, point: np.ndarray, modes: Sequence[WoodModes]) -> tuple[np.ndarray, np.ndarray]:
        """Logarithms of the readings that are expected, and their derivatives, from each state's modes."""
        logs, rows = zip(
            *(s.expected(point, m) for s, m in zip(self.states, modes, strict=True)), strict=True
        )
        return np.concatenate(logs), np.vstack(rows)

    def fit(self, start: np.ndarray, solve: Callable[[np.ndarray], list[WoodModes]]) -> Posterior:
        """Most probable unknowns, where ``solve`` gives each state's modes for a point."""

        def predict(point):
            return self.expected(point, solve(point))

        return most_probable(
            self.start,
            self.prior_cov,
            predict,
            self.heard,
            self.noise,
            start=start,
            tolerance=SETTLED,
            must_settle=False,  # readings that no wood explains are reported as doubts
        )

    def posterior(
        self, point: np.ndarray, modes: Sequence[WoodModes]
    ) -> tuple[np.ndarray, np.ndarray, float]:
        """Mean of the posterior linearised at a point, its covariance, and minus twice its logarithm."""
        logs, rows = self.expected(point, modes)
        gap = self.heard - logs
        gain, cov = linear_update(self.prior_cov, rows, self.noise)
        away = point - self.start
        precision = np.linalg.pinv(self.prior_cov, hermitian=True)
        misfit = float(gap @ np.linalg.solve(self.noise, gap) + away @ precision @ away)
        return self.start + gain @ (gap + rows @ away), cov, misfit

    def left_out(
        self, state: StateRows, point: np.ndarray, modes: Sequence[WoodModes]
    ) -> tuple[np.ndarray, np.ndarray]:
        """How far a state's readings lie from what all other states tell, and how far they may.

        Returns
        -------
        off : array (k,)
            Of each reading, in logarithms.
        spread : array (k, k)
            Covariance of that: of the readings left out and of what the others predict.
        """
        mine = self.places(state)
        others = np.setdiff1d(np.arange(len(self.heard)), mine)
        logs, rows = self.expected(point, modes)
        gap = self.heard - logs + rows @ (point - self.start)  # from what is expected before any reading
        total = rows @ self.prior_cov @ rows.T + self.noise
        gain = np.linalg.solve(total[np.ix_(others, others)], total[np.ix_(others, mine)]).T
        spread = total[np.ix_(mine, mine)] - gain @ total[np.ix_(others, mine)]
        return gap[mine] - gain @ gap[others], spread
