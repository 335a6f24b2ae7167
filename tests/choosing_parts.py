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


@cache
def reference():
    return usual_reference("violin", 0.355, 1.0, FINENESS)
