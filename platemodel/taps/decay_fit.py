"""Fits damped oscillations to a narrow band of the spectra of several taps at once."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

LEAST_DECAY = 1e-2  # 1/s; a steady tone
REACH = 0.04  # how far a frequency may move in a fit, relative
_DEGREE = 2  # of the smooth background: what modes outside the band add to it


@dataclass(frozen=True, eq=False)
class SpectrumBand:
    """A band of one tap's discrete spectrum.

    Attributes
    ----------
    f : array (m,)
        Frequencies of the bins, Hz.
    values : complex array (m,)
        Spectrum there.
    step : float
        Time from sample to sample, s.
    count : int
        Samples of the tap.
    """

    f: np.ndarray
    values: np.ndarray
    step: float
    count: int


@dataclass(frozen=True, eq=False)
class PoleFit:
    """Damped oscillations of a band.

    Attributes
    ----------
    f : array (k,)
        Damped frequencies, Hz.
    decay : array (k,)
        Decay rates of the amplitude, 1/s.
    covariance : array (2k, 2k)
        Of f (Hz) and ln(decay), from the noise within the band.
    amplitude : array (taps, k)
        At each tap's first sample.
    amplitude_sd : array (taps, k)
    deviation : array (taps, 2k)
        One step from the common solution to each tap's own, in units of its standard deviation.
    misfit : float
        Sum of squares over the noise of each tap.
    free : int
        Real numbers fitted less the parameters.
    noise : array (taps,)
        Standard deviation of a bin's real and imaginary part.
    """

    f: np.ndarray
    decay: np.ndarray
    covariance: np.ndarray
    amplitude: np.ndarray
    amplitude_sd: np.ndarray
    deviation: np.ndarray
    misfit: float
    free: int
    noise: np.ndarray


def pole_column(f: float, decay: float, band: SpectrumBand) -> tuple[np.ndarray, np.ndarray]:
    """Discrete spectrum of exp(-decay t + 2 pi i f t), and its derivative by the exponent per sample.

    The finite geometric sum over the tap's samples in closed form: truncation and leakage are in it.
    """
    z = (-decay + 2j * np.pi * (f - band.f)) * band.step
    fall, one = np.exp(z * band.count), np.expm1(z)
    total = (fall - 1.0) / one
    slope = (band.count * fall - total * (one + 1.0)) / one
    return total * band.step, slope * band.step


def fit_poles(bands, f, decay, fixed=(), noise=None, steps=30) -> PoleFit:
    """Fit poles that all taps share, each tap with amplitudes and phases of its own.

    Parameters
    ----------
    bands : sequence of SpectrumBand
    f, decay : array (k,)
        Start values, Hz and 1/s.
    fixed : sequence of (f, decay)
        Poles outside the band that are left as they are.
    noise : array (taps,), optional
        Weights; default from a first fit.
    steps : int
        Most steps of the search.

    Notes
    -----
    Nonlinear least squares with the linear amplitudes projected out (variable projection, Golub & Pereyra,
    SIAM J. Numer. Anal. 10, 1973, with Kaufman's derivative, BIT 15, 1975; from memory). With white noise
    over the band this is the maximum-likelihood estimate and the covariance its Cramer-Rao bound.
    """
    f, decay = np.asarray(f, dtype=float), np.asarray(decay, dtype=float)
    k = len(f)
    start = np.concatenate([f, np.log(decay)])
    low = np.concatenate([f * (1 - REACH), np.full(k, np.log(LEAST_DECAY))])
    high = np.concatenate([f * (1 + REACH), np.log(0.5 * np.pi * f)])
    start = np.clip(start, low + 1e-9, high - 1e-9)
    scale = np.concatenate([np.maximum(0.01 * f, decay / np.pi), np.ones(k)])
    if noise is None:
        _, _, spread, _ = _solve(bands, start, low, high, scale, fixed, np.ones(len(bands)), steps)
        noise = np.maximum(spread, 0.3 * np.median(spread))
    best, parts, spread, rows = _solve(bands, start, low, high, scale, fixed, noise, steps)
    jacobians = [j for _, j, _, _ in parts]
    residuals = [r for r, _, _, _ in parts]
    normal = sum(j.T @ j for j in jacobians)
    misfit = sum(r @ r for r in residuals)
    free = max(1, rows - 2 * k - sum(2 * len(a) for _, _, a, _ in parts))
    covariance = _inverse(normal) * misfit / free
    deviation = np.empty((len(bands), 2 * k))
    for n, (r, j) in enumerate(zip(residuals, jacobians, strict=True)):
        own = _inverse(j.T @ j)
        variance = np.diag(own) * max((spread[n] / noise[n]) ** 2, 1e-300)
        deviation[n] = -(own @ (j.T @ r)) / np.sqrt(np.maximum(variance, 1e-300))
    amplitude = np.array([np.abs(a[:k]) for _, _, a, _ in parts])
    amplitude_sd = np.array([spread[n] * g for n, (_, _, _, g) in enumerate(parts)])
    return PoleFit(
        best[:k], np.exp(best[k:]), covariance, amplitude, amplitude_sd, deviation, misfit, free, noise
    )


def _solve(bands, start, low, high, scale, fixed, noise, steps):
    constant = [_constant(b, fixed) for b in bands]
    last = {}  # value and derivative are asked for in turn at the same place

    def parts_at(p):
        if last.get("p") is None or not np.array_equal(last["p"], p):
            last["p"] = p.copy()
            last["parts"] = [_tap(b, p, c, s) for b, c, s in zip(bands, constant, noise, strict=True)]
        return last["parts"]

    found = least_squares(
        lambda p: np.concatenate([r for r, *_ in parts_at(p)]),
        start,
        lambda p: np.concatenate([j for _, j, *_ in parts_at(p)]),
        (low, high),
        x_scale=scale,
        xtol=1e-8,
        ftol=1e-8,
        gtol=1e-12,
        max_nfev=steps,
    )
    parts = parts_at(found.x)
    k = len(start) // 2
    spread = []
    for band, (r, _, a, _), s in zip(bands, parts, noise, strict=True):
        free = max(1, 2 * len(band.f) - 2 * len(a) - 2 * k / len(bands))
        spread.append(s * np.sqrt(r @ r / free))
    return found.x, parts, np.maximum(spread, 1e-300), sum(len(r) for r, *_ in parts)


def _constant(band, fixed):
    """Columns that do not change with the parameters: poles outside, smooth background."""
    middle, half = 0.5 * (band.f[0] + band.f[-1]), 0.5 * max(np.ptp(band.f), 1e-9)
    smooth = np.vander((band.f - middle) / half, _DEGREE + 1).astype(complex)
    return np.stack([pole_column(*p, band)[0] for p in fixed] + list(smooth.T), axis=1)


def _tap(band, p, constant, noise):
    """Residual, Jacobian, amplitudes and their spread per unit noise, of one tap, over its noise."""
    k = len(p) // 2
    pairs = [pole_column(p[i], np.exp(p[k + i]), band) for i in range(k)]
    matrix = np.concatenate([np.stack([c for c, _ in pairs], axis=1), constant], axis=1)
    norms = np.linalg.norm(matrix, axis=0)
    u, s, vh = np.linalg.svd(matrix / norms, full_matrices=False)
    keep = s > 1e-9 * s[0]
    u, s, vh = u[:, keep], s[keep], vh[keep]
    a = vh.conj().T @ ((u.conj().T @ band.values) / s)
    residual = band.values - u @ (u.conj().T @ band.values)
    a = a / norms
    columns = []
    for i, (_, slope) in enumerate(pairs):
        columns.append(2j * np.pi * band.step * slope * a[i])
    for i, (_, slope) in enumerate(pairs):
        columns.append(-np.exp(p[k + i]) * band.step * slope * a[i])
    jacobian = np.stack(columns, axis=1)
    jacobian = -(jacobian - u @ (u.conj().T @ jacobian))
    spread = np.sqrt((np.abs(vh.conj().T / s) ** 2).sum(axis=1))[:k] / norms[:k]
    return _real(residual) / noise, _real(jacobian) / noise, a, spread


def _real(z):
    return np.concatenate([z.real, z.imag])


def _inverse(normal):
    scale = np.sqrt(np.maximum(np.diag(normal), 1e-300))
    return np.linalg.pinv(normal / np.outer(scale, scale), hermitian=True) / np.outer(scale, scale)
