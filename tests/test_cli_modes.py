"""The modes command: what it prints, what it writes, what it refuses."""

import csv
import json

import numpy as np
import pytest

from platemodel.bench.modes import result as report
from platemodel.bench.pack import plan
from platemodel.cli import main
from platemodel.errors import AccuracyError
from platemodel.resources import data_path
from tests.job_folders import write
from tests.quick import quick_bench

VIOLIN = str(data_path("jobs", "modern_violin"))


def run(capsys, *args):
    code = main([str(a) for a in args])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_modes_prints_both_plates_and_writes_table_and_page(capsys, tmp_path):
    out = tmp_path / "sheets"
    code, text, messages = run(capsys, "modes", VIOLIN, "--out", out)
    assert code == 0
    assert "INVENTED DATA" in text
    # a table of the modes and one of their bands for each plate
    assert text.count("1 twist") == text.count("2 cross") == text.count("5 ring") == 4
    assert "mode 5:" in text
    assert "laying the mesh" in messages
    assert sorted(p.name for p in out.iterdir()) == ["plate_modes.csv", "plate_modes.pdf"]
    rows = list(csv.DictReader((out / "plate_modes.csv").open()))
    assert len(rows) == 16
    printed = [line.split() for line in text.splitlines() if line.strip().startswith("1 twist")]
    assert 2 * [float(r["f_hz"]) for r in rows if r["name"] == "twist"] == pytest.approx(
        [float(p[2]) for p in printed], abs=0.06
    )
    for _, _, _, whole, mesh, wood, readings, *_ in printed[2:]:
        assert float(whole) == pytest.approx(
            float(mesh) + np.hypot(float(wood), float(readings)), abs=0.2
        )  # four figures of one decimal
    before = (out / "plate_modes.csv").read_bytes()
    code, text, messages = run(capsys, "modes", VIOLIN, "--out", out)
    assert (code, text) == (2, "")
    assert "--force" in messages
    assert (out / "plate_modes.csv").read_bytes() == before


def test_modes_as_json_without_the_bar(capsys, monkeypatch):
    monkeypatch.setattr(report, "job_bench", quick_bench)
    code, text, messages = run(capsys, "modes", VIOLIN, "--json", "--no-bar", "--quiet")
    assert (code, messages) == (0, "")
    data = json.loads(text)
    assert "with_bar" not in data
    modes = data["without_bar"]["modes"]
    assert [m["number"] for m in modes][:2] == [1, 2]
    assert all(m["band_hz"] > 0 for m in modes)
    bands = data["without_bar"]["bands"]
    assert [b["number"] for b in bands] == [1, 2, 5]
    assert all(b["sum_hz"] > b["wood_hz"] > 0 and b["readings_hz"] > 0 and b["measure_again"] for b in bands)


@pytest.mark.parametrize("verb", ["modes", "plan"])
def test_a_place_it_cannot_write_to_is_refused_before_anything_is_solved(capsys, tmp_path, monkeypatch, verb):
    monkeypatch.setattr(report, "job_modes", lambda *_, **__: pytest.fail("solved"))
    monkeypatch.setattr(plan, "plan_job", lambda *_, **__: pytest.fail("solved"))
    (tmp_path / "file").write_text("x")
    code, _, messages = run(capsys, verb, VIOLIN, "--quiet", "--out", tmp_path / "file" / "deep")
    assert code == 1
    assert "cannot write to" in messages
    assert [p.name for p in tmp_path.iterdir()] == ["file"]


def test_modes_of_a_folder_that_is_no_job(capsys, tmp_path):
    code, text, messages = run(capsys, "modes", tmp_path)
    assert (code, text) == (1, "")
    assert "job.toml" in messages


@pytest.mark.parametrize(
    ("toml", "words"),
    [
        ("[arching]\nheight_mm = 40\n", "- arching.height: arching, height 40.0 mm; usual"),
        ("", "No measurement stands out"),
    ],
)
def test_a_model_that_cannot_be_solved_names_the_odd_fields(capsys, tmp_path, monkeypatch, toml, words):
    def fail(*_, **__):
        raise AccuracyError("the solver found no answer")

    monkeypatch.setattr(report, "job_modes", fail)
    write(tmp_path, '[job]\ninstrument = "violin"\n' + toml)
    code, out, messages = run(capsys, "modes", tmp_path, "--quiet")
    assert (code, out) == (1, "")
    assert "platemodel modes: the solver found no answer" in messages
    assert words in messages
