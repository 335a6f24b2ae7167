"""Pages of paper: the size of an A4 sheet on its side, and a page saved at its true size."""

import os
import tempfile
from pathlib import Path

from matplotlib.figure import Figure

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
    with tempfile.TemporaryDirectory(dir=path.parent) as draft:
        name = Path(draft) / path.name
        metadata = {"CreationDate": None} if path.suffix == ".pdf" else None
        figure.savefig(name, dpi=150, metadata=metadata)
        os.replace(name, path)
    return path
