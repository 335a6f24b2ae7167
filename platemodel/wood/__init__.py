"""What wood is."""

from platemodel.wood.orthotropic import Orthotropic
from platemodel.wood.species import from_species, species_table

__all__ = ["Orthotropic", "from_species", "species_table"]
