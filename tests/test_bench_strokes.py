"""What a stroke does, as text, data and page: the figures are those of the derivatives, on unlike jobs."""

import re

import numpy as np
import pandas as pd
import pytest

from platemodel.bench.kit.tones import signed
from platemodel.bench.strokes import result as strokes
from platemodel.bench.strokes.page import stroke_page
from platemodel.bench.strokes.report import REPORT
from platemodel.cli import main
from platemodel.job import read_job
from platemodel.study.top.foot import bass_foot_stiffness
from platemodel.study.top.plate_modes import plate_modes
from tests.job_folders import write
from tests.paper_faults import faults, page_words
from tests.quick import quick_bench
from tests.unlike_jobs import OLD_CELLO, SOFT_VIOLIN, caliper_readings


def of(folder):
    job = read_job(folder)
    return strokes.job_strokes(job, bench=quick_bench(job))


@pytest.fixture(scope="module")
def cello(tmp_path_factory):
    return of(write(tmp_path_factory.mktemp("cello"), OLD_CELLO, caliper=caliper_readings()))


@pytest.fixture(scope="module")
def bare(tmp_path_factory):
    return of(write(tmp_path_factory.mktemp("bare"), SOFT_VIOLIN))


@pytest.mark.slow
def test_off_the_whole_bar_is_what_a_lower_bar_does(cello):
    """0.1 mm lower against the derivative: 1 %, the second order in a 250th of the height.

    Mode 5 moves so little that 0.002 Hz of it are the eigensolver's own.
    """
    bar, model = cello.of.bar, cello.of.model
    lower = bar.with_height(bar.heights - 1e-4)
    found = cello.all_along()
    for number in (1, 2, 5):
        moved = plate_modes(model, lower).frequency(number) - plate_modes(model, bar).frequency(number)
        assert found[f"f{number}_hz"] == pytest.approx(moved, rel=0.01, abs=0.002)
    held = [bass_foot_stiffness(model, one).held for one in (bar, lower)]
    assert found[strokes.SINK] == pytest.approx(100 * (held[0] / held[1] - 1), rel=0.01)


def test_strokes_along_the_bar_add_up_to_all_of_it(cello):
    """The mean over the places times the length in 10 cm: 4 %, as a stroke at an end runs out over it."""
    table, bar = cello.along, cello.of.bar
    x = table["x_mm"].to_numpy()
    for name in cello.names:
        whole = np.trapezoid(table[name], x) / 100.0
        assert whole == pytest.approx(cello.all_along()[name], rel=0.04, abs=0.002)
    assert x[-1] - x[0] == pytest.approx(1e3 * (bar.x_end - bar.x_start), abs=1e-6)


def test_the_places_named_are_the_extremes_of_the_map(cello):
    grid, table = cello.map
    for name in cello.names:
        for x, y, change in strokes.greatest(cello, name):
            row = table[(table["x_mm"] == x) & (table["y_mm"] == y)].iloc[0]
            assert row[name] == change
    lowers, raises = strokes.greatest(cello, "f5_hz")
    assert lowers[2] < 0 < raises[2]
    assert len(table) == grid.points.shape[1]


def test_the_text_says_what_the_table_says(cello):
    text = REPORT.text(cello)
    assert not re.search(r"\bnan\b|\binf\b|[+-]0\.00\b", text)
    listed = strokes.listed_places(cello)
    at = 1e3 * cello.job.top.bridge.x
    row = listed.iloc[int((listed["x_mm"] - at).abs().argmin())]
    line = next(one for one in text.splitlines() if one.split()[:1] == [f"{row['x_mm']:.0f}"])
    assert line.split()[-1] == signed(row[strokes.SINK])
    for words in ("INVENTED", "No wood is taken from an old top", "matchbox"):
        assert words in text


def test_the_page_is_whole(cello, bare):
    for result in (cello, bare):
        figure = stroke_page(result)
        assert not list(faults(figure))
        words = page_words(figure)
        assert "sinking under the bass foot, %" in words
        assert ("0.1 mm off 10 cm of the bar" in words) == (result.of.bar is not None)


def test_without_bar_there_is_the_top_alone(bare):
    assert bare.all_along() is None
    assert bare.along.empty
    assert "Along the bar" not in REPORT.text(bare)
    assert set(strokes.as_table(bare)["part"]) == {"top"}
    assert REPORT.data(bare)["along_the_bar"] == []


def test_the_verb_writes_both_files(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(strokes, "job_bench", quick_bench)
    folder, out = write(tmp_path, SOFT_VIOLIN), tmp_path / "out"
    assert main(["strokes", str(folder), "--out", str(out), "--quiet"]) == 0
    assert "does most to" in capsys.readouterr().out
    assert sorted(p.name for p in out.iterdir()) == ["strokes.csv", "strokes.pdf"]
    table = pd.read_csv(out / "strokes.csv")
    assert list(table)[:4] == ["part", "x_mm", "y_mm", "height_mm"]
