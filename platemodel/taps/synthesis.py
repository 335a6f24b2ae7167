"""Taps with known answers: modes of given frequency, loss and strength, roused by a contact."""

import numpy as np

from platemodel.taps.recording import Recording

FINGER, KNUCKLE = 0.003, 0.001  # s of contact; common practice, no source


def ring(
    frequencies,
    loss_factors,
    amplitudes,
    seconds: float = 1.0,
    rate: float = 16000.0,
    contact_seconds: float = FINGER,
    noise_db: float | None = None,
    hum: tuple[float, float] | None = None,
    taps: int = 1,
    levels_db=0.0,
    lead_seconds: float = 0.3,
    peak: float = 0.5,
    seed: int = 0,
    source: str = "made from known modes",
) -> Recording:
    r"""Sound of taps on something with known modes.

    Parameters
    ----------
    frequencies : array (k,)
        Undamped natural frequencies, Hz.
    loss_factors : array (k,)
        Loss factor eta = 1/Q = twice the damping ratio.
    amplitudes : array (k,) or (taps, k)
        Strength of each mode after an infinitely short tap; may be complex (with a phase).
    seconds : float
        From one tap to the next.
    rate : float
        Hz.
    contact_seconds : float
        Length of the half-sine pulse of contact; the longer, the less the high modes are roused.
    noise_db : float, optional
        White noise, rms in dB over the highest sample of the loudest tap.
    hum : (Hz, dB), optional
        A steady tone and its two first harmonics at half and a quarter of it; level as for the noise.
    levels_db : float or array (taps,)
        Strength of each tap.
    lead_seconds : float
        Before the first tap.
    peak : float
        Highest sample of the loudest tap, of full scale.
    seed : int
        Of the noise.

    Raises
    ------
    ValueError
        Lengths that differ, a frequency outside 0 to half the rate, a loss factor outside 0 to 1.

    Notes
    -----
    Each mode is a damped oscillator with the response Im(a exp(s t)) to an impulse at t = 0, nothing
    before it, s = -pi f eta + 2 pi i f sqrt(1 - eta^2/4) (e.g. Rao, Mechanical Vibrations, ch. 2,
    underdamped free vibration, from memory). The pulse p(t) = pi/(2 tau) sin(pi t/tau) of unit area is
    convolved in closed form, so samples are exact at any rate. Noise and hum start before the taps and go on
    after them.
    """
    f, loss, a = _modes(frequencies, loss_factors, amplitudes, taps, rate)
    s = -np.pi * f * loss + 2j * np.pi * f * np.sqrt(1.0 - 0.25 * loss**2)
    n_lead, n_each = round(lead_seconds * rate), round(seconds * rate)
    total = n_lead + taps * n_each
    strength = 10.0 ** (np.broadcast_to(levels_db, (taps,)) / 20.0)
    clean = np.zeros(total)
    for k in range(taps):
        start = n_lead + k * n_each
        clean[start:] += _struck(np.arange(total - start) / rate, s, strength[k] * a[k], contact_seconds)
    high = np.abs(clean).max()
    clean *= peak / high if high > 0 else 1.0
    rng, t = np.random.default_rng(seed), np.arange(total) / rate
    if noise_db is not None:
        clean += peak * 10.0 ** (noise_db / 20.0) * rng.standard_normal(total)
    if hum is not None:
        base, level = hum
        for h, part in ((1, 1.0), (2, 0.5), (3, 0.25)):
            phase = rng.uniform(0.0, 2.0 * np.pi)
            clean += part * peak * 10.0 ** (level / 20.0) * np.sin(2.0 * np.pi * h * base * t + phase)
    return Recording(clean, float(rate), source, np.zeros((0, 2), dtype=int))


def contact_weight(frequencies, contact_seconds: float) -> np.ndarray:
    """How strongly a half-sine contact excites each frequency, 1 for an infinitely short one: (k,).

    Parameters
    ----------
    frequencies : array (k,)
        Hz.
    contact_seconds : float
        Length of the contact.

    Notes
    -----
    Magnitude of the pulse's Fourier transform, cos(x) / (1 - (2x/pi)^2) with x = pi f tau.
    """
    x = np.atleast_1d(2.0 * np.asarray(frequencies, dtype=float) * contact_seconds)
    near = np.abs(x - 1.0) < 1e-6
    safe = np.where(near, 0.0, x)
    return np.where(near, np.pi / 4.0, np.abs(np.cos(0.5 * np.pi * safe) / (1.0 - safe**2)))


def _modes(frequencies, loss_factors, amplitudes, taps, rate):
    f = np.atleast_1d(np.asarray(frequencies, dtype=float))
    loss = np.broadcast_to(np.asarray(loss_factors, dtype=float), f.shape)
    a = np.asarray(amplitudes)
    if a.ndim == 0 or a.shape[-1] != len(f):
        msg = f"amplitudes of shape {a.shape}: ({len(f)},) or ({taps}, {len(f)}) for {len(f)} frequencies"
        raise ValueError(msg)
    if not np.all((f > 0) & (f < 0.5 * rate)):
        msg = f"frequencies {f.min():g} to {f.max():g} Hz: allowed 0 to half the rate, {0.5 * rate:g} Hz"
        raise ValueError(msg)
    if not np.all((loss > 0) & (loss < 1)):
        msg = f"loss factors {loss.min():g} to {loss.max():g}: allowed 0 to 1, both excluded"
        raise ValueError(msg)
    return f, loss, np.broadcast_to(a, (taps, len(f)))


def _struck(t, s, a, contact):
    """Response of modes to a half-sine pulse of unit area at times t (n,)."""
    out = np.zeros(len(t))
    beta = np.pi / contact
    inside = t < contact
    for sk, ak in zip(s, a, strict=True):
        scale = ak * 0.5 * beta / (sk**2 + beta**2)
        u = t[inside]
        out[inside] += np.imag(
            scale * (beta * np.exp(sk * u) - sk * np.sin(beta * u) - beta * np.cos(beta * u))
        )
        late = scale * beta * (np.exp(sk * contact) + 1.0)
        out[~inside] += np.imag(late * np.exp(sk * (t[~inside] - contact)))
    return out
