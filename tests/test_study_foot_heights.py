"""Study room: stiffness under the bass foot, and what another height of the bar does."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from platemodel.fem import System, hold, point_spring
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.field import SmoothField
from platemodel.instrument.flex_test import on_its_rim, usual_flex_test
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bar, preset_top, preset_wood
from platemodel.instrument.profile import height_profile
from platemodel.instrument.top import Top
from platemodel.study.top.answers import FootStiffness
from platemodel.study.top.flex import flexes
from platemodel.study.top.foot import RIGID_POST, bass_foot_stiffness, foot_rows
from platemodel.study.top.heights import height_for_stiffness, height_sweep
from platemodel.study.top.meshed_top import bar_rib, outer_facets
from platemodel.study.top.model import top_model, with_wood
from platemodel.study.top.plate_modes import plate_modes
from platemodel.wood import CONSTANTS
from platemodel.wood.closed_form import plate_stiffness
from tests.quick import quick_model

MM = 1e-3
SHARED = ["f1_shared_hz", "f2_shared_hz", "f5_shared_hz"]
COLUMNS = [
    "height_mm", "f1_hz", "f2_hz", "f5_hz", *SHARED, "foot_n_per_mm", "foot_sliding_n_per_mm",
    "foot_held_n_per_mm", "bar_g", "plate_g",
]  # fmt: skip


@pytest.fixture(scope="module")
def violin():
    """Coarse model of the usual violin top: quick, and every law tested here holds on any mesh."""
    return quick_model(preset_top("violin"))


@pytest.fixture(scope="module")
def bar(violin):
    return preset_bar(violin.top)


@pytest.fixture(scope="module")
def bare(violin):
    return bass_foot_stiffness(violin)


@pytest.fixture(scope="module")
def barred(violin, bar):
    return bass_foot_stiffness(violin, bar)


@pytest.fixture(scope="module")
def sweep(violin, bar):
    return height_sweep(violin, bar, [0.0, 10 * MM, 12 * MM, 14 * MM])


# --- under the foot: a flat rectangle, whose answer is known ------------------------------------------

A, B, H = 0.36, 0.20, 3e-3  # m


@pytest.fixture(scope="module")
def board():
    """A flat rectangular 'top' without sound holes, grain along its length, as a thin plate."""
    share = np.arange(0.0, 1.0, 0.01)[:, None]
    corners = np.array([[0, -B / 2], [A, -B / 2], [A, B / 2], [0, B / 2]])
    sides = [corners[i] + (corners[(i + 1) % 4] - corners[i]) * share for i in range(4)]
    outline = Outline(np.concatenate(sides), np.array([0, 100, 200, 300]))
    box = (-0.02, -B / 2 - 0.02, A + 0.02, B / 2 + 0.02)
    even = SmoothField.constant(15 * MM, box), SmoothField.constant(H, box)
    bridge = Bridge(x=0.16, foot_span_outer=41 * MM, foot_length_across=11.5 * MM, foot_along=4.5 * MM)
    return top_model(Top("flat board", "violin", outline, *even, (), preset_wood(), bridge), shear=False)


def navier(top, load, seen, terms=400):
    """Deflection (m) of the hinged board at one patch under 1 N on another; a patch is (x, y, along, across).

    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, art. 34 (load on a rectangle)
    with the orthotropic denominator of art. 85; the mean over the second patch brings its factors again.
    """
    d11, d12, d22, d66 = plate_stiffness(top.wood, H)
    m, n = np.arange(1, terms)[:, None], np.arange(1, terms)
    out = 4 / (A * B * np.pi**4)
    out /= d11 * (m / A) ** 4 + 2 * (d12 + 2 * d66) * (m / A) ** 2 * (n / B) ** 2 + d22 * (n / B) ** 4
    for x, y, along, across in (load, seen):
        out = out * np.sin(m * np.pi * x / A) * np.sinc(m * along / (2 * A))
        out = out * np.sin(n * np.pi * (y + B / 2) / B) * np.sinc(n * across / (2 * B))
    return out.sum()


def patches(bridge):
    """Bass foot as a rectangle, and the point of the post under the middle of the treble foot."""
    size = bridge.foot_along, bridge.foot_length_across
    return (*bridge.bass_foot, *size), (*bridge.treble_foot, 0.0, 0.0)


def test_a_push_on_a_hinged_board_is_navier_s(board):
    foot, _ = patches(board.top.bridge)
    found = bass_foot_stiffness(board, post=False)
    # 1e-4: the deflection converges as the square of the energy error; the default mesh gives 2e-5.
    assert found.held == pytest.approx(1 / navier(board.top, foot, foot), rel=1e-4)
    # A flat plate does not stretch as it bends, so the rim's hold in its plane is not felt.
    assert found.sliding == pytest.approx(found.held, rel=1e-6)


def test_a_flex_on_the_rim_is_navier_s_too(board):
    """The weight of 10 mm as a square of the same second moment, half the root of 3 of it wide. Gauge at the
    weight, and away from it."""
    usual = on_its_rim(usual_flex_test(board.top, "foot"))
    away = replace(usual, read=usual.load + np.array([0.03, 0.05]))
    side = usual.weight * np.sqrt(3) / 2
    found = flexes(board, [usual, usual_flex_test(board.top, "along"), away])
    for k, test in ((0, usual), (2, away)):
        expected = navier(board.top, (*test.load, side, side), (*test.read, side, side))
        # 2e-3: what is left of the patch's form, and a mesh that is not fine under a patch so small
        assert found[k].flexibility == pytest.approx(expected, rel=2e-3)
    # bending alone, and all six moduli together: the sag goes with the cube of the thickness
    moduli = [CONSTANTS.index(n) for n in ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")]
    assert found[0].by_logs[moduli].sum() == pytest.approx(-1.0, abs=1e-4)  # springs against drift: 1e-6
    assert found[0].by_logs[-1] == pytest.approx(-3.0, abs=1e-3)
    # beside others: the test on pegs is what it is alone
    (alone,) = flexes(board, [usual_flex_test(board.top, "along")])
    assert found[1].flexibility == pytest.approx(alone.flexibility, rel=1e-9)


def test_the_post_takes_its_share_as_a_redundant_support(board):
    """Force method (Timoshenko & Young, Theory of Structures): f = f_bb - f_bp^2/(f_pp + 1/k_post)."""
    bass, post = patches(board.top.bridge)
    f_bb, f_bp, f_pp = (navier(board.top, *pair) for pair in ((bass, bass), (bass, post), (post, post)))
    expected = 1 / (f_bb - f_bp**2 / (f_pp + 1 / RIGID_POST))
    # 3e-3: under the point force of the post the default mesh is 4e-4 too stiff (8e-5 with sides half as
    # long), and the difference of nearly equal flexibilities makes four times as much of it.
    assert bass_foot_stiffness(board).held == pytest.approx(expected, rel=3e-3)


# --- under the foot: a real top -----------------------------------------------------------------------


def test_a_foot_s_row_is_a_mean(violin):
    """It must give 1 for a lift of 1, and the lever arm of the foot's middle for a turn."""
    foot = violin.top.bridge.bass_foot
    rigid = System(violin.shell).rigid_motions()
    seen = foot_rows(violin, foot) @ rigid
    assert seen[:3] == pytest.approx([0, 0, 1], abs=1e-9)
    centre = violin.shell.centre
    # Turn about x lifts by y, turn about y by -x, turn about z by nothing; 1e-6 m is round-off of the basis.
    assert seen[3:] == pytest.approx([foot[1] - centre[1], -(foot[0] - centre[0]), 0], abs=1e-6)


