"""Fits the effective area of the sound holes to an air tone that was heard, within reason."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from platemodel.instrument.bar import Bar
from platemodel.study.body.air import body_air
from platemodel.study.body.reduced import ReducedBody
from platemodel.study.body.sound import body_sound

RANGE = (0.5, 2.5)  # factors on the holes' area that are tried
TRUSTED = 0.25  # beyond this change of area the body itself is in doubt


@dataclass(frozen=True, eq=False)
class AirFit:
    """A body whose holes answer with the heard air tone.

    Attributes
    ----------
    heard, model : float
        Hz, as heard and by the model before.
    factor : float
        On the holes' area.
    body : ReducedBody
        With it.
    """

    heard: float
    model: float
    factor: float
    body: ReducedBody

    @property
    def trusted(self) -> bool:
        """Whether the change of area is small enough to be the holes' and not the body's."""
        return abs(self.factor - 1.0) <= TRUSTED

    @property
    def text(self) -> str:
        """In words."""
        line = (
            f"Air tone heard {self.heard:.0f} Hz, by the model {self.model:.0f} Hz: holes taken as "
            f"{self.factor:.2f} of their area"
        )
        doubt = "" if self.trusted else "; that much is not the holes alone, so trust this body less"
        return line + doubt + "."

    def as_data(self) -> dict:
        """Plain data."""
        return {
            "heard_hz": self.heard,
            "model_hz": round(self.model, 1),
            "area_factor": round(self.factor, 3),
        }


def lowest_air_tone(body: ReducedBody, bar: Bar | None) -> float:
    """Breathing of the air, Hz: the lowest tone with over 0.4 of its elastic energy in the air."""
    table = body_sound(body, bar).table
    return float(table.loc[table["air"] > 0.4, "f_hz"].min())


def fit_air(body: ReducedBody, bar: Bar | None, heard: float) -> AirFit:
    """Find the area of the holes that goes with a heard air tone.

    Parameters
    ----------
    body : ReducedBody
    bar : Bar or None
        That was in it when it was heard.
    heard : float
        Hz.

    Notes
    -----
    Where the range does not reach, its nearer end is taken, and the text says that the body is in doubt.
    """
    before = lowest_air_tone(body, bar)

    def with_area(factor):
        return replace(body, air=body_air(body.model, hole_area=factor))

    def off(factor):
        found = lowest_air_tone(with_area(factor), bar)
        return (np.inf if np.isnan(found) else found) - heard

    low, high = off(RANGE[0]), off(RANGE[1])
    if low * high < 0:
        factor = float(brentq(off, *RANGE, xtol=2e-3))
    else:
        factor = RANGE[0] if abs(low) < abs(high) else RANGE[1]
    return AirFit(heard, before, factor, with_area(factor))
