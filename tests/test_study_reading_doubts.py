"""Taps that look wrong, without a plate: five modes that move in step by 10 %, each by 1 % of its own."""

import numpy as np
import pytest

from platemodel.study.wood.reading_doubts import Prediction, doubts

TONES = {1: 80.0, 2: 150.0, 3: 210.0, 4: 240.0, 5: 330.0}  # Hz, Expected; none is an octave of another
MASS = 0.070  # kg


@pytest.fixture
def expected():
    count = len(TONES) + 1  # and the weight
    rows = np.hstack([np.array([[1.0]] * len(TONES) + [[0.0]]), np.eye(count)])
    cov = np.diag([0.1**2, *[0.01**2] * len(TONES), 0.02**2])
    logs = np.log(list(TONES.values()))
    return Prediction(tuple(TONES), logs, float(np.log(MASS)), rows, cov, dict.fromkeys(TONES, 0.005), 0.015)


def said(expected, mass=MASS, **wrong):
    """Kinds and words of the doubts about the taps of modes 1, 2 and 5, some of them wrong."""
    taps = {n: TONES[n] for n in (1, 2, 5)} | {int(name[1:]): f for name, f in wrong.items()}
    found = doubts(taps, mass, expected)
    return [d.kind for d in found], [d.message for d in found], found


@pytest.mark.parametrize(
    ("wrong", "kind", "words"),
    [
        ({"f5": 660.0}, "octave", "mode 5 at 660 Hz looks an octave too high; 330 Hz would fit: tap again"),
        ({"f5": 165.0}, "octave", "mode 5 at 165 Hz looks an octave too low; 330 Hz would fit: tap again"),
        ({"f2": 0.15}, "unit", "mode 2 at 0.15: this looks like kHz typed instead of Hz (150 Hz"),
        ({"f1": 80 * 60.0}, "unit", "mode 1 at 4800: this looks like beats per minute instead of Hz (80 Hz"),
        ({"f5": 240.0}, "mode", "240 Hz is given as mode 5 but looks like mode 4; listen again with"),
        ({"f1": 150.0, "f2": 80.0}, "swap", "modes 1 and 2 look swapped (150 and 80 Hz)"),
        ({"f1": 0.08, "f2": 0.15, "f5": 0.33}, "unit", "all frequencies look like kHz typed instead of Hz"),
    ],
)  # fmt: skip
def test_the_slip_is_named_with_what_would_fit(expected, wrong, kind, words):
    kinds, messages, _ = said(expected, **wrong)
    assert kinds[0] == kind
    assert messages[0].startswith(words)


def test_a_weight_that_does_not_go_with_the_taps_is_named(expected):
    kinds, messages, found = said(expected, mass=0.7)
    assert kinds[0] == "mass"
    assert found[0].modes == (0,)
    assert messages[0].startswith("the weight of 700 g does not go with the taps")


@pytest.mark.parametrize(("factor", "words"), [(1.5, "50 % above"), (0.6, "40 % below")])
def test_taps_off_in_step_are_told_together(expected, factor, words):
    kinds, messages, found = said(expected, f1=80 * factor, f2=150 * factor, f5=330 * factor)
    assert kinds == ["together"]
    assert found[0].modes == (1, 2, 5)
    assert f"all taps lie about {words} what this plate would give" in messages[0]


def test_what_no_slip_explains_is_said_so(expected):
    kinds, messages, found = said(expected, f1=95.0, f2=120.0, f5=300.0)
    assert kinds == ["unexplained"]
    assert found[0].modes == (1,)
    assert "the taps and the weight go together in no wood of the kind" in messages[0]
    assert "mode 1 at 95 Hz is the oddest" in messages[0]


def test_a_tap_outside_all_that_is_possible_is_told_with_the_range(expected):
    """Three standard deviations of 10 %, 1 % and 0.5 % together, 30.3 %, on either side of 80 and 150 Hz."""
    kinds, messages, found = said(expected, f1=120.0, f2=100.0)
    assert kinds == ["unexplained"]
    assert found[0].modes == (1, 2)
    wide = np.exp(3 * np.sqrt(0.1**2 + 0.01**2 + 0.005**2))
    for number, f, tone in ((1, 120, 80), (2, 100, 150)):
        assert f"mode {number} at {f} Hz (possible: {tone / wide:.0f} to {tone * wide:.0f} Hz)" in messages[0]
