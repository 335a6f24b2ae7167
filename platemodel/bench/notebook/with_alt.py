"""A figure on a notebook's page with its own alternative text, for those who cannot see it."""

from matplotlib.figure import Figure

from platemodel.bench.notebook.figure_words import figure_words
from platemodel.bench.notebook.sliders import image, png


def with_alt(figure: Figure, words: str):
    """Show a finished figure with words in the image's own alt.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        Closed afterwards, so that the notebook does not show it a second time.
    words : str
        What is to be seen and how it is arranged. The figures need not be told: they are read from what is
        drawn and follow after.

    Returns
    -------
    IPython.display.HTML
        To stand last in a cell.

    Raises
    ------
    ValueError
        No words.
    """
    import matplotlib.pyplot as plt
    from IPython.display import HTML

    if not words.strip():
        msg = "a picture needs words for those who cannot see it"
        raise ValueError(msg)
    told = f"{words} {figure_words(figure)}"
    shown = image(png(figure, settle=True), told)
    plt.close(figure)
    return HTML(shown)
