"""The history of a job: what is written stays, whatever byte a crash stops at.

The seal is SHA-256 (FIPS 180-4), checked here by the standard library's own, outside the record's code.
"""

import hashlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from platemodel.errors import RecordError
from platemodel.files import BusyError
from platemodel.files import lock as lock_module
from platemodel.record import HISTORY_FILE, KINDS, Record, read_history
from platemodel.record import writer as writer_module
from platemodel.record.history import HEAD_FILE

NOON = datetime(2024, 4, 16, 12, 0, tzinfo=UTC)
ROOT = Path(__file__).parents[1]


@pytest.fixture
def quick(monkeypatch):
    """No waiting for the disk where only the bytes matter."""
    monkeypatch.setattr(writer_module.os, "fsync", lambda handle: None)


@pytest.fixture
def history(tmp_path):
    """Three entries."""
    record = Record(tmp_path)
    record.append("measured", {"mass_g": 71.3, "bar_on": False}, "weighed on the letter scale", at=NOON)
    record.append("decided", {"height_mm": 14}, 'höher – "14"\nnot 13', at=NOON)
    record.append("cut", {"height_mm": 14.5}, at=NOON)
    return tmp_path


def lines(folder):
    return (folder / HISTORY_FILE).read_bytes().splitlines()


def numbers(folder):
    return [e.number for e in read_history(folder).entries]


def test_every_line_is_json_and_reads_without_this_program(history):
    data = [json.loads(line) for line in lines(history)]
    assert [d["n"] for d in data] == [1, 2, 3]
    assert [d["kind"] for d in data] == ["measured", "decided", "cut"]
    assert data[0]["values"] == {"mass_g": 71.3, "bar_on": False}
    assert data[1]["note"] == 'höher – "14"\nnot 13'
    assert data[2]["at"] == "2024-04-16T12:00:00+00:00"


def test_what_was_written_is_read(history):
    found = read_history(history)
    assert found.sound
    assert found.torn == b""
    assert [e.values for e in found.entries] == [
        {"mass_g": 71.3, "bar_on": False},
        {"height_mm": 14},
        {"height_mm": 14.5},
    ]
    assert found.entries[0].time == NOON


def test_seals_can_be_checked_by_hand(history):
    """SHA-256 over the seal before, a line feed and the line up to its seal, as docs/record.md says."""
    before = "0" * 64
    for line in lines(history):
        body, _, seal = line.decode().rpartition(',"sha256":"')
        before = hashlib.sha256(f"{before}\n{body}".encode()).hexdigest()
        assert seal == before + '"}'


def test_time_of_now_carries_its_zone(tmp_path):
    start = datetime.now(UTC)
    entry = Record(tmp_path).append("note", note="x")
    assert abs((entry.time - start).total_seconds()) < 5
    assert entry.time.tzinfo is not None


def test_an_empty_folder_has_an_empty_history_and_reading_leaves_no_trace(tmp_path):
    found = read_history(tmp_path)
    assert found.sound
    assert found.entries == ()
    assert list(tmp_path.iterdir()) == []


# ---------------------------------------------------------------- crashes


def test_a_line_is_on_the_disk_before_the_call_returns_and_before_its_head(tmp_path, monkeypatch):
    states, real = [], os.fsync

    def note(handle):
        real(handle)
        states.append(((tmp_path / HISTORY_FILE).read_bytes()[-1:], (tmp_path / HEAD_FILE).exists()))

    monkeypatch.setattr(writer_module.os, "fsync", note)
    Record(tmp_path).append("note", note="x", at=NOON)
    assert states[0] == (b"\n", False)
    assert states[-1] == (b"\n", True)


def test_a_crash_at_any_byte_of_a_line_loses_no_earlier_line(history, tmp_path_factory, quick):
    kept = (history / HISTORY_FILE).read_bytes()
    head = (history / HEAD_FILE).read_bytes()
    Record(history).append("glued", {"glue_c": 60.0}, "ä – two at once", at=NOON)
    line = (history / HISTORY_FILE).read_bytes()[len(kept) :]
    assert len(line) > 100
    torn = tmp_path_factory.mktemp("torn")
    for cut in range(len(line) + 1):
        for old in torn.iterdir():
            old.unlink()
        (torn / HISTORY_FILE).write_bytes(kept + line[:cut])
        (torn / HEAD_FILE).write_bytes(head)
        before = sorted((p.name, p.read_bytes()) for p in torn.iterdir())
        found = read_history(torn)
        whole = cut >= len(line) - 1  # only the line feed is missing: the entry is all there
        assert [e.number for e in found.entries] == [1, 2, 3, 4][: 3 + whole], cut
        assert found.sound, cut
        assert found.torn == (b"" if whole else line[:cut])
        assert sorted((p.name, p.read_bytes()) for p in torn.iterdir()) == before  # reading is pure
        Record(torn).append("note", note="after the crash", at=NOON)
        after = read_history(torn)
        assert after.sound, cut
        assert after.torn == b""
        assert [e.number for e in after.entries] == list(range(1, 5 + whole)), cut
        assert after.entries[-1].note == "after the crash"
        assert (torn / HISTORY_FILE).read_bytes().startswith(kept)
        aside = [(torn / name).read_bytes() for name in after.set_aside]
        assert aside == ([line[:cut]] if 0 < cut < len(line) - 1 else [])


