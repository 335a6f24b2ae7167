"""Wood found from the frequencies of another model: 20-node solid elements of plates of known constants.

Source of the taps: `solids/solid_cases.json` (a general-purpose solver, solids/README.md). The constants put
into the solids must come back.
"""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from platemodel.instrument.shape_errors import ShapeErrors
from platemodel.study.wood.top_taps import Errors, TopTaps
from platemodel.study.wood.wood_fit import FITTED, identify_wood
from platemodel.study.wood.wood_modes import WoodSolver
from platemodel.wood import species_estimate
from tests.published.solid_model import CASES, model, wood

# The plate's shape is exactly known; shell and solids differ by 0.15 % at most (test_solids.py).
EXACT = Errors(1e-3, 1e-3, model=1.5e-3, thickness=1e-3, weighing=1e-3, shape=ShapeErrors(0.0, 0.0, 0.0))
# The solids' minor constants follow the handbook ratios of Sitka spruce; E_L, E_R and G_LR are not told.
PRIOR = species_estimate("Sitka spruce", density=430.0, E_L=10.5e9, E_R=0.97e9, G_LR=0.65e9)


@dataclass(frozen=True, eq=False)
class RectangularTop:
    outline: object
    plan: object
    sound_holes: tuple = ()


def plate(name):
    shell, _ = model(CASES[name], 10, 8)
    a, b = 0.5 * CASES[name]["plate"]["a"], 0.5 * CASES[name]["plate"]["b"]
    corners = np.array([[-a, -b], [a, -b], [a, b], [-a, b]])
    top = RectangularTop(SimpleNamespace(points=corners, body_length=2 * a), shapely.Polygon(corners))
    return SimpleNamespace(shell=shell, top=top)


def heard(name, numbers):
    """Frequencies of the solids under the numbers that the shell gives to modes of that place."""
    one, true = plate(name), wood(CASES[name]["material"])
    index = WoodSolver(one, air=False).full(true).index
    mass = one.shell.mass / one.shell.section.density * true.density
    return one, true, {n: CASES[name]["extrapolated_hz"][index[n]] for n in numbers}, mass


def fitted(one, taps, mass):
    """Wood of a plate that rings in vacuum, as the solids do, and whose shape is exactly known."""
    solver = WoodSolver(one, air=False)
    return identify_wood(one, TopTaps(taps, mass), prior=PRIOR, errors=EXACT, solver=solver)


@pytest.mark.parametrize("name", ["7", "7b"])
def test_constants_of_plates_arched_one_way_come_back(name):
    one, true, taps, mass = heard(name, (1, 2, 3, 4, 6, 7))
    fit = fitted(one, taps, mass)
    for constant in FITTED:
        found = getattr(fit.estimate.wood, constant)
        assert found == pytest.approx(getattr(true, constant), rel=0.03), constant
    assert np.abs(fit.modes["residual_percent"]).max() < 0.3


def test_a_doubly_arched_plate_tells_two_stiffnesses_apart_only_within_its_band():
    """Case 5: G_LR and the product E_L E_R come back; a softer E_L with a stiffer E_R rings nearly alike."""
    one, true, taps, mass = heard("5", (1, 2, 3, 4, 6, 7))
    fit = fitted(one, taps, mass)
    found, put_in = fit.estimate, true.E_L * true.E_R
    product, shear = found.wood.E_L * found.wood.E_R, found.wood.G_LR
    assert shear == pytest.approx(true.G_LR, rel=0.03)
    assert product == pytest.approx(put_in, rel=0.03)
    for constant in ("E_L", "E_R"):
        low, high = found.band(constant)
        assert low < getattr(true, constant) < high
    assert found.correlation("E_L", "E_R") < -0.5
