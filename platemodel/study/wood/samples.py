"""Samples of wood ranked for a purpose, so that differences within the measurement show as such."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.instrument.dimensions import dimensions
from platemodel.wood import CONSTANTS, Orthotropic, WoodEstimate
from platemodel.wood.closed_form import glued_stiffness
from platemodel.wood.estimate import LEVEL
from platemodel.wood.sample import Sample

DRAWS = 2000
CLEARLY_BETTER = 0.95  # probability from which one sample is said to beat another
SEED = 20


@dataclass(frozen=True)
class GluedBar:
    """A bar on a strip of plate, by the transformed section; what "the same stiffness" means without a top.

    Attributes
    ----------
    stiffness : float
        Bending stiffness wanted, N m2.
    width, length : float
        Of the bar, m.
    plate_E, plate_width, plate_thickness : float
        Strip of plate that bends with it, Pa, m, m.
    fill : float
        Section area over width times height, for the weight.
    """

    stiffness: float
    width: float = 5.5e-3
    length: float = 0.270
    plate_E: float = 11e9
    plate_width: float = 30e-3
    plate_thickness: float = 2.6e-3
    fill: float = 1.0

    @classmethod
    def like(cls, height: float = 12e-3, bar_E: float = 12e9, **sizes: float) -> "GluedBar":
        """As stiff as a bar of this height (m) and modulus (Pa) on the same strip."""
        one = cls(1.0, **sizes)
        plate = (one.plate_E, one.plate_width, one.plate_thickness)
        return cls(float(glued_stiffness(bar_E, one.width, height, *plate)), **sizes)

    @classmethod
    def usual(cls, kind: str) -> "GluedBar":
        """As stiff as the usual bar of 12 GPa of a violin, viola or cello, on a strip of its usual plate.

        Raises
        ------
        ValueError
            Unknown kind.
        """
        if kind == "violin":
            return cls.like()
        d = dimensions(kind)
        return cls.like(
            d.bar_height,
            width=d.bar_width,
            length=d.bar_length,
            plate_width=d.bar_width * cls.plate_width / cls.width,
            plate_thickness=d.bouts,
        )

    def height(self, E: np.ndarray) -> np.ndarray:
        """Height (m) at which bars of these moduli (Pa) reach the stiffness."""
        plate = (self.plate_E, self.plate_width, self.plate_thickness)
        low, high = np.zeros_like(E), np.full_like(E, 0.2)
        for _ in range(50):  # the stiffness grows with the height
            middle = 0.5 * (low + high)
            enough = glued_stiffness(E, self.width, middle, *plate) >= self.stiffness
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        return high

    def mass(self, E: np.ndarray, density: np.ndarray) -> np.ndarray:
        """Weight (kg) of an even bar of that height."""
        return self.fill * density * self.width * self.length * self.height(E)


@dataclass(frozen=True, eq=False)
class Purpose:
    """What samples are ranked for.

    Attributes
    ----------
    column, unit : str
        Of the figure that ranks.
    text : str
        What the figure is, for a sheet.
    figure : callable
        Takes logarithms of the constants (n, 10) and returns the figure (n,); the lowest is the best.
    """

    name: str
    column: str
    unit: str
    text: str
    figure: Callable[[np.ndarray], np.ndarray]


def lightest(bar: GluedBar | None = None) -> Purpose:
    """Lightest bar for a required glued stiffness; by default that of 12 mm of 12 GPa on usual plate."""
    bar = bar or GluedBar.like()

    def figure(logs):
        return 1e3 * bar.mass(np.exp(logs[:, CONSTANTS.index("E_L")]), np.exp(logs[:, 0]))

    text = (
        f"weight of an even bar {1e3 * bar.width:g} mm wide and {1e3 * bar.length:g} mm long that makes "
        f"{bar.stiffness:.2f} N m2 with its strip of plate"
    )
    return Purpose("lightest", "bar_g", "g", text, figure)


def nearest(reference: WoodEstimate | Orthotropic, what: str = "the reference") -> Purpose:
    """Nearest in density and stiffness along the grain, both in per cent and of equal weight."""
    wood = reference.wood if isinstance(reference, WoodEstimate) else reference
    aim = np.log([wood.density, wood.E_L])

    def figure(logs):
        off = logs[:, [0, CONSTANTS.index("E_L")]] - aim
        return 100 * np.sqrt((off**2).mean(axis=1))

    text = (
        f"difference from {what} ({wood.density:.0f} kg/m3, {1e-9 * wood.E_L:.1f} GPa): root mean square of "
        "the relative differences of density and stiffness along the grain"
    )
    return Purpose("nearest", "difference_percent", "%", text, figure)


def match(top_wood: WoodEstimate | Orthotropic) -> Purpose:
    """Nearest to the wood of a top."""
    found = nearest(top_wood, "the wood of this top")
    return Purpose("match", found.column, found.unit, found.text, found.figure)


@dataclass(frozen=True, eq=False)
class SampleComparison:
    """Samples ranked for a purpose.

    Attributes
    ----------
    table : DataFrame
        A row a sample, the best first: ``rank``, ``sample``, ``kind``, ``density_kg_m3``, ``E_L_gpa``,
        ``c_L_m_s``, ``impedance``, ``radiation_ratio``, ``E_R_gpa`` and the purpose's column, each with
        ``_low`` and ``_high`` of its band; ``level_with`` (better or worse samples that it cannot be told
        from), ``remark``.
    beats : DataFrame
        Probability that the sample of the row is better than that of the column.
    estimates : dict of str to WoodEstimate
        In the order of the table, all at ``moisture``.
    moisture : float or None
        Moisture content that they were brought to, fraction; None if none of them names its own.
    """

    table: pd.DataFrame
    beats: pd.DataFrame
    purpose: Purpose
    estimates: dict[str, WoodEstimate]
    moisture: float | None
    samples: dict[str, Sample]

    @property
    def invented(self) -> bool:
        """Whether any sample is made up."""
        return any(s.invented for s in self.samples.values())

    def _repr_html_(self) -> str:
        return self.table.to_html(index=False, float_format="{:.4g}".format)


def compare_samples(
    samples: Sequence[Sample], purpose: Purpose | None = None, moisture: float | None = None
) -> SampleComparison:
    """Rank samples for a purpose, with bands.

    Parameters
    ----------
    samples : sequence of Sample
        With different names.
    purpose : Purpose, optional
        `lightest` (the default), `nearest` or `match`, or one of your own.
    moisture : float, optional
        Moisture content at which to compare, fraction; default the middle of those given. A sample without
        one is taken as it is.

    Raises
    ------
    ValueError
        No samples, or two of one name.

    Notes
    -----
    Bands and probabilities come from draws of each sample's estimate, independent between samples. Errors
    that all samples share (one caliper, one scale) cancel in a comparison, so the bands are, if anything, too
    wide for telling samples apart.
    """
    names = [s.name for s in samples]
    if not names or len(set(names)) < len(names):
        msg = f"{len(names)} samples, {len(set(names))} names; at least one sample, no two of one name"
        raise ValueError(msg)
    purpose = purpose or lightest()
    moisture = common_moisture(samples) if moisture is None else moisture
    estimates = {s.name: s.estimate(moisture) for s in samples}
    rng = np.random.default_rng(SEED)
    figures = {name: purpose.figure(draw_logs(e, DRAWS, rng)) for name, e in estimates.items()}
    middle = {name: float(np.median(f)) for name, f in figures.items()}
    order = sorted(names, key=middle.get)
    beats = pd.DataFrame(
        [[np.nan if a == b else float(np.mean(figures[a] < figures[b])) for b in order] for a in order],
        index=order,
        columns=order,
    )
    by_name = {s.name: s for s in samples}
    rows = []
    for rank, name in enumerate(order, 1):
        level = [o for o in order if o != name and 1 - CLEARLY_BETTER < beats.loc[name, o] < CLEARLY_BETTER]
        row = {"rank": rank, "sample": name, "kind": by_name[name].kind}
        low, high = np.quantile(figures[name], [0.5 - LEVEL / 2, 0.5 + LEVEL / 2])
        row |= {purpose.column: middle[name], f"{purpose.column}_low": low, f"{purpose.column}_high": high}
        row |= _figures(estimates[name])
        remark = by_name[name].remark
        if moisture is not None and by_name[name].moisture is None:
            remark = "; ".join(filter(None, [remark, "moisture not given"]))
        rows.append(row | {"level_with": ", ".join(level), "remark": remark})
    estimates = {name: estimates[name] for name in order}
    return SampleComparison(
        pd.DataFrame(rows), beats, purpose, estimates, moisture, {name: by_name[name] for name in order}
    )


def common_moisture(samples: Sequence[Sample]) -> float | None:
    """Middle of the moisture contents that samples name, fraction; None if none does."""
    known = [s.moisture for s in samples if s.moisture is not None]
    return float(np.median(known)) if known else None


def draw_logs(estimate: WoodEstimate, count: int, rng: np.random.Generator) -> np.ndarray:
    """Draw logarithms of the constants: (count, 10)."""
    return rng.multivariate_normal(estimate.logs, estimate.log_cov, size=count, method="eigh")


_QUANTITIES = {
    "density": "density_kg_m3",
    "E_L": "E_L_gpa",
    "c_L": "c_L_m_s",
    "impedance": "impedance",
    "radiation_ratio": "radiation_ratio",
    "E_R": "E_R_gpa",
}


def _figures(estimate):
    table = estimate.table().set_index("quantity")
    out = {}
    for quantity, column in _QUANTITIES.items():
        for end, suffix in (("value", ""), ("low", "_low"), ("high", "_high")):
            out[column + suffix] = float(table.loc[quantity, end])
    return out
