"""Questions put to the model: plate modes, wood from taps, string load, what another bar does."""

from platemodel.study.answer import BarAnswer, bar_answer
from platemodel.study.bar_range import BarRange
from platemodel.study.clamps import ClampPlan, clamp_plan
from platemodel.study.closing import Closing, close_gaps
from platemodel.study.closing_on_top import LockedIn, line_compliance, locked_in
from platemodel.study.energy import energy_shares
from platemodel.study.foot import FootStiffness, bass_foot_stiffness
from platemodel.study.glue_window import GlueWindow, glue_window
from platemodel.study.heights import bar_of_height, height_for_stiffness, height_sweep
from platemodel.study.model import TopModel, top_model, with_wood
from platemodel.study.plate_modes import PlateModes, compare_modes, plate_modes
from platemodel.study.plate_test import PlateTaps, plate_estimate, plate_fit
from platemodel.study.reduced_top import ReducedTop, reduced_top
from platemodel.study.samples import SampleComparison, compare_samples
from platemodel.study.samples_on_top import bar_surface, samples_on_top
from platemodel.study.sensitivity import Sensitivity, sensitivity
from platemodel.study.string_load import StringLoad, string_load
from platemodel.study.tap_correction import Correction, Stage, correct
from platemodel.study.tap_offers import offer_peaks
from platemodel.study.tap_sound import WoodLoss, modal_losses, tap_sound
from platemodel.study.trimming import Goal, Proposal, propose_cut
from platemodel.study.wood_fit import TapError, WoodFit, identify_wood

__all__ = [
    "BarAnswer",
    "BarRange",
    "ClampPlan",
    "Closing",
    "Correction",
    "FootStiffness",
    "GlueWindow",
    "Goal",
    "LockedIn",
    "PlateModes",
    "PlateTaps",
    "Proposal",
    "ReducedTop",
    "SampleComparison",
    "Sensitivity",
    "Stage",
    "StringLoad",
    "TapError",
    "TopModel",
    "WoodFit",
    "WoodLoss",
    "bar_answer",
    "bar_of_height",
    "bar_surface",
    "bass_foot_stiffness",
    "clamp_plan",
    "close_gaps",
    "compare_modes",
    "compare_samples",
    "correct",
    "energy_shares",
    "glue_window",
    "height_for_stiffness",
    "height_sweep",
    "identify_wood",
    "line_compliance",
    "locked_in",
    "modal_losses",
    "offer_peaks",
    "plate_estimate",
    "plate_fit",
    "plate_modes",
    "propose_cut",
    "reduced_top",
    "samples_on_top",
    "sensitivity",
    "string_load",
    "tap_sound",
    "top_model",
    "with_wood",
]
