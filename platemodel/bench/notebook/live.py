"""The live panel for notebooks: sliders of the bar, and what they do at once. Widgets only."""

import os
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Thread

from platemodel.bench.notebook.live_view import DPI, SIZE, LiveView, readings
from platemodel.errors import PlatemodelError
from platemodel.instrument.bar import Bar
from platemodel.instrument.strings import SetUp
from platemodel.job.keep_bar import keep_bar
from platemodel.study.choosing.line_sensitivity import LineSensitivity
from platemodel.study.choosing.live_top import BarState, LiveAnswer, LiveTop
from platemodel.study.top.answers import TopSolver
from platemodel.study.top.figures import BodyAnswers, TopFigures
from platemodel.study.top.reduced_top import as_reduced
from platemodel.wood import Orthotropic

TOLERANCE = 1e-3
OWN = "its own"
STYLE = {"description_width": "110px"}
MM = 1e-3


@dataclass(eq=False)
class LivePanel:
    """Sliders, picture and readings.

    Attributes
    ----------
    panel : ipywidgets.VBox
        To show in a notebook.
    sliders : dict of str to widget
        ``height_mm``, ``length_mm``, ``width_mm``, ``position_mm``, ``softness`` and, with woods, ``wood``.
    answer : LiveAnswer
        What the sliders say now.
    view : LiveView
    table : ipywidgets.HTML
        The figures.
    message : str
        What could not be done, or nothing.
    seconds : float
        The last change took, computing and drawing.
    reset, save : ipywidgets.Button
    learning : Thread or None
        Learns the effects of length, width and place.
    """

    panel: object
    sliders: dict
    answer: LiveAnswer
    view: LiveView
    table: object
    message: str = ""
    seconds: float = 0.0
    reset: object = None
    save: object = None
    learning: Thread | None = None


def live_top(
    model: TopSolver, bar: Bar, set_up: SetUp | None = None, lines: bool = False,
    body: BodyAnswers | None = None,
) -> LiveTop:  # fmt: skip
    """Ready a top for the panel; takes some seconds.

    Parameters
    ----------
    model : TopModel or ReducedTop
    bar : Bar
    set_up : SetUp, optional
        Strings, for the sinking.
    lines : bool
        Learn the effects of length, width and place now, else when their sliders are first moved.
    body : BodyAnswers, optional
        The closed body, for its figures; length, width and place are then refused.
    """
    model = as_reduced(model, bar, set_up, tolerance=TOLERANCE)
    effects = LineSensitivity(TopFigures(model, set_up, body=body), bar)
    for name in effects.reach if lines else ():
        effects.learn(name)
    return LiveTop(effects)


def _learn_lines(top):
    for name in top.effects.reach:
        with suppress(PlatemodelError):  # shown when its slider is moved
            top.effects.learn(name)


