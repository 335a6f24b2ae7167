"""Taps that look wrong: which slip of mode, octave or unit would make them right."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from platemodel.wood.bayes import linear_update

# Relative scatter of one plate's tap between holds and strikes, 0.3 to 0.5 %: common practice, no source. One
# recording fits itself far better than a plate repeats.
HANDLING = 0.004
ODD = 0.999  # share of woods and readings of the kind that lie nearer to what is expected
FINE = 0.97  # a changed reading explains the taps if it brings them within this share
SURELY = 3.0  # standard deviations of what is called possible
LEAST_SHIFT = 0.05  # of all taps together, before it is reported
UNITS = {
    1e3: "kHz typed instead of Hz",
    1 / (2 * np.pi): "radians per second instead of Hz",
    1 / 60.0: "beats per minute instead of Hz",
}
OCTAVES = {2.0: "an octave too low", 0.5: "an octave too high"}


@dataclass(frozen=True)
class Doubt:
    """Something wrong with the taps.

    Attributes
    ----------
    modes : tuple of int
        The readings it is about; 0 stands for the mass.
    kind : str
        ``"mode"``, ``"swap"``, ``"octave"``, ``"unit"``, ``"mass"``, ``"together"``
        (all off by one factor), ``"flex"`` or ``"unexplained"``.
    message : str
        For the user: the readings, what they look like, what to do.
    """

    modes: tuple[int, ...]
    kind: str
    message: str


@dataclass(frozen=True, eq=False)
class Prediction:
    """What is expected of taps and weight before the fit.

    Attributes
    ----------
    numbers : tuple of int
        Modes that are predicted.
    logs : array (k,)
        Logarithms of their frequencies.
    log_mass : float
        Logarithm of the mass, kg.
    rows : array (k + 1, p)
        Derivatives by the unknowns, the mass last.
    cov : array (p, p)
        Spread of the unknowns.
    sd : dict of int to float
        Relative sd of the readings by the number they were given under.
    """

    numbers: tuple[int, ...]
    logs: np.ndarray
    log_mass: float
    rows: np.ndarray
    cov: np.ndarray
    sd: dict[int, float]
    mass_sd: float

    def distance(self, readings: list[tuple[int, float, float]], mass: float | None) -> float:
        """Squared distance of readings from what is expected, in standard deviations of their joint spread.

        Parameters
        ----------
        readings : list of (mode number, Hz, relative sd)
        mass : float or None
            kg.
        """
        places = [self.numbers.index(n) for n, _, _ in readings]
        gap = np.log([f for _, f, _ in readings]) - self.logs[places]
        sd = [s for _, _, s in readings]
        if mass is not None:
            places = [*places, len(self.numbers)]
            gap = np.append(gap, np.log(mass) - self.log_mass)
            sd = [*sd, self.mass_sd]
        rows = self.rows[places]
        spread = rows @ self.cov @ rows.T + np.diag(np.square(sd))
        return float(gap @ np.linalg.solve(spread, gap))


def is_odd(distance: float, count: int) -> bool:
    """Whether this many readings lie farther off than nearly any wood of the kind would put them.

    Parameters
    ----------
    distance : float
        Squared, in standard deviations.
    count : int
        Readings.
    """
    return distance > chdtri(count, 1.0 - ODD)


def doubts(taps: Mapping[int, float], mass: float | None, expected: Prediction) -> tuple[Doubt, ...]:
    """Say which slip would explain taps that wood of the kind does not.

    Parameters
    ----------
    taps : mapping of int to float
        Mode number to Hz.
    mass : float or None
        kg.

    Returns
    -------
    tuple of Doubt
        Slips of a single reading or of two swapped ones are sought; the most likely comes first. If none
        explains the taps, a shift common to all of them is reported, or what lies outside the possible.
    """
    given = [(n, float(taps[n]), expected.sd[n]) for n in sorted(taps)]
    count = len(given) + (mass is not None)
    limit = chdtri(count, 1.0 - FINE)
    explained = []
    for changed, new_mass, doubt in _slips(given, mass, expected):
        distance = expected.distance(changed, new_mass)
        if distance < limit:
            explained.append((distance, doubt))
    if explained:
        # slips that explain the taps about as well are named too
        explained.sort(key=lambda pair: pair[0])
        best = explained[0][0]
        return tuple(d for distance, d in explained if distance < best + 4.0)[:3]
    return (_together(given, mass, expected) or _unexplained(given, mass, expected),)


def _slips(given, mass, expected):
    """Yield the readings as they would be without a slip, with the doubt that names it."""
    used = {n for n, _, _ in given}
    for k, (number, f, sd) in enumerate(given):
        rest = given[:k] + given[k + 1 :]
        for factor, words in OCTAVES.items():
            text = f"mode {number} at {f:g} Hz looks {words}; {factor * f:.0f} Hz would fit: tap again"
            yield [*rest, (number, f * factor, sd)], mass, Doubt((number,), "octave", text)
        for factor, words in UNITS.items():
            text = f"mode {number} at {f:g}: this looks like {words} ({factor * f:.0f} Hz would fit)"
            yield [*rest, (number, f * factor, sd)], mass, Doubt((number,), "unit", text)
        for other in expected.numbers:
            if other not in used:
                text = (
                    f"{f:g} Hz is given as mode {number} but looks like mode {other}; listen again with the "
                    f"plate held for mode {number}"
                )
                yield [*rest, (other, f, sd)], mass, Doubt((number,), "mode", text)
        for j in range(k + 1, len(given)):
            two, g, sd_two = given[j]
            rest = [r for i, r in enumerate(given) if i not in (j, k)]
            text = f"modes {number} and {two} look swapped ({f:g} and {g:g} Hz)"
            yield [*rest, (number, g, sd_two), (two, f, sd)], mass, Doubt((number, two), "swap", text)
    for factor, words in UNITS.items():
        text = f"all frequencies look like {words}"
        changed = [(n, f * factor, sd) for n, f, sd in given]
        yield changed, mass, Doubt(tuple(n for n, _, _ in given), "unit", text)
    if mass is not None:
        text = f"the weight of {1e3 * mass:g} g does not go with the taps and the size; weigh again, in grams"
        yield given, None, Doubt((0,), "mass", text)


def _together(given, mass, expected):
    """All taps off by one factor: what is left of them once that is taken out fits, or None."""
    if len(given) < 2:
        return None
    places = [expected.numbers.index(n) for n, _, _ in given]
    off = np.log([f for _, f, _ in given]) - expected.logs[places]
    rows = expected.rows[places]
    spread = rows @ expected.cov @ rows.T + np.diag([sd**2 for _, _, sd in given])
    weight = np.linalg.solve(spread, np.ones(len(off)))
    shift = float(weight @ off / weight.sum())
    moved = [(n, f * np.exp(-shift), sd) for n, f, sd in given]
    if abs(shift) < LEAST_SHIFT or expected.distance(moved, mass) > chdtri(len(given), 1.0 - FINE):
        return None
    percent, side = 100.0 * abs(np.expm1(shift)), "above" if shift > 0 else "below"
    text = (
        f"all taps lie about {percent:.0f} % {side} what this plate would give, in step: look for what moves "
        "all of them, such as thickness (in mm?), size, or another plate's taps"
    )
    return Doubt(tuple(n for n, _, _ in given), "together", text)


def _unexplained(given, mass, expected):
    """No slip explains them: name what lies outside all that is possible, or does not go with the rest."""
    outside = []
    for number, f, sd in given:
        low, high = _range(expected, number, sd)
        if not low <= f <= high:
            outside.append((number, f"mode {number} at {f:g} Hz (possible: {low:.0f} to {high:.0f} Hz)"))
    if outside:
        numbers, words = zip(*outside, strict=True)
        text = "the taps fit no wood of the kind: " + ", ".join(words)
    else:
        ranges = {}
        for k, (number, f, sd) in enumerate(given):
            low, high = _range(expected, number, sd, given[:k] + given[k + 1 :], mass)
            ranges[number] = (abs(np.log(f / np.sqrt(low * high))) / np.log(high / low), f, low, high)
        number = max(ranges, key=ranges.get)
        _, f, low, high = ranges[number]
        numbers = (number,)
        together = "the taps and the weight" if mass is not None else "the taps"
        text = f"{together} go together in no wood of the kind, though each by itself would do"
        if not low <= f <= high:
            text += (
                f"; mode {number} at {f:g} Hz is the oddest (with the others {low:.0f} to {high:.0f} Hz "
                "would be possible)"
            )
    return Doubt(numbers, "unexplained", f"{text}: check the reading, the thickness and the arching")


def _range(expected, number, sd, others=(), mass=None):
    """Range of three standard deviations for a tap, by the species or with the other readings known too."""
    place = expected.numbers.index(number)
    places = [expected.numbers.index(n) for n, _, _ in others]
    off = list(np.log([f for _, f, _ in others]) - expected.logs[places])
    noise = [s for _, _, s in others]
    if others and mass is not None:
        places, noise = [*places, len(expected.numbers)], [*noise, expected.mass_sd]
        off.append(np.log(mass) - expected.log_mass)
    middle, cov = expected.logs[place], expected.cov
    row = expected.rows[place]
    if others:
        gain, left = linear_update(cov, expected.rows[places], np.array(noise))
        middle, cov = middle + row @ gain @ np.array(off), left
    wide = SURELY * np.sqrt(row @ cov @ row + sd**2)
    return float(np.exp(middle - wide)), float(np.exp(middle + wide))
