"""Files written whole: killed or refused at every step, two writers, and what the next run does."""

import os
import shutil
import threading

import pytest

from platemodel.errors import PlatemodelError
from platemodel.files import (
    BusyError,
    free_targets,
    locked,
    recover,
    write_file,
    write_folder,
    write_numbered_folder,
    written_together,
)
from platemodel.files.names import MARK, READY
from tests.kills import run_and_kill, states_after_kills

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills need a system that can fork")
NAMES = ("one.csv", "three.toml", "two.pdf")
#: Steps of a set of three: fewer would mean that the hook no longer sees what the writer does.
LEAST_STEPS = 15


@pytest.fixture
def folders(tmp_path):
    def make(name):
        folder = tmp_path / f"{name}"
        folder.mkdir()
        return folder

    return make


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """Spare the time of fsync: a kill, unlike a failure of power, loses nothing that was written."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)


def put(folder, word, names=NAMES):
    for name in names:
        (folder / name).write_text(f"{word} {name}")


def write_set(folder, word="new"):
    with written_together([folder / name for name in NAMES]) as drafts:
        for draft in drafts:
            draft.write_text(f"{word} {draft.name}")


def words(folder, names=NAMES):
    return {(folder / name).read_text().split()[0] if (folder / name).exists() else None for name in names}


def hidden(folder):
    return [name for name in os.listdir(folder) if name.startswith(MARK)]


# ---------------------------------------------------------------- killed


@pytest.mark.slow
@pytest.mark.parametrize("before", ["old", None])
def test_a_set_killed_at_any_step_is_all_old_or_all_new_after_the_next_command(folders, before):
    killed_at, said = 0, []
    for step, folder, killed in states_after_kills(
        folders, lambda f: put(f, "old") if before else None, write_set
    ):
        (folder / "other.txt").write_text("mine")
        mixed = len(words(folder)) > 1
        found = recover(folder)
        assert words(folder) in ({before}, {"new"}), step
        assert hidden(folder) == [], step
        there = NAMES if words(folder) != {None} else ()
        assert sorted(os.listdir(folder)) == sorted(["other.txt", *there]), step
        if mixed:
            assert found.finished, step
            assert all(name in str(found) for name in found.finished)
            said.append(step)
        assert recover(folder) is None
        killed_at += killed
    assert words(folder) == {"new"}
    assert killed_at >= LEAST_STEPS
    assert said  # some kills did fall between the files


@pytest.mark.slow
def test_a_killed_set_is_finished_by_the_next_writer_too_and_it_says_so(folders):
    told = 0
    for step, folder, killed in states_after_kills(folders, lambda f: put(f, "old"), write_set):
        left = [name for name in hidden(folder) if "lock" not in name]
        if left:
            with pytest.warns(UserWarning, match="earlier run"):
                write_file(folder / "four.txt", "4")
            told += 1
        else:
            write_file(folder / "four.txt", "4")
        assert words(folder) in ({"old"}, {"new"}), step
        assert hidden(folder) == [], step
        assert (folder / "four.txt").read_text() == "4"
        assert killed or not left
    assert told > 5


@pytest.mark.slow
def test_a_recovery_that_is_killed_is_recovered(folders):
    """A writer killed with its files half in place, then the recovery killed at each of its own steps."""
    total = 0
    for step in range(100):
        folder = folders(f"w{step}")
        put(folder, "old")
        if not run_and_kill(lambda folder=folder: write_set(folder), folder, step):
            break
        if not (folder / READY).is_dir():
            continue
        for again in range(100):
            copy = folder.with_name(f"w{step}r{again}")
            shutil.copytree(folder, copy)
            killed = run_and_kill(lambda copy=copy: recover(copy), copy, again)
            recover(copy)
            assert words(copy) == {"new"}, (step, again)
            assert hidden(copy) == []
            total += killed
            if not killed:
                break
    assert total > 10


def test_a_single_file_killed_at_any_step_is_old_or_new(folders):
    count = 0
    for step, folder, killed in states_after_kills(
        folders, lambda f: put(f, "old"), lambda f: write_file(f / NAMES[0], "new file")
    ):
        assert (folder / NAMES[0]).read_text() in (f"old {NAMES[0]}", "new file"), step
        recover(folder)
        assert sorted(os.listdir(folder)) == sorted(NAMES), step
        count += killed
    assert count >= 4


def test_a_numbered_folder_killed_at_any_step_is_whole_or_not_there(folders):
    def fill(draft, _):
        put(draft, "new")

    count = 0
    for step, folder, killed in states_after_kills(
        folders, lambda f: (f / "pack_002").mkdir(), lambda f: write_numbered_folder(f, "pack", fill)
    ):
        recover(folder)
        made = sorted(os.listdir(folder))
        assert made in (["pack_002"], ["pack_002", "pack_003"]), step
        if len(made) == 2:
            assert words(folder / "pack_003") == {"new"}, step
        count += killed
    assert count >= 10


def test_a_number_taken_meanwhile_is_not_given_twice(tmp_path):
    """A writer that comes in between takes 1: the slower one writes anew, and knows its number."""

    def fill(draft, number):
        if number == 1 and not (tmp_path / "pack_001").exists():
            (tmp_path / "pack_001").mkdir()
        (draft / "number").write_text(str(number))

    assert write_numbered_folder(tmp_path, "pack", fill) == tmp_path / "pack_002"
    assert (tmp_path / "pack_002" / "number").read_text() == "2"


def test_a_new_folder_killed_at_any_step_is_whole_or_not_there(folders):
    for step, folder, _ in states_after_kills(
        folders, lambda f: None, lambda f: write_folder(f / "job", lambda d: put(d, "new"))
    ):
        recover(folder)
        assert os.listdir(folder) in ([], ["job"]), step
        if os.listdir(folder):
            assert words(folder / "job") == {"new"}, step


# ---------------------------------------------------------------- refused by the system


def test_a_replacement_that_fails_puts_everything_back(folders, monkeypatch):
    real = os.replace
    for late in range(1, 4):
        folder, count = folders(late), [0]
        put(folder, "old", NAMES[:2])  # the third is not there yet

        def fails(a, b, count=count, late=late):
            count[0] += 1
            if count[0] == late + 1:
                raise PermissionError(13, "in use", str(b))
            real(a, b)

        monkeypatch.setattr(os, "replace", fails)
        with pytest.raises(PermissionError):
            write_set(folder)
        monkeypatch.undo()
        assert words(folder, NAMES[:2]) == {"old"}
        assert sorted(os.listdir(folder)) == sorted(NAMES[:2])


def test_a_recovery_that_cannot_be_says_which_file_stands_in_the_way(folders, monkeypatch):
    folder = folders("a")
    (folder / READY).mkdir()
    put(folder / READY, "new")

    def fails(a, b):
        raise PermissionError(13, "Permission denied", str(a))

    monkeypatch.setattr(os, "replace", fails)
    with pytest.raises(PlatemodelError, match=r"one.csv cannot be replaced now \(Permission denied\)"):
        recover(folder)
    monkeypatch.undo()
    assert recover(folder).finished == NAMES
    assert words(folder) == {"new"}


def test_a_failure_in_drawing_leaves_nothing(folders):
    folder = folders("a")
    targets = [folder / "new" / "a", folder / "new" / "b"]
    with pytest.raises(ValueError, match="drawing"), written_together(targets):
        raise ValueError("drawing")
    assert os.listdir(folder) == []


def test_files_that_are_there_are_named(folders):
    folder = folders("a")
    put(folder, "old")
    with pytest.raises(FileExistsError, match=r"one\.csv is there already"):
        free_targets(folder, NAMES)
    assert free_targets(folder, NAMES, force=True) == [folder / name for name in NAMES]
    (folder / "dir").mkdir()
    with pytest.raises(FileExistsError, match="is a folder"):
        free_targets(folder, ["dir"], force=True)


# ---------------------------------------------------------------- two at once


def test_a_draft_of_a_living_writer_is_left_alone(folders):
    folder = folders("a")
    with written_together([folder / name for name in NAMES]) as drafts:
        assert recover(folder) is None
        found = []
        thread = threading.Thread(target=lambda: found.append(recover(folder)))
        thread.start()
        thread.join()
        assert found == [None]
        for draft in drafts:
            draft.write_text("new x")
    assert words(folder) == {"new"}


def test_the_lock_passes_its_own_thread_and_keeps_others_out(folders):
    folder, got = folders("a"), []

    def other():
        try:
            with locked(folder, 0.05):
                got.append("in")
        except BusyError as error:
            got.append(str(error))

    with locked(folder), locked(folder):
        thread = threading.Thread(target=other)
        thread.start()
        thread.join()
    assert "another program is writing" in got[0]
    other()
    assert got[1] == "in"
    assert os.listdir(folder) == []


def test_writers_at_once_each_leave_a_whole_set(folders):
    folder = folders("a")

    def work(word):
        for _ in range(5):
            write_set(folder, word)

    threads = [threading.Thread(target=work, args=(f"w{k}",)) for k in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(words(folder)) == 1
    assert hidden(folder) == []


def test_read_change_write_under_the_lock_loses_no_change(folders):
    """Children add one to a number in a file, all at once; without the lock some get lost."""
    folder = folders("a")
    (folder / "n").write_text("0")
    children = []
    for _ in range(4):
        child = os.fork()
        if child == 0:
            for _ in range(10):
                with locked(folder):
                    write_file(folder / "n", str(int((folder / "n").read_text()) + 1))
            os._exit(0)
        children.append(child)
    assert [os.waitpid(c, 0)[1] for c in children] == [0] * 4
    assert (folder / "n").read_text() == "40"
