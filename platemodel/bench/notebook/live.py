"""The live panel for notebooks: sliders of the bar, and what they do at once. Widgets only."""

import os
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from threading import Thread

from platemodel.bench.notebook.live_view import LiveView, picture_words, readings
from platemodel.bench.notebook.places import is_demo
from platemodel.bench.notebook.sliders import PICTURE_WIDTH, WORDS_WIDTH, Picture, beside, slider
from platemodel.errors import PlatemodelError
from platemodel.instrument.bar import Bar
from platemodel.instrument.strings import SetUp
from platemodel.job.keep_bar import keep_bar
from platemodel.study.choosing.line_sensitivity import LineSensitivity
from platemodel.study.choosing.live_top import BarState, LiveAnswer, LiveTop
from platemodel.study.choosing.targets import Target
from platemodel.study.top.answers import TopSolver
from platemodel.study.top.bar_flexes import bar_flexes
from platemodel.study.top.figures import BodyAnswers, TopFigures
from platemodel.study.top.old_bar import full_figures
from platemodel.study.top.reduced_top import as_reduced
from platemodel.wood import Orthotropic

TOLERANCE = 1e-3
OWN = "its own"
LINE_WORDS = {"length": "length, mm", "width": "width, mm", "position": "sideways, mm"}
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
        Asks for the old bar, then learns the effects of length, width and place.
    old : dict of str to float or None
        Figures of the old bar, as soon as they are known.
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
    old: dict | None = None


def live_top(
    model: TopSolver, bar: Bar, set_up: SetUp | None = None,
    body: BodyAnswers | None = None, flexes: bool = True,
) -> LiveTop:  # fmt: skip
    """Prepare a top for the panel; this takes a few seconds.

    Parameters
    ----------
    model : TopModel or ReducedTop
    bar : Bar
    set_up : SetUp, optional
        Strings, for the sinking.
    body : BodyAnswers, optional
        The closed body, for its figures; length, width and place are then refused.
    flexes : bool
        Prepare the flex tests as well, which takes a few seconds more.
    """
    model = as_reduced(model, bar, set_up, tolerance=TOLERANCE)
    felt = bar_flexes(model.full, bar) if flexes else None
    return LiveTop(LineSensitivity(TopFigures(model, set_up, flexes=felt, body=body), bar))


def live_panel(
    top: LiveTop,
    woods: Mapping[str, Orthotropic] | None = None,
    folder: str | os.PathLike | None = None,
    ahead: bool = True,
    target: Target | None = None,
    old: Bar | None = None,
) -> LivePanel:
    """Make the panel.

    Parameters
    ----------
    top : LiveTop
        From `live_top`.
    woods : mapping of name to Orthotropic, optional
        Other woods that the bar might be made of.
    folder : path, optional
        Job folder that the bar can be saved into; the package's own demos stay as they are.
    ahead : bool
        Learn the effects of length, width and place in the background; their sliders are grey until then.
        Else when they are first moved.
    target : Target, optional
        Drawn as a line, with by how much it is met or missed.
    old : Bar, optional
        The bar that was on before: drawn dashed, and its figures on the top as measured stand beside the
        moving ones. They are those of the full model, asked for in the background like the rest.

    Returns
    -------
    LivePanel
    """
    import ipywidgets as widgets

    sliders = _sliders(top)
    if woods:
        sliders["wood"] = widgets.Dropdown(
            options=[OWN, *woods], value=OWN, description="wood of bar",
            style={"description_width": WORDS_WIDTH}, layout=widgets.Layout(width="98%"),
        )  # fmt: skip
    bar = top.bar
    start = top.answer(_state(sliders, bar, woods))
    view = LiveView(top, start, target, old)
    still = Picture(PICTURE_WIDTH)
    still.show(view.png(), picture_words(start, old))
    table, note = widgets.HTML(readings(start, start, target)), widgets.HTML("")
    reset = widgets.Button(description="back to start")
    save = widgets.Button(description="save bar", disabled=folder is None)
    controls = [*sliders.values(), widgets.HBox([reset, save]), table, note]
    app = LivePanel(beside(controls, still.place), sliders, start, view, table, reset=reset, save=save)
    initial = {name: s.value for name, s in sliders.items()}
    state = {"held": False}

    def tell(text):
        app.message = text
        note.value = text.replace("&", "&amp;").replace("<", "&lt;").replace("\n", "<br>")

    def show(_=None):
        if state["held"]:
            return
        began = time.perf_counter()
        try:
            app.answer = top.answer(_state(sliders, bar, woods))
        except (ValueError, PlatemodelError) as error:
            tell(str(error))
            return
        view.update(app.answer)
        still.show(view.png(), picture_words(app.answer, old))
        table.value = readings(app.answer, start, target, app.old)
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
        tell(_saved(folder, app.answer, top))

    for one in sliders.values():
        one.observe(show, names="value")
    reset.on_click(back)
    save.on_click(keep)

    def ask_old():
        if old is None:
            return
        figures = top.effects.figures
        try:
            app.old = full_figures(figures.model.full, old, figures.set_up)
        except PlatemodelError as error:
            tell(f"the old bar: {error}")
            return
        table.value = readings(app.answer, start, target, app.old)

    if ahead:
        app.learning = _learning(top, sliders, ask_old)
    else:
        ask_old()
    return app


def _sliders(top):
    bar, reach = top.bar, top.effects.reach
    height = float(bar.heights.max()) / MM
    least = max(0.6 * height, float(bar.heights[[0, -1]].max()) / MM + 0.1)

    def stepped(value, low, high, step, words):
        low = value - step * round((value - low) / step)  # a browser moves in whole steps from the least
        return slider(value, low, high, step, words)

    def around(name, step):
        value = 0.0 if name == "position" else getattr(bar, name) / MM
        wide = step * ((2.0 * reach[name] / MM - 1e-6) // step)  # no further than is answered, in whole steps
        return stepped(value, value - wide, value + wide, step, LINE_WORDS[name])

    return {
        "height_mm": stepped(height, least, 1.45 * height, 0.1, "height, mm"),
        "length_mm": around("length", 1.0),
        "width_mm": around("width", 0.1),
        "position_mm": around("position", 0.25),
        "softness": stepped(1.0, 0.7, 1.3, 0.01, "stiffness of top"),
    }


def _learning(top, sliders, first):
    """Do what comes first, then learn what the line does; each slider is grey until its turn is done."""
    mine = {name: sliders[f"{name}_mm"] for name in top.effects.reach}
    for one in mine.values():
        one.disabled, one.description = True, "still learning"

    def learn():
        first()
        for name, one in mine.items():
            try:
                top.effects.learn(name)
            except PlatemodelError as error:
                one.description, one.tooltip = f"no other {name}", str(error)
                continue
            one.disabled, one.description = False, LINE_WORDS[name]

    thread = Thread(target=learn, daemon=True)
    thread.start()
    return thread


def _saved(folder, answer, top):
    """Save the bar that is shown; what was done, in words."""
    if folder is None:
        return "there is no job folder to save into"
    if is_demo(folder):
        return (
            f"{Path(folder).name} is a demo of the package and stays as it is: name your own folder in the "
            "first cell, or take copies of the notebooks and the demos with: platemodel notebooks my_bench"
        )
    remark = f"bar of {answer.figures['height_mm']:.2f} mm from the live panel"
    try:
        written = keep_bar(folder, answer.bar, top.effects.figures.top.bridge.x, remark)
    except PlatemodelError as error:
        return str(error)
    return f"saved in {Path(folder).name}: " + ", ".join(Path(p).name for p in written)


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
