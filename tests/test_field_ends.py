"""Figures at the ends of their ranges: some drawn from a seed; `tests.benchmarks.field_ends` has all."""

import os

import numpy as np
import pytest
import shapely

from platemodel.errors import GeometryError
from platemodel.job import read_job
from tests.field_ends import BY_CHECK, REFUSED, SOLVED, Case, Outcome, draws, ends, fault, outcome
from tests.quick import quick_model
from tests.unlike_jobs import UNLIKE

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="cases run in copies of the process")
SEED, FEW, DRAWN = 20261130, 6, 12


def searched(cases, folder):
    """What became of the cases; each must be as it should."""
    faults, kinds = [], set()
    for n, case in enumerate(cases):
        (folder / f"{n}").mkdir()
        found = outcome(case, folder / f"{n}")
        kinds.add(found.kind)
        faults.append(fault(case, found))
    assert [text for text in faults if text] == []
    assert SOLVED in kinds  # the search does not pass by refusing everything


def test_a_few_draws_are_solved_or_refused_by_name(tmp_path):
    searched(draws(FEW, SEED), tmp_path)


@pytest.mark.parametrize(
    ("case", "words"),
    [
        (Case((("outline", "upper_corner_x_mm", 306.0),), "demo"), "no triangles fill the outline"),
        (Case((("wood.top", "ring_angle_deg", 45.0),), "demo"), "its rings lean by 45 degrees"),
    ],
)
def test_what_was_refused_without_a_name_has_one(tmp_path, case, words):
    found = outcome(case, tmp_path)
    assert found.kind == REFUSED
    assert words in found.text
    assert fault(case, found) == ""


@pytest.mark.parametrize("degrees", [-15.0, 15.0])
@pytest.mark.parametrize("job", ["demo", "old_cello"])
def test_a_bar_is_solved_on_grain_that_runs_out_as_far_as_check_allows(tmp_path, job, degrees):
    """Old tops were sawn, not split. Both bars pass a hole, where little of the strip is left to give."""
    assert outcome(Case((("wood.top", "run_out_deg", degrees),), job), tmp_path).kind == SOLVED


def test_a_rib_beside_a_hole_is_solved_whatever_the_shear_moduli(tmp_path):
    """Read so far in that the plate alone would give more than plate and rib together."""
    assert outcome(Case((("wood.top", "G_LT_gpa", 2.5),), "old_cello"), tmp_path).kind == SOLVED


def test_a_body_too_narrow_for_an_arch_is_refused_by_check(tmp_path):
    found = outcome(Case((("outline", "lower_bout_mm", 110.0),), "old_cello"), tmp_path)
    assert found.kind == BY_CHECK
    assert "the outline is narrower than 105 mm" in found.text  # 0.14 of 752 mm


def test_a_thin_bar_close_beside_a_hole_asks_for_finer_triangles(tmp_path):
    """The triangles' sides reach farther than the hole."""
    job = read_job(Case((("old_bar", "width_mm", 2.5),), "old_cello").laid(tmp_path))
    assert job.old_bar.polygon.disjoint(shapely.Polygon(job.top.sound_holes[0].points))
    with pytest.raises(GeometryError, match=r"bass sound hole or close beside it .* take a greater fineness"):
        quick_model(job.top, job.old_bar).rib(job.old_bar)


@pytest.mark.slow
def test_what_check_accepts_is_solved_or_refused_by_name(tmp_path):
    rng = np.random.default_rng(SEED)
    single = ends()
    searched(
        [single[k] for k in rng.choice(len(single), DRAWN, replace=False)] + draws(DRAWN, SEED + 1), tmp_path
    )


def test_draws_are_of_four_jobs_and_of_figures_at_and_between_their_ends():
    cases = draws(200, SEED)
    assert {case.job for case in cases} == set(UNLIKE)
    at_ends = {case.figures[0] for case in ends()}
    numbers = [f for case in cases for f in case.figures if isinstance(f[2], float)]
    share = sum(f in at_ends for f in numbers) / len(numbers)
    assert 0.4 < share < 0.6  # one half, of some 400 figures: 2.5 % of sampling error
    assert {len(case.figures) for case in cases} == {2, 3}


def test_a_job_is_laid_with_its_own_tables_and_the_drawn_figures(tmp_path):
    case = Case((("bar", "height_mm", 20.0), ("sound_holes.bass", "length_mm", 150.0)), "old_cello")
    job = read_job(case.laid(tmp_path))
    assert job.bar.heights.max() == pytest.approx(20e-3)
    assert job.measured.mass == pytest.approx(0.358)  # of the job, as it was


def test_every_shaping_figure_has_two_ends():
    cases = ends()
    assert len(cases) > 100
    assert len({case.figures[0][:2] for case in cases}) == len(cases) / 2


def test_the_search_itself_can_fail():
    case = Case((("arching", "height_mm", 40.0),))
    assert fault(case, Outcome(SOLVED)) == fault(case, Outcome(BY_CHECK, "thickness: x")) == ""
    assert fault(case, Outcome(REFUSED, "an arch of 40 mm is too high")) == ""
    assert "without its name" in fault(case, Outcome(REFUSED, "array must not contain NaN"))
    assert "hung" in fault(case, Outcome("hung"))


def test_a_case_that_dies_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr("tests.field_ends._outcome", lambda *_: os._exit(3))
    assert outcome(Case(()), tmp_path).kind == "died"
    monkeypatch.setattr("tests.field_ends._outcome", lambda *_: 1 / 0)
    assert outcome(Case(()), tmp_path).kind == "ZeroDivisionError"
