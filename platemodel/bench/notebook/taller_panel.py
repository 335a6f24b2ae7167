"""The panel of what a taller bar buys: a slider for the height, one for the softness. Widgets only."""

from dataclasses import dataclass

import pandas as pd

from platemodel.bench.notebook.figure_words import figure_words
from platemodel.bench.notebook.sliders import PICTURE_WIDTH, Picture, beside, png, slider
from platemodel.bench.notebook.taller import PANELS, draw_taller, heights_to_try, takeaway, what_height_buys
from platemodel.instrument.bar import Bar
from platemodel.study.top.figures import Reference, TopFigures

SIZE = (6.9, 5.6)  # inches; shrunk to what the sliders leave of the page


@dataclass(eq=False)
class TallerPanel:
    """Two sliders over one top.

    Attributes
    ----------
    panel : ipywidgets.HBox
        To show in a notebook.
    extra, softness : ipywidgets.FloatSlider
        mm more than the bar's own height; factor on the stiffness of the top's wood.
    table : DataFrame
        What the heights buy at that softness.
    says : list of str
        The sentences under the sliders.
    reset : ipywidgets.Button
    """

    panel: object
    extra: object
    softness: object
    table: pd.DataFrame
    says: list[str]
    reset: object = None


def taller_panel(figures: TopFigures, bar: Bar, reference: Reference) -> TallerPanel:
    """Make the panel.

    Parameters
    ----------
    figures : TopFigures
        On a reduced model.
    bar : Bar
        Zero of the slider.
    reference : Reference
        Usual bar on the usual top, drawn as a line.

    Returns
    -------
    TallerPanel
    """
    import ipywidgets as widgets
    from matplotlib.figure import Figure

    heights = heights_to_try(bar)
    own = float(bar.heights.max())
    low, high = 1e3 * (heights[0] - own), 1e3 * (heights[-1] - own)
    step = 0.1
    extra = slider(0.0, -step * int(-low / step), step * int(high / step), step, "more height, mm")
    softness = slider(1.0, 0.7, 1.3, 0.01, "stiffness of top")
    reset = widgets.Button(description="back to start")
    shown, words = Picture(PICTURE_WIDTH), widgets.HTML()
    table = what_height_buys(figures, bar, heights)
    app = TallerPanel(beside([extra, softness, reset, words], shown.place), extra, softness, table, [], reset)
    made = {1.0: table}

    def show(_=None):
        at = round(softness.value, 2)
        if at not in made:
            made[at] = what_height_buys(figures.softer(at), bar, heights)
        app.table = made[at]
        app.says = takeaway(app.table, reference, extra.value)
        figure = Figure(figsize=SIZE, layout="constrained")
        draw_taller(app.table, reference, extra.value, figure.subplots(3, 2).flatten()[: len(PANELS)])
        shown.show(png(figure), f"What each height buys, with a ring at yours. {figure_words(figure)}")
        words.value = "".join(f"<p style='line-height:1.35'>{text}</p>" for text in app.says)

    def back(_):
        extra.value, softness.value = 0.0, 1.0

    for one in (extra, softness):
        one.observe(show, names="value")
    reset.on_click(back)
    show()
    return app
