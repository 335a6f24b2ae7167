"""Tables for a notebook's page: words at the head of each column, figures to the digits they deserve."""

from collections.abc import Callable, Mapping
from numbers import Real

import numpy as np
import pandas as pd

from platemodel.bench.notebook.claims import number_text
from platemodel.bench.notebook.saying import units_kept

Digits = int | Callable[[float], str] | None
NOTHING = "–"
DIGITS = 4


def told(
    table: pd.DataFrame, columns: Mapping[str, tuple[str, Digits]], index: str | None = None
) -> pd.DataFrame:
    """Pick columns of a table and write them out for reading.

    Parameters
    ----------
    columns : mapping of str to (str, int, callable or None)
        Column to the words at its head, with the unit, and the decimals of its figures, or what writes one of
        them as another page does; None for columns of unlike figures, each to ``DIGITS`` significant digits.
    index : str, optional
        Column that names the rows; default the table's own index.

    Returns
    -------
    DataFrame
        Of text; a dash where there is no figure.
    """
    if index is not None:
        table = table.set_index(index)
    out = {words: [_cell(v, digits) for v in table[name]] for name, (words, digits) in columns.items()}
    rows = [units_kept(row) if isinstance(row, str) else row for row in table.index]
    return pd.DataFrame(out, index=rows)


def _cell(value, digits):
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, Real):
        return _figure(value, digits) if np.isfinite(value) else NOTHING
    return NOTHING if value is None else str(value)


def _figure(value, digits):
    if digits is None:
        return number_text(value, DIGITS)
    if callable(digits):
        return digits(value)
    return f"{round(value, digits) + 0.0:.{digits}f}"  # no minus before a nought
