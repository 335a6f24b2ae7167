"""What lies on the bench."""

from platemodel.instrument.bar import Bar, TrimmedFlank
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.dimensions import Dimensions, dimensions
from platemodel.instrument.field import Misfit, SmoothField
from platemodel.instrument.layout import BarLine
from platemodel.instrument.layout_checks import Collision, Finding, check_layout
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.sound_hole import Eye, SoundHole
from platemodel.instrument.strings import Post, SetUp, StringSet, downforce, foot_loads, tension_of
from platemodel.instrument.top import Top

__all__ = [
    "Bar",
    "BarLine",
    "Bridge",
    "Collision",
    "Dimensions",
    "Eye",
    "Finding",
    "Misfit",
    "Outline",
    "Post",
    "SetUp",
    "SmoothField",
    "SoundHole",
    "StringSet",
    "Top",
    "TrimmedFlank",
    "check_layout",
    "dimensions",
    "downforce",
    "foot_loads",
    "preset_bar",
    "preset_top",
    "tension_of",
]
