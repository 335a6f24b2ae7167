"""Smooth surfaces through scattered readings, as smooth as their scatter asks for."""

import numpy as np
from scipy.interpolate import RBFInterpolator
from scipy.linalg import eigh, qr
from scipy.spatial.distance import cdist

LEAST, MOST, STEPS = -10.0, 2.0, 241  # powers of ten of the smoothing that are tried
ALIKE = 1.04  # squares of errors that are called alike: two per cent of the error itself
_TRIED = np.linspace(LEAST, MOST, STEPS)


class RadialSmoother:
    """Cubic radial smoothing of scattered readings: second derivatives are continuous at the points.

    Parameters
    ----------
    places : ndarray
        (n, 2), of size about 1.
    values : ndarray
        (n,).
    count : ndarray
        (n,) how many readings each value is the mean of.

    Notes
    -----
    With c square to the polynomials of first degree P, (Phi + smoothing / count) c + P d = values. Turned
    into the eigenvectors of Phi beyond P, the residual and the trace of the hat matrix are sums (Wahba,
    Spline models for observational data, 1990, section 4.5, from memory).
    """

    def __init__(self, places: np.ndarray, values: np.ndarray, count: np.ndarray):
        self._places, self._values, self._count = places, values, count
        root = np.sqrt(count)
        polynomials = root[:, None] * np.c_[np.ones(len(places)), places]
        beyond = qr(polynomials)[0][:, 3:]
        phi = cdist(places, places) ** 3 * root[:, None] * root
        self._size, turn = eigh(beyond.T @ phi @ beyond)
        self._size = np.maximum(self._size, 0.0)
        self._part = turn.T @ (beyond.T @ (root * values))

    def _left(self, log_smoothing):
        """Square of the residual and trace of the residual's matrix for powers of ten (m,): two arrays."""
        s = 10.0 ** np.asarray(log_smoothing)[:, None]
        share = s / (self._size + s)
        return ((share * self._part) ** 2).sum(axis=1), share.sum(axis=1)

    def by_cross_validation(self) -> tuple[float, float]:
        """Power of ten of the smoothing that generalised cross-validation finds best, and its score.

        Notes
        -----
        Least n RSS / tr(I - A)^2 (Craven and Wahba, Numerische Mathematik 31, 1979): how far each reading is
        missed when it is left out. Of smoothings that do as well within ``ALIKE`` the largest is taken.
        """
        left, trace = self._left(_TRIED)
        scores = len(self._values) * left / trace**2
        k = int(np.flatnonzero(scores <= ALIKE * scores.min())[-1])
        return float(_TRIED[k]), float(scores[k])

    def by_noise(self, noise: float) -> tuple[float, float]:
        """Power of ten of the smoothing that is expected to err least where the readings' scatter is known.

        Parameters
        ----------
        noise : float
            Standard uncertainty of one reading, in the values' unit.

        Returns
        -------
        float, float
            With its score, Mallows' criterion: RSS + 2 noise^2 tr(A).
        """
        left, trace = self._left(_TRIED)
        scores = left + 2.0 * noise**2 * (len(self._values) - trace)
        k = int(np.argmin(scores))
        return float(_TRIED[k]), float(scores[k])

    def scatter(self, log_smoothing: float) -> float:
        """Return the standard deviation of one reading that a smoothing leaves over, in the values' unit."""
        left, trace = self._left([log_smoothing])
        return float(np.sqrt(left[0] / max(trace[0], 1e-9)))

    def fit(self, log_smoothing: float, held: np.ndarray | None = None) -> RBFInterpolator:
        """Lay the surface at a smoothing.

        Parameters
        ----------
        held : ndarray, optional
            (m, 3) places and values that count as one reading each, but had no say in the smoothing.
        """
        places, values, count = self._places, self._values, self._count
        if held is not None and len(held):
            places, values = np.r_[places, held[:, :2]], np.r_[values, held[:, 2]]
            count = np.r_[count, np.ones(len(held))]
        return RBFInterpolator(
            places, values, kernel="cubic", degree=1, smoothing=10.0**log_smoothing / count
        )
