"""The choice of a bar as text, data, page and verb; the bar written into the job folder."""

import json
import re
import tomllib
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from platemodel.bench.choice import result as choice_report
from platemodel.bench.choice.page import choice_pages
from platemodel.bench.choice.report import REPORT
from platemodel.bench.choice.result import JobChoice, as_data, as_text, merged
from platemodel.bench.choice.sentences import height_caution, verdict
from platemodel.bench.kit.finding_words import finding_lines
from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.page import A4_SIDEWAYS
from platemodel.bench.kit.wrapped_text import wrapped
from platemodel.bench.layout.result import job_layout
from platemodel.cli import main
from platemodel.errors import PlatemodelError
from platemodel.instrument.bar_shape import shaped_bar
from platemodel.instrument.layout_cures import moved
from platemodel.instrument.marks import Mark
from platemodel.job import Job, Measured, read_job
from platemodel.job.keep_bar import bar_table, keep_bar
from platemodel.resources import data_path
from platemodel.study.choosing import targets as t
from platemodel.study.choosing.choose import choose_bar
from platemodel.study.choosing.line_sensitivity import LineSensitivity
from platemodel.study.choosing.wood_bands import WoodDoubt
from platemodel.wood import species_estimate
from platemodel.wood.estimate import doubt_of
from tests.choosing_parts import MM, bar, model, plain, reduced, reference
from tests.job_folders import VIOLIN, write
from tests.paper_faults import faults, page_words

VIOLIN_FOLDER = str(data_path("jobs", "modern_violin"))


def soft_choice(wishes):
    on = LineSensitivity(plain().figures.softer(0.9), bar())
    doubt = species_estimate("tonewood spruce")
    found = choose_bar(
        reduced(),
        bar(),
        wishes,
        effects=on,
        reference=reference(),
        compare=False,
        doubt=WoodDoubt(doubt, doubt),
    )
    return JobChoice(Job("A try", model().top, bar(), Measured(), invented=True), found)


@pytest.fixture(scope="module")
def met():
    return soft_choice([t.foot_as_usual(reference(), 0.95), t.bar_mass(6.5)])


@pytest.fixture(scope="module")
def missed():
    return soft_choice([t.foot_as_usual(reference()), *t.heights(most=12.5)])


# ---------------------------------------------------------------- text and data


@pytest.mark.slow
def test_the_soft_top_reads_well(met):
    text = as_text(met)
    choice = met.choice
    assert "INVENTED DATA" in text
    size = f"a bar of {choice.height_mm:.1f} mm and {choice.figures['bar_g']:.1f} g"
    higher = round(choice.height_mm, 1) - 12.0  # of what is printed
    assert f"{size}, {higher:.1f} mm higher than the usual 12.0 mm" in text
    assert "it cannot be lighter because of: stiffness under the bass foot" in text
    assert "bar and strip of plate as stiff as usual" in text
    assert "+0.5 mm" in text
    assert text.rstrip().endswith("goes to a qualified restorer first.")
    assert max(len(line) for line in wrapped(text).splitlines()) <= 125


def test_a_height_that_is_not_built_is_warned_of(met):
    """15 % about the usual bar; common practice, no source."""
    assert height_caution(met.choice) == []

    class Tall:
        reference, higher_mm = met.choice.reference, 0.2 * 1e3 * met.choice.reference.bar.heights.max()

    (said,) = height_caution(Tall)
    assert said.startswith("More than 15 % off the usual height")


def test_what_is_missed_is_said_first(missed):
    first = verdict(missed.choice)
    assert first.startswith("No bar meets all targets. The nearest is a bar of 12.5 mm")
    assert "%)" in first
    assert "  Why: " in as_text(missed)
    assert "MISSED" in as_text(missed)


def test_json_can_be_carried_and_says_the_same(met, missed):
    for result in (met, missed):
        data = json.loads(json.dumps(as_data(result), allow_nan=False))
        assert data["invented"] is True
        assert data["met"] == result.choice.met
        assert data["bar"]["height_mm"] == pytest.approx(result.choice.height_mm, abs=1e-3)
        assert len(data["targets"]) == len(result.choice.targets)
        assert len(data["conflicts"]) == len(result.choice.conflicts)


def test_what_is_in_the_way_of_the_chosen_bar_is_said(met, missed):
    """In the words of `check` and of the layout, on the page, in the text and in the data."""
    assert "In the way" not in as_text(met)
    near = moved(met.choice.bar, -4 * MM)
    crack = Mark("crack", ((near.x_start - 9 * MM, near.y_start), (near.x_start + 9 * MM, near.y_start)))
    for result in (met, missed):
        job = replace(result.job, bar=near, marks=(crack,))
        result = replace(result, job=job, choice=replace(result.choice, bar=near))
        findings = job_layout(job).conflicts
        assert {"hole", "crack"} <= {f.kind for f in findings}
        text = as_text(result)
        assert all(line in text for f in findings for line in finding_lines(f))
        pages = choice_pages(result)
        assert all(list(faults(page)) == [] for page in pages)
        shown = page_words(pages[0])
        for finding in findings:
            assert finding.text in shown
            assert finding.message in [f["message"] for f in as_data(result)["in_the_way"]]
        assert "--free line" in text
        assert "--free line" in shown
        assert ".." not in text + shown


