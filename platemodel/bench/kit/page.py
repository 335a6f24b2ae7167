"""Pages of paper: an A4 sheet on its side with title and cautions, tables on it, and files at true size."""

from collections.abc import Callable, Iterable, Sequence

from matplotlib.figure import Figure

from platemodel.bench.kit.colours import INK

PAPERS = {"A4": (210.0, 297.0), "A3": (297.0, 420.0)}  # mm, ISO 216
A4_UPRIGHT = PAPERS["A4"]
A4_SIDEWAYS = A4_UPRIGHT[::-1]
MM_PER_INCH = 25.4
LEFT = 0.04  # of the page's width

PrintedColumn = tuple[str, float, Callable[..., str]]


def paper_figure(size: tuple[float, float]) -> Figure:
    """Empty page of a size in mm."""
    return Figure(figsize=(size[0] / MM_PER_INCH, size[1] / MM_PER_INCH))


def titled_page(
    title: str, notes: str = "", cautions: Sequence[str] = (), notes_size: float = 8, pitch: float = 0.018
) -> Figure:
    """Start a page: A4 sideways, title above, cautions at the foot.

    Parameters
    ----------
    title : str
    notes : str
        A line under the title.
    cautions : sequence of str
        A line each; the last stands lowest.
    notes_size : float
        Points.
    pitch : float
        From caution to caution, share of the page's height.

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    figure = paper_figure(A4_SIDEWAYS)
    figure.text(LEFT, 0.955, title, fontsize=14, weight="bold", color=INK)
    if notes:
        figure.text(LEFT, 0.930, notes, fontsize=notes_size, color=INK)
    size = 7 if pitch > 0.015 else 6.6
    for k, line in enumerate(reversed(cautions)):
        figure.text(LEFT, 0.012 + pitch * k, line, fontsize=size, color=INK)
    return figure


def write_head(figure: Figure, text: str, left: float, top: float, size: float = 8.5) -> None:
    """Write the head of a block in heavy type."""
    figure.text(left, top, text, fontsize=size, weight="bold", color=INK)


def write_table(
    figure: Figure,
    columns: Sequence[PrintedColumn],
    rows: Iterable,
    left: float,
    top: float,
    pitch: float = 0.0175,
    size: float = 6.8,
) -> None:
    """Write a table on a page: names slanted, then a line a row.

    Parameters
    ----------
    figure : Figure
    columns : sequence of (name, offset, show)
        ``offset`` from ``left``, a share of the page's width; ``show(row)`` is the text of a cell.
    rows : iterable
    left, top : float
        Of the line of names, shares of the page.
    pitch : float
        From row to row, share of the page's height.
    size : float
        Points.
    """
    for name, x, _ in columns:
        figure.text(left + x, top, name, fontsize=size, style="italic", color=INK)
    for k, row in enumerate(rows, 1):
        for _, x, show in columns:
            figure.text(left + x, top - pitch * k, show(row), fontsize=size, color=INK)


def write_lines(
    figure: Figure, lines: Iterable[str], left: float, top: float, size: float = 7, pitch: float = 0.0165
) -> float:
    """Write lines one below the other; return the height below them, share of the page."""
    for line in lines:
        figure.text(left, top, line, fontsize=size, color=INK)
        top -= pitch
    return top
