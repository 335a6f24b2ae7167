"""Figures as files at their true size, the same bytes each time."""

import os
from collections.abc import Iterable
from pathlib import Path

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

CREATOR = "platemodel"
PICTURE_DPI = 150  # of photographs on a page


def save_pages(pages: Figure | Iterable[Figure], path: str | os.PathLike) -> Path:
    """Write a page, or pages one after the other, as PDF, each at its own true size."""
    pages = [pages] if isinstance(pages, Figure) else pages
    with PdfPages(path, metadata={"CreationDate": None, "Creator": CREATOR}) as file:
        for page in pages:
            file.savefig(page, dpi=PICTURE_DPI)
    return Path(path)
