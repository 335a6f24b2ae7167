"""What a workshop heard, weighed and felt of a top, and how far off each may be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from platemodel.instrument.bar import Bar
from platemodel.instrument.flex_test import FlexReading
from platemodel.instrument.shape_errors import ShapeErrors
from platemodel.study.wood.reading_doubts import HANDLING
from platemodel.wood import CONSTANTS


@dataclass(frozen=True)
class Errors:
    """Standard deviations, relative unless said otherwise; the defaults are judgements.

    Attributes
    ----------
    reading : float
        Of a frequency read from a tap, where the reading does not say.
    handling : float
        Least doubt of a tap, whatever a recording says: it is held and struck a little differently each time.
    model : float
        What the model may be off by in one frequency for other reasons than thickness and arching: cleats,
        varnish, uneven wood, mesh.
    thickness : float
        Of the caliper, common to all points: 0.04 mm of 2.7 mm.
    weighing : float
        Scale, and varnish and glue that are not in the model: 1 g on a violin's top.
    shape : ShapeErrors
        Errors of thickness and arching that differ from place to place, m; for taps and weight.
    flexing : float
        What the model may be off by in a sag: pegs and edge that give, thickness and arching between the
        measured points.
    day : float
        Common shift of all taps from one day to another; of the moduli twice as much. A per cent of relative
        humidity moves a tap by some 0.1 %, and wood follows the air by days.
    drift : float
        Relative doubt of the shift expected from the air of two states.
    shared : float
        Share of the variance of ``model``, ``weighing`` and ``flexing`` that is the plate's own (cleats,
        varnish, uneven wood, an edge that gives) and so the same in all readings of one mode, of the weight,
        or of one kind of flex.
    """

    reading: float = 0.005
    handling: float = HANDLING
    model: float = 0.005
    thickness: float = 0.015
    weighing: float = 0.015
    shape: ShapeErrors = field(default_factory=ShapeErrors)
    flexing: float = 0.03
    day: float = 0.004
    drift: float = 0.35
    shared: float = 0.8

    def tap_sd(self, taps: "TopTaps") -> np.ndarray:
        """Relative standard deviation of each tap, reading and model together, by rising mode number."""
        own = [max(taps.sd.get(n, self.reading), self.handling) for n in sorted(taps.frequencies)]
        return np.hypot(own, self.model)

    def day_sd(self, taps: "TopTaps") -> float:
        """Relative standard deviation of the common shift of a state's day."""
        expected = 0.5 * abs(float(np.asarray(taps.shift)[CONSTANTS.index("E_R")]))
        return float(np.hypot(self.day, self.drift * expected))


@dataclass(frozen=True)
class TopTaps:
    """What was heard, weighed and felt of a top, and in which state.

    Attributes
    ----------
    frequencies : mapping of int to float
        Mode number to Hz. Modes 1, 2 and 5 are recognised by their shape; the other numbers, from 3, are the
        other modes in the order of pitch. May be empty where there are flex readings.
    mass : float, optional
        Weight of the plate as tapped, kg, bar included if there was one.
    bar : Bar, optional
        The known bar that was on the top when tapped.
    sd : mapping of int to float
        Relative standard deviation of a reading by mode number, where it is known.
    flexes : sequence of FlexReading
        Taken in the same state of the bar.
    name : str
        Of the state.
    day : str
        Readings of one day share its air; empty is a day of its own.
    shift : array (10,)
        By how much the air moves the logarithms of the constants from those of the first state.
    bar_sd : float
        Relative doubt of the bar's moduli: wood that is not known, an old glue line.
    bar_key : str
        States with one bar share its doubt.
    added : float
        Part of the mass that the model does not have, such as patches, kg.

    Raises
    ------
    ValueError
        Neither taps nor flexes, a frequency or mass that is not positive, or a mode number that is none.
    """

    frequencies: Mapping[int, float]
    mass: float | None = None
    bar: Bar | None = None
    sd: Mapping[int, float] = field(default_factory=dict)
    flexes: Sequence[FlexReading] = ()
    name: str = ""
    day: str = ""
    shift: Sequence[float] = (0.0,) * len(CONSTANTS)
    bar_sd: float = 0.0
    bar_key: str = "bar"
    added: float = 0.0

    def __post_init__(self):
        if not self.frequencies and not self.flexes:
            msg = "no taps and no flexes; at least one mode's frequency in Hz, or one flex reading, is needed"
            raise ValueError(msg)
        for number, f in self.frequencies.items():
            if not (np.isfinite(f) and f > 0):
                msg = f"mode {number}: {f} Hz; a frequency is positive"
                raise ValueError(msg)
            if int(number) != number or number < 1:
                msg = f"mode {number}; modes are numbered from 1"
                raise ValueError(msg)
        if self.mass is not None and not (np.isfinite(self.mass) and self.mass > 0):
            msg = f"mass {self.mass} kg; must be positive"
            raise ValueError(msg)
