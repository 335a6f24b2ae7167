"""What wood is."""

from platemodel.wood.estimate import CONSTANTS, WoodEstimate, species_estimate
from platemodel.wood.orthotropic import Orthotropic
from platemodel.wood.species import from_species, species_table

__all__ = ["CONSTANTS", "Orthotropic", "WoodEstimate", "from_species", "species_estimate", "species_table"]
