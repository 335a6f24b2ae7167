"""Do the bands of a wood found from taps hold the truth where the truth is not the model?

Tops are drawn whose wood, thickness, arching, taps and weight are all off what the fit is told, by errors
that do not have the exact form the fit assumes. Run as ``python -m tests.benchmarks.wood_coverage [tops]
[seed]``; ten minutes for 200 tops. Truth and fit share one coarse mesh, so that the mesh's own error (0.05 to
0.4 % in pitch) is left out.
"""

import sys
from dataclasses import replace

import numpy as np

from platemodel.fem.section import Section
from platemodel.fem.shell import Shell
from platemodel.fem.surface import graph
from platemodel.instrument.field import SmoothField
from platemodel.instrument.presets import preset_top
from platemodel.study import top_model
from platemodel.study.top.shape_scatter import arching_window, error_fields
from platemodel.study.wood.top_taps import TopTaps
from platemodel.study.wood.wood_fit import FITTED, TapError, identify_wood
from platemodel.study.wood.wood_modes import WoodSolver
from platemodel.wood import USUAL_SPECIES, species_estimate

FINENESS = 0.4
MODES = (1, 2, 5)
THICKNESS, ARCHING = 0.1e-3, 0.5e-3  # m rms over the plate
TAP, WEIGHT = 0.005, 1e-3  # relative; kg
REACHES = {"thickness": (0.04, 0.12), "arching": (0.08, 0.25)}  # of the body length, drawn for every top


class FromBasis(WoodSolver):
    """Answers from the shapes of a few woods: the same mechanics in milliseconds, one scatter for all."""

    _effects = None

    def full(self, wood, bar_log=0.0):
        return self.reduced(wood)

    def shape_effects(self, wood, modes, errors):
        if self._effects is None:
            self._effects = super().shape_effects(wood, modes, errors)
        return self._effects


def basis_solver(model, prior, woods=4, count=10):
    """Solver on the shapes of a prior's median and of some woods drawn from it."""
    solver = FromBasis(model, count=count)
    for wood in [prior.wood, *prior.samples(woods, np.random.default_rng(11))]:
        WoodSolver.full(solver, wood)
    return solver


def random_field(like, box, reach, rng, window=None):
    """Smooth random field on the grid of another one, rms 1 where the plate may be."""
    middles, height = error_fields(box, reach)
    x, y = np.meshgrid(like.x, like.y, indexing="ij")
    out = np.zeros(x.shape)
    for a, b in middles.T:
        out += height * rng.standard_normal() * np.exp(-0.5 * ((x - a) ** 2 + (y - b) ** 2) / reach**2)
    return out if window is None else out * window(x, y)


def wrong_top(model, rng, reaches=REACHES):
    """Model of a top that is not what was measured: thickness and arching off by smooth random errors."""
    top, length = model.top, model.top.outline.body_length
    box = top.outline.box()
    reach = {name: length * rng.uniform(*ends) for name, ends in reaches.items()}
    thick, middle = top.thickness, top.midsurface()
    at = np.meshgrid(middle.x, middle.y, indexing="ij")
    off = THICKNESS * random_field(middle, box, reach["thickness"], rng)
    thicker = SmoothField(middle.x, middle.y, thick.value(*at) + off)
    higher = SmoothField(
        middle.x,
        middle.y,
        middle.values + ARCHING * random_field(middle, box, reach["arching"], rng, arching_window(model)),
    )
    old = model.shell.section
    section = Section(thicker.value, old.compliance, old.density, old.axes, old.along)
    return replace(model, shell=Shell(model.shell.mesh, graph(higher.derivatives), section))


def coverage(tops=200, seed=5, kind="violin", progress=lambda _: None):
    """Share of tops whose 90 % bands held the truth.

    Returns
    -------
    dict
        A share for each of ``FITTED``; ``refused`` taps; ``tops``.
    """
    prior, rng = species_estimate(USUAL_SPECIES), np.random.default_rng(seed)
    model = top_model(preset_top(kind), FINENESS)
    solver = basis_solver(model, prior)
    inside, refused = dict.fromkeys(FITTED, 0), 0
    for k, wood in enumerate(prior.samples(tops, rng)):
        truth = WoodSolver(wrong_top(model, rng), count=10).full(wood)
        heard = {
            n: float(truth.frequencies[truth.index[n]] * np.exp(TAP * rng.standard_normal())) for n in MODES
        }
        mass = truth.mass + WEIGHT * rng.standard_normal()
        try:
            fit = identify_wood(model, TopTaps(heard, mass), prior=prior, solver=solver)
        except TapError:
            refused += 1
            continue
        for name in FITTED:
            low, high = fit.estimate.band(name)
            inside[name] += low < getattr(wood, name) < high
        progress((k + 1, refused, inside))
    known = tops - refused
    return {name: n / known for name, n in inside.items()} | {"refused": refused, "tops": tops}


if __name__ == "__main__":
    arguments = [int(a) for a in sys.argv[1:]]
    print(coverage(*arguments, progress=lambda found: print(*found, flush=True)))
