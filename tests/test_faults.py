"""Faults put in on purpose, from one seed: damaged jobs, tables and sounds; writers killed at every step.

What is asked is always the same: no traceback, a sentence that says what is wrong, nothing lost or mixed.
"""

import os
import re
import shutil
import tomllib
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from platemodel.bench.kit import taps_apart
from platemodel.cli import main
from platemodel.errors import JobError, RecordingError
from platemodel.files import recover
from platemodel.files.names import MARK
from platemodel.job import TapReading, keep_taps, read_job
from platemodel.job.gaps import read_gaps
from platemodel.job.keep_bar import CHOSEN_FILE, keep_bar
from platemodel.job.keep_wood import keep_wood
from platemodel.job.samples import read_samples
from platemodel.job.stages import STAGES_FILE, StageRow, add_stage, read_stages
from platemodel.job.template import new_job
from platemodel.job.wood_found import WOOD_FILE
from platemodel.record import Record, read_history
from platemodel.resources import data_path
from platemodel.study.choosing.sweep_file import SweepFile
from platemodel.taps import Recording, read_recording, ringing, write_recording
from platemodel.wood import species_estimate
from tests.kills import run_and_kill, states_after_kills
from tests.trim_model import BAR, X

SEED = 20260712
MM = 1e-3
NOON = datetime(2024, 4, 16, 12, tzinfo=UTC)
forks = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills need a system that can fork")


@pytest.fixture
def folders(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "fsync", lambda handle: None)  # a kill loses nothing that was written

    def make(name):
        folder = tmp_path / f"{name}"
        folder.mkdir()
        return folder

    return make


def clean(folder):
    """Recover as the next command does, and see that it left nothing behind."""
    recover(folder)
    assert [name for name in os.listdir(folder) if name.startswith(MARK)] == []


# ---------------------------------------------------------------- killed writers


@forks
def test_killed_while_adding_a_stage(folders):
    first, second = (
        StageRow(14 * MM, heard={5: 365.0}),
        StageRow(13.5 * MM, "all along", 0.5 * MM, {5: 362.0}),
    )
    kills = 0
    for step, folder, killed in states_after_kills(
        folders, lambda f: add_stage(f, first, BAR, X), lambda f: add_stage(f, second, BAR, X)
    ):
        assert read_stages(folder) in ((first,), (first, second)), step
        clean(folder)
        assert os.listdir(folder) == [STAGES_FILE]
        kills += killed
    assert kills >= 4


@forks
def test_killed_while_keeping_taps(folders):
    old, new = TapReading(5, 340.0, 0.1, False), TapReading(5, 344.0, 0.1, False)

    def prepare(folder):
        new_job(folder, "violin")
        keep_taps(folder, [old])

    for step, folder, _ in states_after_kills(folders, prepare, lambda f: keep_taps(f, [new])):
        assert read_job(folder).heard(False)[5].frequency in (340.0, 344.0), step
        clean(folder)


def chosen_heights(folder):
    """Heights that the table of the chosen bar leads to, mm."""
    table = tomllib.loads((folder / CHOSEN_FILE).read_text())["bar"]
    return pd.read_csv(folder / table["heights_file"])["height_mm"].to_numpy(), table["width_mm"]


@pytest.mark.slow
@forks
def test_killed_while_saving_a_chosen_bar(folders):
    """The bar of 5 mm with its heights or the one of 6 mm with its own, never one with the other's."""
    wave = 1e-3 * np.sin(np.arange(len(BAR.heights))) ** 2
    one = replace(BAR.with_height(BAR.heights + wave), width=5 * MM)
    two = replace(BAR.with_height(BAR.heights + 2 * wave), width=6 * MM)
    kills, seen = 0, set()
    for step, folder, killed in states_after_kills(
        folders, lambda f: keep_bar(f, one, X), lambda f: keep_bar(f, two, X)
    ):
        for again in (False, True):  # as a reader finds it, and after the next command
            heights, width = chosen_heights(folder)
            wanted = {5.0: one, 6.0: two}[width]
            # the file holds hundredths of a millimetre
            assert heights == pytest.approx(wanted.heights / MM, abs=0.006), (step, again)
            clean(folder)
        seen.add(width)
        kills += killed
    assert seen == {5.0, 6.0}
    assert kills >= 15


