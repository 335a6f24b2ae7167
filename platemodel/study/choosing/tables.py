"""Tables of a chosen bar: margins, bands, half a millimetre, the curve over the height, other bars."""

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from platemodel.errors import GeometryError
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import shaped_bar
from platemodel.instrument.presets import preset_bar
from platemodel.study.choosing.search import Search, candidates
from platemodel.study.choosing.targets import EXACT, Target
from platemodel.study.choosing.wood_bands import band
from platemodel.study.top.figures import FIGURES, Reference, TopFigures
from platemodel.wood import WoodEstimate

CLOSE = 2e-3  # of the target: a margin that is as good as used up
STEP = 0.5e-3  # m
CURVE = 17


Ask = Callable[[Bar], dict[str, float]]


def target_margins(targets: tuple[Target, ...], values: dict[str, float], logs: pd.DataFrame) -> pd.DataFrame:
    """Set the targets against what was found; see `BarChoice.margins`.

    Parameters
    ----------
    values : dict of str to float
        Figures of the bar.
    logs : DataFrame
        Draws of the logarithm of each figure's change with the doubt of the wood, a column a figure.
    """
    rows = []
    for target in targets:
        value = values[target.figure]
        share = target.share(value)
        draws = value * np.exp(logs[target.figure]) if target.figure in logs else pd.Series([value])
        rows.append(
            {
                "target": target.text,
                "value": target.value,
                "found": value,
                "margin": target.margin(value) if abs(share) > EXACT else 0.0,
                "unit": target.unit,
                "met": target.met(value),
                "binds": bool(not share > CLOSE),
                "chance": float(np.mean([target.met(v) for v in draws[:512]])),
            }
        )
    return pd.DataFrame(rows)


def band_table(values: dict[str, float], logs: pd.DataFrame) -> pd.DataFrame:
    """Figures with their bands; see `BarChoice.bands` and `target_margins`."""
    rows = []
    for name, value in values.items():
        low, high = band(logs[name], value) if name in logs else (value, value)
        unit, what = FIGURES[name]
        rows.append({"figure": name, "what": what, "value": value, "low": low, "high": high, "unit": unit})
    return pd.DataFrame(rows)


def height_band(
    targets: tuple[Target, ...], values: dict[str, float], curve: pd.DataFrame, logs: pd.DataFrame
) -> tuple[float, float]:
    """Heights (mm) that the draws need for the binding target, by the local power of the height.

    Targets that a lower bar meets better, such as its weight, ask for no height.
    """
    height = curve["height_mm"].to_numpy()
    for target in targets:
        close = abs(target.share(values[target.figure])) < 5 * CLOSE
        if not close or target.figure not in logs:
            continue
        near = np.argsort(np.abs(np.log(height / values["height_mm"])))[:5]
        power = np.polyfit(np.log(height[near]), np.log(curve[target.figure].to_numpy()[near]), 1)[0]
        upwards = power > 0.05 and target.sense != "at most"
        downwards = power < -0.05 and target.sense != "at least"
        if upwards or downwards:  # a limit that a higher bar meets better
            return band(-logs[target.figure] / power, values["height_mm"])
    return np.nan, np.nan


def step_table(ask: Ask, bar: Bar) -> pd.DataFrame:
    """Figures half a millimetre and a whole one up and down; see `BarChoice.steps`."""
    base = ask(bar)
    rows = []
    for k in (-2, -1, 0, 1, 2):
        try:
            found = ask(shaped_bar(bar, height=float(bar.heights.max()) + k * STEP))
        except ValueError:
            continue
        change = {f"d_{n}": found[n] - base[n] for n in found if n != "height_mm"}
        rows.append({"step_mm": 1e3 * k * STEP, **found, **change})
    return pd.DataFrame(rows)


def height_curve(problem: Search, ask: Ask, shared: Ask, chosen: Bar) -> pd.DataFrame:
    """Figures and shared tones over the height, and which targets are missed; see `BarChoice.curve`."""
    top = float(chosen.heights.max())
    low, high = problem.ranges.get("height", (0.75 * top, 1.3 * top))
    low = max(low, float(chosen.heights[[0, -1]].max()) + 1e-5)
    rows = []
    limits = [1e-3 * t.value for t in problem.targets if t.figure == "height_mm"]
    for height in np.union1d(np.linspace(low, high, CURVE), np.clip([top, *limits], low, high)):
        one = shaped_bar(chosen, height=float(height))
        found = ask(one)
        missed = [t.name for t in problem.targets if not t.met(found[t.figure])]
        rows.append({**found, **shared(one), "all_met": not missed, "missed": ", ".join(missed)})
    return pd.DataFrame(rows)


def comparison_table(
    figures: TopFigures,
    problem: Search,
    ask: Ask,
    chosen: Bar,
    given: Bar,
    reference: Reference,
    blanks: Mapping[str, WoodEstimate] | None,
) -> pd.DataFrame:
    """Other bars beside the chosen one; see `BarChoice.comparison`. Without ``blanks`` only the one given."""
    model = figures.model
    rows = [("this choice", ask(chosen), np.nan), ("the bar given", figures.of(given), np.nan)]
    columns = ["bar", *ask(chosen), "needed_height_mm"]
    if blanks is None:
        return _compared(rows, columns)
    try:
        usual = replace(preset_bar(model.top, wood=given.wood), section_fill=given.section_fill)
        rows.append(("the usual bar on this top", replace(figures.full, body=None).of(usual), np.nan))
    except GeometryError:
        pass  # a top so odd that the usual line leaves it
    rows.append(("the usual bar on the usual top", reference.figures, np.nan))
    for name, wood in blanks.items():
        same = replace(chosen, wood=wood.wood)
        rows.append((f"this bar from {name}", ask(same), _needed(problem, ask, same)))
    return _compared(rows, columns)


def _compared(rows, columns):
    table = [{"bar": label, **found, "needed_height_mm": needed} for label, found, needed in rows]
    return pd.DataFrame(table)[columns]


def _needed(problem, ask, bar):
    """Height at which a bar of other wood meets the targets and is lightest, mm; NaN where there is none."""
    top = float(bar.heights.max())
    span = problem.ranges.get("height", (0.75 * top, 1.3 * top))
    low = max(span[0], float(bar.heights[[0, -1]].max()) + 1e-5)
    one = _OneHeight(problem, ask, bar, (low, span[1]))
    places = candidates(one)
    good = [t for t in places if one.met([t]).all()]
    if not good:
        return np.nan
    best = min(good, key=lambda t: one.figures([t])[problem.goal])
    return 1e3 * float(one.bar_at([best]).heights.max())


class _OneHeight(Search):
    """Search over the height of a bar that already lies on its line."""

    def __init__(self, problem, ask, bar, span):
        super().__init__(problem.effects, bar, problem.targets, {"height": span}, problem.goal)
        self._ask = ask

    def figures_of(self, on_line, changes):
        return self._ask(on_line)
