"""What wood is."""

from platemodel.wood.estimate import CONSTANTS, WoodEstimate, species_estimate
from platemodel.wood.moisture import at_moisture, equilibrium_moisture
from platemodel.wood.orthotropic import Orthotropic
from platemodel.wood.piece_fit import PieceFit
from platemodel.wood.sample import Sample
from platemodel.wood.species import USUAL_SPECIES, from_species, species_table
from platemodel.wood.strip import (
    LongitudinalTap,
    SoundSpeed,
    Strip,
    StripBend,
    StripTap,
    strip_estimate,
    strip_fit,
)

__all__ = [
    "CONSTANTS",
    "USUAL_SPECIES",
    "LongitudinalTap",
    "Orthotropic",
    "PieceFit",
    "Sample",
    "SoundSpeed",
    "Strip",
    "StripBend",
    "StripTap",
    "WoodEstimate",
    "at_moisture",
    "equilibrium_moisture",
    "from_species",
    "species_estimate",
    "species_table",
    "strip_estimate",
    "strip_fit",
]