def test_the_page_tells_the_bars_beside_it_as_the_text_does(met):
    """Their heights too; and what changes nothing has no sign."""
    steps = met.choice.steps.assign(d_f2_hz=[-0.001, 0.001, 0.0, -0.004, 0.004][: len(met.choice.steps)])
    result = replace(met, choice=replace(met.choice, steps=steps))
    _, others = choice_pages(result)
    shown, text = page_words(others), as_text(result)
    for said in (shown, text):
        assert not re.search(r"[-+]0\.0+\b", said.replace("+0.0)", ""))
    assert "height, mm" in shown
    none = met.choice.bands.assign(value=np.nan, low=np.nan, high=np.nan)
    assert "– Hz" not in as_text(replace(met, choice=replace(met.choice, bands=none)))
    assert "the bar given" in text
    assert "as it was" not in page_words(choice_pages(result)[0])


# ---------------------------------------------------------------- files


def test_files_are_written_together_and_not_over_others(met, tmp_path):
    written = REPORT.write_files(met, tmp_path / "out")
    assert sorted(p.name for p in written) == sorted(REPORT.files)
    curve = pd.read_csv(tmp_path / "out" / "bar_choice_curve.csv")
    assert curve["height_mm"].is_monotonic_increasing
    assert np.allclose(curve["foot_n_per_mm"], met.choice.curve["foot_n_per_mm"], atol=1e-4)
    with pytest.raises(FileExistsError, match="--force"):
        REPORT.write_files(met, tmp_path / "out")
    assert len(list((tmp_path / "out").iterdir())) == len(REPORT.files)


def test_the_wood_found_is_the_wood_of_every_page(monkeypatch):
    """Choice, bands of the tones, stop points and sinking take one estimate: the one that was found."""
    doubt = species_estimate("tonewood spruce")
    job = replace(read_job(VIOLIN_FOLDER), found_wood=doubt)
    bench = job_bench(job)
    taken = []
    monkeypatch.setattr(choice_report, "usual_reference", lambda *_: None)
    monkeypatch.setattr(choice_report, "targets_of", lambda *_: ())

    def seen(_, bar, targets, freedom, doubt, **rest):
        taken.append(doubt)
        raise PlatemodelError("enough")

    monkeypatch.setattr(choice_report, "choose_bar", seen)
    monkeypatch.setattr(type(bench), "model", None)
    with pytest.raises(PlatemodelError, match="enough"):
        choice_report.job_choice(job, {"foot_share": 1.0}, bench=bench)
    assert taken[0].top is bench.doubt.top_wood is job.top_wood is doubt
    # without one it is that of the species, about the wood of the job
    plain_job = read_job(VIOLIN_FOLDER)
    assert job_bench(plain_job).doubt.top_wood.wood == plain_job.top_wood.wood == plain_job.top.wood


@pytest.mark.parametrize("which", ["met", "missed"])
def test_the_pages_are_a4_and_legible(which, request):
    for figure in choice_pages(request.getfixturevalue(which)):
        assert figure.get_size_inches() * 25.4 == pytest.approx(A4_SIDEWAYS)
        assert list(faults(figure)) == []


# ---------------------------------------------------------------- targets of the job, doubt, verb


def test_targets_are_read_from_the_job(tmp_path):
    job = read_job(write(tmp_path, VIOLIN + "[targets]\nfoot_share_percent = 95\nmost_height_mm = 14\n"))
    assert job.targets == pytest.approx({"foot_share": 0.95, "most_height": 0.014})


def test_new_targets_take_the_place_of_old_ones_of_their_kind():
    old = {"foot_share": 0.9, "mode_5": 330.0, "bar_mass": 5e-3}
    assert merged(old, {"foot": 9e4}) == {"foot": 9e4, "mode_5": 330.0, "bar_mass": 5e-3}
    assert merged(old, {"least_mode_5": 320.0})["foot_share"] == 0.9
    assert "mode_5" not in merged(old, {"least_mode_5": 320.0})
    assert merged(old, {"bar_mass": 4e-3})["bar_mass"] == 4e-3


def test_measured_wood_is_in_less_doubt():
    job = read_job(VIOLIN_FOLDER)
    measured, guessed = doubt_of(job.top.wood), species_estimate("tonewood spruce")
    assert measured.wood == job.top.wood
    assert measured.sd("E_L") < 0.06 < guessed.sd("E_L")
    assert measured.sd("G_RT") > 0.1


