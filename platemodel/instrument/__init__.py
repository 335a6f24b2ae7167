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
    "SmoothField",
    "SoundHole",
    "Top",
    "TrimmedFlank",
    "check_layout",
    "dimensions",
    "preset_bar",
    "preset_top",
]
