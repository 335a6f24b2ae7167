"""Figures at the ends of their ranges: some drawn from a seed; `tests.benchmarks.field_ends` has all."""

import os

import numpy as np
import pytest

from tests.field_ends import BY_CHECK, REFUSED, SOLVED, Case, Outcome, ends, fault, outcome, pairs

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="cases run in copies of the process")
SEED, DRAWN = 20261130, 12


@pytest.mark.slow
def test_what_check_accepts_is_solved_or_refused_by_name(tmp_path):
    rng = np.random.default_rng(SEED)
    single = ends()
    cases = [single[k] for k in rng.choice(len(single), DRAWN, replace=False)] + pairs(DRAWN // 2, SEED)
    faults, kinds = [], set()
    for n, case in enumerate(cases):
        folder = tmp_path / f"{n}"
        folder.mkdir()
        found = outcome(case, folder)
        kinds.add(found.kind)
        faults.append(fault(case, found))
    assert [text for text in faults if text] == []
    assert SOLVED in kinds  # the search does not pass by refusing everything


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
