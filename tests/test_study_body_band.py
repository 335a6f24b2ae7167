"""What the sinking of the closed body is sensitive to, and its band."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.study.body.model import body_model
from platemodel.study.body.sinking_band import BAR_SPREAD, LEVERS, PARTS, by_wood, sinking_band
from platemodel.study.body.statics import body_load, foot_sinking, string_forces
from platemodel.wood.estimate import CONSTANTS, species_estimate
from tests.body_parts import closed_violin, stiffer


@pytest.fixture(scope="module")
def violin():
    return closed_violin()


@pytest.fixture(scope="module")
def load(violin):
    return body_load(*violin)


@pytest.mark.slow
def test_sensitivities_of_the_sinking(violin, load):
    """Against the system solved anew with one thing 2 % stiffer or 1 mm higher: back, post and bridge height
    (central differences' own error about 1 %).
    """
    model, bar = violin
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


def test_band_by_wood_and_what_narrows_it(violin, load):
    """With the species' spread the wood of the top leads; wood known three times better
    makes the band narrower.
    """
    model, _ = violin
    wide = sinking_band(load)
    assert wide.table["what"].iloc[0] == "wood of the top"
    known = species_estimate("tonewood spruce")
    known = replace(known, wood=model.top.wood, log_cov=known.log_cov / 9.0)
    narrow = sinking_band(load, wood=known)
    assert narrow.high / narrow.low < wide.high / wide.low
    assert wide.low < wide.middle == load.sinking_bass < wide.high


@pytest.mark.slow
def test_sensitivity_to_the_top_s_wood(violin, load):
    """All moduli of the top scaled alike change the sinking as the sum of the six derivatives says; central
    differences over 4 %.
    """
    model, bar = violin
    gradient = by_wood(model.top_model.shell, model.top.wood, load.moved, load.adjoint[:, 0])
    total = gradient[1:7].sum() / load.sinking_bass
    ends = []
    for factor in (0.98, 1.02):
        shell = model.top_model.shell.with_material(stiffer(model.top.wood, factor).compliance(), 400.0)
        joined = model.joined.with_parts((shell, model.back))
        ends.append(np.log(body_load(replace(model, joined=joined), bar).sinking_bass))
    assert total == pytest.approx((ends[1] - ends[0]) / 0.04, rel=0.02)


@pytest.mark.parametrize("foot", [0, 1])
def test_causes_of_the_band_add_up(violin, load, foot):
    """A body twice as stiff all over sinks half as far: the derivatives by the logarithms of all stiffnesses
    add up to -1 (1e-6: the static solution). Of the top's wood all six moduli are taken to err together. The
    band is 1.645 standard deviations of independent causes on both sides.
    """
    model, _ = violin
    moduli = np.array([name[:2] in ("E_", "G_") for name in CONSTANTS], dtype=float)
    wood = replace(species_estimate("tonewood spruce"), wood=model.top.wood, log_cov=np.outer(moduli, moduli))
    band = sinking_band(load, foot, wood)
    effect = band.table.set_index("what")["effect"]
    spreads = {what: sd for what, sd, _ in PARTS.values()} | {"wood of the bar": BAR_SPREAD}
    by_stiffness = sum(effect[what] / sd for what, sd in spreads.items()) - effect["wood of the top"]
    assert by_stiffness == pytest.approx(-1.0, abs=1e-6)
    assert band.middle == (load.sinking_bass, load.sinking_treble)[foot]
    wide = np.exp(1.645 * np.sqrt((effect**2).sum()))
    assert (band.low, band.high) == pytest.approx((band.middle / wide, band.middle * wide), rel=1e-3)
    assert band.spread == pytest.approx(wide - 1, rel=1e-3)
    assert band.table["share"].to_numpy() == pytest.approx(effect.to_numpy() ** 2 / (effect**2).sum())
    assert (np.diff(band.table["share"]) <= 0).all()
    assert band.advice == band.table["measure"][0]


def test_a_higher_bridge_or_saddle(violin, load):
    """The strings' forces with a lever 1 mm (saddle: 0.7 mm) higher less those as it is, laid on the body
    themselves: both feet move by that (1e-6: the static solution), as the adjoint solution says.
    """
    model, bar = violin
    names, steps = list(LEVERS), {"bridge": 1.0e-3, "saddle": 0.7e-3}
    change = []
    for name in names:
        levers = replace(model.body.levers, **{name: getattr(model.body.levers, name) + steps[name]})
        higher = replace(model, body=replace(model.body, levers=levers))
        change.append(string_forces(higher)[0] - string_forces(model)[0])
    moved = model.with_bar(bar).solve(np.stack(change, axis=1))[: len(change[0])]
    for foot, sunk in enumerate((load.sinking_bass, load.sinking_treble)):
        effect = sinking_band(load, foot).table.set_index("what")["effect"]
        found = [effect[LEVERS[name][0]] for name in names]
        assert found == pytest.approx(foot_sinking(model)[foot] @ moved / sunk, rel=1e-6)


def test_what_was_measured_leaves_the_band(violin, load):
    """Without what was measured the others keep their effect, and the band is narrower by its share."""
    whole = sinking_band(load)
    measured = ("post", "back", "bar", "bridge")
    told = {PARTS["post"][0], "back", "wood of the bar", LEVERS["bridge"][0]}
    rest = sinking_band(load, measured=measured)
    assert set(whole.table["what"]) - set(rest.table["what"]) == told
    kept = whole.table[~whole.table["what"].isin(told)].set_index("what")["effect"]
    assert rest.table.set_index("what")["effect"].to_dict() == pytest.approx(kept.to_dict())
    share = np.log(rest.high / rest.middle) / np.log(whole.high / whole.middle)
    assert share**2 == pytest.approx(1 - whole.table.set_index("what")["share"][sorted(told)].sum())
