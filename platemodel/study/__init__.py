"""Questions put to the model: plate modes, wood from taps, string load, what another bar does."""

from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.bar_shape import bar_of_height, shaped_bar
from platemodel.study.choosing import targets
from platemodel.study.choosing.choose import BarChoice, choose_bar
from platemodel.study.choosing.line_sensitivity import LineEffects
from platemodel.study.choosing.live_top import LiveTop
from platemodel.study.choosing.sweeps import sweep
from platemodel.study.choosing.targets import Target
from platemodel.study.choosing.wood_bands import wood_samples
from platemodel.study.gluing.clamps import ClampPlan, clamp_plan
from platemodel.study.gluing.closing import Closing, close_gaps
from platemodel.study.gluing.closing_on_top import LockedIn, line_compliance, locked_in
from platemodel.study.gluing.glue_window import GlueConditions, GlueWindow, glue_window
from platemodel.study.top.bar_response import BarAnswer, bar_answer
from platemodel.study.top.figures import TopFigures, reference_for, top_figures, usual_reference
from platemodel.study.top.foot import FootStiffness, bass_foot_stiffness
from platemodel.study.top.heights import height_for_stiffness, height_sweep
from platemodel.study.top.model import TopModel, top_model, with_wood
from platemodel.study.top.plate_modes import PlateModes, compare_modes, plate_modes
from platemodel.study.top.process_pool import local_workers
from platemodel.study.top.reduced_top import ReducedTop, reduced_top
from platemodel.study.top.sensitivity import Sensitivity, sensitivity
from platemodel.study.top.strain_energy import energy_shares
from platemodel.study.top.string_load import StringLoad, string_load
from platemodel.study.top.tap_sound import WoodLoss, modal_losses, tap_sound
from platemodel.study.top.workbench import Workbench
from platemodel.study.trimming.next_cut import Goal, Proposal, propose_cut
from platemodel.study.trimming.tap_correction import Correction, Stage, correct
from platemodel.study.wood.plate_constants import PlateTaps, plate_estimate, plate_fit
from platemodel.study.wood.samples import SampleComparison, compare_samples
from platemodel.study.wood.samples_on_top import bar_surface, samples_on_top
from platemodel.study.wood.tap_offers import offer_peaks
from platemodel.study.wood.top_taps import TopTaps
from platemodel.study.wood.wood_fit import TapError, WoodFit, identify_wood

__all__ = [
    "BarAnswer",
    "BarChoice",
    "BarRange",
    "ClampPlan",
    "Closing",
    "Correction",
    "FootStiffness",
    "GlueConditions",
    "GlueWindow",
    "Goal",
    "LineEffects",
    "LiveTop",
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
    "Target",
    "TopFigures",
    "TopModel",
    "TopTaps",
    "WoodFit",
    "WoodLoss",
    "Workbench",
    "bar_answer",
    "bar_of_height",
    "bar_surface",
    "bass_foot_stiffness",
    "choose_bar",
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
    "local_workers",
    "locked_in",
    "modal_losses",
    "offer_peaks",
    "plate_estimate",
    "plate_fit",
    "plate_modes",
    "propose_cut",
    "reduced_top",
    "reference_for",
    "samples_on_top",
    "sensitivity",
    "shaped_bar",
    "string_load",
    "sweep",
    "tap_sound",
    "targets",
    "top_figures",
    "top_model",
    "usual_reference",
    "with_wood",
    "wood_samples",
]
