"""The effect of each sample of bar wood on one top: height for equal stiffness, and the modes then."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.study.top.answers import TopSolver, bar_response
from platemodel.study.top.model import TopModel
from platemodel.study.top.reduced_top import reduced_top
from platemodel.study.wood.samples import DRAWS, SEED, Purpose, draw_logs
from platemodel.wood import CONSTANTS, WoodEstimate
from platemodel.wood.estimate import LEVEL

ANSWERS = ("foot_n_per_mm", "f1_hz", "f2_hz", "f5_hz", "bar_g")
HEIGHTS = 1.25  # the highest computed bar over the usual one, and the usual one over the lowest
TOLERANCE = 1e-3  # of the reduced model, relative
REACH = 1.1  # how far beyond them, in logarithms, the smooth surface is still read
STEP = 0.15  # of density and shear modulus, which act nearly in proportion
LEAST_SPREAD = 0.15  # of the logarithm of E_L, computed to either side

Answer = Callable[[Bar], Mapping[str, float]]


def answers_of(model: TopSolver) -> Answer:
    """Turn a model into a function that answers ``ANSWERS`` for a bar."""

    def answer(bar):
        found = bar_response(model, bar)
        tones = {f"f{number}_hz": found.frequency(number) for number in (1, 2, 5)}
        return {"foot_n_per_mm": 1e-3 * found.foot.middle, **tones, "bar_g": 1e3 * found.bar_mass}

    return answer


def reduced_answers(model: TopModel, bar: Bar) -> Answer:
    """Make the reduced model for samples on a bar's line, and answer by it.

    Takes as long as about five answers of the full model; accurate to ``TOLERANCE``, well within the samples'
    own bands.
    """
    top, ends = float(bar.heights.max()), bar.heights[[0, -1]]
    reach = HEIGHTS**REACH
    span = BarRange((top / reach, top * reach), (0.99 * ends.min(), 1.01 * ends.max()), (1.4, 1.6))
    return answers_of(reduced_top(model, bar, span, tolerance=TOLERANCE))


@dataclass(frozen=True, eq=False)
class BarSurface:
    """The effect of bars of other wood and height on one top, smooth between a few computed bars.

    Logarithms of the answers, of second degree in those of E_L and height and linear in those of density and
    of the shear moduli along the grain, all against the reference bar. The bar's other constants stay.

    Attributes
    ----------
    bar : Bar
        Reference.
    spread : float
        E_L was computed up to this logarithm to either side.
    tensor : array (3, 3, k)
        Coefficients of E_L's power i and height's power j for each of ``ANSWERS``.
    by_density, by_shear : array (k,)
    """

    bar: Bar
    spread: float
    tensor: np.ndarray
    by_density: np.ndarray
    by_shear: np.ndarray

    def _wood(self, logs):
        """Logarithms of E_L, density and shear modulus against the reference bar: three of (n,)."""
        at = {c: logs[:, i] for i, c in enumerate(CONSTANTS)}
        own = self.bar.wood
        shear = 0.5 * (at["G_LR"] + at["G_LT"] - np.log(own.G_LR * own.G_LT))
        return at["E_L"] - np.log(own.E_L), at["density"] - np.log(own.density), shear

    def read(self, logs: np.ndarray, height: np.ndarray) -> np.ndarray:
        """Answers for woods and bar heights.

        Parameters
        ----------
        logs : array (n, 10)
            Logarithms of the wood's constants.
        height : array (n,)
            Greatest height, m; NaN more than a tenth outside what was computed.

        Returns
        -------
        array (n, 5)
            In the order of ``ANSWERS``.
        """
        stiff, density, shear = self._wood(logs)
        v = np.log(np.asarray(height) / self.bar.heights.max())
        v = np.where(np.abs(v) <= REACH * np.log(HEIGHTS), v, np.nan)
        powers = np.stack([np.ones_like(v), v, v**2])
        out = np.einsum("in,jn,ijk->nk", _powers(stiff), powers, self.tensor)
        return np.exp(out + density[:, None] * self.by_density + shear[:, None] * self.by_shear)

    def height_for(self, logs: np.ndarray, foot: float | None = None) -> np.ndarray:
        """Height (m) at which the bass foot is as stiff as asked (N/mm), by default as on the reference bar.

        Parameters
        ----------
        logs : array (n, 10)

        Returns
        -------
        array (n,)
            NaN where no height within reach does it.
        """
        stiff, _, shear = self._wood(logs)
        c, b, a = np.einsum("in,ij->jn", _powers(stiff), self.tensor[:, :, 0])
        c = c + shear * self.by_shear[0] - (self.tensor[0, 0, 0] if foot is None else np.log(foot))
        inside = b**2 - 4 * a * c
        v = -2 * c / (b + np.sqrt(np.where(inside >= 0, inside, np.nan)))
        v = np.where(np.abs(v) <= REACH * np.log(HEIGHTS), v, np.nan)
        return self.bar.heights.max() * np.exp(v)


def _powers(u):
    return np.stack([np.ones_like(u), u, u**2])


def bar_surface(answer: Answer, bar: Bar, estimates: Sequence[WoodEstimate]) -> BarSurface:
    """Compute the eleven bars that a `BarSurface` rests on.

    Parameters
    ----------
    answer : callable
        Takes a bar, returns the figures ``ANSWERS``: `answers_of` a model, or `reduced_answers`.
    bar : Bar
        Reference: line, length, width, profile, and the wood that the samples are set against.
    estimates : sequence of WoodEstimate
        Woods that must lie inside.
    """
    k = CONSTANTS.index("E_L")
    far = [abs(e.logs[k] - np.log(bar.wood.E_L)) + 2 * e.sd("E_L") for e in estimates]
    spread = float(max([LEAST_SPREAD, *far]))
    height, t = float(bar.heights.max()), np.log(HEIGHTS)
    levels = np.array([-1.0, 0.0, 1.0])
    plan = [(spread * i, t * j, 0.0, 0.0) for i in levels for j in levels]
    plan += [(0.0, 0.0, STEP, 0.0), (0.0, 0.0, 0.0, STEP)]
    found = []
    for u, v, density, shear in plan:
        wood = replace(
            bar.wood,
            E_L=bar.wood.E_L * np.exp(u),
            density=bar.wood.density * np.exp(density),
            G_LR=bar.wood.G_LR * np.exp(shear),
            G_LT=bar.wood.G_LT * np.exp(shear),
        )
        one = answer(bar_of_height(replace(bar, wood=wood), height * np.exp(v)))
        found.append([np.log(one[name]) for name in ANSWERS])
    found = np.array(found)
    grid = found[:9].reshape(3, 3, -1)
    inverse_u = np.linalg.inv(_powers(spread * levels).T)
    inverse_v = np.linalg.inv(_powers(t * levels).T)
    tensor = np.einsum("ip,jq,pqk->ijk", inverse_u, inverse_v, grid)
    middle = found[4]
    return BarSurface(bar, spread, tensor, (found[9] - middle) / STEP, (found[10] - middle) / STEP)


def lightest_on_top(surface: BarSurface) -> Purpose:
    """Lightest bar that makes the bass foot of this top as stiff as the reference bar does."""
    weight = ANSWERS.index("bar_g")

    def figure(logs):
        height = surface.height_for(logs)
        out = surface.read(logs, height)[:, weight]
        return np.where(np.isfinite(out), out, np.inf)  # what no height can do ranks last

    bar = surface.bar
    text = (
        "weight of the bar that makes this top as stiff under the bass foot as one of "
        f"{1e3 * bar.heights.max():.1f} mm of the job's bar wood"
    )
    return Purpose("lightest on this top", "bar_g", "g", text, figure)


def samples_on_top(estimates: Mapping[str, WoodEstimate], surface: BarSurface) -> pd.DataFrame:
    """Bar height needed on a top for equal stiffness under the bass foot, and what results.

    Parameters
    ----------
    estimates : mapping of name to WoodEstimate
        Wood of the bars.
    surface : BarSurface
        From `bar_surface`.

    Returns
    -------
    DataFrame
        A row a sample: ``sample``, ``height_mm``, ``height_change_mm`` (against the reference bar),
        ``bar_g``, ``f1_hz``, ``f2_hz``, ``f5_hz``, each of them with ``_low`` and ``_high``, and
        ``foot_same_height_n_per_mm`` (a bar of this wood at the reference height), ``remark``. Bands hold the
        doubt of the sample's wood only, not of the top.
    """
    rng = np.random.default_rng(SEED)
    usual = float(surface.bar.heights.max())
    rows = []
    for name, estimate in estimates.items():
        middle = estimate.logs[None]
        logs = np.concatenate([middle, draw_logs(estimate, DRAWS, rng)])
        height = surface.height_for(logs)
        answers = dict(zip(ANSWERS, surface.read(logs, height).T, strict=True))
        figures = {"height_mm": 1e3 * height, "height_change_mm": 1e3 * (height - usual)}
        figures |= {c: answers[c] for c in ("bar_g", "f1_hz", "f2_hz", "f5_hz")}
        row = {"sample": name}
        for column, values in figures.items():
            row[column] = float(values[0])
            row[f"{column}_low"], row[f"{column}_high"] = _band(values[1:])
        row["foot_same_height_n_per_mm"] = float(surface.read(middle, np.array([usual]))[0, 0])
        row["remark"] = _remark(height, usual)
        rows.append(row)
    return pd.DataFrame(rows)


def _band(values):
    """Band of draws; an end that lies among draws without an answer is missing."""
    missing = np.isnan(values)
    if missing.mean() > (1 - LEVEL) / 2:
        return np.nan, np.nan
    return tuple(np.quantile(values[~missing], [0.5 - LEVEL / 2, 0.5 + LEVEL / 2]).tolist())


def _remark(height, usual):
    if np.isfinite(height[0]) and np.isnan(height[1:]).mean() <= (1 - LEVEL) / 2:
        return ""
    low, high = (1e3 * usual * np.exp(s * REACH * np.log(HEIGHTS)) for s in (-1, 1))
    return f"its bar, or a part of its band, lies outside {low:.1f} to {high:.1f} mm"
