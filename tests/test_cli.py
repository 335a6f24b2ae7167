"""The command line as it is used at the bench: output, exit codes, files written."""

import argparse
import importlib
import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from platemodel import __version__
from platemodel.cli import main
from platemodel.job import read_job
from platemodel.job.schema import KINDS, SECTIONS
from platemodel.job.template import starter_files
from platemodel.resources import data_path

OLD_VIOLA = str(data_path("jobs", "old_viola"))


def run(capsys, *argv):
    """Exit code, stdout and stderr of one call."""
    code = main([str(a) for a in argv])
    out = capsys.readouterr()
    return code, out.out, out.err


@pytest.mark.parametrize("argv", [["--help"], ["new", "--help"], ["check", "--help"], ["modes", "--help"]])
def test_help(capsys, argv):
    code, out, err = run(capsys, *argv)
    assert (code, err) == (0, "")
    assert out.startswith("usage: platemodel")


def test_version(capsys):
    assert run(capsys, "--version") == (0, f"platemodel {__version__}\n", "")


def test_every_argument_is_explained_and_every_verb_stands_in_the_readme():
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    for module in importlib.import_module("platemodel.cli.main").VERBS:
        name, verb = module.__name__.rpartition(".")[2], argparse.ArgumentParser()
        module.add(verb)
        assert f"`{name}`" in readme or f"platemodel {name} " in readme, name
        assert [a.dest for a in verb._actions if not a.help] == [], name


def test_the_bare_command_shows_the_help(capsys):
    code, out, err = run(capsys)
    assert (code, err) == (0, "")
    assert "check" in out
    assert "the maker decides" in out


@pytest.mark.parametrize("argv", [["chek", "x"], ["check"], ["new", "x"], ["new", "x", "--like", "lute"]])
def test_wrong_usage(capsys, argv):
    code, out, err = run(capsys, *argv)
    assert (code, out) == (2, "")
    assert err.startswith("usage: ")


