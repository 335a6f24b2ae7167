"""What the sinking of the closed body is sensitive to, and its band."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.study.body.model import body_model
from platemodel.study.body.sinking_band import by_wood, sinking_band
from platemodel.study.body.statics import body_load
from platemodel.wood.estimate import species_estimate
from tests.body_parts import closed_violin, stiffer


@pytest.fixture(scope="module")
def violin():
    return closed_violin()


@pytest.mark.slow
def test_sensitivities_of_the_sinking(violin):
    """Against the system solved anew with one thing 2 % stiffer or 1 mm higher: back, post and bridge height
    (central differences' own error about 1 %).
    """
    model, bar = violin
    load = body_load(model, bar)
    found = sinking_band(load).table.set_index("what")["effect"]
    step = 0.02
    ends = []
    for factor in (1 - step, 1 + step):
        back = replace(model.body.back, wood=stiffer(model.body.back.wood, factor))
        other = body_model(model.top_model, replace(model.body, back=back), model.set_up, panels=120)
        other = replace(model, joined=model.joined.with_parts((model.top_model.shell, other.back)))
        ends.append(np.log(body_load(other, bar).sinking_bass))
    assert found["back"] == pytest.approx(0.25 * (ends[1] - ends[0]) / (2 * step), rel=0.02)
    ends = []
    for shift in (-1e-3, 1e-3):
        levers = replace(model.body.levers, bridge=model.body.levers.bridge + shift)
        ends.append(body_load(replace(model, body=replace(model.body, levers=levers)), bar).sinking_bass)
    slope = 0.5 * (ends[1] - ends[0]) / load.sinking_bass
    assert found["height of the bridge"] == pytest.approx(slope, rel=0.02)


def test_bandby_wood_and_what_narrows_it(violin):
    """With the species' spread the wood of the top leads; wood known three times better
    makes the band narrower.
    """
    model, bar = violin
    load = body_load(model, bar)
    wide = sinking_band(load)
    assert wide.table["what"].iloc[0] == "wood of the top"
    known = species_estimate("tonewood spruce")
    known = replace(known, wood=model.top.wood, log_cov=known.log_cov / 9.0)
    narrow = sinking_band(load, wood=known)
    assert narrow.high / narrow.low < wide.high / wide.low
    assert wide.low < wide.middle == load.sinking_bass < wide.high


@pytest.mark.slow
def test_sensitivity_to_the_top_s_wood(violin):
    """All moduli of the top scaled alike change the sinking as the sum of the six derivatives says; central
    differences over 4 %.
    """
    model, bar = violin
    load = body_load(model, bar)
    gradient = by_wood(model.top_model.shell, model.top.wood, load.moved, load.adjoint[:, 0])
    total = gradient[1:7].sum() / load.sinking_bass
    ends = []
    for factor in (0.98, 1.02):
        shell = model.top_model.shell.with_material(stiffer(model.top.wood, factor).compliance(), 400.0)
        joined = model.joined.with_parts((shell, model.back))
        ends.append(np.log(body_load(replace(model, joined=joined), bar).sinking_bass))
    assert total == pytest.approx((ends[1] - ends[0]) / 0.04, rel=0.02)
