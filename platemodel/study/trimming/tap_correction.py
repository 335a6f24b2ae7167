"""How far the model of one top is off, judged by the taps of all stages of its bar."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.study.top.answers import TopSolver, bar_response
from platemodel.wood.bayes import linear_update

MODES = (1, 2, 5)
# Relative standard deviations; judgement, no source.
FIRST_DOUBT = 0.08  # of a computed frequency before any tap with the bar on, where no band of it is given
SLOPE_DOUBT = 0.3  # of the computed change of a frequency by a cut
READING = 0.003  # of a tap read off a recording: 1 Hz in 350
DRIFT = 0.002  # from stage to stage: moisture, hold, the cut's own shape
ODD = 3.5  # standard deviations beyond which a reading is taken for another mode or another air


@dataclass(frozen=True, eq=False)
class Stage:
    """The bar at one stage, and what was heard.

    Attributes
    ----------
    bar : Bar
        As it stood.
    heard : mapping of int to float
        Mode number to Hz, bar on, plate free.
    """

    bar: Bar
    heard: Mapping[int, float]


@dataclass(frozen=True, eq=False)
class Followed:
    """Offset and slope of the logarithm of heard over computed frequency, for one mode.

    Attributes
    ----------
    mean : array (2,)
        Offset at the stage of `reference`, and relative error of computed changes.
    covariance : array (2, 2)
    reference : float
        Computed frequency that the slope counts from, Hz; NaN while the model does not know the mode.
    """

    mean: np.ndarray
    covariance: np.ndarray
    reference: float


@dataclass(frozen=True, eq=False)
class Correction:
    """How far the model of this top is off, judged by its taps.

    Attributes
    ----------
    table : DataFrame
        A row a stage and mode: ``stage`` (from 1), ``number``, ``heard_hz``, ``computed_hz``, ``expected_hz``
        and ``expected_sd_hz`` (of the reading, before it came), ``corrected_hz`` and ``sd_hz`` (after it),
        ``odd`` (a reading so far off that it was not believed).
    modes : dict of int to Followed
        What is known after the last stage.
    """

    table: pd.DataFrame
    modes: dict[int, Followed]

    def apply(self, number: int, computed: float, later: bool = False) -> tuple[float, float]:
        """Corrected frequency and its standard deviation, Hz.

        Parameters
        ----------
        number : int
            1, 2 or 5.
        computed : float
            Of the model, Hz.
        later : bool
            At the next stage: with what may drift until then.
        """
        return _apply(self.modes[number], computed, DRIFT if later else 0.0)

    def odd(self, number: int) -> bool:
        """Whether the last reading of a mode was not believed."""
        rows = self.table[(self.table["number"] == number) & self.table["heard_hz"].notna()]
        return bool(len(rows) and rows["odd"].iloc[-1])


def _row(known, computed):
    return np.array([1.0, np.log(computed / known.reference)])


def _apply(known, computed, extra):
    row = _row(known, computed)
    f = computed * float(np.exp(row @ known.mean))
    return f, f * float(np.sqrt(row @ known.covariance @ row + extra**2))


def correct(
    model: TopSolver, stages: Sequence[Stage], doubt: Mapping[int, float] | None = None
) -> Correction:
    """Learn the correction of each mode from all stages so far.

    Parameters
    ----------
    model : TopModel or ReducedTop
    stages : sequence of Stage
        In the order of the work.
    doubt : mapping of int to float, optional
        Relative standard deviations of the computed tones by mode, before any tap with the bar on; default
        `FIRST_DOUBT`.

    Notes
    -----
    For each mode the logarithm of heard over computed is an offset plus a slope times the logarithm of the
    computed change since the first stage. A Kalman filter follows both: they start at 0 with ``doubt``
    and `SLOPE_DOUBT`, the offset may drift by `DRIFT` from stage to stage, a reading is good to `READING`
    (Durbin & Koopman, Time Series Analysis by State Space Methods, 2001, chapters 2 and 4, from memory). A
    reading more than `ODD` standard deviations off is not believed, unless a second one in a row agrees.
    """
    first = dict.fromkeys(MODES, FIRST_DOUBT) | dict(doubt or {})
    modes = {n: Followed(np.zeros(2), np.diag([first[n] ** 2, SLOPE_DOUBT**2]), float("nan")) for n in MODES}
    doubted = dict.fromkeys(MODES)
    rows = []
    for k, stage in enumerate(stages):
        answer = bar_response(model, stage.bar)
        for n in MODES:
            computed, heard = answer.frequency(n), stage.heard.get(n, float("nan"))
            known = modes[n]
            if k:
                known = Followed(known.mean, known.covariance + np.diag([DRIFT**2, 0.0]), known.reference)
            if np.isnan(known.reference) and np.isfinite(computed):
                known = Followed(known.mean, known.covariance, computed)
            expected, sd = _apply(known, computed, READING)
            odd = False
            if np.isfinite(computed) and np.isfinite(heard):
                off = np.log(heard / computed)
                odd = abs(np.log(heard / expected)) > ODD * sd / expected
                if odd and doubted[n] is not None and abs(off - doubted[n]) < ODD * READING * 2**0.5:
                    wide = known.covariance + np.diag([first[n] ** 2, 0.0])
                    known, odd = Followed(known.mean, wide, known.reference), False
                doubted[n] = off if odd else None
                if not odd:
                    row = _row(known, computed)
                    gain, cov = linear_update(known.covariance, row[None], np.array([READING]))
                    known = Followed(known.mean + gain[:, 0] * (off - row @ known.mean), cov, known.reference)
            modes[n] = known
            rows.append((k + 1, n, heard, computed, expected, sd, *_apply(known, computed, 0.0), odd))
    names = ("stage", "number", "heard_hz", "computed_hz", "expected_hz", "expected_sd_hz", "corrected_hz",
             "sd_hz", "odd")  # fmt: skip
    return Correction(pd.DataFrame(rows, columns=names), modes)