def test_as_module(tmp_path):
    # A process of its own: exit code, streams and no traceback.
    done = subprocess.run(
        [sys.executable, "-m", "platemodel", "check", str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert done.stdout == ""
    assert "job.toml: found no such file" in done.stderr
    assert "Traceback" not in done.stderr


# ---------------------------------------------------------------- check


def test_check_demo(capsys):
    code, out, err = run(capsys, "check", OLD_VIOLA, "--quiet")
    assert (code, err) == (0, "")
    assert "INVENTED DATA" in out
    assert "body length         408.0\n" in out
    assert "ask a qualified restorer" in out
    assert max(map(len, out.splitlines())) <= 96
    for part in ("Read (mm unless said)", "Not measured, so assumed", "Looks odd"):
        assert part in out


def test_check_json(capsys):
    code, out, err = run(capsys, "check", OLD_VIOLA, "--json", "--quiet")
    data = json.loads(out)
    assert (code, err, data["ok"], data["invented"]) == (0, "", True, True)
    job = read_job(OLD_VIOLA)
    assert data["assumed"] == list(job.assumptions)
    assert [f["kind"] for f in data["odd"]] == [f.kind for f in job.findings]
    assert data["mass_weighed_g"] == 71.3
    assert data["mass_computed_g"] == pytest.approx(1e3 * job.top.mass_estimate(), abs=1e-3)


def test_check_problems(capsys, tmp_path):
    (tmp_path / "job.toml").write_text("[job]\ninstrument = 'violin'\nnam = 1\n[bar]\nwidth_mm = 0.0055\n")
    code, out, err = run(capsys, "check", tmp_path)
    assert (code, out) == (1, "")
    assert err.splitlines()[0] == f"{tmp_path}: 2 problems to mend"
    assert err.splitlines()[2] == (
        "  2. job.toml, line 5: bar.width_mm: found 0.0055; allowed 2.5 to 16; is this in metres?"
    )
    code, out, err = run(capsys, "check", tmp_path, "--json")
    data = json.loads(out)
    assert code == 1
    assert data["ok"] is False
    assert [(p["field"], p["line"]) for p in data["problems"]] == [("job.nam", 3), ("bar.width_mm", 5)]


# ---------------------------------------------------------------- new


@pytest.mark.parametrize("kind", KINDS)
def test_new_folder_passes_check_as_written(capsys, tmp_path, kind):
    folder = tmp_path / "job"
    code, out, err = run(capsys, "new", folder, "--like", kind)
    assert code == 0
    assert sorted(out.split()) == sorted(str(p) for p in folder.iterdir())
    assert "platemodel check" in err
    assert list(tmp_path.iterdir()) == [folder]  # nothing left beside it
    code, out, err = run(capsys, "check", folder)
    assert (code, err) == (0, "")
    assert "Looks odd (0)" in out


@pytest.mark.parametrize("kind", KINDS)
def test_new_folder_with_every_number_uncommented(tmp_path, kind):
    """Taking the # away must give a job that is read: the examples are of the right size and name."""
    text = starter_files(kind)["job.toml"]
    lines = []
    for line in text.splitlines():
        bare = line.removeprefix("# ")
        field = bare.split(" = ")[0]
        is_field = " = " in bare and field.replace("_", "").isalnum()
        keep = not field.endswith("_file") and field not in ("lower_corner_x_mm", "upper_corner_x_mm")
        lines.append(bare if is_field and keep else line)
    (tmp_path / "job.toml").write_text("\n".join(lines), encoding="utf-8")
    job = read_job(tmp_path)
    given = tomllib.loads("\n".join(lines))
    assert (
        len(given["bar"]) == len([f for s in SECTIONS if s.name == "bar" for f in s.fields]) - 1
    )  # heights_file
    assert not [a for a in job.assumptions if "usual" in a]
    kinds = {f.kind for f in job.findings}
    assert kinds <= {"mass"}, job.findings  # the example weight is no measurement


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_stands_in_the_starter_with_its_unit(kind):
    text = starter_files(kind)["job.toml"]
    for section in SECTIONS:
        part = text.split(f"\n[{section.name}]\n")[1].split("\n[")[0]
        for field in section.fields:
            line = next(ln for ln in part.splitlines() if ln.removeprefix("# ").startswith(f"{field.key} = "))
            if field.kind == "number":
                assert f"{field.low:g} to {field.high:g}" in line
            if field.key not in {f.key for s in SECTIONS if s.name == section.explained_in for f in s.fields}:
                assert f"#   {field.doc}" in part


def test_starter_carries_the_cautions():
    text = " ".join(starter_files("viola")["README.txt"].split())
    assert "qualified restorer first" in text
    assert "The maker decides" in text


def test_blank_grids_can_be_filled_in(capsys, tmp_path):
    folder = tmp_path / "job"
    run(capsys, "new", folder, "--like", "violin")
    path = folder / "thickness.csv"
    rows = path.read_text().splitlines()
    width = rows[4].count(";")
    middle = width // 2  # columns -40 to 40 mm, on the plate everywhere
    filled = [
        r.split(";")[0] + ";" * (middle - 2) + ";2,7;2,8;2,9;2,8;2,7" if r[0].isdigit() else r for r in rows
    ]
    path.write_text("\n".join(filled))
    toml = (folder / "job.toml").read_text()
    (folder / "job.toml").write_text(
        toml.replace('# points_file = "thickness.csv"', 'points_file = "thickness.csv"')
    )
    job = read_job(folder)
    # Second difference of 0.1 mm readings is kept to within the readings' 0.05 mm uncertainty.
    assert job.top.thickness.value(0.18, 0.0) == pytest.approx(2.9e-3, abs=0.06e-3)


def test_new_at_a_measured_length(capsys, tmp_path):
    assert run(capsys, "new", tmp_path / "a", "--like", "viola", "--body-length-mm", "412")[0] == 0
    assert read_job(tmp_path / "a").top.outline.body_length == pytest.approx(0.412, abs=1e-6)
    code, out, err = run(capsys, "new", tmp_path / "b", "--like", "viola", "--body-length-mm", "40.5")
    assert (code, out) == (2, "")
    assert "allowed 330 to 470 mm for a viola" in err
    assert not (tmp_path / "b").exists()


def test_new_never_overwrites_without_force(capsys, tmp_path):
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "job.toml").write_text("mine")
    (folder / "photo.txt").write_text("keep")
    code, out, err = run(capsys, "new", folder, "--like", "violin")
    assert (code, out) == (2, "")
    assert "--force" in err
    assert (folder / "job.toml").read_text() == "mine"
    assert run(capsys, "new", folder, "--like", "violin", "--force")[0] == 0
    assert (folder / "photo.txt").read_text() == "keep"
    assert read_job(folder).top.kind == "violin"
    assert list(tmp_path.iterdir()) == [folder]


def test_new_in_an_empty_folder(capsys, tmp_path):
    (tmp_path / "job").mkdir()
    assert run(capsys, "new", tmp_path / "job", "--like", "violin")[0] == 0


def test_new_in_places_that_cannot_be(capsys, tmp_path):
    (tmp_path / "file").write_text("x")
    for place in (
        tmp_path / "file",
        tmp_path / "none" / "job",
        tmp_path / "file" / "job",
        tmp_path / ("x" * 300),
    ):
        code, out, err = run(capsys, "new", place, "--like", "violin")
        assert (code, out) == (2, ""), place
        assert err.startswith("platemodel new: ")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file"]


def test_new_leaves_nothing_half_written(capsys, tmp_path, monkeypatch):
    def broken(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", broken)
    code, _, err = run(capsys, "new", tmp_path / "job", "--like", "violin")
    assert code == 2
    assert "No space left on device" in err
    assert list(tmp_path.iterdir()) == []
