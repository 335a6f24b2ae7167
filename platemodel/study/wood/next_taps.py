"""What a further tap would add to a fit of the wood."""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from platemodel.study.top.recognise import KNOWN
from platemodel.wood import CONSTANTS
from platemodel.wood.estimate import HALF_WIDTH

MOST_TAPPED = 8  # a further tap is advised among the lowest so many modes


def next_taps(
    followed: Sequence[int],
    tapped: Sequence[int],
    rows_of_modes: np.ndarray,
    fitted: Mapping[int, float],
    cov: np.ndarray,
    tap_sd: float,
) -> pd.DataFrame:
    """Tabulate what each mode not yet tapped would add.

    Parameters
    ----------
    followed, tapped : sequence of int
        Numbers of the modes that the model follows, and of those tapped already.
    rows_of_modes : array (len(followed), p)
        Derivatives of the logarithms of the followed modes by the unknowns.
    fitted : mapping of int to float
        Hz by mode number.
    cov : array (p, p)
        Of the unknowns after the fit.
    tap_sd : float
        Relative sd of a further tap, reading and model together.

    Returns
    -------
    DataFrame
        See `WoodFit.next_taps`.
    """
    goals = [CONSTANTS.index(c) for c in ("E_L", "E_R", "G_LR")]
    noise = tap_sd**2
    rows = []
    for number, row in zip(followed, rows_of_modes, strict=True):
        if number in tapped or number > MOST_TAPPED:
            continue
        spread = cov @ row
        variance = float(row @ spread)
        after = np.array([cov[g, g] - spread[g] ** 2 / (variance + noise) for g in goals])
        narrower = 100.0 * (1.0 - np.sqrt(after / np.array([cov[g, g] for g in goals])))
        rows.append(
            {
                "number": number,
                "name": KNOWN.get(number, ""),
                "expected_hz": fitted[number],
                "band_hz": HALF_WIDTH * np.sqrt(variance + noise) * fitted[number],
                "E_L_percent": narrower[0],
                "E_R_percent": narrower[1],
                "G_LR_percent": narrower[2],
            }
        )
    columns = ["number", "name", "expected_hz", "band_hz", "E_L_percent", "E_R_percent", "G_LR_percent"]
    table = pd.DataFrame(rows, columns=columns)
    if len(table):
        # the order of the largest gain in the product of the three bands
        gain = -np.log1p(-table[columns[4:]] / 100.0).sum(axis=1)
        table = table.loc[gain.sort_values(ascending=False).index].reset_index(drop=True)
    return table
