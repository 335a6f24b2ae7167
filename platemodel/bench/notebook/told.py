"""Tables for a notebook's page: words at the head of each column, figures to the digits they deserve."""

from collections.abc import Mapping
from numbers import Real

import numpy as np
import pandas as pd

NOTHING = "–"


def told(
    table: pd.DataFrame, columns: Mapping[str, tuple[str, int]], index: str | None = None
) -> pd.DataFrame:
    """Pick columns of a table and write them out for reading.

    Parameters
    ----------
    table : DataFrame
    columns : mapping of str to (str, int)
        Column to the words at its head, with the unit, and the decimals of its figures.
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
    return pd.DataFrame(out, index=table.index.rename(None))


def _cell(value, digits):
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, Real):
        return f"{value:.{digits}f}" if np.isfinite(value) else NOTHING
    return NOTHING if value is None else str(value)
