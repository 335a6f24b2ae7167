"""The layout command: what it prints and writes, what it refuses, and what survives a failure."""

import csv
import itertools
import json
import os

import pytest

from platemodel.bench import sheets
from platemodel.bench.layout.report import REPORT
from platemodel.bench.layout.result import as_data, as_text, job_layout
from platemodel.cli import main
from platemodel.job import read_job
from platemodel.resources import data_path
from tests.job_folders import VIOLIN as STARTER
from tests.job_folders import write

VIOLIN = data_path("jobs", "modern_violin")
FILES = tuple(REPORT.files)


@pytest.fixture(scope="module")
def violin():
    return job_layout(read_job(VIOLIN))


def run(capsys, *args):
    code = main([str(a) for a in args])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_text_says_distances_conflicts_and_invented():
    viola = job_layout(read_job(data_path("jobs", "old_viola")))
    text = as_text(viola)
    assert "INVENTED DATA" in text
    assert "   15.6  axis to inner edge of the bar at the bridge line" in text
    assert "The inner edge of the bar lies on the marks" in text
    words = " ".join(text.split())  # long lines are broken
    assert "lies over the opening of the bass sound hole by 0.3 mm" in words
    assert "the maker decides" in text


def test_command_writes_the_set_and_keeps_an_earlier_one(capsys, tmp_path):
    out = tmp_path / "sheets"
    code, text, messages = run(capsys, "layout", VIOLIN, "--out", out, "--spring-mm", "0,4")
    assert code == 0
    assert sorted(p.name for p in out.iterdir()) == sorted(FILES)
    assert "spring 0.4 mm" in text
    assert "drawing the pages" in messages
    rows = list(csv.DictReader((out / "seat.csv").open()))
    assert float(rows[0]["spring_gap_mm"]) == 0.4
    assert [r["place"] for r in csv.DictReader((out / "cut_list.csv").open())][-1] == "upper end"
    found = {r["key"]: float(r["mm"]) for r in csv.DictReader((out / "layout.csv").open())}
    assert found["inner_bridge"] == pytest.approx(13.6, abs=0.05)
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    code, text, messages = run(capsys, "layout", VIOLIN, "--out", out)
    assert (code, text) == (2, "")
    assert "--force" in messages
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


@pytest.mark.parametrize("fault", ["drawing", "moving"])
def test_an_earlier_set_survives_a_failure(violin, tmp_path, monkeypatch, fault):
    for name in FILES:
        (tmp_path / name).write_text(f"old {name}")

    def broken(*_):
        raise OSError(28, "no space left")

    if fault == "drawing":
        monkeypatch.setattr(sheets, "layout_drawing", broken)  # when one PDF is written already
    else:
        true_replace, count = os.replace, itertools.count()

        def fails_late(a, b):
            if next(count) == 3:  # the set is complete, two of its files are in their places
                broken()
            true_replace(a, b)

        monkeypatch.setattr(os, "replace", fails_late)
    with pytest.raises(OSError, match="no space"):
        REPORT.write_files(violin, tmp_path, force=True)
    monkeypatch.undo()
    assert {p.name: p.read_text() for p in tmp_path.iterdir()} == {name: f"old {name}" for name in FILES}


def test_a_failure_leaves_no_folder_behind(violin, tmp_path, monkeypatch):
    def broken(*_):
        raise OSError(28, "no space left")

    monkeypatch.setattr(sheets, "layout_pages", broken)
    with pytest.raises(OSError, match="no space"):
        REPORT.write_files(violin, tmp_path / "new")
    assert list(tmp_path.iterdir()) == []


def test_command_refuses(capsys, tmp_path):
    no_bar = write(tmp_path, STARTER)
    code, _, messages = run(capsys, "layout", no_bar)
    assert code == 1
    assert "add the table [bar]" in messages
    for option in (("--spring-mm", "9"), ("--pitch-mm", "1"), ("--paper", "A5"), ("--roughing-mm", "x")):
        code, _, messages = run(capsys, "layout", VIOLIN, *option)
        assert code == 2
        assert "allowed" in messages or "invalid choice" in messages
    out = tmp_path / "out"
    (out / "layout.csv").mkdir(parents=True)
    code, _, messages = run(capsys, "layout", VIOLIN, "--out", out, "--force")
    assert code == 2
    assert "is a folder" in messages
    assert [p.name for p in out.iterdir()] == ["layout.csv"]


def test_json_holds_the_same(capsys, violin):
    code, text, messages = run(capsys, "layout", VIOLIN, "--json", "--quiet")
    assert (code, messages) == (0, "")
    data = json.loads(text)
    assert data == json.loads(json.dumps(as_data(violin)))
    assert data["blank_mm"]["width"] == pytest.approx(5.8)
    assert len(data["seat"]) == len(data["cut_list"]) == len(violin.cuts.s)
