"""The new bar beside the one that was on before: figures of both, on the same top and mesh."""

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.flex_test import KINDS, usual_flex_test
from platemodel.instrument.strings import SetUp
from platemodel.study.top.bar_flexes import PER_WEIGHT
from platemodel.study.top.figures import FIGURES, TopFigures
from platemodel.study.top.flex import Flex, flexibilities
from platemodel.study.top.model import TopModel

ALIKE = 1.5  # percent: closer than that two bars are called alike


def flex_figures(model: TopModel, bar: Bar, flexed: list[Flex] | None = None) -> dict[str, float]:
    """Sags of the usual flex tests with a bar, by the names of `FIGURES`.

    Parameters
    ----------
    flexed : list of Flex, optional
        The tests, where they are solved already.
    """
    if flexed is None:
        found = flexibilities(model, [usual_flex_test(model.top, kind) for kind in KINDS], bar)
        sags = dict(zip(KINDS, found.tolist(), strict=True))
    else:
        sags = {f.test.kind: f.flexibility for f in flexed}
    return {f"flex_{kind}_mm": 1e3 * PER_WEIGHT * c for kind, c in sags.items()}


def full_figures(
    model: TopModel, bar: Bar, set_up: SetUp | None = None, flexed: list[Flex] | None = None
) -> dict[str, float]:
    """Figures of a bar by the full model, its flexes among them; ``flexed`` as for `flex_figures`.

    Parameters
    ----------
    set_up : SetUp, optional
        Strings, for the sinking.
    """
    with ThreadPoolExecutor(1) as pool:
        flexing = pool.submit(flex_figures, model, bar, flexed)
        found = TopFigures(model, set_up).of(bar) | flexing.result()
    return {name: found[name] for name in FIGURES if name in found}


def beside(old: Mapping[str, float], new: Mapping[str, float]) -> pd.DataFrame:
    """Set the figures of two bars beside each other.

    Parameters
    ----------
    old, new : mapping of str to float
        By the names of `FIGURES`; what only one of them has is left out.

    Returns
    -------
    DataFrame
        A row a figure: ``figure, what, unit, old, new, change_percent``.
    """
    rows = []
    for name, (unit, what) in FIGURES.items():
        if name not in old or name not in new:
            continue
        a, b = old[name], new[name]
        change = 100.0 * (b / a - 1.0) if a and np.isfinite(a) and np.isfinite(b) else np.nan
        rows.append(
            {"figure": name, "what": what, "unit": unit, "old": a, "new": b, "change_percent": change}
        )
    columns = ["figure", "what", "unit", "old", "new", "change_percent"]
    return pd.DataFrame(rows, columns=columns)


def in_words(table: pd.DataFrame) -> str:
    """Say in a sentence how the new bar compares with the old one; nothing where the table is empty."""
    change = dict(zip(table["figure"], table["change_percent"], strict=True)) if len(table) else {}
    if not np.isfinite(change.get("foot_n_per_mm", np.nan)):
        return ""

    def against(percent, more, less, same):
        if abs(percent) < ALIKE:
            return same
        return f"{abs(percent):.0f} % {more if percent > 0 else less}"

    foot = change["foot_n_per_mm"]
    parts = [
        f"Against the old bar the new one is {against(foot, 'stiffer', 'softer', 'as stiff')} under the foot"
    ]
    along, grams = change.get("flex_along_mm", np.nan), change.get("bar_g", np.nan)
    if np.isfinite(along):
        parts.append(f"lets the free plate sag {against(along, 'more', 'less', 'as much')} along")
    if np.isfinite(grams):
        parts.append(f"weighs {against(grams, 'more', 'less', 'as much')}")
    return ", ".join(parts[:-1]) + f" and {parts[-1]}." if len(parts) > 1 else f"{parts[0]}."
