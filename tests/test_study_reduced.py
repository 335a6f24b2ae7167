"""Reduced top: the full model's answers for any bar of its range, and what it does beyond."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from platemodel.fem import System
from platemodel.fem.rib_stress import rib_forces
from platemodel.fem.stress import shell_stress
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.top.answers import bar_response
from platemodel.study.top.edge_supports import rim_supports
from platemodel.study.top.foot import bass_foot_stiffness, load_rows
from platemodel.study.top.heights import height_sweep
from platemodel.study.top.meshed_top import bar_rib
from platemodel.study.top.plate_modes import plate_modes
from platemodel.study.top.recognise import mac
from platemodel.study.top.reduced_learning import Teacher
from platemodel.study.top.reduced_top import TOLERANCE, reduced_top
from platemodel.study.top.sensitivity import sensitivity
from tests.quick import quick_model

SHARE = st.floats(0.0, 1.0)


@pytest.fixture(scope="module")
def violin():
    return quick_model(preset_top("violin"))


@pytest.fixture(scope="module")
def bar(violin):
    return preset_bar(violin.top)


@pytest.fixture(scope="module")
def reduced(violin, bar):
    return reduced_top(violin, bar)


def compare(reduced, bar):
    """True errors within the tolerance, the estimate no smaller than the largest (to rounding)."""
    found, full = bar_response(reduced, bar), bar_response(reduced.full, bar)
    named = [found.frequency(n) for n in (1, 2, 5)]
    modes = np.abs(np.array(named) / [full.frequency(n) for n in (1, 2, 5)] - 1.0).max()
    assert found.frequencies == pytest.approx(full.frequencies, rel=2e-3)
    feet = max(abs(getattr(found.foot, r) / getattr(full.foot, r) - 1.0) for r in ("sliding", "held"))
    assert max(modes, feet) < TOLERANCE
    assert [n.number for n in found.namings] == [n.number for n in full.namings]
    assert [n.index for n in found.namings] == [n.index for n in full.namings]
    assert found.bar_mass == pytest.approx(full.bar_mass, rel=1e-12)
    assert found.plate_mass == pytest.approx(full.plate_mass, rel=1e-12)
    if found.source == "reduced":
        assert max(modes, feet) < found.error + 1e-8
        assert found.error < TOLERANCE
    else:
        assert max(modes, feet) < 1e-9
    return found


@settings(
    max_examples=4,
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(share=st.tuples(SHARE, SHARE, SHARE, SHARE, SHARE))
def test_any_bar_of_the_range(reduced, bar, share):
    one = reduced.range.bar(bar, reduced.top.bridge.x, share)
    compare(reduced, one)


@pytest.mark.slow
def test_most_bars_of_the_range_need_no_full_model(reduced, bar):
    """Of 60 random bars at least 57: those beyond are answered in full, correctly but late."""
    random = np.random.default_rng(11)
    bars = [reduced.range.bar(bar, reduced.top.bridge.x, random.random(5)) for _ in range(60)]
    good = 0
    for one in bars:
        _, found = reduced.modes(one)
        good += found.estimate.max() < TOLERANCE
    assert good >= 57


def test_without_bar(reduced):
    assert compare(reduced, None).source == "reduced"


@pytest.mark.slow
def test_another_length_width_and_line_is_learnt(reduced, bar):
    """22 mm shorter, a sixth wider, 1 mm askew: learnt at the first question, known at the second."""
    middle, half = 0.5 * (bar.x_start + bar.x_end), 0.46 * (bar.x_end - bar.x_start)
    x = np.linspace(middle - half, middle + half, len(bar.stations))
    other = replace(
        bar, x_start=x[0], x_end=x[-1], stations=x, width=1.16 * bar.width,
        y_start=float(bar.at(x[0])) + 5e-4, y_end=float(bar.at(x[-1])) - 5e-4,
    )  # fmt: skip
    assert compare(reduced, other).source == "reduced"
    found = bar_response(reduced, bar_of_height(other, 0.8 * other.heights.max()))
    assert found.source == "reduced"


def test_far_outside_the_full_model_answers(reduced, bar):
    tall = replace(bar, heights=3.0 * bar.heights, wood=replace(bar.wood, E_L=3.0 * bar.wood.E_L))
    assert compare(reduced, tall).source == "full"


def test_learning_may_be_forbidden(reduced, bar):
    other = replace(bar, width=1.5 * bar.width)
    stubborn = reduced.unlearning(TOLERANCE)
    assert bar_response(stubborn, other).source == "full"


def test_plate_modes_take_either_model(reduced, violin, bar):
    lower = bar_of_height(bar, 9e-3)
    found, full = plate_modes(reduced, lower), plate_modes(violin, lower)
    assert found.table["f_hz"].to_numpy() == pytest.approx(full.table["f_hz"].to_numpy(), rel=TOLERANCE)
    # a frequency errs by the square of what its shape does
    assert mac(found.shapes, full.shapes).diagonal() == pytest.approx(np.ones(8), abs=10 * TOLERANCE)
    assert found.model is violin
    clamped, same = (plate_modes(m, lower, edge="hinged", count=2).table["f_hz"] for m in (reduced, violin))
    assert clamped.to_numpy() == pytest.approx(same.to_numpy(), rel=1e-9)


def test_foot_stiffness_without_post(reduced, violin, bar):
    found, full = (bass_foot_stiffness(m, bar, post=False) for m in (reduced, violin))
    assert found.sliding == pytest.approx(full.sliding, rel=TOLERANCE)
    assert found.held == pytest.approx(full.held, rel=TOLERANCE)


def test_height_sweep_takes_either_model(reduced, violin, bar):
    heights = [10e-3]
    found, full = (height_sweep(m, bar, heights) for m in (reduced, violin))
    assert list(found.columns) == list(full.columns)
    assert found.to_numpy() == pytest.approx(full.to_numpy(), rel=TOLERANCE, nan_ok=True)  # no shared names


@pytest.mark.parametrize("rim", ["sliding", "held"])
def test_stresses_from_the_reconstructed_deflection(reduced, violin, bar, rim):
    """Loads on both feet and from the post: stress of the top and force of the bar within 1 % of the largest.
    A deflection errs by the root of what the stiffness errs by: 1e-4 of the stiffness is 1 % of a field.
    """
    lower = bar_of_height(bar, 11e-3)
    rib, shell, post = bar_rib(violin, lower), violin.shell, 45.0
    bass, treble, end = load_rows(violin, reduced.set_up)
    load = -40.0 * bass - 60.0 * treble + post * end
    full = System(shell, (rib,), rim_supports(violin, rim)).solve(load)
    u, own = np.split(reduced.moved(lower, rim, reduced.set_up) @ [-40.0, -60.0, post], [shell.n_dofs])
    n = shell.n_dofs
    found, true = rib_forces(rib, u, own), rib_forces(rib, full[:n], full[n:])
    assert found.axial == pytest.approx(true.axial, abs=0.01 * np.abs(true.axial).max())
    assert found.free == pytest.approx(true.free, abs=0.01 * np.abs(true.free).max())
    here, there = (shell_stress(shell, v).faces for v in (u, full[:n]))
    for face in there:
        expected = there[face].along
        assert here[face].along == pytest.approx(expected, abs=0.01 * np.abs(expected).max())


@pytest.mark.slow
def test_sensitivities_take_either_model(reduced, violin, bar):
    """Derivatives err by the root of what frequencies do.

    A shape that is off by e in its energy raises the frequency by e^2 / 2 and moves an energy share by up to
    2 e, so that 1e-4 there may be 2.8 % here, of the largest effect.
    """
    lower = bar_of_height(bar, 11e-3)
    found, full = (sensitivity(m, lower) for m in (reduced, violin))
    assert found.names == full.names
    assert found.values == pytest.approx(full.values, rel=TOLERANCE)
    for name in ("by_thickness", "by_height"):
        here, there = getattr(found, name), getattr(full, name)
        most = 2 * np.sqrt(2 * TOLERANCE) * np.abs(there).max(axis=0)
        assert np.all(np.abs(here - there).max(axis=0) < most)


@pytest.mark.slow
def test_threads_may_ask_at_once(reduced, bar):
    """Twenty lines, more than are kept, asked for by eight threads: the answers are those of one.

    No tolerance, so that no line is learnt or solved in full; each thread puts other lines out of the store.
    """
    plain = reduced.unlearning(np.inf)
    bars = [replace(bar, width=bar.width * (1.0 + 0.01 * k)) for k in range(20)]
    expected = [plain.response(one).frequencies for one in bars]
    orders = [np.random.default_rng(seed).permutation(20) for seed in range(8)]

    def ask(order):
        return {int(k): plain.response(bars[k]).frequencies for k in order}

    with ThreadPoolExecutor(8) as pool:
        for found in pool.map(ask, orders):
            for k, frequencies in found.items():
                assert frequencies == pytest.approx(expected[k], rel=1e-9)


@pytest.mark.slow
def test_a_line_is_learnt_once_whoever_asks(reduced, bar, monkeypatch):
    learnt = []
    true = Teacher.taught

    def counted(self, name, ribs, start=None):
        learnt.append(name)
        return true(self, name, ribs, start)

    monkeypatch.setattr(Teacher, "taught", counted)
    other = replace(bar, width=0.93 * bar.width)
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: bar_response(reduced, other), range(4)))
    assert sorted(learnt) == ["held", "known", "sliding"]
    assert {one.source for one in found} == {"reduced"}


def test_models_with_only_their_own_line_answer_others_in_full(reduced, violin, bar):
    """What goes to other processes: nothing that it cannot answer is asked of it in vain."""
    small = reduced.at_home()
    lower = bar_of_height(bar, 9e-3)
    assert small.response(lower).source == "reduced"
    assert small.response(lower).frequencies == pytest.approx(reduced.response(lower).frequencies, rel=1e-9)
    other = replace(bar, width=1.1 * bar.width)
    assert small.response(other).source == "full"
    found, full = (m.free_modes(lower, 4).frequencies for m in (small, violin))
    assert found == pytest.approx(full, rel=1e-9)


def test_range_holds_its_corners(bar, violin):
    span = BarRange.around(bar)
    bars = span.samples(bar, violin.top.bridge.x, 30)
    tops = np.array([b.heights.max() for b in bars])
    assert tops.min() == pytest.approx(span.height[0], rel=1e-2)
    assert tops.max() == pytest.approx(span.height[1], rel=1e-2)
    assert {round(b.wood.E_L / bar.wood.E_L, 6) for b in bars[:16]} == {0.7, 1.4}
    assert np.all(np.array([b.heights[0] for b in bars]) <= span.ends[1] * (1 + 1e-12))
