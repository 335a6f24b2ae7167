"""Sizes of paper, and an empty page of one."""

from matplotlib.figure import Figure

PAPERS = {"A4": (210.0, 297.0), "A3": (297.0, 420.0)}  # mm, ISO 216
A4_UPRIGHT = PAPERS["A4"]
A4_SIDEWAYS = A4_UPRIGHT[::-1]
MM_PER_INCH = 25.4


def paper_figure(size: tuple[float, float]) -> Figure:
    """Empty page of a size in mm."""
    return Figure(figsize=(size[0] / MM_PER_INCH, size[1] / MM_PER_INCH))
