"""A closed violin on a coarse mesh, for its tests."""

from dataclasses import replace

from platemodel.instrument.body import usual_body
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import SetUp
from platemodel.study.body.model import body_model
from tests.quick import quick_model


def stiffer(wood, factor):
    """All moduli times a factor."""
    names = ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")
    return replace(wood, **{name: factor * getattr(wood, name) for name in names})


def closed_violin():
    """The body and its bar."""
    top = preset_top("violin")
    bar = preset_bar(top)
    model = quick_model(top, bar)
    return body_model(model, usual_body(top), SetUp.usual("violin"), panels=120), bar
