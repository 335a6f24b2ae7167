"""Working notebooks with a reader's own job in place of the demo: they run, and say no "nan"."""

import gc

import pandas as pd
import pytest

from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.taps_apart import with_taps_finding
from platemodel.bench.kit.tones import sentence
from platemodel.bench.notebook import live
from platemodel.bench.trim.result import job_trim
from platemodel.errors import JobError
from platemodel.job import read_job
from platemodel.resources import data_path
from tests.notebook_runs import NO_FIGURE, not_a_figure, run_notebook
from tests.unlike_jobs import UNLIKE

pytest.importorskip("ipywidgets")
COARSE = 0.5  # of the mesh: what is said does not hang on it


@pytest.fixture(autouse=True)
def _no_learning_behind(monkeypatch):
    """Panels solve bars ahead in a thread of their own; here nobody will move those sliders."""
    monkeypatch.setattr(live, "_learning", lambda *_: None)
    yield
    gc.collect()  # models of one notebook need not live beside those of the next


@pytest.fixture
def folder(request, tmp_path):
    """A job unlike the demos."""
    return str(UNLIKE[request.param](tmp_path))


def renamed(path, tmp_path, **names):
    """A table of samples with other names in it."""
    text = data_path("samples", path).read_text()
    for old, new in names.items():
        text = text.replace(f"\n{old},", f"\n{new},")
    out = tmp_path / "mine.csv"
    out.write_text(text)
    return str(out)


@pytest.mark.parametrize("line", ["nan to nan mm", "mode 5: NaN", "margin inf", "-inf", "[nan, 1.0]"])
def test_what_is_no_figure_is_seen(line):
    assert NO_FIGURE.search(line)


@pytest.mark.parametrize("line", ["information", "Nancy", "finance", "inferred", "sample.nan_policy"])
def test_words_are_left_alone(line):
    assert not NO_FIGURE.search(line)


def test_a_blank_with_one_reading_only():
    """Whoever has a scale, a caliper and one tone gets an answer, and is told what nothing is known of."""
    run = run_notebook(
        "03", LENGTH_MM=410, WIDTH_MM=26.0, THICKNESS_MM=14.2, WEIGHT_G=58.1, RINGS="thickness",
        FLAT_HZ=430, EDGE_HZ=None, END_HZ=None, BEND=None, PULSE_US=None, ACROSS=None,
    )  # fmt: skip
    assert not not_a_figure(run)
    assert "nothing was measured twice" in run.said["fit-says"]
    assert "with it" not in run.said["across"]


def test_a_blank_misread_is_told():
    run = run_notebook("03", EDGE_HZ=1155 * 1.06)
    assert "contradict each other" in run.said["fit-says"]
    assert not not_a_figure(run)


def test_modes_of_another_top(tmp_path):
    """The one quick representative: a soft thin top of another length, without bar, with taps typed in."""
    folder = UNLIKE["soft_violin"](tmp_path)
    toml = folder / "job.toml"
    toml.write_text(toml.read_text(encoding="utf-8").replace("= 257", "= 291"), encoding="utf-8")
    run = run_notebook("01", FOLDER=str(folder), FINENESS=COARSE)
    assert not not_a_figure(run)
    # what looks odd is the list of `check`, the taps among it; its figures are those of the notebook's mesh
    job = read_job(folder)
    odd = with_taps_finding(job, job_bench(job, COARSE)).findings
    assert odd[0].kind == "taps and model"
    said = " ".join(run.said["read"].split())
    assert f"Looks odd ({len(odd)})" in said
    assert all(f"{n}. {sentence(finding.message)}" in said for n, finding in enumerate(odd, 1))
    assert "no bar" in run.said["read"]
    assert "your tap of 60.0 Hz" in run.said["taps"].replace("\n ", "")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "folder"),
    [("01", "small_viola"), ("02", "soft_violin"), ("05", "old_cello")],
    indirect=["folder"],
)
def test_a_top_unlike_the_demo(name, folder):
    run = run_notebook(name, FOLDER=folder, FINENESS=COARSE)
    assert not not_a_figure(run)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["02", "07"])
def test_the_other_demo_by_its_name(name):
    assert not not_a_figure(run_notebook(name, FOLDER="old_viola", FINENESS=COARSE))


@pytest.mark.slow
def test_the_wood_of_another_top(tmp_path):
    run = run_notebook("06", FOLDER=str(UNLIKE["soft_violin"](tmp_path)), FINENESS=COARSE)
    assert not not_a_figure(run)


def test_a_top_that_nobody_tapped_is_told_what_is_missing(tmp_path):
    folder = str(UNLIKE["small_viola"](tmp_path))
    with pytest.raises(JobError, match="found no taps; taps or flexes are needed"):
        run_notebook("06", FOLDER=folder, FINENESS=COARSE)


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["soft_violin"], indirect=True)
def test_pieces_with_other_names_on_another_top(folder, tmp_path):
    table = renamed("bar_blanks.csv", tmp_path, A1="Loft", D1="Alte Kiste", E1="7b")
    run = run_notebook("04", TABLE=table, FOLDER=folder, FINENESS=COARSE)
    assert "Alte Kiste" in run.said["on-top"]
    assert not not_a_figure(run)


