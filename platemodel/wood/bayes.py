"""Most probable values under a normal prior and nearly linear readings."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from platemodel.errors import AccuracyError

MOST_STEPS = 40
AT_REST = 1e-7  # of the misfit: what a step gains less than leaves the probability as it is
LEAST_SHARE = 0.1  # of a step: a shorter one is not tried

Predict = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]


@dataclass(frozen=True, eq=False)
class Posterior:
    """Unknowns after their readings.

    Attributes
    ----------
    mean : array (n,)
        Most probable values.
    cov : array (n, n)
        Covariance, to first order at those values.
    fitted : array (m,)
        Readings expected there.
    agreement : float
        Probability of readings that fit each other worse than these do; below about 0.01 something does not
        fit. NaN where there are no more readings than unknowns to find.
    misfit : float
        Minus twice the logarithm of the posterior density at ``mean``, up to a constant: squared distance of
        the readings from ``fitted`` and of ``mean`` from the prior, in standard deviations.
    """

    mean: np.ndarray
    cov: np.ndarray
    fitted: np.ndarray
    agreement: float
    misfit: float


def linear_update(cov: np.ndarray, rows: np.ndarray, noise: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Update a normal prior by linear readings.

    Parameters
    ----------
    cov : array (n, n)
        Prior covariance; may be singular.
    rows : array (m, n)
        Derivatives of the readings by the unknowns.
    noise : array (m,) or (m, m)
        Standard deviations of independent readings, or the covariance of readings that err together.

    Returns
    -------
    gain : array (n, m)
        Change of the unknowns per reading above what was expected.
    cov : array (n, n)
        Posterior covariance, in Joseph's form, which stays positive semi-definite in rounding (Bishop,
        Pattern Recognition and Machine Learning, 2006, section 2.3.3).
    """
    noise = _covariance(noise)
    spread = cov @ rows.T
    gain = np.linalg.solve(rows @ spread + noise, spread.T).T
    left = np.eye(len(cov)) - gain @ rows
    return gain, left @ cov @ left.T + gain @ noise @ gain.T


def _covariance(noise):
    noise = np.asarray(noise, dtype=float)
    return np.diag(noise**2) if noise.ndim == 1 else noise


def most_probable(
    mean: np.ndarray,
    cov: np.ndarray,
    predict: Predict,
    readings: np.ndarray,
    noise: np.ndarray,
    free: np.ndarray | None = None,
    start: np.ndarray | None = None,
    tolerance: float = 1e-4,
    must_settle: bool = True,
) -> Posterior:
    """Gauss-Newton search for the most probable unknowns.

    Parameters
    ----------
    mean, cov : array (n,), (n, n)
        Normal prior; the covariance may be singular (unknowns that are known).
    predict : callable
        Takes unknowns (n,), returns expected readings (m,) and their derivatives (m, n). It may refuse
        unknowns that make no sense with a ValueError: the search then takes a shorter step.
    readings : array (m,)
    noise : array (m,) or (m, m)
        Standard deviations of independent readings, or the covariance of readings that err together.
    free : array (n, r), optional
        Directions of the unknowns in which readings may lie far from the prior without speaking against each
        other: what the test is there to find. Default none.
    start : array (n,), optional
        Where the search starts; default the prior's mean. It does not change the answer.
    tolerance : float
        Largest step, in standard deviations of the prior, at which the search ends.
    must_settle : bool
        Raise if the search does not come to rest; else return the best point it found.

    Raises
    ------
    AccuracyError
        If the search does not come to rest.

    Notes
    -----
    Each step is the update of a normal prior by linear readings (Bishop, Pattern Recognition and Machine
    Learning, 2006, section 2.3.3), the readings linearised where the last step ended (the iterated Kalman
    update: Bell & Cathey, IEEE Trans. Automatic Control 38, 1993, from memory). A step that makes the
    posterior less probable is halved.
    """
    noise = _covariance(noise)
    spread = np.sqrt(np.maximum(np.diag(cov), 1e-30))
    precision, weight = np.linalg.pinv(cov, hermitian=True), np.linalg.inv(noise)

    def misfit(x, fitted):
        gap, away = readings - fitted, x - mean
        return float(gap @ weight @ gap + away @ precision @ away)

    def try_step(x, step, best):
        share = 1.0
        while True:
            try:
                found = predict(x + share * step)
                value = misfit(x + share * step, found[0])
            except ValueError:
                found, value = None, np.inf
            if value <= best * (1.0 + 1e-9) + 1e-9 or share < LEAST_SHARE:
                return share * step, found, value
            share *= 0.5

    x = np.array(mean if start is None else start, dtype=float)
    fitted, rows = predict(x)
    value = misfit(x, fitted)
    size, settled = np.inf, False
    for _ in range(MOST_STEPS):
        gain, _ = linear_update(cov, rows, noise)
        step, found, new = try_step(x, mean + gain @ (readings - fitted + rows @ (x - mean)) - x, value)
        if found is None:
            break
        x, (fitted, rows), gained, value = x + step, found, value - new, new
        size = np.abs(step / spread).max()
        settled = size < tolerance or 0.0 <= gained < AT_REST
        if settled:
            break
    if not settled and must_settle:
        msg = (
            f"the fit of the wood did not come to rest in {MOST_STEPS} steps (last step {size:.1e} standard "
            "deviations); a reading is far from anything this wood can do: check it, and the mode it was "
            "given"
        )
        raise AccuracyError(msg)
    off = readings - fitted + rows @ (x - mean)
    found = np.zeros((len(off), 0)) if free is None else rows @ free
    agreement = _agreement(off, found, rows @ cov @ rows.T + noise)
    return Posterior(x, linear_update(cov, rows, noise)[1], fitted, agreement, value)


def _agreement(off, found, total):
    """Chi-squared test of what the free directions leave of the readings' distance from the prior."""
    freedom = len(off) - (np.linalg.matrix_rank(found, tol=1e-6) if found.size else 0)
    if freedom <= 0:
        return float("nan")
    root = np.linalg.cholesky(total)
    white = np.linalg.solve(root, off)
    if found.size:
        directions = np.linalg.solve(root, found)
        white = white - directions @ np.linalg.lstsq(directions, white, rcond=1e-9)[0]
    return float(chdtrc(freedom, white @ white))


def numerical_rows(values: Callable[[np.ndarray], np.ndarray], x: np.ndarray):
    """Values (m,) and their derivatives (m, n) by central differences; for cheap formulas."""
    step = 1e-5
    columns = [(values(x + step * one) - values(x - step * one)) / (2 * step) for one in np.eye(len(x))]
    return values(x), np.stack(columns, axis=1)
