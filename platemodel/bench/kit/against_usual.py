"""Margins against those of the usual instrument of the kind: what is less than usual, in plain words."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from platemodel.study.top.cache_folder import kept_figures

BETWEEN = ": "  # part and what, in the name of a margin that is kept
MOST = 20  # larger margins count as this
ENOUGH = 4.0  # margin above which a part is not the one to look at first; a judgement
FLAGGED = 0.8  # of the usual margin, below which it is marked; a judgement
#: Least share of the usual margin for each wording, from the top down.
WORDS = (
    (2.5, "over twice"), (1.6, "twice as much"), (1.4, "half more"), (1.28, "a third more"),
    (1.15, "a fifth more"), (1.1, "a tenth more"), (0.9, "as usual"), (0.85, "a tenth less"),
    (0.775, "a fifth less"), (0.71, "a quarter less"), (0.58, "a third less"), (0.45, "half"),
)  # fmt: skip


def share_words(share: float) -> str:
    """Say how a margin stands against the usual one; nothing where there is none to compare with.

    Parameters
    ----------
    share : float
        Margin over that of the usual instrument.
    """
    if not np.isfinite(share):
        return "–"
    return next((words for least, words in WORDS if share >= least), "under half")


def with_shares(margins: pd.DataFrame, usual: pd.Series | None) -> pd.DataFrame:
    """Add the columns ``usual`` and ``share`` of the usual margin; NaN where the usual has no such part.

    Parameters
    ----------
    margins : DataFrame
        From `platemodel.study.top.margins.strength_margins`.
    usual : Series or None
        Those of the usual instrument by ``part`` and ``what``.
    """
    keys = list(zip(margins["part"], margins["what"], strict=True))
    known = {} if usual is None else usual.to_dict()
    other = np.array([known.get(key, np.nan) for key in keys], dtype=float)
    share = np.minimum(margins["margin"].to_numpy(), MOST) / np.minimum(other, MOST)
    return margins.assign(usual=other, share=share)


def least_line(margins: pd.DataFrame, kind: str) -> str:
    """Say the least of the margins against the usual, and where; those that are `ENOUGH` come last.

    Of parts that are called equally short of the usual, it is the one with the least margin.

    Parameters
    ----------
    margins : DataFrame
        From `with_shares`.
    kind : str
        Of instrument.
    """
    known = margins[margins["share"].notna()]
    if known.empty:
        return f"no part to compare with the usual {kind}"
    usual = WORDS[6][0]
    near = known[(known["margin"] < ENOUGH) & (known["share"] < usual)]
    row = _least(known if near.empty else near)
    if row["share"] >= usual:
        return f"as the usual {kind} or more, everywhere"
    words = share_words(row["share"])
    what = f"than the usual {kind} has" if words.endswith("less") else f"of what a usual {kind} has"
    flag = ": look there first" if row["share"] < FLAGGED else ""
    if near.empty:
        flag = ", with strength to spare"
    return f"{words} {what} ({row['part']}, {row['what']}){flag}"


def _least(margins):
    words = margins["share"].map(share_words)
    return margins[words == words[margins["share"].idxmin()]].sort_values("margin").iloc[0]


def margin_text(row: Any) -> str:
    """Margin with its band; very large ones are shown as over a limit."""
    numbers = (row.margin, row.margin_low, row.margin_high)
    mid, low, high = (f">{MOST}" if v > MOST else f"{v:.1f}" for v in numbers)
    if row.margin_low > MOST:
        return mid
    return f"{mid} ({low} to {high})"


def kept_margins(name: str, asked: tuple, make: Callable[[], pd.DataFrame]) -> pd.Series:
    """Margins of a usual instrument by part and what, from an earlier run where there was one.

    Parameters
    ----------
    name : str
        What is kept.
    asked : tuple
        Plain words and numbers that they depend on.
    make : callable
        Gives the margins, with ``part``, ``what`` and ``margin``.
    """

    def solved():
        margins = make()
        keys = margins["part"] + BETWEEN + margins["what"]
        return dict(zip(keys, margins["margin"].tolist(), strict=True))

    found = kept_figures(name, asked, solved)
    return pd.Series({tuple(key.split(BETWEEN)): margin for key, margin in found.items()})
