"""The old bar beside the new one, as text for any page."""

import textwrap
from collections.abc import Callable

import numpy as np
import pandas as pd

from platemodel.bench.kit.tables import aligned
from platemodel.job import Job
from platemodel.study.top.old_bar import beside, full_figures, in_words
from platemodel.study.top.workbench import Workbench

DIGITS = {"sink_mm": 3, "bar_g": 2, "ratio_5_2": 3, "foot_n_per_mm": 1, "strip_n_m2": 1}


def old_figures(
    job: Job, bench: Workbench, progress: Callable[[str], None] | None = None
) -> dict[str, float] | None:
    """Figures of the job's old bar on the bench's mesh; None where there was none.

    Parameters
    ----------
    job : Job
    bench : Workbench
    progress : callable, optional
        Called with a short status message.
    """
    if job.old_bar is None:
        return None

    def make():
        if progress:
            progress("the old bar on this top")
        return full_figures(bench.model, job.old_bar, job.set_up)

    return bench.kept("old bar", make)


def beside_old_bar(
    job: Job, bench: Workbench, progress: Callable[[str], None] | None = None
) -> pd.DataFrame | None:
    """Set the job's bar beside its old one on the bench's mesh; None without one of the two.

    Parameters
    ----------
    job : Job
    bench : Workbench
    progress : callable, optional
        Called with a short status message.

    Returns
    -------
    DataFrame or None
        See `platemodel.study.top.old_bar.beside`.
    """
    old = old_figures(job, bench, progress)
    if old is None or job.bar is None:
        return None

    def make():
        return beside(old, full_figures(bench.model, job.bar, job.set_up, bench.flexes()[1]))

    return bench.kept("old bar beside the new", make)


def old_bar_lines(table: pd.DataFrame | None, new: str = "new") -> list[str]:
    """Head, rows and a sentence for the terminal; nothing without a table.

    Parameters
    ----------
    table : DataFrame or None
    new : str
        What the column of the new bar is called.
    """
    if table is None or not len(table):
        return []
    cells = [("", "old bar", new, "change, %")]
    for row in table.itertuples():
        digits = 3 if row.figure.startswith("flex_") else DIGITS.get(row.figure, 1)
        values = (f"{v:.{digits}f}" if np.isfinite(v) else "-" for v in (row.old, row.new))
        change = f"{row.change_percent:+.1f}" if np.isfinite(row.change_percent) else "-"
        change = "0.0" if change in ("+0.0", "-0.0") else change
        name = f"{row.what}, {row.unit}" if row.unit else row.what
        cells.append((name, *values, change))
    sentence = in_words(table)
    return ["Beside the old bar", *aligned(cells), *(f"  {part}" for part in textwrap.wrap(sentence, 100))]
