"""The verb that copies the notebooks, and that its copies stand by themselves."""

import json

import pytest

from platemodel.bench.notebook import live
from platemodel.bench.notebook.copies import copy_notebooks
from platemodel.bench.notebook.notebook_index import notebook_index
from platemodel.bench.notebook.places import find_job, find_table, is_demo
from platemodel.cli import main
from platemodel.errors import PlatemodelError
from platemodel.resources import shipped_path


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("reader") / "my_bench"
    copy_notebooks(folder)
    return folder


def test_all_notebooks_and_what_they_need_are_there(bench):
    notebooks = sorted(p.relative_to(bench / "notebooks") for p in (bench / "notebooks").rglob("*.ipynb"))
    own = shipped_path("notebooks")
    assert notebooks == sorted(
        p.relative_to(own) for p in own.rglob("*.ipynb") if ".ipynb_checkpoints" not in p.parts
    )
    assert len([p for p in notebooks if p.parent.name == "lessons"]) >= 12
    assert (bench / "data" / "jobs" / "old_viola" / "job.toml").is_file()
    assert (bench / "docs" / "taps.md").is_file()
    assert not list(bench.rglob("__pycache__"))
    assert json.loads((bench / "notebooks" / "index.ipynb").read_text())["nbformat"] == 4


def test_the_copies_of_the_demos_are_the_readers(bench, monkeypatch):
    """Found before the package's own from where the notebooks lie, and open to saving."""
    for place in (bench / "notebooks", bench / "notebooks" / "lessons", bench):
        monkeypatch.chdir(place)
        assert find_job("old_viola") == bench / "data" / "jobs" / "old_viola"
        assert find_table("bar_blanks.csv") == bench / "data" / "samples" / "bar_blanks.csv"
        assert not is_demo(find_job("old_viola"))


def test_a_saved_copy_beside_the_index_is_listed_and_breaks_nothing(bench, monkeypatch):
    monkeypatch.chdir(bench / "notebooks")
    copy = bench / "notebooks" / "01_plate_modes_of_a_job-Copy1.ipynb"
    copy.write_text((bench / "notebooks" / "01_plate_modes_of_a_job.ipynb").read_text())
    names = {}
    for cell in json.loads((bench / "notebooks" / "index.ipynb").read_text())["cells"]:
        if cell["cell_type"] == "code":
            exec("".join(cell["source"]), names)
    table = notebook_index().set_index("notebook")
    assert not table.loc[copy.name, "linked"]
    copy.unlink()


def test_the_verb_says_where_and_replaces_nothing(tmp_path, capsys):
    assert main(["notebooks", str(tmp_path / "mine")]) == 0
    out = capsys.readouterr()
    assert out.out.strip() == str(tmp_path / "mine" / "notebooks" / "index.ipynb")
    assert "jupyter lab" in out.err
    assert main(["notebooks", str(tmp_path / "mine")]) != 0
    assert "is there already" in capsys.readouterr().err
    with pytest.raises(PlatemodelError, match="make it first"):
        copy_notebooks(tmp_path / "no" / "such")
    assert live.is_demo(shipped_path("data", "jobs", "old_viola"))
