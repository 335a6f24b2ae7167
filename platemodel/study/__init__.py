"""Questions put to the model: plate modes, stiffness under the bass foot, what another height does."""

from platemodel.study.foot import FootStiffness, bass_foot_stiffness
from platemodel.study.heights import bar_of_height, height_for_stiffness, height_sweep
from platemodel.study.model import TopModel, top_model, with_wood
from platemodel.study.plate_modes import PlateModes, compare_modes, plate_modes

__all__ = [
    "FootStiffness",
    "PlateModes",
    "TopModel",
    "bar_of_height",
    "bass_foot_stiffness",
    "compare_modes",
    "height_for_stiffness",
    "height_sweep",
    "plate_modes",
    "top_model",
    "with_wood",
]
