"""What the dial gauge should read at each stage of cutting a bar down."""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.strings import KGF
from platemodel.study.top.bar_flexes import BarFlexes
from platemodel.study.top.flex import Flex
from platemodel.wood import CONSTANTS, WoodEstimate
from platemodel.wood.estimate import HALF_WIDTH

# Relative sd: what the model may be off by in a sag for other reasons than the wood; a judgement.
MODEL = 0.03
WEIGHTS = (20, 50, 100, 200, 500, 1000, 2000)  # g: those that a shop has
TOLD = ("along", "foot")  # kinds that a bar moves most


def light_weight(flex: Flex) -> float:
    """Heaviest usual weight that the light hand allows in a flex test, g; NaN if not even the lightest."""
    fit = [w for w in WEIGHTS if w <= 1e3 * flex.most_force / KGF]
    return float(fit[-1]) if fit else float("nan")


def flex_sd(flex: Flex, top: WoodEstimate, bar: WoodEstimate) -> float:
    """Relative standard deviation of a computed sag, from the doubt of both woods and of the model.

    Parameters
    ----------
    flex : Flex
        With the bar on.
    """
    row = flex.by_logs[: len(CONSTANTS)]
    return float(np.sqrt(row @ top.log_cov @ row + (flex.by_bar * bar.sd("E_L")) ** 2 + MODEL**2))


def flex_stops(
    bars: Sequence[Bar], flexes: BarFlexes, final: Sequence[Flex], sd: Mapping[str, float]
) -> pd.DataFrame:
    """Tabulate the expected readings of flex tests with some bars, the last of them the final one.

    Parameters
    ----------
    flexes : BarFlexes
        Gives the change from bar to bar.
    final : sequence of Flex
        The tests with the final bar on the finest mesh.
    sd : mapping of str to float
        Relative standard deviation by kind; see `flex_sd`.

    Returns
    -------
    DataFrame
        A row a bar: of each kind ``flex_along_g`` (the weight to set on), ``flex_along_mm`` and
        ``flex_along_band_mm`` (half width, 90 %). The weight is safe with the final bar, so with all higher.
    """
    known = {flex.test.kind: flex for flex in final}
    sags = [flexes.flexibility(bar) for bar in bars]
    rows = []
    for found in sags:
        row = {}
        for kind in TOLD:
            weight = light_weight(known[kind])
            sag = known[kind].flexibility * found[kind] / sags[-1][kind] * weight * KGF  # g times m/N: mm
            row[f"flex_{kind}_g"], row[f"flex_{kind}_mm"] = weight, sag
            row[f"flex_{kind}_band_mm"] = HALF_WIDTH * sd[kind] * sag
        rows.append(row)
    return pd.DataFrame(rows)
