"""A piece of wood on the shelf: its name, its tests, and the wood constants that follow from them."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from platemodel.wood.estimate import CONSTANTS, HALF_WIDTH, WoodEstimate
from platemodel.wood.moisture import at_moisture
from platemodel.wood.piece_fit import PieceFit, as_prior
from platemodel.wood.species import USUAL_SPECIES
from platemodel.wood.strip import Strip, Test, strip_fit

KINDS = ("blank", "wedge", "strip")
SLOW_REMARK = "slow for its species: look for run-out (split a corner), then knots or reaction wood"
DOUBT_REMARK = "its readings do not fit each other: measure again"


@dataclass(frozen=True, eq=False)
class Sample:
    """One piece.

    Attributes
    ----------
    kind : {"blank", "wedge", "strip"}
        Bar blank, wedge for a top, quarter-sawn test strip.
    tests : tuple
        See `platemodel.wood.strip.strip_fit`.
    moisture : float or None
        Moisture content when tested, fraction.
    invented : bool
        Made-up data.
    """

    name: str
    kind: str
    tests: tuple[Test | Strip, ...]
    species: str = USUAL_SPECIES
    moisture: float | None = None
    invented: bool = False
    note: str = ""

    def __post_init__(self):
        if self.kind not in KINDS:
            msg = f"sample {self.name!r}: kind {self.kind!r}; allowed are {', '.join(KINDS)}"
            raise ValueError(msg)

    @cached_property
    def fit(self) -> PieceFit:
        """Wood as tested, with its readings."""
        return strip_fit(self.species, self.tests)

    def estimate(self, moisture: float | None = None) -> WoodEstimate:
        """Wood at a moisture content (fraction); as tested if either is unknown."""
        if moisture is None or self.moisture is None:
            return self.fit.estimate
        return at_moisture(self.fit.estimate, self.moisture, moisture)

    @property
    def remark(self) -> str:
        """What is odd about it, or nothing."""
        prior = as_prior(self.species)
        row = np.array([{"E_L": 0.5, "density": -0.5}.get(c, 0.0) for c in CONSTANTS])
        # slower than 95 % of the species' boards
        low = row @ prior.logs - HALF_WIDTH * np.sqrt(row @ prior.log_cov @ row)
        out = [SLOW_REMARK] if row @ self.fit.estimate.logs < low else []
        return "; ".join(out + [DOUBT_REMARK] * self.fit.doubtful)
