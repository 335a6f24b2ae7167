"""Most probable values under a normal prior and nearly linear readings."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from platemodel.errors import AccuracyError

MOST_STEPS = 40


@dataclass(frozen=True, eq=False)
class Fit:
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
    """

    mean: np.ndarray
    cov: np.ndarray
    fitted: np.ndarray
    agreement: float


def linear_update(cov: np.ndarray, rows: np.ndarray, sd: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Update a normal prior by linear readings.

    Parameters
    ----------
    cov : array (n, n)
        Prior covariance; may be singular.
    rows : array (m, n)
        Derivatives of the readings by the unknowns.
    sd : array (m,)
        Standard deviations of the readings, independent of each other.

    Returns
    -------
    gain : array (n, m)
        Change of the unknowns per reading above what was expected.
    cov : array (n, n)
        Posterior covariance, in Joseph's form, which stays positive semi-definite in rounding (Bishop,
        Pattern Recognition and Machine Learning, 2006, section 2.3.3).
    """
    noise = np.diag(np.square(np.asarray(sd, dtype=float)))
    spread = cov @ rows.T
    gain = np.linalg.solve(rows @ spread + noise, spread.T).T
    left = np.eye(len(cov)) - gain @ rows
    return gain, left @ cov @ left.T + gain @ noise @ gain.T


def most_probable(
    mean: np.ndarray,
    cov: np.ndarray,
    predict: Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]],
    readings: np.ndarray,
    sd: np.ndarray,
    free: np.ndarray,
    start: np.ndarray | None = None,
    tolerance: float = 1e-4,
) -> Fit:
    """Gauss-Newton search for the most probable unknowns.

    Parameters
    ----------
    mean, cov : array (n,), (n, n)
        Normal prior; the covariance may be singular (unknowns that are known).
    predict : callable
        Takes unknowns (n,), returns expected readings (m,) and their derivatives (m, n).
    readings, sd : array (m,)
        Readings and their standard deviations, independent of each other.
    free : array (n, r)
        Directions of the unknowns in which readings may lie far from the prior without speaking against each
        other: what the test is there to find.
    start : array (n,), optional
        Where the search starts; default the prior's mean. It does not change the answer.
    tolerance : float
        Largest step, in standard deviations of the prior, at which the search ends.

    Returns
    -------
    Fit

    Raises
    ------
    AccuracyError
        If the search does not come to rest.

    Notes
    -----
    Each step is the update of a normal prior by linear readings (Bishop, Pattern Recognition and Machine
    Learning, 2006, section 2.3.3), the readings linearised where the last step ended (the iterated Kalman
    update: Bell & Cathey, IEEE Trans. Automatic Control 38, 1993, from memory).
    """
    spread = np.sqrt(np.maximum(np.diag(cov), 1e-30))
    x = np.array(mean if start is None else start, dtype=float)
    for _ in range(MOST_STEPS):
        fitted, rows = predict(x)
        gain, _ = linear_update(cov, rows, sd)
        new = mean + gain @ (readings - fitted + rows @ (x - mean))
        step = np.abs((new - x) / spread).max()
        x = new
        if step < tolerance:
            break
    else:
        msg = (
            f"the fit of the wood did not come to rest in {MOST_STEPS} steps (last step {step:.1e} standard "
            "deviations); a reading is far from anything this wood can do: check it, and the mode it was "
            "given"
        )
        raise AccuracyError(msg)
    fitted, rows = predict(x)
    total = rows @ cov @ rows.T + np.diag(np.square(np.asarray(sd, dtype=float)))
    agreement = _agreement(readings - fitted + rows @ (x - mean), rows @ free, total)
    return Fit(x, linear_update(cov, rows, sd)[1], fitted, agreement)


def _agreement(off, found, total):
    """Chi-squared test of what the free directions leave of the readings' distance from the prior."""
    freedom = len(off) - np.linalg.matrix_rank(found, tol=1e-6)
    if freedom <= 0:
        return float("nan")
    root = np.linalg.cholesky(total)
    white, directions = np.linalg.solve(root, off), np.linalg.solve(root, found)
    left = white - directions @ np.linalg.lstsq(directions, white, rcond=1e-9)[0]
    return float(chdtrc(freedom, left @ left))


def numerical_rows(values: Callable[[np.ndarray], np.ndarray], x: np.ndarray, step: float = 1e-5):
    """Values (m,) and their derivatives (m, n) by central differences; for cheap formulas."""
    columns = [(values(x + step * one) - values(x - step * one)) / (2 * step) for one in np.eye(len(x))]
    return values(x), np.stack(columns, axis=1)
