"""Coarse violin top with its reduced model, made once for the tests of choosing, sweeping and sliding."""

from functools import cache

from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import SetUp
from platemodel.study.choosing.line_sensitivity import LineSensitivity
from platemodel.study.top.figures import TopFigures, usual_reference
from platemodel.study.top.model import top_model
from platemodel.study.top.reduced_top import reduced_top

FINENESS = 0.4
MM = 1e-3


@cache
def model():
    return top_model(preset_top("violin"), FINENESS)


@cache
def bar():
    return preset_bar(model().top)


@cache
def reduced():
    return reduced_top(model(), bar(), set_up=set_up(), tolerance=1e-3)


@cache
def set_up():
    return SetUp.usual("violin")


@cache
def effects():
    """On the reduced model, with sinking."""
    return LineSensitivity(TopFigures(reduced(), set_up()), bar())


@cache
def plain():
    """The same without sinking."""
    return LineSensitivity(TopFigures(reduced()), bar())


class ThinBody:
    """Stands for a closed body: sinking and motion follow the height by a closed formula."""

    def of(self, bar, softness=1.0):
        height = 1e3 * float(bar.heights.max())
        return {"body_sink_mm": 2.4 / height / softness, "body_mobility_s_per_kg": 0.96 / height}

    def by_top_wood(self, bar, softness=1.0):
        return {name: [0.0, -0.5, *([0.0] * 8)] for name in ("body_sink_mm", "body_mobility_s_per_kg")}


@cache
def bodied():
    """On the reduced model, with a closed body that is a formula."""
    return LineSensitivity(TopFigures(reduced(), body=ThinBody()), bar())


@cache
def reference():
    return usual_reference("violin", 0.355, 1.0, FINENESS)
