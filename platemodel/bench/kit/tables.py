"""Tables as plain data for JSON, and as text in columns."""

from collections.abc import Collection, Iterator, Sequence
from numbers import Real

import numpy as np
import pandas as pd

SIGNIFICANT = 6  # figures that are kept of a number


def records(table: pd.DataFrame | None) -> list[dict] | None:
    """Rows of a table as plain data; None stays None."""
    return (
        None if table is None else [{k: plain(v) for k, v in row.items()} for row in table.to_dict("records")]
    )


def plain(value: object) -> object:
    """Value for JSON: six figures of a number, null for one that is not finite or not there."""
    if value is None or value is pd.NA:
        return None
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, Real):
        return float(f"{float(value):.{SIGNIFICANT}g}") if np.isfinite(value) else None
    return value


def span(low: str, high: str, between: str = " – ") -> str:
    """Write from where to where a figure goes, or the figure alone where both are printed alike."""
    return low if low == high else f"{low}{between}{high}"


def aligned(cells: Sequence[Sequence[str]], left: Collection[int] = (0,)) -> Iterator[str]:
    """Rows of texts in columns of equal width, two further in; those of ``left`` stand left, others right."""
    widths = [max(len(row[k]) for row in cells) for k in range(len(cells[0]))]
    for row in cells:
        padded = [
            c.ljust(w) if k in left else c.rjust(w) for k, (c, w) in enumerate(zip(row, widths, strict=True))
        ]
        yield ("  " + "  ".join(padded)).rstrip()
