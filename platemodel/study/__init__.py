"""The questions a workshop asks: plate modes, wood from taps, string load, the effect of another bar.

What stands here is loaded when it is first asked for, so that a command loads only what its question needs.
"""

import importlib

#: Public names by the module that they live in.
_HOMES = {
    "platemodel.instrument.bar_range": "BarRange",
    "platemodel.instrument.bar_shape": "bar_of_height shaped_bar",
    "platemodel.study.choosing": "targets",
    "platemodel.study.choosing.choose": "BarChoice choose_bar",
    "platemodel.study.choosing.freedom": "Freedom",
    "platemodel.study.choosing.line_sensitivity": "LineSensitivity",
    "platemodel.study.choosing.live_top": "LiveTop",
    "platemodel.study.choosing.sweeps": "sweep",
    "platemodel.study.choosing.targets": "Target",
    "platemodel.study.choosing.wood_bands": "WoodDoubt wood_samples",
    "platemodel.study.gluing.clamps": "ClampPlan clamp_plan",
    "platemodel.study.gluing.closing": "Closing close_gaps",
    "platemodel.study.gluing.closing_on_top": "LockedIn line_compliance locked_in",
    "platemodel.study.gluing.glue_window": "GlueConditions GlueWindow glue_window",
    "platemodel.study.top.answers": "BarResponse FootStiffness TopSolver bar_response",
    "platemodel.study.top.figures": "TopFigures reference_for usual_reference",
    "platemodel.study.top.foot": "bass_foot_stiffness",
    "platemodel.study.top.heights": "height_for_stiffness height_sweep",
    "platemodel.study.top.model": "TopModel top_model with_wood",
    "platemodel.study.top.plate_modes": "PlateModes compare_modes plate_modes",
    "platemodel.study.top.process_pool": "local_workers",
    "platemodel.study.top.reduced_top": "ReducedTop reduced_top",
    "platemodel.study.top.sensitivity": "Sensitivity sensitivity",
    "platemodel.study.top.strain_energy": "energy_shares",
    "platemodel.study.top.string_load": "StringLoad string_load",
    "platemodel.study.top.tap_sound": "Take Tapping WoodLoss modal_losses tap_sound",
    "platemodel.study.top.workbench": "Workbench",
    "platemodel.study.trimming.next_cut": "Goal Proposal propose_cut",
    "platemodel.study.trimming.tap_correction": "Correction Stage correct",
    "platemodel.study.wood.plate_constants": "PlateTaps plate_fit",
    "platemodel.study.wood.samples": "SampleComparison compare_samples",
    "platemodel.study.wood.samples_on_top": "bar_surface samples_on_top",
    "platemodel.study.wood.tap_offers": "offer_peaks",
    "platemodel.study.wood.top_taps": "TopTaps",
    "platemodel.study.wood.wood_fit": "TapError WoodFit identify_wood",
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names.split()}

__all__ = sorted(_HOME_OF)


def __getattr__(name):
    if name not in _HOME_OF:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    home = importlib.import_module(_HOME_OF[name])
    thing = importlib.import_module(f"{home.__name__}.{name}") if name == "targets" else getattr(home, name)
    globals()[name] = thing
    return thing


def __dir__():
    return __all__
