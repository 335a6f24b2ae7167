"""A slider over finished results: each step draws one of them, nothing is computed or guessed in between."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from platemodel.bench.notebook.figure_words import figure_words
from platemodel.bench.notebook.sliders import Picture, chooser, png


@dataclass(eq=False)
class Stepper:
    """A slider that steps through results.

    Attributes
    ----------
    panel : ipywidgets.VBox
        To show in a notebook.
    slider : ipywidgets.SelectionSlider
        Its options are the labels.
    item : object
        The result that is shown; follows the slider.
    """

    panel: object
    slider: object
    item: object


def stepper(
    label: str,
    items: Mapping[str, object],
    draw: Callable,
    panels: int = 1,
    size: tuple[float, float] = (9.0, 3.4),
) -> Stepper:
    """Make a slider panel over finished results.

    Parameters
    ----------
    label : str
        What the slider changes, with its unit.
    items : mapping of str to object
        Label of each step and what belongs to it, in order.
    draw : callable
        ``draw(item, axes)`` draws an item; axes is an array of ``panels`` Axes.
    size : (float, float)
        Of the picture, inches.

    Raises
    ------
    ValueError
        No items.
    """
    import ipywidgets as widgets
    from matplotlib.figure import Figure

    if not items:
        msg = "nothing to step through: give at least one item"
        raise ValueError(msg)
    hand, shown = chooser(list(items), label), Picture()
    app = Stepper(widgets.VBox([hand, shown.place]), hand, items[hand.value])

    def show(_=None):
        app.item = items[hand.value]
        figure = Figure(figsize=size, layout="constrained")
        draw(app.item, figure.subplots(1, panels, squeeze=False)[0])
        shown.show(png(figure), f"{label}: {hand.value}. {figure_words(figure)}")

    hand.observe(show, names="value")
    show()
    return app
