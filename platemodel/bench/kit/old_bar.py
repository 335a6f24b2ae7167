"""The old bar beside the new one, as text for any page."""

import numpy as np
import pandas as pd

from platemodel.bench.kit.tables import aligned
from platemodel.errors import GeometryError
from platemodel.job import JOB_FILE, Job
from platemodel.progress import Progress, no_message
from platemodel.study.top.figures import figure_text
from platemodel.study.top.old_bar import beside, full_figures, in_words
from platemodel.study.top.workbench import Workbench

TITLE = "Beside the old bar"
LOOSE = f"{TITLE}, on the loose top"  # on pages that show the closed body besides


def old_figures(job: Job, bench: Workbench, progress: Progress = no_message) -> dict[str, float] | None:
    """Figures of the job's old bar on the bench's mesh; None where there was none."""
    if job.old_bar is None:
        return None

    def make():
        progress("the old bar on this top")
        try:
            return full_figures(bench.model, job.old_bar, job.set_up)
        except GeometryError as error:  # one bar is like another to the model
            msg = f"the old bar, [old_bar] in {JOB_FILE}: {error}"
            raise GeometryError(msg) from error

    return bench.kept("old bar", make)


def beside_old_bar(job: Job, bench: Workbench, progress: Progress = no_message) -> pd.DataFrame | None:
    """Set the job's bar beside its old one on the bench's mesh; None without one of the two.

    Returns
    -------
    DataFrame or None
        See `platemodel.study.top.old_bar.beside`.
    """
    old = old_figures(job, bench, progress)
    if old is None or job.bar is None:
        return None

    def make():
        return beside(old, full_figures(bench.model, job.bar, job.set_up, bench.flexes()))

    return bench.kept("old bar beside the new", make)


def old_bar_lines(table: pd.DataFrame | None, new: str = "new", title: str = TITLE) -> list[str]:
    """Head, rows and a sentence for the terminal; nothing without a table.

    Parameters
    ----------
    new : str
        What the column of the new bar is called.
    title : str
        Of the block.
    """
    if table is None or not len(table):
        return []
    cells = [("", "old bar", new, "change, %")]
    for row in table.itertuples():
        values = (figure_text(row.figure, v) for v in (row.old, row.new))
        name = f"{row.what}, {row.unit}" if row.unit else row.what
        cells.append((name, *values, change_text(row.change_percent)))
    return [title, *aligned(cells), f"  {in_words(table)}"]


def change_text(percent: float) -> str:
    """Write a change in per cent with its sign and two digits, as far as the figures carry; or a dash."""
    digits = 0 if abs(percent) >= 9.95 else 1
    text = f"{percent:+.{digits}f}" if np.isfinite(percent) else "-"
    return "0.0" if text in ("+0.0", "-0.0") else text
