"""Figures kept for later runs: believed only where they are whole and what was asked for."""

import json

import pytest

from platemodel.study.top import cache_folder
from platemodel.study.top.cache_folder import kept_figures

FIGURES = {"a": 1.0 / 3.0, "none": float("nan"), "endless": float("inf")}


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv(cache_folder.VARIABLE, str(tmp_path))
    return tmp_path / "models"


def computed():
    return dict(FIGURES)


def never():
    raise AssertionError


def test_a_second_run_reads_them_to_the_last_bit(folder):
    kept_figures("test", ("violin", 0.355), computed)
    again = kept_figures("test", ("violin", 0.355), never)
    assert again["a"] == FIGURES["a"]
    assert again["none"] != again["none"]
    assert again["endless"] == FIGURES["endless"]


def test_other_words_or_other_code_are_computed_anew(folder, monkeypatch):
    kept_figures("test", ("violin", 0.355), computed)
    assert kept_figures("test", ("violin", 0.356), lambda: {"a": 2.0}) == {"a": 2.0}
    monkeypatch.setattr(cache_folder, "code_hash", lambda: "another version")
    assert kept_figures("test", ("violin", 0.355), lambda: {"a": 3.0}) == {"a": 3.0}


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"figures": {"a": 1}}', '{"figures": []}', "\x00"])
def test_a_damaged_file_is_passed_over_and_written_anew(folder, damage):
    kept_figures("test", (), computed)
    (path,) = folder.glob("test_*.json")
    path.write_text(damage)
    assert kept_figures("test", (), lambda: {"a": 2.0}) == {"a": 2.0}
    assert kept_figures("test", (), never) == {"a": 2.0}


def test_a_changed_figure_fails_its_checksum(folder):
    kept_figures("test", (), computed)
    (path,) = folder.glob("test_*.json")
    told = json.loads(path.read_text())
    told["figures"]["a"] = (0.5).hex()
    path.write_text(json.dumps(told))
    assert kept_figures("test", (), computed)["a"] == FIGURES["a"]


def test_switched_off_or_unwritable_it_computes(folder, monkeypatch, tmp_path):
    (tmp_path / "models").write_text("a file where the folder should be")
    assert kept_figures("test", (), computed)["a"] == FIGURES["a"]
    monkeypatch.setenv(cache_folder.VARIABLE, "off")
    assert cache_folder.cache_folder() is None
    assert kept_figures("test", (), computed)["a"] == FIGURES["a"]


def test_only_so_many_are_kept(folder, monkeypatch):
    monkeypatch.setattr(cache_folder, "MOST_FILES", 3)
    for k in range(6):
        kept_figures("test", (k,), computed)
    assert len(list(folder.glob("test_*.json"))) == 3