@pytest.mark.slow
@forks
def test_killed_while_keeping_the_wood_found(folders):
    """Each wood with its own doubt; between the two files a wood without one, never with the other's."""
    species = species_estimate("tonewood spruce", density=400.0)
    first, second = species.measured(0.04, "one", E_L=11e9), species.measured(0.02, "two", E_L=9e9)

    def files(folder):
        return [(folder / name).read_bytes() for name in ("job.toml", WOOD_FILE)]

    start, end = folders("start"), folders("end")
    (start / "job.toml").write_text('[job]\ninstrument = "violin"\n')
    keep_wood(start, first, "one")
    shutil.copytree(start, end, dirs_exist_ok=True)
    keep_wood(end, second, "two")
    old, new = files(start), files(end)
    kills, seen, mixed = 0, [], 0
    for step, folder, killed in states_after_kills(
        folders,
        lambda f: shutil.copytree(start, f, dirs_exist_ok=True),
        lambda f: keep_wood(f, second, "two"),
    ):
        if files(folder) not in (old, new):
            assert read_job(folder).found_wood is None, step
            mixed += 1
        clean(folder)
        assert sorted(os.listdir(folder)) == ["job.toml", WOOD_FILE]
        seen.append([old, new].index(files(folder)))
        kills += killed
    assert seen == sorted(seen)  # once written it stays
    assert set(seen) == {0, 1}
    assert mixed  # a kill did fall between the files
    assert kills >= 15
    for folder, wood in ((start, first), (end, second)):
        assert read_job(folder).found_wood.sd("E_L") == pytest.approx(wood.sd("E_L"), rel=1e-4)  # six digits


@pytest.mark.slow
@forks
def test_killed_while_a_starter_folder_is_replaced(folders):
    def prepare(folder):
        new_job(folder, "violin")
        (folder / "mine.txt").write_text("mine")

    for step, folder, _ in states_after_kills(folders, prepare, lambda f: new_job(f, "cello", force=True)):
        clean(folder)
        kind = read_job(folder).top.kind
        assert kind in ("violin", "cello"), step
        assert (folder / "mine.txt").read_text() == "mine"


@forks
def test_killed_while_writing_a_sound(folders):
    tone = 0.3 * np.sin(np.arange(4000) * 0.2)
    sound = Recording(tone, 8000.0, "x", np.zeros((0, 2), int))
    for step, folder, killed in states_after_kills(
        folders, lambda f: None, lambda f: write_recording(f / "a.wav", sound)
    ):
        if (folder / "a.wav").exists():
            assert len(read_recording(folder / "a.wav").samples) == 4000, step
        else:
            assert killed
        clean(folder)


@pytest.mark.slow
@forks
def test_killed_once_and_again_while_writing_the_history(folders):
    """After any two kills in a row: sound, no entry lost, no false alarm."""

    def note(folder):
        Record(folder).append("note", note="one more", at=NOON)

    pairs = 0
    for first in range(40):
        start = folders(f"a{first}")
        one = run_and_kill(lambda start=start: note(start), start, first)
        told = not one
        for second in range(60):
            folder = start.with_name(f"a{first}b{second}")
            shutil.copytree(start, folder)
            two = run_and_kill(lambda folder=folder: note(folder), folder, second)
            found = read_history(folder)
            assert found.sound, (first, second, [str(d) for d in found.damage])
            assert told + (not two) <= len(found.entries) <= 2
            note(folder)
            found = read_history(folder)
            assert found.sound, (first, second, [str(d) for d in found.damage])
            assert found.entries[-1].number == len(found.entries)
            clean(folder)
            pairs += two and one
            if not two:
                break
        if not one:
            break
    assert pairs > 50


@forks
def test_stages_written_by_four_programs_at_once_are_all_there(folders):
    folder = folders("a")
    add_stage(folder, StageRow(14 * MM), BAR, X)
    children = []
    for k in range(4):
        child = os.fork()
        if child == 0:
            for n in range(5):
                add_stage(folder, StageRow(note=f"{k} {n}", heard={5: 350.0}), BAR, X)
            os._exit(0)
        children.append(child)
    assert [os.waitpid(child, 0)[1] for child in children] == [0] * 4
    notes = {row.note for row in read_stages(folder)[1:]}
    assert notes == {f"{k} {n}" for k in range(4) for n in range(5)}


@pytest.mark.parametrize("column", [["row", "height_mm", "source"], ["row"]])
def test_a_sweep_cut_at_any_byte_of_its_first_write_goes_on(tmp_path, column):
    rows = pd.DataFrame({"row": [0, 1], "height_mm": [10.0, 12.0], "source": ["full", "full"]})[column]
    path = tmp_path / "sweep.csv"
    SweepFile(path, "abc", column).append(rows)
    whole = path.read_bytes()
    for cut in range(len(whole) + 1):
        path.write_bytes(whole[:cut])
        there = SweepFile(path, "abc", column).read()
        assert len(there) <= 2, cut
        SweepFile(path, "abc", column).append(rows[~rows["row"].isin(there["row"])])
        back = SweepFile(path, "abc", column).read()
        assert back["row"].tolist() == [0, 1], cut
        assert path.read_bytes() == whole


def test_a_file_that_is_no_sweep_is_left_as_it_is(tmp_path):
    path = tmp_path / "notes.csv"
    for text in ("my notes, no line end", "a,b\n1,2\n", "# platemodel sweep other", ""):
        path.write_text(text)
        if text:
            with pytest.raises(ValueError, match="another sweep"):
                SweepFile(path, "abc", ["row"]).read()
        assert path.read_text() == text


