"""Clamps and the elastic seat; Hetenyi's solutions are in the cases."""

import numpy as np
import pytest

from platemodel.errors import AccuracyError
from platemodel.instrument import preset_bar, preset_top
from platemodel.instrument.gaps import Gaps
from platemodel.study.gluing.clamps import COUNTS, EVEN, PRESSURE, Caul, Lining, clamp_plan, seated_bar
from platemodel.study.gluing.closing import close_gaps
from platemodel.study.gluing.elastic_seat import SeatedBeam
from tests.published.cases.glue import EI, LAMBDA, MM, PUSH, SEAT


@pytest.fixture(scope="module")
def violin():
    top = preset_top("violin")
    bar = preset_bar(top)
    return top, bar, clamp_plan(bar, top)


def beam(length=0.4, n=80):
    return SeatedBeam(np.linspace(0, length, n + 1), np.full(n, EI), np.full(n, SEAT))


# --- seat -----------------------------------------------------------------------------------------------


def test_the_seat_carries_what_presses():
    one = beam()
    found = one.solve(one.load([0.1, 0.3], [50.0, 80.0], 11 * MM).sum(axis=1))
    assert found.total == pytest.approx(130.0, rel=1e-9)
    moment = (found.line_pressure * one.lengths) @ found.at
    assert moment == pytest.approx(0.1 * 50 + 0.3 * 80, rel=1e-9)


def test_an_even_load_sinks_evenly():
    one = beam()
    found = one.solve(one.load([0.2], [100.0], 0.4)[:, 0])
    assert found.deflection == pytest.approx(100 / 0.4 / SEAT, rel=1e-9)


def test_the_seat_does_not_pull():
    """A long beam pressed in the middle lifts where Hetenyi's has the seat pull: beyond 3 pi / 4 lambda."""
    one = beam(0.8, 200)
    load = one.load([0.4], [PUSH])
    assert one.pushes(load).min() < 0
    found = one.solve(load[:, 0])
    assert found.line_pressure.min() == 0
    touching = found.at[found.line_pressure > 0]
    assert 0.4 - touching.min() < 3 * np.pi / 4 / LAMBDA
    assert found.total == pytest.approx(PUSH)


def test_loads_add_up_while_nothing_lifts():
    one = beam(0.1, 40)
    load = one.load([0.03, 0.07], [50.0, 80.0], 10 * MM)
    both = one.pushes(load).sum(axis=1)
    assert one.solve(load.sum(axis=1)).line_pressure == pytest.approx(both)


def test_a_gap_is_bent_shut():
    """A soft beam over a gap follows it: the seat's push is the load, wherever it touches."""
    soft = SeatedBeam(np.linspace(0, 0.4, 81), np.full(80, 1e-4), np.full(80, SEAT))
    found = soft.solve(soft.load([0.2], [100.0], 0.4)[:, 0], lambda s: 1e-3 * (s / 0.2 - 1) ** 2)
    assert found.line_pressure == pytest.approx(250.0, rel=0.02)


def test_a_beam_that_is_pulled_off_is_refused():
    one = beam()
    with pytest.raises(AccuracyError, match="did not settle"):
        one.solve(one.load([0.2], [-10.0])[:, 0])


def test_the_seat_of_a_bar_is_its_layers_one_behind_the_other(violin):
    top, bar, _ = violin
    hard = seated_bar(bar, top, Lining(1e-9, 15e6))
    k = len(hard.seat) // 2
    x = bar.x_start + (bar.x_end - bar.x_start) * 0.5 * (hard.s[k] + hard.s[k + 1]) / bar.length
    soft = bar.height(x) / 2 / bar.wood.E_T + top.thickness.value(x, bar.at(x)) / top.wood.E_T
    assert hard.seat[k] == pytest.approx(bar.width / soft, rel=1e-5)
    lined = seated_bar(bar, top)
    assert 1 / lined.seat[k] - 1 / hard.seat[k] == pytest.approx(3e-3 / 15e6 / bar.width, rel=1e-4)