def test_a_crash_at_any_byte_of_the_first_line(tmp_path, quick):
    Record(tmp_path).append("note", note="first", at=NOON)
    line = (tmp_path / HISTORY_FILE).read_bytes()
    for cut in range(len(line)):
        for old in tmp_path.iterdir():
            old.unlink()
        (tmp_path / HISTORY_FILE).write_bytes(line[:cut])
        Record(tmp_path).append("note", note="again", at=NOON)
        found = read_history(tmp_path)
        assert found.sound
        assert found.entries[-1].note == "again"


WRITER = """
import sys
from platemodel.record import Record
record = Record(sys.argv[1])
while True:
    entry = record.append("note", {"step_count": 1}, "x" * 4000)
    print(entry.number, flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no SIGKILL")
def test_killing_the_writer_loses_nothing_that_it_had_reported(tmp_path):
    """A child writes as fast as it can and is killed, six times over, at times that are not round."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    for attempt in range(6):
        child = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(tmp_path)], stdout=subprocess.PIPE, env=environment
        )
        reported = [int(child.stdout.readline())]
        time.sleep(0.013 + 0.0173 * attempt)
        child.send_signal(signal.SIGKILL)
        reported += [int(n) for n in child.stdout.read().split(b"\n")[:-1]]
        child.wait()
        found = read_history(tmp_path)
        assert found.sound
        assert [e.number for e in found.entries] == list(range(1, len(found.entries) + 1))
        assert len(found.entries) - reported[-1] in (0, 1)  # the last may have been written, not yet told
    assert len(found.entries) > 12


def test_a_write_in_many_pieces_arrives_whole(tmp_path, monkeypatch):
    real = os.write
    monkeypatch.setattr(writer_module.os, "write", lambda handle, data: real(handle, data[:7]))
    Record(tmp_path).append("note", note="a long story", at=NOON)
    assert read_history(tmp_path).entries[0].note == "a long story"


def test_a_full_disk_leaves_a_rest_that_the_next_writer_sets_aside(history, monkeypatch):
    real, calls = os.write, []

    def full(handle, data):
        calls.append(data)
        if len(calls) > 1:
            raise OSError(28, "No space left on device")
        return real(handle, data[:20])

    monkeypatch.setattr(writer_module.os, "write", full)
    with pytest.raises(OSError, match="No space"):
        Record(history).append("note", note="lost", at=NOON)
    monkeypatch.undo()
    assert len(read_history(history).torn) == 20
    Record(history).append("note", note="kept", at=NOON)
    found = read_history(history)
    assert found.sound
    assert found.entries[-1].note == "kept"
    assert len(found.set_aside) == 1


# ---------------------------------------------------------------- two writers


def test_a_second_writer_waits_and_then_is_refused(history, monkeypatch):
    monkeypatch.setattr(lock_module, "PATIENCE", 0.05)
    entered, leave = threading.Event(), threading.Event()

    def hold():
        with lock_module.locked(history):
            entered.set()
            leave.wait()

    other = threading.Thread(target=hold)
    other.start()
    entered.wait()
    try:
        with pytest.raises(BusyError, match="another program is writing"):
            Record(history).append("note", note="refused", at=NOON)
    finally:
        leave.set()
        other.join()
    assert Record(history).append("note", note="free again", at=NOON).number == 4