# ---------------------------------------------------------------- damaged files

ODD = [
    "1" * 400, "-" + "9" * 400, "1e400", "-1e400", "nan", "inf", "1e-320", "0", "-0.0", "", "-", "\u2014",
    "\u2212 3", "3,5", "3.5.1", "0x10", "1_000", "true", '"12"', "[" * 3000, "{", "2024-02-30", "\ud7ff",
    "12 mm", "'", '"""', "=1+1",
]  # fmt: skip


def damaged(raw, rng):
    """One of six kinds of damage."""
    raw = bytearray(raw)
    kind = rng.integers(6)
    at = int(rng.integers(max(1, len(raw))))
    if kind == 0:  # bytes flipped
        for _ in range(rng.integers(1, 6)):
            raw[rng.integers(len(raw))] ^= 1 << rng.integers(8)
    elif kind == 1:  # cut off
        del raw[at:]
    elif kind == 2:  # a piece twice
        piece = raw[at : at + int(rng.integers(1, 200))]
        raw[at:at] = piece
    elif kind == 3:  # a piece taken out
        del raw[at : at + int(rng.integers(1, 200))]
    elif kind == 4:  # rubbish put in
        raw[at:at] = bytes(rng.integers(0, 256, int(rng.integers(1, 20))).tolist())
    else:  # a figure replaced by an odd one
        numbers = [m.span() for m in re.finditer(rb"-?\d+(\.\d+)?", bytes(raw))]
        if numbers:
            a, b = numbers[rng.integers(len(numbers))]
            raw[a:b] = ODD[rng.integers(len(ODD))].encode("utf-8", "surrogatepass")
    return bytes(raw)


def test_damaged_jobs_are_read_or_refused_in_words(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(taps_apart, "taps_finding", lambda *_, **__: None)  # minutes
    rng = np.random.default_rng(SEED)
    codes = []
    demos = [data_path("jobs", name) for name in ("old_viola", "modern_violin")]
    for n in range(60):
        folder = tmp_path / f"{n}"
        demo = demos[n % 2]
        shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("*.wav", "README.md"))
        files = sorted(p for p in folder.iterdir())
        for path in rng.choice(files, size=rng.integers(1, 3), replace=False):
            Path(path).write_bytes(damaged(Path(path).read_bytes(), rng))
        code = main(["check", str(folder)])
        out, err = capsys.readouterr()
        assert code in (0, 1), n
        assert "Traceback" not in out + err
        assert code == 0 or "to mend" in err, n
        assert "nan" not in out.split(), n
        codes.append(code)
        shutil.rmtree(folder)
    assert 20 < sum(codes) < len(codes)  # some damage is harmless


TABLES = {
    "gaps.csv": (
        "x_mm,gap_mm,side\n0,0.3,inner\n0,0.2,outer\n135,0.05,\n270,0.4,\n",
        lambda p: read_gaps(p, 0.27),
    ),
    "stages.csv": (
        "height_mm,place,depth_mm,f1_hz,f5_hz,note\n14,,,95,365,x\n13.5,all along,0.5,94,363,\n",
        lambda p: read_stages(p.parent),
    ),
    "samples.csv": (
        "name,kind,length_mm,width_mm,thickness_mm,mass_g,tap_flat_hz\na,blank,300,40,12,60,880\n",
        read_samples,
    ),
}


@pytest.mark.parametrize("name", TABLES)
def test_damaged_tables_are_read_or_refused_in_words(tmp_path, name):
    rng = np.random.default_rng(SEED)
    text, read = TABLES[name]
    path, refused = tmp_path / name, []
    for _ in range(250):
        path.write_bytes(damaged(text.encode(), rng))
        try:
            read(path)
        except JobError as error:
            refused.append(str(error).replace("\n", " "))
    assert all(text.isprintable() for text in refused)
    assert len(refused) > 60


def test_damaged_sounds_are_read_or_refused_in_words(tmp_path):
    rng = np.random.default_rng(SEED)
    rate, path, refused = 8000.0, tmp_path / "a.wav", []
    t = np.arange(int(0.8 * rate)) / rate
    tap = np.where(t > 0.2, np.exp(-12 * (t - 0.2)) * np.sin(2 * np.pi * 150 * (t - 0.2)), 0.0)
    sound = 0.5 * tap + 1e-3 * rng.standard_normal(len(t))
    write_recording(path, Recording(sound, rate, "x", np.zeros((0, 2), int)))
    whole = path.read_bytes()
    for _ in range(150):
        raw = damaged(whole[:64], rng) + whole[64:] if rng.random() < 0.7 else damaged(whole, rng)
        path.write_bytes(raw)
        try:
            ringing(read_recording(path))
        except RecordingError as error:
            refused.append(str(error))
    assert all(text.isprintable() for text in refused)
    assert 20 < len(refused) < 150
