"""Wood of a test piece: its constants, and how well the readings fit them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.wood.bayes import Posterior
from platemodel.wood.estimate import CONSTANTS, WoodEstimate, species_estimate

DOUBTFUL = 0.01  # agreement below which something is wrong, not merely scattered
RULER, CALIPER, SCALE = 0.5e-3, 0.05e-3, 0.1e-3  # m, m, kg: standard deviations of plain workshop tools
SCALE_SHARE = 0.005  # of the weight, where that is more
OPEN = 0.5  # standard deviation of a logarithm: as good as unknown for a wood
FREQUENCY = 0.005  # relative, of a tap read from a recording


@dataclass(frozen=True)
class Reading:
    """What a reading was, in the unit it is shown in.

    Attributes
    ----------
    per_si : float
        Units in one SI unit.
    value, sd : float
        In SI; ``sd`` relative.
    """

    label: str
    unit: str
    per_si: float
    value: float
    sd: float
    remark: str = ""


@dataclass(frozen=True, eq=False)
class PieceFit:
    """Wood of a test piece.

    Attributes
    ----------
    readings : DataFrame
        A row a reading: ``reading``, ``measured``, ``fitted``, ``unit``, ``off_percent`` (measured over
        fitted), ``sd_percent`` (doubt the reading was given), ``remark``.
    agreement : float
        Probability of readings that fit each other worse than these; NaN where nothing was measured twice.
    """

    estimate: WoodEstimate
    readings: pd.DataFrame
    agreement: float

    @property
    def doubtful(self) -> bool:
        """Whether the readings contradict each other."""
        return self.agreement < DOUBTFUL

    def _repr_html_(self) -> str:
        return self.estimate._repr_html_() + self.readings.to_html(index=False, float_format="{:.4g}".format)


def weighing_sd(mass: float, sd: float | None) -> float:
    """Relative standard deviation of a weight (kg): as given (kg), or 0.1 g or 0.5 %, whichever is more."""
    return max(SCALE / mass, SCALE_SHARE) if sd is None else sd / mass


def as_prior(species: str | WoodEstimate) -> WoodEstimate:
    """Take a species' name or an estimate as what is known before the test."""
    return species if isinstance(species, WoodEstimate) else species_estimate(species)


def uninformed(prior: WoodEstimate, measured: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
    """Forget what is known beforehand of the constants that a test measures: it must not pull on them.

    Returns
    -------
    cov : array (10, 10)
        The prior's covariance, widened by ``OPEN`` in the measured constants; how the others follow them, and
        with what spread, is the prior's.
    directions : array (10, r)
        How all constants move with each measured one that the prior leaves open.
    """
    k = [i for i, c in enumerate(CONSTANTS) if c in measured and prior.log_cov[i, i] > 0]
    if not k:
        return prior.log_cov, np.zeros((len(CONSTANTS), 0))
    follow = np.linalg.solve(prior.log_cov[np.ix_(k, k)], prior.log_cov[k]).T
    return prior.log_cov + OPEN**2 * follow @ follow.T, follow


def piece_fit(prior: WoodEstimate, fit: Posterior, readings: Sequence[Reading], source: str) -> PieceFit:
    """Make a `PieceFit` of a fit whose unknowns begin with the logarithms of ``CONSTANTS``."""
    n = len(CONSTANTS)
    values = dict(zip(CONSTANTS, np.exp(fit.mean[:n]).tolist(), strict=True))
    cov = 0.5 * (fit.cov[:n, :n] + fit.cov[:n, :n].T)
    named = "; ".join(s for s in (prior.source, source) if s)
    estimate = WoodEstimate(replace(prior.wood, **values), cov, named)
    scale = np.array([r.per_si for r in readings])
    measured = np.array([r.value for r in readings])
    fitted = np.exp(fit.fitted)
    table = pd.DataFrame(
        {
            "reading": [r.label for r in readings],
            "measured": measured * scale,
            "fitted": fitted * scale,
            "unit": [r.unit for r in readings],
            "off_percent": 100 * (measured / fitted - 1),
            "sd_percent": [100 * r.sd for r in readings],
            "remark": [r.remark for r in readings],
        }
    )
    return PieceFit(estimate, table, fit.agreement)