def test_push_and_answer_are_reciprocal(violin, bar):
    """Maxwell: the treble foot sinks as much under a push at the bass foot as the other way round."""
    bridge = violin.top.bridge
    system = System(violin.shell, (bar_rib(violin, bar),), (hold(violin.shell, outer_facets(violin)),))
    rows = np.stack([foot_rows(violin, at) for at in (bridge.bass_foot, bridge.treble_foot)], axis=1)
    flexibility = rows.T @ system.solve(rows)[: violin.shell.n_dofs]
    assert flexibility[0, 1] == pytest.approx(flexibility[1, 0], rel=1e-8)
    # Clapeyron: work is done on the plate whatever the pair of pushes.
    assert np.linalg.eigvalsh(flexibility).min() > 0
    assert bass_foot_stiffness(violin, bar, post=False).held == pytest.approx(1 / flexibility[0, 0], rel=1e-8)


def test_the_post_is_a_spring_in_the_system(violin, barred, bar):
    """The post taken in afterwards, by the flexibilities, against a spring among the supports."""
    bridge = violin.top.bridge
    supports = (
        hold(violin.shell, outer_facets(violin)),
        point_spring(violin.shell, bridge.treble_foot, (0.0, 0.0, 1.0), RIGID_POST),
    )
    load = foot_rows(violin, bridge.bass_foot)
    moved = System(violin.shell, (bar_rib(violin, bar),), supports).solve(load)
    # the stiff spring costs digits: 1e8 N/m against some 1e4 of the plate
    assert barred.held == pytest.approx(1 / (load @ moved[: len(load)]), rel=1e-7)


