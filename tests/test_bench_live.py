"""The live panel, driven without a browser: what the sliders say, back to start, saving."""

import base64
import re
import tomllib
from threading import Event

import numpy as np
import pytest

from platemodel.bench.notebook.live import OWN, live_panel
from platemodel.bench.notebook.live_view import met_or_short, readings
from platemodel.bench.notebook.sliders import CONTROLS_WIDTH, PICTURE_WIDTH
from platemodel.errors import GeometryError
from platemodel.instrument.bar_shape import shaped_bar
from platemodel.resources import data_path
from platemodel.study.choosing.line_sensitivity import LineSensitivity
from platemodel.study.choosing.live_top import BarState, LiveTop
from platemodel.study.choosing.targets import bar_mass, foot_target
from platemodel.study.top.drawn_plate import drawn_plate
from platemodel.study.top.figures import TopFigures
from platemodel.study.top.foot import bass_foot_stiffness
from platemodel.study.top.plate_modes import plate_modes
from platemodel.study.top.recognise import mac
from tests.choosing_parts import MM, bar, effects, model, plain, reduced

WOODS = {"stiffer": shaped_bar(bar(), stiffness=1.2).wood}


@pytest.fixture(scope="module")
def top():
    return LiveTop(plain())


@pytest.fixture
def app(top):
    return live_panel(top, WOODS, ahead=False)


def test_it_begins_with_the_bar_itself(app, top):
    assert app.answer.figures == pytest.approx(plain().figures.of(bar()), rel=1e-9)
    assert app.answer.bar.heights == pytest.approx(bar().heights)
    assert app.save.disabled
    assert app.message == ""


@pytest.mark.parametrize(("name", "place"), [("height_mm", "max"), ("height_mm", "min"), ("softness", "min")])
def test_a_slider_says_what_the_model_says(app, name, place):
    slider = app.sliders[name]
    slider.value = value = getattr(slider, place)
    one = shaped_bar(bar(), height=value * MM) if name == "height_mm" else bar()
    softness = value if name == "softness" else 1.0
    found = TopFigures(reduced()).softer(softness).of(one)
    assert {k: app.answer.figures[k] for k in found} == pytest.approx(found, rel=1e-6)
    assert app.message == ""


def test_sinking_is_told_with_strings():
    """Top and bar softer by 0.9 sink more, but by less than its inverse: the post gives as before."""
    one = LiveTop(effects())
    usual = one.answer(BarState()).figures["sink_mm"]
    assert usual == pytest.approx(effects().figures.of(bar())["sink_mm"], rel=1e-6)
    wood = shaped_bar(bar(), stiffness=0.9).wood
    assert usual < one.answer(BarState(softness=0.9, wood=wood)).figures["sink_mm"] < usual / 0.9


def test_the_wood_of_the_bar(app):
    app.sliders["wood"].value = "stiffer"
    expected = TopFigures(reduced()).of(shaped_bar(bar(), wood=WOODS["stiffer"]))
    assert app.answer.figures["foot_n_per_mm"] == pytest.approx(expected["foot_n_per_mm"], rel=1e-6)
    app.sliders["wood"].value = OWN
    assert app.answer.figures == pytest.approx(plain().figures.of(bar()), rel=1e-9)


@pytest.mark.slow
def test_a_wider_bar_is_read_and_drawn_in_its_place(app):
    app.sliders["width_mm"].value = 6.0
    assert app.answer.read
    assert "interpolated between a few bars" in app.message
    full = TopFigures(model()).of(shaped_bar(bar(), width=6 * MM))
    for name in ("foot_n_per_mm", "f1_hz", "bar_g"):
        assert app.answer.figures[name] == pytest.approx(full[name], rel=2e-3), name
    assert app.answer.bar.width == pytest.approx(6 * MM)


@pytest.mark.slow
def test_the_lines_are_learnt_ahead(app, top, monkeypatch):
    """In a thread of its own, once for all panels; with ``ahead=False`` there is none."""
    assert app.learning is None
    learning = live_panel(top, WOODS).learning
    learning.join(timeout=120)
    assert not learning.is_alive()

    def nothing_left(*_):
        raise AssertionError

    monkeypatch.setattr(LineSensitivity, "_solved", nothing_left)
    for name in top.effects.reach:
        top.effects.learn(name)


