"""The parts on the bench: outline, arching, thickness, sound holes, bar, strings, body."""

from platemodel.instrument.bar import Bar, TrimmedFlank
from platemodel.instrument.bar_cuts import Place, cut
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.cut_list import CutList, cut_list
from platemodel.instrument.dimensions import Dimensions, dimensions
from platemodel.instrument.field import Misfit, SmoothField
from platemodel.instrument.gaps import Gaps
from platemodel.instrument.hole_clearance import Collision
from platemodel.instrument.layout import BarLine
from platemodel.instrument.layout_checks import Finding, check_layout
from platemodel.instrument.layout_distances import Distance, layout_distances
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.seat import SeatCurve, seat_curve
from platemodel.instrument.side_view import SideView, side_view
from platemodel.instrument.sound_hole import Eye, SoundHole
from platemodel.instrument.strings import Post, SetUp, StringSet, downforce, foot_loads, tension_of
from platemodel.instrument.top import Top

__all__ = [
    "Bar",
    "BarLine",
    "Bridge",
    "Collision",
    "CutList",
    "Dimensions",
    "Distance",
    "Eye",
    "Finding",
    "Gaps",
    "Misfit",
    "Outline",
    "Place",
    "Post",
    "SeatCurve",
    "SetUp",
    "SideView",
    "SmoothField",
    "SoundHole",
    "StringSet",
    "Top",
    "TrimmedFlank",
    "check_layout",
    "cut",
    "cut_list",
    "dimensions",
    "downforce",
    "foot_loads",
    "layout_distances",
    "preset_bar",
    "preset_top",
    "seat_curve",
    "side_view",
    "tension_of",
]
