"""How far the wood that a job states is in doubt."""

from dataclasses import replace

from platemodel.wood import USUAL_SPECIES, Orthotropic, WoodEstimate, species_estimate, species_table

STATED_SD = 0.05  # relative, of stiffness along the grain and density that a job states as measured


def doubt_of(wood: Orthotropic) -> WoodEstimate:
    """Doubt of a job's wood: the spread between boards of its species, less where it was measured."""
    species = wood.name if wood.name in species_table().index else USUAL_SPECIES
    prior = species_estimate(species)
    measured = [c for c in ("density", "E_L", "E_R", "G_LR") if c in wood.source.partition("measured:")[2]]
    if measured:
        prior = prior.measured(STATED_SD, "as stated", **{c: getattr(wood, c) for c in measured})
    return replace(prior, wood=wood)
