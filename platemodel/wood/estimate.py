"""Wood that is known with a band: medians of the constants and the covariance of their logarithms."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pandas as pd
from scipy.special import ndtri  # scipy.stats takes half a second to load

from platemodel.resources import data_path
from platemodel.wood.bayes import linear_update
from platemodel.wood.orthotropic import Orthotropic
from platemodel.wood.species import from_species, species_of, species_table

CONSTANTS = ("density", "E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT", "nu_LR", "nu_LT", "nu_RT")
LEVEL = 0.9  # share of cases that a printed band is meant to hold
STATED_SD = 0.05  # relative, of a constant that is stated as measured
HALF_WIDTH = 1.645  # standard deviations from the middle of such a band to its ends (of a normal variable)

# Constants that tests of thin plates leave open follow others, with a spread of their own: E_T keeps its
# ratio to E_R, G_LT to G_LR. Rolling shear bends the same cell walls as E_R does, and grows faster with
# density than E_R, which the rays carry too (Gibson & Ashby, Cellular Solids, 1997, ch. 10, from memory); the
# powers are a judgement between proportion to E_R and the cube of the density.
_FOLLOWS = {
    "E_T": {"E_R": 1.0},
    "G_LT": {"G_LR": 1.0},
    "G_RT": {"E_R": 0.5, "density": 1.5},
    "nu_LR": {},
    "nu_LT": {},
    "nu_RT": {},
}
_POISSON_SHARE = 0.5  # spread of Poisson ratios over that of the minor moduli, a judgement
_ROLLING_SHARE = (
    0.85  # of that spread that is rolling shear's own, so that all of it stays what the table says
)

# Logarithms of derived figures are sums of logarithms of constants.
_DERIVED = {
    "c_L": ("m/s", {"E_L": 0.5, "density": -0.5}),
    "c_R": ("m/s", {"E_R": 0.5, "density": -0.5}),
    "impedance": ("kg/(m2 s)", {"E_L": 0.5, "density": 0.5}),
    "radiation_ratio": ("m4/(kg s)", {"E_L": 0.5, "density": -1.5}),
    "E_L/E_R": ("", {"E_L": 1.0, "E_R": -1.0}),
    "E_L/G_LR": ("", {"E_L": 1.0, "G_LR": -1.0}),
}


@dataclass(frozen=True, eq=False)
class WoodEstimate:
    """Constants of a piece of wood with their uncertainty.

    Attributes
    ----------
    wood : Orthotropic
        Medians.
    log_cov : array (10, 10)
        Covariance of the natural logarithms, in the order of ``CONSTANTS``.
    source : str
        What the estimate rests on.

    Raises
    ------
    ValueError
        If the covariance has another shape or is not symmetric and positive semi-definite.
    """

    wood: Orthotropic
    log_cov: np.ndarray
    source: str = ""

    def __post_init__(self):
        cov = np.array(self.log_cov, dtype=float)
        n = len(CONSTANTS)
        if cov.shape != (n, n) or not np.allclose(cov, cov.T, rtol=1e-9, atol=1e-15):
            msg = f"covariance of logarithms must be symmetric ({n}, {n}), found shape {cov.shape}"
            raise ValueError(msg)
        if np.linalg.eigvalsh(cov)[0] < -1e-9 * np.trace(cov):
            msg = "covariance of logarithms must be positive semi-definite"
            raise ValueError(msg)
        cov.flags.writeable = False
        object.__setattr__(self, "log_cov", cov)

    @property
    def logs(self) -> np.ndarray:
        """Natural logarithms of the medians: (10,)."""
        return np.log([getattr(self.wood, name) for name in CONSTANTS])

    def sd(self, name: str) -> float:
        """Relative standard deviation of a constant (of its logarithm)."""
        k = CONSTANTS.index(name)
        return float(np.sqrt(self.log_cov[k, k]))

    def band(self, name: str, level: float = LEVEL) -> tuple[float, float]:
        """Low and high end of a constant's band, in its SI unit."""
        wide = ndtri(0.5 + 0.5 * level) * self.sd(name)
        middle = getattr(self.wood, name)
        return float(middle * np.exp(-wide)), float(middle * np.exp(wide))

    def ellipse(self, first: str, second: str, radius: float, count: int = 181) -> np.ndarray:
        """Ring so many standard deviations round the medians of two constants, SI: (count, 2)."""
        at = [CONSTANTS.index(first), CONSTANTS.index(second)]
        values, vectors = np.linalg.eigh(self.log_cov[np.ix_(at, at)])
        turn = np.linspace(0.0, 2.0 * np.pi, count)
        circle = np.stack([np.cos(turn), np.sin(turn)], axis=1)
        return np.exp(self.logs[at] + radius * (circle * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)

    def correlation(self, first: str, second: str) -> float:
        """Correlation of the logarithms of two constants; 0 where one of them is exact."""
        i, j = CONSTANTS.index(first), CONSTANTS.index(second)
        scale = np.sqrt(self.log_cov[i, i] * self.log_cov[j, j])
        return float(self.log_cov[i, j] / scale) if scale > 0 else 0.0

    def conditioned(
        self, rows: np.ndarray, change: np.ndarray, sd: np.ndarray, source: str
    ) -> "WoodEstimate":
        """Take in measurements of quantities that are linear in the logarithms.

        Parameters
        ----------
        rows : array (m, 10)
            Derivatives of the (logarithmic) quantities by the logarithms of the constants.
        change : array (m,)
            Measured minus expected at the present medians.
        sd : array (m,)
            Standard deviations of the measurements.
        source : str
            What was measured; appended to the estimate's source.

        Notes
        -----
        The update of a normal prior by linear measurements (e.g. Bishop, Pattern Recognition and Machine
        Learning, 2006, section 2.3.3).
        """
        rows, change = np.atleast_2d(rows), np.atleast_1d(change)
        gain, cov = linear_update(self.log_cov, rows, np.atleast_1d(sd))
        return WoodEstimate(
            self.with_logs(self.logs + gain @ change), cov, "; ".join(s for s in (self.source, source) if s)
        )

    def measured(self, sd: float, source: str, **constants: float) -> "WoodEstimate":
        """Take in measured constants, each with the relative standard deviation ``sd``; SI."""
        rows = np.zeros((len(constants), len(CONSTANTS)))
        change = np.zeros(len(constants))
        for i, (name, value) in enumerate(constants.items()):
            rows[i, CONSTANTS.index(name)] = 1.0
            change[i] = np.log(value / getattr(self.wood, name))
        return self.conditioned(rows, change, np.full(len(constants), sd), source)

    def samples(self, count: int, rng: np.random.Generator) -> list[Orthotropic]:
        """Draw woods; a draw that is no sound material (Poisson ratios too large) is drawn again."""
        root = np.linalg.cholesky(self.log_cov + 1e-14 * np.eye(len(CONSTANTS)))
        out = []
        while len(out) < count:
            try:
                out.append(self.with_logs(self.logs + root @ rng.standard_normal(len(CONSTANTS))))
            except ValueError:
                continue
        return out

    def with_logs(self, logs: np.ndarray) -> Orthotropic:
        """Return the wood whose constants have these natural logarithms (10,)."""
        values = dict(zip(CONSTANTS, np.exp(logs).tolist(), strict=True))
        return replace(self.wood, **values)

    def table(self, level: float = LEVEL) -> pd.DataFrame:
        """Constants and derived figures with their bands.

        Returns
        -------
        DataFrame
            ``quantity, value, low, high, unit``; moduli in GPa, density in kg/m3, speed of sound
            ``c_L = sqrt(E_L/density)`` in m/s, characteristic impedance ``sqrt(E_L density)`` in kg/(m2 s),
            radiation ratio ``c_L/density`` in m4/(kg s).
        """
        rows = []
        for name in CONSTANTS:
            scale, unit = (1e-9, "GPa") if name[0] in "EG" else (1.0, "kg/m3" if name == "density" else "")
            low, high = self.band(name, level)
            rows.append((name, scale * getattr(self.wood, name), scale * low, scale * high, unit))
        for name, (unit, powers) in _DERIVED.items():
            row = np.array([powers.get(c, 0.0) for c in CONSTANTS])
            middle = float(np.exp(row @ self.logs))
            wide = ndtri(0.5 + 0.5 * level) * np.sqrt(row @ self.log_cov @ row)
            rows.append((name, middle, middle * np.exp(-wide), middle * np.exp(wide), unit))
        return pd.DataFrame(rows, columns=["quantity", "value", "low", "high", "unit"])

    def _repr_html_(self) -> str:
        return self.table().to_html(index=False, float_format="{:.4g}".format)


def doubt_of(wood: Orthotropic) -> WoodEstimate:
    """Doubt of a wood as stated: the spread between boards of its species, less where it was measured."""
    prior = species_estimate(species_of(wood))
    measured = [c for c in ("density", "E_L", "E_R", "G_LR") if c in wood.source.partition("measured:")[2]]
    if measured:
        prior = prior.measured(STATED_SD, "as stated", **{c: getattr(wood, c) for c in measured})
    return replace(prior, wood=wood)


@cache
def correlations() -> dict[tuple[str, str], float]:
    """Correlations of the constants' logarithms between boards, as observed on few plates and shrunk.

    Returns
    -------
    dict of (str, str) to float

    Notes
    -----
    Observed ones from ``data/wood/correlations.csv``. All are drawn towards zero by the same share, the sum
    of their sampling variances (1 - r^2)^2/(n - 1) over the sum of their squares (Schaefer & Strimmer, Stat.
    Appl. Genet. Mol. Biol. 4, 2005, from memory): few plates give large correlations by chance.
    """
    table = pd.read_csv(data_path("wood", "correlations.csv"))
    r, n = table["observed"].to_numpy(), table["plates"].to_numpy()
    share = min(1.0, ((1.0 - r**2) ** 2 / (n - 1)).sum() / (r**2).sum())
    pairs = zip(table["first"], table["second"], strict=True)
    return {pair: float((1.0 - share) * one) for pair, one in zip(pairs, r, strict=True)}


def species_estimate(name: str, known: Sequence[str] = (), **constants: float) -> WoodEstimate:
    """Wood of a species before any test: handbook medians and the spread between boards.

    Parameters
    ----------
    name : str
        Row of :func:`platemodel.wood.species_table`.
    known : sequence of str
        Constants given in ``constants`` that are exact (no spread).
    **constants : float
        Medians that replace the species' own, as in :func:`platemodel.wood.from_species`.

    Raises
    ------
    ValueError
        If the species or a constant is unknown.
    """
    wood = from_species(name, **constants)
    row = species_table(None).loc[name]
    sd = {c: float(row[f"cov_{c}"]) for c in ("density", "E_L", "E_R", "G_LR")}
    cov = np.zeros((len(CONSTANTS), len(CONSTANTS)))
    at = {c: i for i, c in enumerate(CONSTANTS)}
    for c, s in sd.items():
        cov[at[c], at[c]] = s**2
    for (a, b), r in correlations().items():
        cov[at[a], at[b]] = cov[at[b], at[a]] = r * sd[a] * sd[b]
    other = float(row["cov_other"])
    for c, leaders in _FOLLOWS.items():
        if leaders:
            power = np.array([leaders.get(name, 0.0) for name in CONSTANTS])
            along = cov @ power
            cov[at[c]] = cov[:, at[c]] = along
            cov[at[c], at[c]] = power @ along
        share = _ROLLING_SHARE if c == "G_RT" else 1.0 if c[0] in "EG" else _POISSON_SHARE
        cov[at[c], at[c]] += (share * other) ** 2
    for c in known:
        cov[at[c]] = cov[:, at[c]] = 0.0
    return WoodEstimate(wood, cov, f"{name}: {row['source']}")
