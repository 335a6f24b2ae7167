"""Pages of paper: the size of an A4 sheet on its side, and a page saved at its true size."""

import os
from pathlib import Path

from matplotlib.figure import Figure

from platemodel.files import written_together

A4_MM = (297.0, 210.0)


def save_figure(figure: Figure, path: str | os.PathLike) -> Path:
    """Write a page at its true size, whole or not at all.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
    path : path
        ``.pdf``, ``.png`` or ``.svg``.
    """
    path = Path(path)
    with written_together([path]) as (draft,):
        metadata = {"CreationDate": None} if path.suffix == ".pdf" else None
        figure.savefig(draft, dpi=150, metadata=metadata)
    return path
