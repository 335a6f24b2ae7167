"""Where a notebook finds the reader's folder and table."""

import pytest

from platemodel.bench.notebook.places import find_job, find_table, is_demo
from platemodel.errors import PlatemodelError
from platemodel.resources import data_path


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A folder with a job, and notebooks two below it, where the reader stands."""
    (tmp_path / "my_top").mkdir()
    (tmp_path / "my_top" / "job.toml").write_text("")
    (tmp_path / "my_pieces.csv").write_text("")
    (tmp_path / "notebooks" / "lessons").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "notebooks" / "lessons")
    return tmp_path


@pytest.mark.parametrize("way", ["my_top", "../../my_top", "my_top/job.toml"])
def test_a_job_is_found_from_where_one_stands_and_above(place, way):
    assert find_job(way) == place / "my_top"
    assert find_job(place / "my_top") == place / "my_top"


def test_the_nearest_one_is_taken(place):
    near = place / "notebooks" / "my_top"
    near.mkdir()
    assert find_job("my_top") == place / "my_top"  # a folder without job.toml is none
    (near / "job.toml").write_text("")
    assert find_job("my_top") == near


def test_demos_and_the_checkout_are_found_from_anywhere(place):
    assert find_job("old_viola") == data_path("jobs", "old_viola")
    assert find_job(f"{data_path().name}/jobs/old_viola") == data_path("jobs", "old_viola")
    assert find_table("top_wedges.csv") == data_path("samples", "top_wedges.csv")
    assert find_table("my_pieces.csv") == place / "my_pieces.csv"


def test_the_reader_is_told_where_it_was_looked_for(place):
    with pytest.raises(PlatemodelError) as caught:
        find_job("our_top")
    told = str(caught.value)
    for base in (place / "notebooks" / "lessons", place / "notebooks", place, data_path("jobs")):
        assert f"  {base / 'our_top'}\n" in told
    assert "no job folder 'our_top'" in told
    assert "platemodel new our_top" in told
    assert "Demos: modern_violin, old_viola." in told
    with pytest.raises(PlatemodelError, match=r"no table 'pieces.csv'(.|\n)*Demos: bar_blanks.csv"):
        find_table("pieces.csv")


def test_a_demo_is_told_from_ones_own(place):
    assert is_demo(find_job("old_viola"))
    assert not is_demo(find_job("my_top"))
