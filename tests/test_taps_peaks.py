"""Peaks and decay against known answers, made by exact formulas."""

import numpy as np
import pytest
from scipy.integrate import trapezoid

from platemodel.taps import Recording, contact_weight, ring, ringing, tap_peaks, tap_spectrum
from platemodel.taps.decay_fit import SpectrumBand, pole_column
from platemodel.taps.peaks import merge_peaks

F = np.array([83.2, 151.3, 190.0, 232.0, 322.5])
LOSS = np.array([0.021, 0.018, 0.020, 0.015, 0.012])
STRENGTH = [1.0, 0.8, 0.4, 0.5, 1.0]


def nearest(peaks, f):
    return peaks.loc[(peaks["f_hz"] - f).abs().idxmin()]


# ---------------------------------------------------------------- exact checks


def test_one_degree_of_freedom_by_hand():
    """Decay rate over pi f, Q and logarithmic decrement of a damped oscillator.

    Rao, Mechanical Vibrations, ch. 2 (from memory): x = exp(-zeta w t) sin(w sqrt(1 - zeta^2) t), decrement
    2 pi zeta / sqrt(1 - zeta^2), and eta = 2 zeta = 1/Q. Without noise the fit must give them to its own
    tolerance.
    """
    rate, zeta, f = 16000.0, 0.02, 200.0
    t = np.arange(16000) / rate
    damped = f * np.sqrt(1 - zeta**2)
    x = 0.5 * np.exp(-zeta * 2 * np.pi * f * t) * np.sin(2 * np.pi * damped * t)
    x = np.concatenate([np.zeros(4800), x])
    row = tap_peaks(Recording(x, rate, "x", np.zeros((0, 2), int))).iloc[0]
    assert row.f_hz == pytest.approx(f, rel=1e-5)
    assert row.loss == pytest.approx(2 * zeta, rel=1e-3)
    # decrement from the samples themselves, one period apart
    period = 1 / damped
    a, b = (np.interp(u, t, 0.5 * np.exp(-zeta * 2 * np.pi * f * t)) for u in (0.1, 0.1 + period))
    assert np.log(a / b) == pytest.approx(2 * np.pi * zeta / np.sqrt(1 - zeta**2), rel=1e-3)


def test_spectrum_of_a_decay_is_its_geometric_sum():
    n, step, f, decay = 500, 1e-3, 83.3, 7.0
    k = np.arange(20, 60)
    band = SpectrumBand(k / (n * step), np.zeros(len(k), complex), step, n)
    x = np.exp((-decay + 2j * np.pi * f) * step * np.arange(n))
    exact = np.fft.fft(x)[k] * step
    column, slope = pole_column(f, decay, band)
    assert np.abs(column - exact).max() < 1e-12
    # derivative by the exponent per sample: sum of n times the n-th term
    assert np.abs(slope - np.fft.fft(np.arange(n) * x)[k] * step).max() < 1e-9