def test_writers_at_once_get_a_number_each(tmp_path, quick):
    def write():
        for _ in range(10):
            Record(tmp_path).append("note", note="x", at=NOON)

    threads = [threading.Thread(target=write) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert numbers(tmp_path) == list(range(1, 31))
    assert read_history(tmp_path).sound


# ---------------------------------------------------------------- changes afterwards


@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_changed_line_shows(history, place):
    all_lines = lines(history)
    all_lines[place] = all_lines[place].replace(b"14", b"15").replace(b"71.3", b"70.3")
    (history / HISTORY_FILE).write_bytes(b"\n".join(all_lines) + b"\n")
    found = read_history(history)
    assert [d.line for d in found.damage] == [place + 1]
    assert len(found.entries) == 3


def test_a_line_taken_out_shows(history):
    first, _, third = lines(history)
    (history / HISTORY_FILE).write_bytes(first + b"\n" + third + b"\n")
    found = read_history(history)
    assert any("number 3 where 2 was due" in d.what for d in found.damage)
    assert any("changed" in d.what for d in found.damage)


def test_lines_cut_off_at_the_end_show_and_go_on_showing(history):
    first, *_ = lines(history)
    (history / HISTORY_FILE).write_bytes(first + b"\n")
    (damage,) = read_history(history).damage
    assert "ends with entry 1, but entry 3 had been written" in damage.what
    Record(history).append("note", note="later", at=NOON)
    assert numbers(history) == [1, 4]
    assert not read_history(history).sound


def test_a_forged_end_with_a_right_seal_shows_and_goes_on_showing(history, tmp_path_factory):
    other = tmp_path_factory.mktemp("other")
    (other / HISTORY_FILE).write_bytes(b"\n".join(lines(history)[:2]) + b"\n")
    Record(other).append("cut", {"height_mm": 12.0}, at=NOON)
    (history / HISTORY_FILE).write_bytes((other / HISTORY_FILE).read_bytes())
    (damage,) = read_history(history).damage
    assert "not the one that had been written" in damage.what
    Record(history).append("note", note="later", at=NOON)
    assert [d.line for d in read_history(history).damage] == [4]


def test_a_missing_head_is_told(history):
    (history / HEAD_FILE).unlink()
    (damage,) = read_history(history).damage
    assert "would not show" in damage.what


@pytest.mark.parametrize("rubbish", [b"", b"not json", b"[1]", b'{"n":1}', b"\xff\xfe", b"[" * 5000])
def test_rubbish_in_between_is_named_and_the_rest_is_read(history, rubbish):
    first, second, third = lines(history)
    (history / HISTORY_FILE).write_bytes(b"\n".join([first, rubbish, second, third]) + b"\n")
    found = read_history(history)
    assert [e.number for e in found.entries] == [1, 2, 3]
    assert [d.line for d in found.damage] == [2]


# ---------------------------------------------------------------- what goes in


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("sawed", {}, "x"), "kind 'sawed'; allowed are measured"),
        (("cut", {"height": 12.0}, ""), "ends in its unit"),
        (("cut", {"height_mm": float("nan")}, ""), "finite"),
        (("cut", {"height_mm": [1]}, ""), "a number, a word or yes/no"),
        (("cut", {"Height_mm": 1}, ""), "small letters"),
        (("note", {}, "  "), "says nothing"),
        (("note", {}, "x" * 70_000), "at most 64000"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(tmp_path, arguments, words):
    with pytest.raises(RecordError, match=words):
        Record(tmp_path).append(*arguments)
    assert not (tmp_path / HISTORY_FILE).exists()


def test_pictures_are_named_with_their_own_hash(history):
    (history / "bar.png").write_bytes(b"a picture")
    entry = Record(history).append("fitted", pictures=["bar.png"], at=NOON)
    assert entry.pictures == (("bar.png", hashlib.sha256(b"a picture").hexdigest()),)
    assert read_history(history).entries[-1].pictures == entry.pictures


@pytest.mark.parametrize(
    ("name", "words"),
    [("none.png", "cannot be read"), ("bar.tiff", "are allowed"), ("../bar.png", "outside the job folder")],
)
def test_pictures_that_are_none_are_refused(history, name, words):
    with pytest.raises(RecordError, match=words):
        Record(history).append("note", pictures=[name])
    assert len(numbers(history)) == 3


def test_folder_and_time_are_checked(tmp_path):
    with pytest.raises(RecordError, match="no such folder"):
        Record(tmp_path / "none")
    with pytest.raises(RecordError, match="no such folder"):
        read_history(tmp_path / "none")
    with pytest.raises(RecordError, match="has no zone"):
        Record(tmp_path).append("note", note="x", at=datetime(2024, 1, 1))


def test_every_kind_can_be_written(tmp_path, quick):
    for kind in KINDS:
        Record(tmp_path).append(kind, note=kind, at=NOON)
    assert [e.kind for e in read_history(tmp_path).entries] == list(KINDS)
