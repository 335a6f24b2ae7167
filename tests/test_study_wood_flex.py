"""Flex readings in the fit of a top's wood: an independent witness beside weight and taps."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.instrument.flex_test import FlexReading, usual_flex_test
from platemodel.instrument.presets import preset_top
from platemodel.study.top.flex import flexes
from platemodel.study.wood.top_taps import TopTaps
from platemodel.study.wood.wood_fit import TapError, identify_wood
from platemodel.study.wood.wood_modes import WoodSolver
from platemodel.wood import CONSTANTS
from tests.quick import quick_model

KINDS = ("along", "across", "twist")


@pytest.fixture(scope="module")
def violin():
    return quick_model(preset_top("violin"))


@pytest.fixture(scope="module")
def truth(violin):
    """A light, soft wood of the kind: away from the species' median in each constant that is fitted."""
    wood = violin.top.wood
    softer = {"E_L": 0.88 * wood.E_L, "E_R": 0.86 * wood.E_R, "G_LR": 0.93 * wood.G_LR}
    return replace(wood, density=0.95 * wood.density, **softer)


@pytest.fixture(scope="module")
def felt(violin, truth):
    """Exact readings of three flexes of that wood, 100 g, 20 g for the twist."""
    tests = [usual_flex_test(violin.top, kind) for kind in KINDS]
    out = []
    for flex in flexes(violin, tests, wood=truth):
        force = 0.2 if flex.test.kind == "twist" else 1.0
        sag = force * flex.flexibility
        out.append(FlexReading(flex.test, force, sag, 0.01 * sag))
    return tuple(out)


@pytest.fixture(scope="module")
def solver(violin):
    return WoodSolver(violin, count=10, air=True)


@pytest.fixture(scope="module")
def heard(violin, truth, solver):
    modes = solver.full(truth)
    return {n: float(modes.frequencies[modes.index[n]]) for n in (1, 2, 5)}, modes.mass


def widths(fit):
    """Relative standard deviations of E_L, E_R, G_LR."""
    cov = fit.estimate.log_cov
    return np.sqrt([cov[i, i] for i in map(CONSTANTS.index, ("E_L", "E_R", "G_LR"))])


@pytest.mark.slow
def test_flexes_narrow_the_band_and_agree(violin, truth, felt, heard, solver):
    """Every constant comes within one standard deviation of the truth (what is left is the prior's pull), the
    bands narrow, and no reading is called a disagreement."""
    taps, mass = heard
    alone = identify_wood(violin, TopTaps(taps, mass), solver=solver)
    both = identify_wood(violin, TopTaps(taps, mass, flexes=felt), solver=solver)
    assert (widths(both) < widths(alone)).all()
    assert both.flexes["agrees"].all()
    for name, sd in zip(("E_L", "E_R", "G_LR"), widths(both), strict=True):
        assert abs(np.log(getattr(both.estimate.wood, name) / getattr(truth, name))) < sd
    assert "flexes along, across, twist" in both.estimate.source
    assert len(alone.flexes) == 0


def test_weight_and_flexes_alone(violin, truth, felt, heard, solver):
    fit = identify_wood(violin, TopTaps({}, heard[1], flexes=felt), solver=solver)
    assert len(fit.modes) == 0
    for name, sd in zip(("E_L", "E_R", "G_LR"), widths(fit), strict=True):
        assert abs(np.log(getattr(fit.estimate.wood, name) / getattr(truth, name))) < sd
    assert ((fit.flexes["fitted_mm"] - fit.flexes["read_mm"]).abs() < fit.flexes["sd_mm"]).all()
    before = np.sqrt(np.diag(fit.prior.log_cov))[[CONSTANTS.index(c) for c in ("E_L", "E_R", "G_LR")]]
    assert (widths(fit) < 0.9 * before).all()


@pytest.mark.slow
def test_a_slip_in_a_flex_is_named(violin, felt, heard, solver):
    """A weight of twice the grams halves the reading that was meant."""
    wrong = (replace(felt[0], sag=2.2 * felt[0].sag, sd=2.2 * felt[0].sd), *felt[1:])
    with pytest.raises(TapError, match="flex along sags more") as caught:
        identify_wood(violin, TopTaps(*heard, flexes=wrong), solver=solver)
    assert caught.value.doubts[0].kind == "flex"


def test_nothing_to_go_by(violin):
    with pytest.raises(ValueError, match="no taps and no flexes"):
        TopTaps({}, 0.06)
