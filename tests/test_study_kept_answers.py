"""What the full model solves for a bar it solves once, and never hands to another bar, post or wood."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.fem import system
from platemodel.fem.kept import Kept
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.flex_test import usual_flex_test
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import SetUp
from platemodel.study.top import cache_folder
from platemodel.study.top.flex import flexes
from platemodel.study.top.foot import bass_foot_stiffness, unit_loads
from platemodel.study.top.model import top_model
from platemodel.study.top.plate_modes import plate_modes
from platemodel.study.top.string_load import string_load
from tests.quick import FINENESS

RIMS = ("sliding", "held")


@pytest.fixture(autouse=True)
def no_earlier_run(monkeypatch):
    """What is counted here is solved here."""
    monkeypatch.setenv(cache_folder.VARIABLE, "off")


@pytest.fixture(scope="module")
def set_up():
    top = preset_top("violin")
    return SetUp.usual("violin", top.outline.body_length)


@pytest.fixture(scope="module")
def laid(set_up):
    """One mesh and its matrices for all."""
    return top_model(preset_top("violin"), FINENESS, edge_row=False, set_up=set_up)


@pytest.fixture
def violin(laid):
    """Nothing solved yet."""
    return replace(laid, answers=Kept())


@pytest.fixture
def count(monkeypatch):
    """Factorisations so far."""
    sizes, real = [], system.factorise

    def counted(matrix):
        sizes.append(matrix.shape[0])
        return real(matrix)

    monkeypatch.setattr(system, "factorise", counted)
    return sizes


def test_a_bar_is_factorised_once_free_and_once_a_rim(violin, set_up, count):
    bar = preset_bar(violin.top)
    foot = bass_foot_stiffness(violin, bar)
    found = violin.response(bar, set_up)
    violin.named_shapes(bar)
    string_load(violin, bar, set_up, compare=False)
    plate_modes(violin, bar, count=5)
    flexes(violin, [usual_flex_test(violin.top, "along")], bar)  # shares the factors of the modes
    assert len(count) == 3
    assert (found.foot.sliding, found.foot.held) == (foot.sliding, foot.held)


def test_another_bar_or_post_is_solved_anew(violin, set_up, count):
    """The same post moved by 5 mm: by reciprocity each answer fits its own loads."""
    bar = preset_bar(violin.top)
    higher = bar_of_height(bar, 1.3 * float(bar.heights.max()))
    assert violin.foot_stiffness(higher).middle > 1.05 * violin.foot_stiffness(bar).middle
    assert len(count) == 4
    other = replace(set_up, post=replace(set_up.post, behind=set_up.post.behind + 5e-3))
    for rim in RIMS:
        moved = violin.moved(bar, rim, other)
        loads = unit_loads(violin, other)[:, :3]
        give = loads.T @ moved[: len(loads)]
        # symmetric to the digits that the factorisation leaves
        assert np.abs(give - give.T).max() < 1e-8 * np.abs(give).max()
    assert violin.response(bar, other).sinking.held != violin.response(bar, set_up).sinking.held


def test_another_wood_shares_the_mesh_and_nothing_solved(violin):
    """All moduli doubled: twice as stiff, by linearity."""
    before, wood = violin.foot_stiffness(None, post=False), violin.top.wood
    stiff = violin.with_shell(violin.shell.with_material(0.5 * wood.compliance(), wood.density))
    after = stiff.foot_stiffness(None, post=False)
    assert after.held == pytest.approx(2.0 * before.held, rel=1e-8)  # round-off of two factorisations
    assert violin.foot_stiffness(None, post=False).held == before.held


def test_without_a_post_in_mind_the_foot_is_answered_all_the_same(violin, set_up):
    """One mesh twice: the same figures but for round-off of the factorisation."""
    plain, told = replace(violin, set_up=None, answers=Kept()), violin
    one, other = (m.foot_stiffness(None) for m in (plain, told))
    assert one.held == pytest.approx(other.held, rel=1e-10)
    assert plain.response(None, set_up).sinking.held == pytest.approx(
        told.response(None, set_up).sinking.held, rel=1e-10
    )