def test_stiffness_goes_with_the_wood(violin, bare):
    """Doubling every modulus of the only material doubles every stiffness (the post stays, but is rigid)."""
    moduli = ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")
    hard = with_wood(violin.top, **{m: 2 * getattr(violin.top.wood, m) for m in moduli})
    again = bass_foot_stiffness(quick_model(hard))
    # 1e-3: the post, 1000 times stiffer than the plate, is not doubled.
    assert (again.sliding, again.held) == pytest.approx((2 * bare.sliding, 2 * bare.held), rel=1e-3)


def test_what_is_added_stiffens(violin, bar, bare, barred):
    """Rayleigh: more stiffness or more constraint never makes a structure softer."""
    without_post = bass_foot_stiffness(violin, bar, post=False)
    for rim in ("sliding", "held"):
        assert getattr(barred, rim) > 1.2 * getattr(bare, rim)
        assert getattr(barred, rim) > getattr(without_post, rim)
    for one in (bare, barred, without_post):
        assert one.sliding < one.held


def test_middle_lies_between_as_a_geometric_mean():
    one = FootStiffness(sliding=4e4, held=9e4)
    assert one.middle == pytest.approx(6e4, rel=1e-12)


# --- heights ------------------------------------------------------------------------------------------


def test_another_height_is_the_same_profile_law(violin, bar):
    """h(s) = h_e + (h_b - h_e)(1 - |s|^p), each side of the bridge by itself; common practice, no source."""
    taller = bar_of_height(bar, 15 * MM)
    law = height_profile(
        bar.stations, violin.top.bridge.x, bar.x_start, bar.x_end, 15 * MM, bar.heights[0], bar.heights[-1],
        "medium",
    )  # fmt: skip
    assert taller.heights == pytest.approx(law, abs=1e-9)


@pytest.mark.parametrize("height", [8e-3, 12.5e-3, 17e-3])
def test_another_height_changes_nothing_else(bar, height):
    other = bar_of_height(bar, height)
    assert other.heights.max() == pytest.approx(height, abs=1e-12)
    assert other.heights[[0, -1]] == pytest.approx(bar.heights[[0, -1]], abs=1e-12)
    assert other.heights.argmax() == bar.heights.argmax()
    for name in ("x_start", "y_start", "x_end", "y_end", "width", "wood", "lean", "section_fill"):
        assert getattr(other, name) == getattr(bar, name)
    assert np.array_equal(other.stations, bar.stations)


def test_own_height_gives_the_bar_back(bar):
    assert bar_of_height(bar, bar.heights.max()).heights == pytest.approx(bar.heights, abs=1e-12)


def test_unequal_ends_stay(bar):
    heights = np.interp(bar.stations, bar.stations[[0, 20, -1]], [5 * MM, 12 * MM, 3 * MM])
    other = bar_of_height(bar.with_height(heights), 14 * MM)
    assert (other.heights[0], other.heights[-1]) == pytest.approx((5 * MM, 3 * MM), abs=1e-12)
    assert other.heights.max() == pytest.approx(14 * MM, abs=1e-12)