def live_panel(
    top: LiveTop,
    woods: Mapping[str, Orthotropic] | None = None,
    folder: str | os.PathLike | None = None,
    ahead: bool = True,
) -> LivePanel:
    """Make the panel.

    Parameters
    ----------
    top : LiveTop
        From `live_top`.
    woods : mapping of name to Orthotropic, optional
        Other woods that the bar might be made of.
    folder : path, optional
        Job folder that the bar can be saved into.
    ahead : bool
        Learn the effects of length, width and place in the background, so that their sliders need not wait;
        else when they are first moved.

    Returns
    -------
    LivePanel
    """
    import ipywidgets as widgets

    learning = Thread(target=_learn_lines, args=(top,), daemon=True) if ahead else None
    if learning:
        learning.start()
    bar, reach = top.bar, top.effects.reach
    height = float(bar.heights.max()) / MM
    least = max(0.6 * height, float(bar.heights[[0, -1]].max()) / MM + 0.1)

    def slider(value, low, high, step, words):
        low = value - step * round((value - low) / step)  # a browser moves in whole steps from the least
        return widgets.FloatSlider(
            value=value, min=low, max=high, step=step, description=words, readout_format=".2f",
            continuous_update=True, style=STYLE, layout=widgets.Layout(width="330px"),
        )  # fmt: skip

    def around(name, words, step):
        value = 0.0 if name == "position" else getattr(bar, name) / MM
        wide = step * ((2.0 * reach[name] / MM - 1e-6) // step)  # no further than is answered, in whole steps
        return slider(value, value - wide, value + wide, step, words)

    sliders = {
        "height_mm": slider(height, least, 1.45 * height, 0.1, "height, mm"),
        "length_mm": around("length", "length, mm", 1.0),
        "width_mm": around("width", "width, mm", 0.1),
        "position_mm": around("position", "sideways, mm", 0.25),
        "softness": slider(1.0, 0.7, 1.3, 0.01, "stiffness of top"),
    }
    if woods:
        sliders["wood"] = widgets.Dropdown(
            options=[OWN, *woods], value=OWN, description="wood of bar", style=STYLE
        )
    start = top.answer(_state(sliders, bar, woods))
    view = LiveView(top, start)
    size = {k: f"{DPI * inches:.0f}px" for k, inches in zip(("width", "height"), SIZE, strict=True)}
    still = widgets.Layout(align_self="flex-start", flex="0 0 auto", **size)
    picture = widgets.Image(value=view.png(), format="png", layout=still)
    table = widgets.HTML(readings(start, start))
    note = widgets.HTML("")
    reset = widgets.Button(description="back to start")
    save = widgets.Button(description="save bar", disabled=folder is None)
    # Narrower, and a narrow window cuts its figures off; wider, and a long note pushes the picture down.
    column = widgets.Layout(flex="0 0 auto", width="350px")
    box = widgets.VBox([*sliders.values(), widgets.HBox([reset, save]), table, note], layout=column)
    sides = widgets.HBox([box, picture], layout=widgets.Layout(flex_flow="row wrap"))
    app = LivePanel(sides, sliders, start, view, table, reset=reset, save=save, learning=learning)
    initial = {name: s.value for name, s in sliders.items()}
    state = {"held": False}

    def tell(text):
        app.message = text
        note.value = text.replace("&", "&amp;").replace("<", "&lt;")

    def show(_=None):
        if state["held"]:
            return
        began = time.perf_counter()
        line = any(sliders[f"{name}_mm"].value != initial[f"{name}_mm"] for name in reach)
        if line and learning and learning.is_alive():
            tell("one moment: a few bars of other lengths, widths and places are still being computed")
        try:
            app.answer = top.answer(_state(sliders, bar, woods))
        except (ValueError, PlatemodelError) as error:
            tell(str(error))
            return
        view.update(app.answer)
        picture.value = view.png()
        table.value = readings(app.answer, start)
        between = "length, width and place are interpolated between a few bars, to about 0.2 %"
        tell(between if app.answer.read else "")
        app.seconds = time.perf_counter() - began

    def back(_):
        state["held"] = True
        for name, value in initial.items():
            sliders[name].value = value
        state["held"] = False
        show()

    def keep(_):
        if folder is None:
            tell("there is no job folder to save into")
            return
        remark = f"bar of {app.answer.figures['height_mm']:.2f} mm from the live panel"
        try:
            written = keep_bar(folder, app.answer.bar, top.effects.figures.top.bridge.x, remark)
        except PlatemodelError as error:
            tell(str(error))
            return
        tell("saved: " + ", ".join(Path(p).name for p in written))

    for one in sliders.values():
        one.observe(show, names="value")
    reset.on_click(back)
    save.on_click(keep)
    return app


def _state(sliders, bar, woods):
    at = {k: s.value for k, s in sliders.items()}
    lengths = {"height": bar.heights.max(), "length": bar.length, "width": bar.width, "position": 0.0}
    values = []
    for name, own in lengths.items():
        value = MM * at[f"{name}_mm"]
        # within half a step of where it began it means the bar's own figure, to the last digit
        near = abs(value - own) < 0.49 * MM * sliders[f"{name}_mm"].step
        values.append((name, float(own) if near else value))
    wood = None if at.get("wood", OWN) == OWN else woods[at["wood"]]
    return BarState(tuple(values), at["softness"], wood)
