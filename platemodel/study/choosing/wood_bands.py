"""Bands of a bar's figures from what is not known of the wood of the top and of the bar."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from platemodel.fem.strains import PointMaterial, strains
from platemodel.instrument.bar import Bar
from platemodel.study.top.figures import TopFigures, strip_stiffness
from platemodel.wood import CONSTANTS, Orthotropic, WoodEstimate
from platemodel.wood.estimate import LEVEL

DRAWS = 32  # woods of the bar computed
MIXED = 4096  # draws of bar and top together
SEED = 7
METHODS = ("sobol", "latin hypercube")


@dataclass(frozen=True, eq=False)
class WoodDoubt:
    """How well the woods are known, and what else the bar might be made of.

    Attributes
    ----------
    bar, top : WoodEstimate or None
        Of the bar's and the top's wood, whose middles are the model's own; None has no doubt.
    blanks : mapping of name to WoodEstimate
        Other wood that the bar might be made of.
    """

    bar: WoodEstimate | None = None
    top: WoodEstimate | None = None
    blanks: Mapping[str, WoodEstimate] = field(default_factory=dict)


def wood_samples(
    estimate: WoodEstimate, count: int, seed: int = SEED, method: str = "sobol"
) -> list[Orthotropic]:
    """Draw woods that fill an estimate evenly.

    Parameters
    ----------
    seed : int
        Of the scrambling; the same seed gives the same woods.
    method : {"sobol", "latin hypercube"}
        Low-discrepancy points (Owen-scrambled Sobol) or a Latin hypercube, of ``scipy.stats.qmc``.

    Returns
    -------
    list of Orthotropic
        A draw that is no sound material (Poisson ratios too large) is left out and another taken instead.

    Raises
    ------
    ValueError
        Unknown method, or a count below 1.
    """
    if method not in METHODS or count < 1:
        msg = f"{count} samples by {method!r}; at least 1, by one of {', '.join(METHODS)}"
        raise ValueError(msg)
    size, root = np.linalg.eigh(estimate.log_cov)
    root = root * np.sqrt(np.maximum(size, 0.0))
    out: list[Orthotropic] = []
    for extra in range(20):
        missing = count - len(out)
        for point in _normal_points(missing, seed + 1000 * extra, method):
            try:
                out.append(estimate.with_logs(estimate.logs + root @ point))
            except ValueError:
                continue
        if len(out) == count:
            return out
    msg = (
        f"of {20 * count} draws of this estimate only {len(out)} are sound materials; its bands are too wide"
    )
    raise ValueError(msg)


def _normal_points(count, seed, method):
    """Draw standard normal points (count, 10)."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    n = len(CONSTANTS)
    if method == "sobol":
        # whole powers of two keep the sequence balanced; the first points of it are taken
        points = qmc.Sobol(n, seed=seed).random_base2(int(np.ceil(np.log2(max(count, 2)))))[:count]
    else:
        points = qmc.LatinHypercube(n, seed=seed).random(count)
    return ndtri(np.clip(points, 1e-9, 1 - 1e-9))


def by_top_wood(figures: TopFigures, bar: Bar | None) -> pd.DataFrame:
    """Differentiate the logarithms of the figures by those of the constants of the top's wood.

    Returns
    -------
    DataFrame
        A row a figure, a column each of ``wood.CONSTANTS``.

    Notes
    -----
    Exact for modes and for the stiffness under the foot: their shapes do not change to first order (Rayleigh;
    for the deflection under its own load the adjoint solution is the deflection itself). The sinking is taken
    to follow the stiffness under the foot; figures of the closed body bring their own derivatives.
    """
    model = figures.model
    wood, shell = model.top.wood, model.full.shell
    found = model.named_shapes(figures.as_if(bar))
    k = len(found.namings)
    table = strains(shell, np.column_stack([found.modes, found.pushes]))
    material = PointMaterial(shell, wood.compliance())
    energy = table.energy_by_compliance(material, list(wood.compliance_by_logs().values()))
    rows = {}
    for i, naming in enumerate(found.namings):
        shape = found.modes[:, i]
        share = float(shape @ (shell.M @ shape))
        rows[f"f{naming.number}_hz"] = [-0.5 * share, *(0.5 * energy[:, i] / found.omega2[i])]
    foot = 0.5 * sum(energy[:, k + j] / give for j, give in enumerate(found.give))
    rows["foot_n_per_mm"] = [0.0, *foot]
    rows["sink_mm"] = [0.0, *-foot]
    if "f2_hz" in rows and "f5_hz" in rows:
        rows["ratio_5_2"] = [a - b for a, b in zip(rows["f5_hz"], rows["f2_hz"], strict=True)]
    if bar is not None:
        step = 1e-4
        up, down = (strip_stiffness(model.top, bar, figures.softness * np.exp(s)) for s in (step, -step))
        rows["strip_n_m2"] = [0.0, np.log(up / down) / (2 * step), *([0.0] * (len(CONSTANTS) - 2))]
    if figures.body is not None:
        rows |= figures.body.by_top_wood(bar, figures.softness)
    return pd.DataFrame.from_dict(rows, orient="index", columns=list(CONSTANTS))


def log_draws(
    ask: Callable[[Bar], dict[str, float]],
    bar: Bar,
    derivatives: pd.DataFrame | None,
    doubt: WoodDoubt,
    names: Sequence[str],
) -> np.ndarray:
    """Draw how far the logarithms of figures lie from those of the middle wood.

    Parameters
    ----------
    ask : callable
        Figures of a bar.
    bar : Bar
        Of the middle wood.
    derivatives : DataFrame or None
        From `by_top_wood`.
    names : sequence of str
        Figures.

    Returns
    -------
    array (MIXED, len(names))
        The bar's woods are computed one by one, the top's to first order.
    """
    rng = np.random.default_rng(SEED)
    out = np.zeros((MIXED, len(names)))
    if doubt.bar is not None:
        middle = ask(replace(bar, wood=doubt.bar.wood))
        found = [ask(replace(bar, wood=w)) for w in wood_samples(doubt.bar, DRAWS)]
        logs = np.array([[np.log(f[n] / middle[n]) for n in names] for f in found])
        out += logs[rng.permutation(np.arange(MIXED) % DRAWS)]
    if doubt.top is not None and derivatives is not None:
        draws = rng.multivariate_normal(np.zeros(len(CONSTANTS)), doubt.top.log_cov, MIXED, method="eigh")
        rows = derivatives.reindex(names).fillna(0.0).to_numpy()
        out += draws @ rows.T
    return out


def band(logs: np.ndarray, middle: float) -> tuple[float, float]:
    """Return the ends of a band about a value from draws of the logarithm (n,); NaN where none has it."""
    if not np.isfinite(logs).any():
        return float("nan"), float("nan")
    low, high = np.nanquantile(logs, [0.5 - LEVEL / 2, 0.5 + LEVEL / 2])
    return float(middle * np.exp(low)), float(middle * np.exp(high))
