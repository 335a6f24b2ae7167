"""Tap tones in the job folder, the verbs taps and sound, the picture."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure

from platemodel.bench.sounds.report import REPORT as SOUNDS
from platemodel.bench.sounds.result import JobSounds
from platemodel.bench.taps.page import tap_pages
from platemodel.bench.taps.plots import draw_spectrum
from platemodel.bench.taps.result import chosen_readings, job_taps
from platemodel.cli import main
from platemodel.errors import JobError, RecordingError
from platemodel.job import TapReading, keep_taps, read_job, typed_sd
from platemodel.job.report import report
from platemodel.job.taps import NUMBERS, WORDS
from platemodel.resources import data_path
from platemodel.study.top.plate_modes import plate_modes
from platemodel.taps import read_recording, ring, tap_peaks, tap_spectrum, write_recording
from tests.job_folders import VIOLIN, problems, write
from tests.paper_faults import faults, page_words
from tests.quick import quick_model

DEMO = data_path("jobs", "old_viola")
WAVS = [DEMO / f"taps_mode_{n}.wav" for n in (1, 2, 5)]
TYPED = VIOLIN + "[bar]\n[measured]\nmode_1_hz = 82\nmode_5_hz = 330\n"


@pytest.fixture
def folder(tmp_path):
    return write(tmp_path, TYPED)


@pytest.fixture
def wav(tmp_path):
    r = ring([84.0, 160.0, 320.0], [0.02, 0.018, 0.015], [1, 0.8, 0.9], taps=3, noise_db=-40)
    return write_recording(tmp_path / "a.wav", r)


def run(capsys, *args):
    code = main([str(a) for a in args])
    out = capsys.readouterr()
    return code, out.out, out.err


# ---------------------------------------------------------------- reading and keeping


def test_typed_frequencies_have_a_usual_deviation(folder):
    job = read_job(folder)
    assert [(r.mode, r.frequency, round(r.sd, 6), r.bar_on, r.source) for r in job.taps] == [
        (1, 82.0, 1.0, False, "typed in"),  # at best 1 Hz
        (5, 330.0, 3.3, False, "typed in"),  # 1 %
    ]
    assert typed_sd(50.0) == 1.0
    assert job.heard(True) == {}


def test_a_doubt_below_three_tenths_of_a_percent_is_never_printed(folder):
    (folder / "taps.csv").write_text("mode,f_hz,sd_hz,bar_on\n2,45.4,0.001,true\n", encoding="utf-8")
    text = report(read_job(folder))
    assert "mode 2 45.4 ± 0.1 Hz" in text  # 0.3 % of 45.4 Hz is 0.14 Hz
    assert "0.001" not in text


def test_a_table_is_read_beside_them(folder):
    text = "mode;f_hz;bar_on;sd_hz;note\n# remark\n2;151,25;false;0,2;ok\n5;362;true;;\n1;85;yes;;\n"
    (folder / "taps.csv").write_text(text, encoding="utf-8")
    job = read_job(folder)
    assert [(r.mode, r.bar_on, r.frequency, round(r.sd, 6)) for r in job.taps] == [
        (1, False, 82.0, 1.0),
        (2, False, 151.25, 0.45375),  # 0.3 % of it: no plate repeats to 0.2 Hz
        (5, False, 330.0, 3.3),
        (1, True, 85.0, 1.0),
        (5, True, 362.0, 3.62),
    ]
    assert job.heard(False)[2].note == "ok"
    assert "taps.csv" in job.files
    assert not [f for f in job.findings if f.kind == "file"]


def test_wrong_tables_name_every_problem(folder):
    def said(text):
        (folder / "taps.csv").write_text(text, encoding="utf-8")
        return problems(folder)

    rows = ("7,150,false,", "2,1500,false,", "2,150,maybe,", "2.5,150,false,", "3,150,true,2", "2,x,true,")
    found = said("\n".join(("mode,f_hz,bar_on,loss", *rows)))
    assert len(found) == 6
    assert "taps.csv, line 2: mode: found 7; allowed 1 to 6" in found
    assert "taps.csv, line 3: f_hz: found 1500; allowed 10 to 900" in found
    assert any("line 4: bar_on: found maybe; true (a bar" in p for p in found)
    assert any("line 5: mode: found 2.5; a whole number" in p for p in found)
    assert any("line 6: loss" in p for p in found)
    assert any("line 7: f_hz: found x" in p for p in found)
    (one,) = said("mode,f_hz\n1,80\n")
    assert "bar_on must be there too" in one
    (one,) = said("mode,f_hz,bar_on,los\n1,80,true,1\n")
    assert "Did you mean loss?" in one
    (one,) = said("mode,f_hz,bar_on\n2,150,true\n2,151,true\n")
    assert "line 3" in one
    assert "the first is on line 2" in one


def test_the_same_mode_and_state_in_both_places_is_refused_naming_both(folder):
    (folder / "taps.csv").write_text("mode,f_hz,bar_on\n1,84,true\n5,331,false\n", encoding="utf-8")
    (one,) = problems(folder)
    assert one == (
        "taps.csv, line 3: mode: found mode 5 without bar at 331 Hz; measured.mode_5_hz in job.toml says "
        "330 Hz for the same mode and state; keep one of the two"
    )


def test_keeping_replaces_the_same_mode_and_state_only(folder):
    first = "# mine\nmode;note;f_hz;bar_on\n2;a, b;150,5;false\n\n# between\n3;x;190;false\n2;with;170;true\n"
    (folder / "taps.csv").write_text(first, encoding="utf-8")
    new = TapReading(2, 151.234, 0.605, False, 0.0181, "a.wav", "close pair")
    keep_taps(folder, [new, TapReading(1, 90.0, 0.1, True)])
    text = (folder / "taps.csv").read_text(encoding="utf-8")
    assert text == first.replace("2;a, b;150,5;false\n", "") + "2;close pair;151.234;false\n1;;90.000;true\n"
    assert read_job(folder).heard(False)[2].frequency == 151.234
    keep_taps(folder, [new])
    assert (folder / "taps.csv").read_text(encoding="utf-8").count("151.234") == 1


def test_keeping_writes_a_new_table_or_nothing(folder):
    new = TapReading(2, 151.234, 0.605, False, 0.0181, "a, b.wav")
    keep_taps(folder, [new])
    assert read_job(folder).heard(False)[2] == new
    before = (folder / "taps.csv").read_bytes()
    for bad in ([TapReading(5, 333, 1, False)], [new, new]):
        with pytest.raises(JobError):
            keep_taps(folder, bad)
    assert (folder / "taps.csv").read_bytes() == before
    (folder / "taps.csv").write_text("mode\n1\n", encoding="utf-8")
    with pytest.raises(JobError, match="must be there too"):
        keep_taps(folder, [new])
    assert sorted(p.name for p in folder.iterdir()) == ["job.toml", "taps.csv"]
    with pytest.raises(ValueError, match="allowed 10 to 900"):
        TapReading(1, 5000, 1, False)
    with pytest.raises(ValueError, match="one line"):
        TapReading(1, 80, 1, False, note="a\nb")


def test_documented_columns():
    text = (Path(__file__).parents[1] / "docs" / "data-formats.md").read_text(encoding="utf-8")
    for c in NUMBERS:
        assert f"| `{c.name}` | {c.low:g} to {c.high:g} | {c.doc} |" in text
    for name, doc in WORDS.items():
        assert any(line.startswith(f"| `{name}` |") and doc in line for line in text.splitlines())


# ---------------------------------------------------------------- the demo


def test_demo_taps_are_the_true_plate():
    """README.md beside them gives the frequencies from which they were made; taps.csv what was found."""
    peaks = tap_peaks([read_recording(p) for p in WAVS])  # invented, each held another way
    job = read_job(DEMO)
    readme = (DEMO / "README.md").read_text(encoding="utf-8")
    for number, true in ((1, 44.204), (2, 85.394), (5, 215.146)):
        assert f"{number} at {true}" in readme
        row = peaks.loc[(peaks["f_hz"] - true).abs().idxmin()]
        assert row.f_hz == pytest.approx(true, rel=1e-3)
        assert job.heard(False)[number].frequency == pytest.approx(row.f_hz, abs=0.01)
    assert sum(p.stat().st_size for p in WAVS) < 150_000


# ---------------------------------------------------------------- verbs


def test_taps_without_model_and_keeping(capsys, tmp_path):
    here = tmp_path / "job"
    shutil.copytree(DEMO, here)
    (here / "taps.csv").unlink()
    words = ("taps", here, WAVS[1], "--no-model", "--quiet")
    code, text, messages = run(capsys, *words)
    assert (code, messages) == (0, "")
    assert "INVENTED DATA" in text
    assert "85.38" in text or "85.39" in text
    assert "Nothing has been kept" in text
    assert not (here / "taps.csv").exists()
    code, text, _ = run(capsys, *words, "--json", "--keep", "2=85.5,5=225.5")
    data = json.loads(text)
    assert (code, data["bar_on"], [k["mode"] for k in data["kept"]]) == (0, False, ["2", "5"])
    assert data["offers"] is None
    assert [len(r["taps"]) for r in data["recordings"]] == [2]
    assert sorted(read_job(here).heard(False)) == [2, 5]
    before = (here / "taps.csv").read_bytes()
    code, text, messages = run(capsys, *words, "--keep", "1=60")
    assert (code, text) == (1, "")
    assert "no peak within 1 % of 60 Hz" in messages
    assert (here / "taps.csv").read_bytes() == before


def test_the_twist_of_a_cello_is_heard(capsys, tmp_path):
    """A tone of 28 Hz, made by rule, below where the peaks of a violin begin."""
    here = write(tmp_path, '[job]\ninstrument = "cello"\n')
    tones = ring([28.0, 47.0, 112.0], [0.02, 0.02, 0.015], [1.0, 0.6, 0.3], taps=3, noise_db=-35, seed=2)
    write_recording(tmp_path / "cello.wav", tones)
    code, text, _ = run(capsys, "taps", here, tmp_path / "cello.wav", "--no-model", "--quiet", "--json")
    heard = [p["f_hz"] for p in json.loads(text)["peaks"]]
    assert code == 0
    assert heard == pytest.approx([28.0, 47.0, 112.0], rel=2e-3)  # some standard deviations of the fit


def test_taps_refuse_wrong_files_and_words(capsys, folder, wav):
    code, text, messages = run(capsys, "taps", folder, folder / "job.toml")
    assert (code, text) == (1, "")
    assert "export it as WAV" in messages
    assert "Traceback" not in messages
    assert run(capsys, "taps", folder, folder / "none.wav")[0] == 1
    for wrong in ("1", "9=80", "1=a", "1=80,1=81"):
        code, _, messages = run(capsys, "taps", folder, wav, "--keep", wrong)
        assert code == 2
    assert run(capsys, "taps", folder, wav, "--bar-on", "--bar-off")[0] == 2
    code, _, messages = run(capsys, "taps", folder, wav, "--no-model", "--quiet", "--keep", "1=84")
    assert code == 1
    assert "measured.mode_1_hz in job.toml says 82 Hz" in messages
    assert not (folder / "taps.csv").exists()


def test_taps_with_the_model_offer_the_modes(capsys):
    code, text, messages = run(capsys, "taps", DEMO, *WAVS)
    assert code == 0
    assert "laying the mesh" in messages
    offers = [line.split() for line in text.splitlines() if "nearest" in line]
    found = {w[0]: float(w[4]) for w in offers if w[1] in ("twist", "cross", "ring")}
    assert found == pytest.approx({"1": 44.2, "2": 85.39, "5": 215.15}, abs=0.02)


def test_bar_on_without_a_bar(tmp_path, wav):
    job = read_job(write(tmp_path, VIOLIN))
    with pytest.raises(RecordingError, match=r"no table \[bar\]"):
        job_taps(job, [read_recording(wav)], True)
    result = job_taps(job, [read_recording(wav)], True, model=False)
    assert result.state == "with bar"
    with pytest.raises(RecordingError, match="only one of them"):
        chosen_readings(result, {1: 84.0, 2: 84.1})


@pytest.fixture(scope="module")
def plate():
    return plate_modes(quick_model(read_job(DEMO).top), None, count=8)


def test_sound_writes_what_is_heard(tmp_path, plate):
    out = tmp_path / "sounds"
    result = JobSounds(read_job(DEMO), {"without bar": plate})
    files = SOUNDS.write_files(result, out)
    assert [p.name for p in files] == [f"tap_mode_{n}_without_bar.wav" for n in (1, 2, 5)]
    assert sorted(p.name for p in out.iterdir()) == sorted(p.name for p in files)
    for path, row in zip(files, result.table.itertuples(), strict=True):
        peaks = tap_peaks(read_recording(path))
        assert np.abs(peaks["f_hz"] / row.f_hz - 1).min() < 1e-3
    with pytest.raises(FileExistsError, match="--force"):
        SOUNDS.write_files(result, out)
    assert SOUNDS.write_files(result, out, force=True) == files
    text = SOUNDS.text(result)
    assert f"{plate.frequency(2):.1f}" in text
    assert "INVENTED DATA" in text


def test_sound_refuses_before_computing(capsys, tmp_path):
    (tmp_path / "tap_mode_1_without_bar.wav").write_text("x")
    code, text, messages = run(capsys, "sound", DEMO, "--out", tmp_path, "--quiet")
    assert (code, text) == (2, "")
    assert "nothing written" in messages


def test_picture_marks_peaks_and_predictions_in_words(plate):
    r = read_recording(WAVS[2])
    ax = Figure().add_subplot()
    assert draw_spectrum(ax, tap_spectrum(r), tap_peaks(r), plate) is ax
    words = [t.get_text() for t in ax.texts]
    assert "215.1" in words
    assert {"mode 1\ntwist", "mode 2\ncross", "mode 5\nring"} <= set(words)
    assert [t.get_text() for t in ax.get_legend().get_texts()] == ["taps", "background", "computed", "peaks"]
    draw_spectrum(Figure().add_subplot(), tap_spectrum(r))


def test_pages_hold_a_spectrum_each_and_all_peaks(plate):
    job = read_job(DEMO)
    result = replace(job_taps(job, [read_recording(w) for w in WAVS], False, model=False), modes=plate)
    for recordings, count in ((result.recordings, 2), (result.recordings[:2], 1)):
        pages = tap_pages(replace(result, recordings=recordings))
        assert len(pages) == count
        assert not [fault for page in pages for fault in faults(page)]
    words = page_words(*pages)
    assert all(f"{f:.2f}" in words for f in result.peaks["f_hz"])
    assert all(w.name in page_words(*tap_pages(result)) for w in WAVS)


def test_the_verb_writes_spectra_and_peaks(folder, wav, capsys):
    out = folder / "found"
    code, _, messages = run(capsys, "taps", folder, wav, "--no-model", "--out", out)
    assert code == 0, messages
    assert sorted(p.name for p in out.iterdir()) == ["tap_peaks.csv", "taps.pdf"]
    assert np.abs(pd.read_csv(out / "tap_peaks.csv")["f_hz"] / 84.0 - 1.0).min() < 1e-3  # as it was made
    code, _, messages = run(capsys, "taps", folder, wav, "--no-model", "--out", out, "--keep", "1=84")
    assert code == 2
    assert "--force" in messages
    assert not (folder / "taps.csv").exists()  # refused before anything is kept