@pytest.mark.slow
def test_wedges_in_place_of_blanks(tmp_path):
    run = run_notebook("04", TABLE=str(data_path("samples", "top_wedges.csv")), FINENESS=COARSE)
    assert not not_a_figure(run)


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["old_cello"], indirect=True)
def test_choosing_for_another_top(folder):
    run = run_notebook("07", FOLDER=folder, FINENESS=COARSE)
    assert not not_a_figure(run)
    said = " ".join(run.said["ask"].split())
    assert "In the way of this bar: Bar 0.6 mm from the upper eye of the bass sound hole" in said


@pytest.mark.slow
def test_choosing_without_limits_and_without_blanks(tmp_path):
    folder = UNLIKE["soft_violin"](tmp_path)
    run = run_notebook(
        "07", FOLDER=str(folder), MOST_HEIGHT_MM=None, MOST_WEIGHT_G=None, BLANKS=None, SOFTER=1.0
    )
    assert not not_a_figure(run)
    assert "no bar" in run.said["learn"]


@pytest.mark.parametrize("folder", ["soft_violin", "small_viola", "old_cello"], indirect=True)
def test_laying_out_on_another_top(folder):
    run = run_notebook("08", FOLDER=folder, SPRING_MM=0.0, STATIONS_MM=40)
    assert not not_a_figure(run)
    assert ("no conflicts" in run.said["conflict"].lower()) == (not run.names["layout"].conflicts)
    told = "Three ways past" if run.names["hit"] else "Nothing to choose"
    assert told in run.said["ways-out"]


def test_a_bar_that_fits_is_glued_without_a_gap(tmp_path):
    """The quick one: no gap, so nothing is solved on a mesh."""
    folder = str(UNLIKE["small_viola"](tmp_path))
    run = run_notebook("09", FOLDER=folder, SPRING_MM=0, BLANK_MM=None, CLAMPS=6, WOOD_C=12)
    assert not not_a_figure(run)
    assert "taken to fit all over" in run.said["closing"]
    assert run.said["closing-says"] == ""
    assert run.names["plan"].count == 6


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["old_cello"], indirect=True)
def test_a_spring_glued_into_another_top(folder):
    run = run_notebook("09", FOLDER=folder)
    assert not not_a_figure(run)
    lower = run.names["job"].bar.heights.max() > 20e-3
    assert ("is lower than this bar" in run.said["blank"]) == lower


@pytest.mark.slow
def test_a_short_hollow_is_not_clamped_shut():
    """Half a millimetre over seventy: the words follow, and the arch is drawn in, not out."""
    run = run_notebook("09", GAPS=[(0, 0), (100, 0), (135, 0.5), (170, 0), (270, 0)], BLANK_MM=None)
    assert not not_a_figure(run)
    assert "too large: pare again" in run.said["closing"]
    assert "N more stood on it" in run.said["closing"].replace("\n ", "")
    assert "hump" not in run.said["closing-says"]


@pytest.mark.parametrize("folder", ["small_viola"], indirect=True)
@pytest.mark.slow
def test_trimming_rehearsed_on_another_top(folder):
    run = run_notebook("10", FOLDER=folder, LOWER={1: 0.6}, KEEP=95)
    assert not not_a_figure(run)
    assert run.names["kept"] >= 95
    # one number, one value: the page of `trim` proposes the same first cut, with the same bands
    mine, first = run.names, run.names["first_proposal"]
    page = job_trim(
        mine["job"],
        mine["rows"][:1],
        mine["aims"],
        mine["least_height"],
        0.95,
        mine["least_end"],
        bench=mine["bench"],
    ).proposal
    assert page.text == first.text
    pd.testing.assert_frame_equal(page.expected, first.expected, rtol=1e-9)


def test_trimming_without_a_bar_is_told(tmp_path):
    with pytest.raises(JobError, match="trimming needs a bar"):
        run_notebook("10", FOLDER=str(UNLIKE["soft_violin"](tmp_path)))


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["old_cello"], indirect=True)
def test_another_top_on_its_ribs(folder):
    run = run_notebook("11", FOLDER=folder)
    assert not not_a_figure(run)
    assert "The bar takes" in run.said["load-says"]  # it carries, whatever the top
    assert run.names["cases"]["sink_bass_mm"].is_monotonic_decreasing


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["old_cello"], indirect=True)
def test_flexing_another_top_without_readings(folder):
    run = run_notebook("12", FOLDER=folder, READ=[], FINENESS=0.4)
    assert not not_a_figure(run)
    assert "No readings yet." in run.said["readings"]


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["small_viola"], indirect=True)
def test_a_decisive_day_on_a_top_whose_ring_is_not_told(folder):
    run = run_notebook("13", FOLDER=folder)
    assert not not_a_figure(run)
    assert "Mode 5: too few readings" in run.said["judged"]
    assert "Not known: mode 5 over the model" in run.said["belief"]