def test_the_verb(met, monkeypatch, tmp_path, capsys):
    asked = {}

    def fake(job, targets, free, blanks, progress):
        asked.update(targets=targets, free=free, blanks=list(blanks))
        return met

    monkeypatch.setattr(choice_report, "job_choice", fake)
    argv = ["choose", VIOLIN_FOLDER, "--least-stiffness", "usual", "--goal", "5=340",
            "--least-height-mm", "10", "--most-height-mm", "14,5", "--most-bar-g", "5",
            "--most-sinking-mm", "0.4", "--most-body-sinking-mm", "0.3",
            "--least-body-mobility-s-per-kg", "0.05", "--most-body-mobility-s-per-kg", "0.1",
            "--ratio", "2.2", "--free", "height,ends",
            "--blanks", str(data_path("samples", "bar_blanks.csv")), "--out", str(tmp_path / "o"),
            "--json"]  # fmt: skip
    assert main(argv) == 0
    assert json.loads(capsys.readouterr().out)["name"] == "A try"
    assert asked["targets"] == pytest.approx({
        "foot_share": 1.0, "mode_5": 340.0, "least_height": 0.01, "most_height": 0.0145, "bar_mass": 0.005,
        "sinking": 0.4e-3, "ratio_5_to_2": 2.2, "body_sinking": 0.3e-3, "least_body_mobility": 0.05,
        "most_body_mobility": 0.1,
    })  # fmt: skip
    assert asked["free"] == ("height", "ends")
    assert "A1" in asked["blanks"]
    assert (tmp_path / "o" / "bar_choice.pdf").exists()
    assert main(["choose", VIOLIN_FOLDER, "--out", str(tmp_path / "o")]) == 2  # files are there


@pytest.mark.parametrize(
    "wrong",
    [["--least-height-mm", "14", "--most-height-mm", "10"], ["--most-height-mm", "1"], ["--free", "colour"],
     ["--least-stiffness", "lots"], ["--goal", "5=3"], ["--goal", "1=90"], ["--free", ""],
     ["--free", "length", "--most-body-sinking-mm", "0.3"], ["--most-body-sinking-mm", "9"]],
)  # fmt: skip
def test_the_verb_refuses_what_cannot_be(wrong, capsys):
    assert main(["choose", VIOLIN_FOLDER, *wrong]) == 2
    said = capsys.readouterr().err
    assert any(word in said for word in ("allowed", "choose among", "MODE=HZ", "must be below", "one line"))


def test_a_job_without_bar_is_told_so(tmp_path, capsys):
    write(tmp_path, VIOLIN)
    assert main(["choose", str(tmp_path)]) == 1
    assert "add the table [bar]" in capsys.readouterr().err


# ---------------------------------------------------------------- the bar in the job folder


def test_a_kept_bar_is_read_back_the_same(tmp_path):
    job = read_job(VIOLIN_FOLDER)
    one = shaped_bar(job.bar, height=13.3 * MM, width=5.8 * MM, length=job.bar.length - 6 * MM)
    table = bar_table(one, job.top.bridge.x, "a try")
    text = (data_path("jobs", "modern_violin") / "job.toml").read_text(encoding="utf-8")
    head, _, rest = text.partition("[bar]\n")
    (tmp_path / "thickness.csv").write_bytes(
        (data_path("jobs", "modern_violin") / "thickness.csv").read_bytes()
    )
    tail = rest[rest.index("[measured]") :]
    (tmp_path / "job.toml").write_text(head + table + tail, encoding="utf-8")
    back = read_job(tmp_path).bar
    for name in ("x_start", "y_start", "x_end", "y_end", "width"):
        assert getattr(back, name) == pytest.approx(getattr(one, name), abs=0.1 * MM), name
    x = np.linspace(one.x_start, one.x_end, 40)[1:-1]
    assert back.height(x) == pytest.approx(one.height(x), abs=0.1 * MM)


def test_the_job_file_itself_stays_as_it_is(tmp_path):
    write(tmp_path, VIOLIN)
    before = (tmp_path / "job.toml").read_bytes()
    (path,) = keep_bar(tmp_path, bar(), model().top.bridge.x)
    assert (tmp_path / "job.toml").read_bytes() == before
    assert tomllib.loads(path.read_text())["bar"]["profile"] == "medium"
    odd = bar().with_height(bar().heights + 1e-3 * np.sin(np.arange(len(bar().heights))) ** 2)
    paths = keep_bar(tmp_path, odd, model().top.bridge.x)
    assert paths[0].name == "chosen_bar.toml"
    assert tomllib.loads(paths[0].read_text())["bar"]["heights_file"] == paths[1].name
    rows = pd.read_csv(paths[1])
    assert rows["height_mm"].max() == pytest.approx(1e3 * odd.heights.max(), abs=0.01)


def test_a_folder_that_is_none_is_refused(tmp_path, monkeypatch):
    with pytest.raises(PlatemodelError, match="no such folder"):
        keep_bar(tmp_path / "none", bar(), 0.16)

    def locked(*args, **kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("os.replace", locked)
    with pytest.raises(PlatemodelError, match="not saved"):
        keep_bar(tmp_path, bar(), 0.16)
    assert list(tmp_path.iterdir()) == []