def test_a_height_below_the_ends_is_refused_with_the_least(bar):
    with pytest.raises(ValueError, match=r"2\.5 mm .*at least 3 mm"):
        bar_of_height(bar, 2.5 * MM)


# --- sweeps -------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_sweep_has_its_columns_and_rows(sweep):
    assert list(sweep.columns) == COLUMNS
    assert sweep["height_mm"].tolist() == pytest.approx([0, 10, 12, 14])
    assert np.isfinite(sweep.drop(columns=SHARED).to_numpy()).all()
    assert np.isnan(sweep[SHARED].to_numpy()).all()  # each pattern has one tone


def test_a_row_says_what_the_single_questions_say(violin, bar, sweep):
    one = bar_of_height(bar, 12 * MM)
    modes, foot = plate_modes(violin, one), bass_foot_stiffness(violin, one)
    row = sweep.iloc[2]
    assert [row.f1_hz, row.f2_hz, row.f5_hz] == pytest.approx(
        [modes.frequency(n) for n in (1, 2, 5)], rel=1e-9
    )
    assert row.foot_n_per_mm == pytest.approx(foot.middle / 1e3, rel=1e-9)
    assert row.foot_sliding_n_per_mm == pytest.approx(foot.sliding / 1e3, rel=1e-9)
    assert row.foot_held_n_per_mm == pytest.approx(foot.held / 1e3, rel=1e-9)


def test_height_0_is_no_bar(violin, bare, sweep):
    row = sweep.iloc[0]
    assert row.bar_g == 0
    assert row.plate_g == pytest.approx(1e3 * violin.mass, rel=1e-12)
    assert row.foot_n_per_mm == pytest.approx(bare.middle / 1e3, rel=1e-9)


def test_masses_are_the_bar_s_own(violin, bar, sweep):
    for row in sweep.iloc[1:].itertuples():
        own = 1e3 * bar_of_height(bar, row.height_mm * MM).mass()
        # 1 %: Bar.mass is reckoned in plan; on the arch the bar is longer and its upright height square.
        assert row.bar_g == pytest.approx(own, rel=0.01)
        assert row.plate_g == pytest.approx(1e3 * violin.mass + row.bar_g, rel=1e-9)


def test_a_taller_bar_is_heavier_and_stiffer(sweep):
    """Rayleigh again, for the static columns; tones may go either way, since the mass rises too."""
    for column in ("foot_n_per_mm", "foot_sliding_n_per_mm", "foot_held_n_per_mm", "bar_g"):
        assert (np.diff(sweep[column]) > 0).all(), column


def test_progress_is_told(violin, bar):
    told = []
    height_sweep(violin, bar, [12 * MM], progress=lambda done, all_: told.append((done, all_)))
    assert told == [(1, 1)]


def test_height_for_stiffness_finds_the_rows_again(sweep):
    for row in sweep.iloc[1:].itertuples():
        assert height_for_stiffness(sweep, row.foot_n_per_mm) == pytest.approx(row.height_mm, abs=1e-9)


def test_height_for_stiffness_between_and_outside():
    table = pd.DataFrame({"height_mm": [0.0, 10.0, 14.0], "foot_n_per_mm": [40.0, 90.0, 110.0]})
    assert height_for_stiffness(table, 100.0) == pytest.approx(12.0)
    assert np.isnan(height_for_stiffness(table, 111.0))
    assert np.isnan(height_for_stiffness(table, 60.0))  # the row without bar is no height to go back to


def test_a_bar_off_the_top_is_refused(violin, bar):
    off = replace(bar, y_start=bar.y_start - 0.09, y_end=bar.y_end - 0.09)
    assert isinstance(off, Bar)
    with pytest.raises(ValueError, match="leaves the plate"):
        bass_foot_stiffness(violin, off)


def test_a_bar_of_even_height_is_not_silently_left_as_it_is(bar):
    even = replace(bar, heights=np.full(len(bar.heights), 12e-3))
    with pytest.raises(ValueError, match="highest at an end"):
        bar_of_height(even, 14e-3)