def test_back_to_start(app):
    before, picture = app.answer.figures, app.view.png()
    app.sliders["height_mm"].value = 14.0
    app.sliders["softness"].value = 0.85
    assert app.view.png() != picture
    app.reset.click()
    assert app.answer.figures == pytest.approx(before, rel=1e-12)
    assert app.view.png() == picture


def test_nodal_lines_are_those_of_the_full_model(top):
    state = BarState((("height", 14 * MM),))
    found = top.answer(state)
    modes = plate_modes(model(), shaped_bar(bar(), height=14 * MM))
    named = modes.table.dropna(subset="number")
    assert len(named) == 3
    for index, number in named["number"].items():
        full = drawn_plate(modes.model).lift(modes.vectors[:, index])
        likeness = mac(found.shapes[number][:, None], full[:, None])[0, 0]
        # a frequency errs by the square of what its shape does, and the reduced model by 1e-3
        assert likeness > 1 - 3e-3, number


def test_the_picture_holds_the_nodal_lines(app, top):
    app.sliders["height_mm"].value = 11.0
    for number, lines in app.view.nodes.items():
        segments = lines.get_segments()
        assert segments, number
        points = np.concatenate(segments)
        outline = 1e3 * top.effects.figures.top.outline.points
        low, high = outline.min(axis=0), outline.max(axis=0)
        assert (points[:, 1] > low[0] - 8).all()
        assert (points[:, 1] < high[0] + 8).all()


def test_readings_tell_now_start_and_change(app, top):
    start = app.answer
    app.sliders["height_mm"].value = 13.0
    html = readings(app.answer, start)
    # the change is that of the figures as they are shown
    change = round(app.answer.figures["foot_n_per_mm"], 1) - round(start.figures["foot_n_per_mm"], 1)
    assert f"{app.answer.figures['foot_n_per_mm']:.1f}" in html
    assert f"{change:+.1f}" in html
    assert app.table.value == html


def test_an_old_bar_stands_beside_and_does_not_move(top):
    """Its figures are those of the full model by another road; without one there is no column for it."""
    old = shaped_bar(bar(), height=9.5 * MM, width=5 * MM)
    app = live_panel(top, ahead=False, old=old)
    foot = 1e-3 * bass_foot_stiffness(model(), old).middle
    assert app.old["foot_n_per_mm"] == pytest.approx(foot, rel=1e-9)  # one solver, asked twice
    assert app.old["f2_hz"] == pytest.approx(plate_modes(model(), old).frequency(2), rel=1e-6)
    app.sliders["height_mm"].value = 13.0
    cells = re.findall(">([^<>]*)</td>", app.table.value.split("stiffness under the foot")[1])
    assert cells[3 + cells[0].startswith(",")] == f"{foot:.1f}"  # after now, start, change
    assert "<i>old bar</i>" in app.table.value
    dashed = app.view.side.lines[0]
    assert dashed.get_linestyle() == "--"
    assert max(dashed.get_ydata()) == pytest.approx(9.5)
    assert "dashed the old bar, 9.5 mm high" in app.panel.children[1].children[0].value
    plain_app = live_panel(top, ahead=False)
    assert plain_app.old is None
    assert "old bar" not in plain_app.table.value + plain_app.panel.children[1].children[0].value


def test_an_old_bar_that_cannot_be_solved_is_told_and_the_panel_goes_on(top, monkeypatch):
    off = shaped_bar(bar(), position=-60 * MM)
    monkeypatch.setattr(LineSensitivity, "learn", lambda *_: None)
    app = live_panel(top, old=off)
    app.learning.join(60)
    assert app.message.startswith("the old bar: ")
    assert "<i>old bar</i>" not in app.table.value
    assert not app.sliders["width_mm"].disabled


def test_what_cannot_be_is_said_and_the_last_answer_stays(app):
    before = app.answer
    app.sliders["position_mm"].max = 60.0
    app.sliders["position_mm"].value = 60.0
    assert app.message
    assert app.answer is before


