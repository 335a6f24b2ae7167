"""Verb ``wood`` on jobs that are not the demo."""

import json

import pytest

from platemodel.bench.wood import result as wood_report
from platemodel.cli import main
from tests.job_folders import VIOLIN, write
from tests.quick import quick_model

# Common pitches of a violin top (common practice, no source), good to 1 % as typed in.
BARRED = VIOLIN + "[bar]\n[measured]\nmass_g = 70\nbar_on_top = true\nmode_1_hz = 92\nmode_2_hz = 168\n"


@pytest.fixture
def coarse(monkeypatch):
    monkeypatch.setattr(wood_report, "top_model", lambda top, _=1.0, bar=None: quick_model(top, bar))


def run(capsys, *args):
    code = main([str(a) for a in args])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


@pytest.mark.slow
def test_wood_with_the_bar_on(capsys, tmp_path, coarse):
    folder = write(tmp_path, BARRED)
    code, text, messages = run(capsys, "wood", folder, "--json", "--quiet")
    assert (code, messages) == (0, "")
    data = json.loads(text)
    assert data["bar_on"]
    assert data["mass_g"]["measured"] == 70.0
    assert [t["number"] for t in data["taps"]] == [1, 2]
    code, text, messages = run(capsys, "wood", folder, "--bar-off")
    assert (code, text) == (1, "")
    assert "no taps without a bar" in messages


@pytest.mark.parametrize(
    ("toml", "words"),
    [
        (VIOLIN, ["no taps", "platemodel taps", "mode_1_hz"]),
        (BARRED.replace("[bar]\n", ""), ["no such table", "table [bar]"]),
    ],
)
def test_wood_refuses_what_it_cannot_use(capsys, tmp_path, toml, words):
    folder = write(tmp_path, toml)
    code, text, messages = run(capsys, "wood", folder, "--out", tmp_path / "sheets")
    assert (code, text) == (1, "")
    assert "1 problem to mend" in messages
    assert all(w in messages for w in words)
    assert "Traceback" not in messages
    assert not (tmp_path / "sheets").exists()
    code, text, _ = run(capsys, "wood", folder, "--json", "--quiet")
    assert code == 1
    assert len(json.loads(text)["problems"]) == 1