def test_ringing_is_the_convolution_with_the_pulse():
    """Closed form against the convolution sum on a grid eight times finer (trapezium rule, below 1e-4)."""
    contact, rate, fine = 0.004, 4000, 32000
    r = ring([150.0], 0.05, [1.0], 0.2, rate, contact_seconds=contact, lead_seconds=0.0, peak=1.0)
    t = np.arange(0.2 * fine) / fine
    zeta, w = 0.025, 2 * np.pi * 150
    response = np.exp(-zeta * w * t) * np.sin(w * np.sqrt(1 - zeta**2) * t)
    pulse = np.where(t < contact, np.pi / (2 * contact) * np.sin(np.pi * t / contact), 0.0)
    x = np.convolve(response, pulse)[: len(t)][:: fine // rate] / fine
    assert r.samples == pytest.approx(x / np.abs(x).max(), abs=1e-3)
    assert r.samples[0] == 0.0


def test_contact_rouses_high_modes_less():
    """Fourier transform of the half-sine: 1 at 0, pi/4 at 2 f tau = 1, nothing at 2 f tau = 3."""
    assert contact_weight([1e-9, 125.0, 375.0], 0.004) == pytest.approx([1.0, np.pi / 4, 0.0], abs=1e-6)
    t = np.linspace(0, 0.004, 4001)
    p = np.pi / 0.008 * np.sin(np.pi * t / 0.004)
    exact = abs(trapezoid(p * np.exp(-2j * np.pi * 260 * t), t))
    assert contact_weight(260, 0.004)[0] == pytest.approx(exact, rel=1e-5)


# ---------------------------------------------------------------- known answers in noise


def test_frequency_loss_and_stated_uncertainty():
    """Noise 30 dB below the peak: 0.1 % in frequency, 10 % in loss, and bands that say what they mean.

    12 recordings of 4 taps: of 60 values 68.3 and 95.4 % should lie within one and two standard deviations;
    three binomial standard deviations are 18 and 8 %.
    """
    off, off_loss = [], []
    for seed in range(12):
        levels = [0, -4, -2, -6]
        r = ring(F, LOSS, STRENGTH, 0.8, 8000, noise_db=-30, taps=4, levels_db=levels, seed=seed)
        peaks = tap_peaks(r)
        for f, loss in zip(F, LOSS, strict=True):
            row = nearest(peaks, f)
            assert row.f_hz == pytest.approx(f, rel=1e-3 if f != 190 else 2e-3)  # 190: 14 dB below the first
            assert row.loss == pytest.approx(loss, rel=0.1 if f in (83.2, 151.3) else 0.25)
            off.append((row.f_hz - f) / row.sd_hz)
            off_loss.append((row.loss - loss) / row.loss_sd)
        assert len(peaks) == len(F), peaks["f_hz"].tolist()
    for values in (np.abs(off), np.abs(off_loss)):
        assert 0.50 < np.mean(values < 1) < 0.87
        assert np.mean(values < 2) > 0.87
    strong = np.array(off_loss).reshape(12, 5)[:, [0, 1, 4]]
    assert abs(strong.mean()) < 0.5  # no bias beyond half a standard deviation


@pytest.mark.parametrize("rate", [8000, 44100, 192000])
def test_the_rate_does_not_matter(rate):
    peaks = tap_peaks(ring(F, LOSS, STRENGTH, taps=2, seconds=0.7, rate=rate, noise_db=-50))
    assert peaks["f_hz"].to_numpy() == pytest.approx(F, rel=1e-3)
    assert peaks["loss"].to_numpy() == pytest.approx(LOSS, rel=0.1)


def test_a_cello():
    f = [42.0, 71.0, 98.0, 160.0]
    peaks = tap_peaks(ring(f, 0.02, [1, 0.8, 0.5, 1], taps=3, noise_db=-35))
    assert peaks["f_hz"].to_numpy() == pytest.approx(f, rel=1e-3)
    assert peaks["loss"].to_numpy() == pytest.approx(0.02, rel=0.1)


@pytest.mark.parametrize(("split", "loss"), [(0.035, 0.02), (0.035, 0.03), (0.02, 0.02)])
def test_close_pairs_are_told_apart_and_flagged(split, loss):
    f = [85.0, 155.0, 320.0, 320.0 * (1 + split)]
    strength = [[1, 0.7, 1, 0.6], [1, 0.7, 0.5, 1], [1, 0.7, 1, 0.9], [1, 0.7, 0.8, -0.7]]
    peaks = tap_peaks(ring(f, loss, strength, taps=4, noise_db=-40, seed=3))
    assert len(peaks) == 4
    assert peaks["f_hz"].to_numpy() == pytest.approx(f, rel=1e-3)
    assert peaks["loss"].to_numpy() == pytest.approx(loss, rel=0.1)
    assert peaks["remark"].tolist() == ["", "", "close pair", "close pair"]


def test_hum_is_no_mode_and_does_not_move_one():
    clean = dict(taps=4, noise_db=-40, seed=2)
    r = ring([83.2, 151.3, 322.5], 0.018, [1, 0.8, 1], hum=(50.0, -25.0), **clean)
    peaks = tap_peaks(r)
    assert peaks["f_hz"].to_numpy() == pytest.approx([83.2, 151.3, 322.5], rel=1e-3)
    # 150 Hz lies within the half-power width of the mode at 151.3 Hz
    assert nearest(peaks, 151.3).remark == "beside a steady tone"
    every = tap_peaks(r, steady=True)
    tones = every[every["loss"] < 0.003]
    assert tones["f_hz"].to_numpy() == pytest.approx([50, 100, 150], abs=0.1)
    assert all("steady" in text for text in tones["remark"])


def test_noise_alone_gives_no_peaks():
    r = ring([200.0], 0.02, [1.0], taps=3, noise_db=-30, seed=5)
    peaks = tap_peaks(r)
    assert len(peaks) == 1
    assert peaks["taps"].iloc[0] == 3


def test_a_tap_with_another_grip_widens_the_band():
    # one of four taps 1 % higher: the band must grow to a part of that, and say why
    same = [ring([150.0], 0.02, [1.0], noise_db=-50, seed=s) for s in range(3)]
    other = ring([151.5], 0.02, [1.0], noise_db=-50, seed=9)
    x = np.concatenate([r.samples for r in (*same, other)])
    row = tap_peaks(Recording(x, 16000.0, "x", np.zeros((0, 2), int))).iloc[0]
    alone = tap_peaks(same[0]).iloc[0]
    assert 150.0 - 0.1 < row.f_hz < 151.0
    assert row.sd_hz > 5 * alone.sd_hz or row.f_hz == pytest.approx(150.0, abs=0.05)  # left out or told


def test_recordings_with_other_grips_are_set_together():
    """The lowest loss counts; frequencies by their weights; each recording is read by itself."""
    a = ring([83.2, 151.3], [0.02, 0.06], [1, 0.4], taps=2, noise_db=-40, seed=1, source="a")
    b = ring([83.2, 151.3], [0.07, 0.015], [0.4, 1], taps=3, noise_db=-40, seed=2, source="b")
    peaks = tap_peaks([a, b])
    assert peaks["f_hz"].to_numpy() == pytest.approx([83.2, 151.3], rel=1e-3)
    assert peaks["loss"].to_numpy() == pytest.approx([0.02, 0.015], rel=0.1)
    assert peaks["taps"].tolist() == [5, 5]
    tables = [tap_peaks(a), tap_peaks(b)]
    weight = np.array([1 / t["sd_hz"].iloc[0] ** 2 for t in tables])
    mean = weight @ [t["f_hz"].iloc[0] for t in tables] / weight.sum()
    assert merge_peaks(tables)["f_hz"].iloc[0] == pytest.approx(mean, rel=1e-12)
    assert merge_peaks([]).empty


def test_spectrum_and_its_background():
    r = ring(F, LOSS, STRENGTH, taps=4, noise_db=-20, seed=4)
    s = tap_spectrum(r)
    assert s["level_db"].max() == 0.0
    assert s["f_hz"].iloc[s["level_db"].argmax()] == pytest.approx(83.2, abs=0.5)
    quiet = s[s["f_hz"].between(500, 850)]
    # far from the peaks the taps are background, 10 dB over the peaks' skirts; four taps scatter by 2 dB
    assert (quiet["level_db"] - quiet["floor_db"]).mean() == pytest.approx(0.0, abs=2.0)
    assert tap_spectrum(ringing(r)).equals(s)


def test_impossible_modes_are_refused():
    for args, word in (
        (([9000.0], 0.02, [1.0]), "half the rate"),
        (([90.0], 1.5, [1.0]), "loss factors"),
        (([90.0, 100.0], 0.02, [1.0]), "amplitudes"),
    ):
        with pytest.raises(ValueError, match=word):
            ring(*args)