def test_saving_into_the_job_folder(top, tmp_path):
    app = live_panel(top, folder=tmp_path)
    app.sliders["height_mm"].value = 13.4
    app.save.click()
    assert app.message == f"saved in {tmp_path.name}: chosen_bar.toml"
    table = tomllib.loads((tmp_path / "chosen_bar.toml").read_text())["bar"]
    assert table["height_mm"] == pytest.approx(13.4, abs=0.01)
    assert table["length_mm"] == pytest.approx(1e3 * bar().length, abs=0.1)
    demo = live_panel(top, folder=data_path("jobs", "modern_violin"), ahead=False)
    demo.save.click()
    assert "modern_violin is a demo of the package and stays as it is" in demo.message
    assert not data_path("jobs", "modern_violin").joinpath("chosen_bar.toml").exists()
    gone = live_panel(top, folder=tmp_path / "none")
    gone.save.click()
    assert "no such folder" in gone.message


def test_a_target_is_a_line_and_says_by_how_much(top):
    now = top.answer(BarState()).figures["foot_n_per_mm"]
    app = live_panel(top, ahead=False, target=foot_target(1.05 * now))
    assert app.view.scale.lines[0].get_xdata() == [1.05 * now] * 2
    assert "short by" in app.table.value
    assert "(4.8 %)" in app.view.words.get_text()  # 0.05 of 1.05
    app.sliders["height_mm"].value = app.sliders["height_mm"].max
    reached = app.answer.figures["foot_n_per_mm"]
    assert reached > 1.05 * now
    assert app.view.level.get_xdata() == [0, reached]
    assert f"target met, {reached - 1.05 * now:.1f} N/mm" in app.view.words.get_text()
    assert "not known" in met_or_short(foot_target(100), np.nan)
    assert met_or_short(bar_mass(5.0), 5.5) == "too much by 0.50 g (10.0 %)"
    assert met_or_short(bar_mass(5.0), 4.5) == "target met, 0.50 g (10.0 %) less than asked"


def test_sliders_that_still_learn_are_grey_and_say_so(top, monkeypatch):
    go, failed = Event(), "position"

    def slow(self, name, progress=None):
        assert go.wait(60)
        if name == failed:
            raise GeometryError("it would leave the plate")

    monkeypatch.setattr(LineSensitivity, "learn", slow)
    app = live_panel(top)
    line = {name: app.sliders[f"{name}_mm"] for name in ("length", "width", "position")}
    assert all(s.disabled and s.description == "still learning" for s in line.values())
    assert not app.sliders["height_mm"].disabled
    go.set()
    app.learning.join(60)
    assert (line["width"].disabled, line["width"].description) == (False, "width, mm")
    assert (line[failed].disabled, line[failed].description) == (True, "no other position")
    assert line[failed].tooltip == "it would leave the plate"


def test_the_picture_stands_beside_the_sliders_or_below_and_fits(app):
    """Below where the page is too narrow for both; the picture shrinks, and is never wider than drawn."""
    controls, shown = app.panel.children
    assert app.panel.layout.flex_flow == "row wrap"
    assert controls.layout.flex == f"0 0 {CONTROLS_WIDTH}px"
    assert shown.layout.flex == f"1 1 {PICTURE_WIDTH}px"
    (still,) = shown.children
    assert f"max-width:100%;min-width:{PICTURE_WIDTH}px;height:auto" in still.value
    drawn = base64.b64decode(re.search('base64,([^"]+)"', still.value)[1])
    assert drawn[:8] == bytes([137, 80, 78, 71, 13, 10, 26, 10])  # a PNG
    told = re.search('alt="([^"]+)"', still.value)[1]
    assert f"{1e3 * app.answer.bar.heights.max():.1f} mm high" in told


@pytest.mark.parametrize("name", ["length", "width", "position"])
def test_sliders_of_the_line_end_where_the_answers_end(top, app, name):
    """The effects are read up to twice what was solved; a slider that goes past that only gets refusals."""
    slider = app.sliders[f"{name}_mm"]
    begun = 0.0 if name == "position" else 1e3 * getattr(bar(), name)
    room = 2e3 * top.effects.reach[name]
    for end in (slider.min, slider.max):
        assert room - 1.01 * slider.step < abs(end - begun) < room


def test_a_browser_that_moves_in_whole_steps_leaves_the_start_alone(app):
    """Every slider goes to its least plus whole steps; that must not count as a change of the line."""
    for name, slider in app.sliders.items():
        if name != "wood":
            steps = round((slider.value - slider.min) / slider.step)
            assert slider.min + steps * slider.step == pytest.approx(slider.value, abs=1e-9), name
            slider.value = slider.min + steps * slider.step + 1e-6
    assert not app.answer.read
    assert app.answer.bar.length == bar().length