# --- plan -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["violin", "viola", "cello"])
def test_the_number_is_the_trades_and_the_line_is_pressed_evenly(kind):
    top = preset_top(kind)
    plan = clamp_plan(preset_bar(top), top)
    low, high = COUNTS[kind]
    assert low <= plan.count <= high
    assert plan.even
    assert plan.pressure.min() / plan.pressure.max() == pytest.approx(plan.evenness)
    assert plan.tried[plan.count] == pytest.approx(plan.evenness, abs=1e-3)
    assert not plan.dents
    assert all(even < EVEN for n, even in plan.tried.items() if n < plan.count)


def test_forces_make_the_mean_pressure(violin):
    _, bar, plan = violin
    area = bar.width * bar.length
    assert plan.force.sum() == pytest.approx(PRESSURE * area, rel=2e-3)
    assert plan.seated.total == pytest.approx(plan.force.sum(), rel=1e-6)


def test_the_middle_first_then_outwards_the_ends_last(violin):
    top, _, plan = violin
    x = plan.x[list(plan.order)]
    assert x[0] == pytest.approx(top.bridge.x, abs=1e-6)
    away = np.abs(x - top.bridge.x)
    below, above = away[x < top.bridge.x], away[x > top.bridge.x]
    assert (np.diff(below) > 0).all()
    assert (np.diff(above) > 0).all()
    assert set(plan.order[-2:]) == {0, plan.count - 1}
    assert sorted(plan.order) == list(range(plan.count))
    assert list(plan.table.sort_values("set_as").index) == list(plan.order)


def test_fewer_clamps_press_less_evenly(violin):
    top, bar, plan = violin
    assert clamp_plan(bar, top, count=4).evenness < plan.evenness
    assert clamp_plan(bar, top, count=8).evenness > plan.evenness


def test_a_strip_on_the_bar_evens_the_pressure(violin):
    top, bar, _ = violin
    bare, stiff = (clamp_plan(bar, top, 5, caul=c) for c in (None, Caul(12 * MM, 10 * MM)))
    assert stiff.evenness > bare.evenness + 0.1
    assert stiff.characteristic_length[0] > bare.characteristic_length[0]


def test_a_sprung_bar_is_pressed_down_by_its_end_clamps(violin):
    top, bar, plain = violin
    closing = close_gaps(bar, Gaps.even_spring(bar.length, 0.7 * MM))
    sprung = clamp_plan(bar, top, closing=closing)
    assert sprung.even
    # The spring's own forces are in balance: the sum stays, its place moves outwards.
    assert sprung.seated.total == pytest.approx(plain.seated.total, rel=2e-3)
    away = [(p.force * np.abs(p.x - top.bridge.x)).sum() for p in (plain, sprung)]
    assert away[1] > away[0]


def test_too_much_pressure_dents(violin):
    top, bar, _ = violin
    assert clamp_plan(bar, top, pressure=1e6).dents


def test_blocks_lie_against_the_clamps_and_one_meets_the_sound_hole(violin):
    top, bar, plan = violin
    assert [b.x for b in plan.blocks] == pytest.approx(list(plan.x))
    assert [b.y for b in plan.blocks] == pytest.approx(list(bar.at(plan.x)))
    assert (np.diff([b.x for b in plan.blocks]) > plan.blocks[0].along).all()
    near = [b for b in plan.blocks if "bass sound hole" in b.note]
    eye = top.sound_holes[0].polygon.bounds
    assert all(eye[0] - b.along < b.x < eye[2] + b.along for b in near)


@pytest.mark.parametrize(
    ("more", "words"),
    [({"count": 2}, "allowed 3 to"), ({"count": 40}, "40 clamps"), ({"pressure": 0.0}, "positive")],
)
def test_what_cannot_be_is_refused(violin, more, words):
    top, bar, _ = violin
    with pytest.raises(ValueError, match=words):
        clamp_plan(bar, top, **more)
