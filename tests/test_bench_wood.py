"""Wood of a job's top: report, data, lines for job.toml, pictures, page, files and the verb."""

import csv
import json
import re
import shutil
import tomllib
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions, paper_files
from platemodel.bench.kit.tones import signed
from platemodel.bench.kit.wrapped_text import wrapped
from platemodel.bench.wood import result as wood_report
from platemodel.bench.wood.page import wood_page
from platemodel.bench.wood.plots import draw_bands, draw_trade_off
from platemodel.bench.wood.report import REPORT
from platemodel.bench.wood.result import (
    SHOWN,
    WORDS,
    as_data,
    as_text,
    figures,
    job_wood,
    prior_of,
    snippet,
)
from platemodel.cli import main
from platemodel.job import read_job
from platemodel.job.states import WITH, TopState
from platemodel.resources import data_path
from platemodel.study import plate_modes, top_model
from platemodel.study.wood.reading_doubts import Doubt
from platemodel.study.wood.wood_fit import identify_wood
from platemodel.study.wood.wood_modes import WoodSolver
from platemodel.wood import CONSTANTS, from_species
from tests.job_folders import write
from tests.paper_faults import faults, page_words

FILES = tuple(REPORT.files)
DEMO = data_path("jobs", "old_viola")
A4_PT = (297 / 25.4 * 72, 210 / 25.4 * 72)  # ISO 216: 210 x 297 mm; PDF counts 72 points to an inch
Z_90 = 1.6449  # 95 % point of the normal distribution, any table
CHI2_90 = 4.605  # 90 % point of chi-square with two degrees of freedom, any table


def coarse_model(top, _=1.0, bar=None):
    return top_model(top, 0.4, bar=bar)


@pytest.fixture
def coarse(monkeypatch):
    monkeypatch.setattr(wood_report, "top_model", coarse_model)


@pytest.fixture
def quick(monkeypatch, coarse, solver, result):
    """The demo's top answers from the shapes that `result` has found: the same mechanics in milliseconds."""
    monkeypatch.setattr(solver, "full", lambda wood, _=0.0: solver.reduced(wood))
    monkeypatch.setattr(wood_report, "identify_wood", partial(identify_wood, solver=solver))


@pytest.fixture(scope="module")
def job():
    return read_job(DEMO)


@pytest.fixture(scope="module")
def solver(job):
    return WoodSolver(coarse_model(job.top, bar=job.bar))


@pytest.fixture(scope="module")
def result(job, solver):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(wood_report, "top_model", coarse_model)
        patch.setattr(wood_report, "identify_wood", partial(identify_wood, solver=solver))
        return job_wood(job)


@pytest.fixture(scope="module")
def fit(result):
    return result.fit


@pytest.fixture(scope="module")
def doubtful(result):
    """The same result as if three doubts had been overruled, and without a weight."""
    message = (
        "the taps fit no wood of the kind; mode 5 at 317.325 Hz is the oddest (1200 to 1400 Hz would be "
        "possible): check the reading, the thickness and the arching"
    )
    found = (Doubt((5,), "unexplained", message), Doubt((5,), "octave", "mode 5 looks an octave too low"))
    return replace(result, fit=replace(result.fit, doubts=found, mass=None))


@pytest.fixture(scope="module")
def sheets(result, doubtful):
    return {"result": wood_page(result), "doubtful": wood_page(doubtful)}


@pytest.fixture
def ax():
    return Figure().subplots()


# ---------------------------------------------------------------- what is found


def test_the_known_wood_of_the_demo_lies_in_the_bands(result):
    """README of the demo: constants that its invented taps were made from, with the default mesh."""
    true = {"density": 372.0, "E_L": 9.919, "E_R": 0.5874, "G_LR": 0.4760}
    table = result.table.set_index("quantity")
    for name, value in true.items():
        assert table.loc[name, "low"] < value < table.loc[name, "high"], name
    assert list(result.table["quantity"]) == list(SHOWN)
    assert not result.bar_on


def test_bands_are_those_of_a_normal_logarithm(result, fit):
    table = result.table.set_index("quantity")
    sd = fit.estimate.sd("E_R")
    assert table.loc["E_R", "high"] == pytest.approx(table.loc["E_R", "value"] * np.exp(Z_90 * sd), rel=1e-4)
    speed = np.sqrt(fit.estimate.wood.E_L / fit.estimate.wood.density)  # of sound in a slender bar
    assert table.loc["c_L", "value"] == pytest.approx(speed, rel=1e-12)


def test_columns_beside_it_are_the_species_and_the_job(result, job):
    table = result.table.set_index("quantity")
    assert table.loc["E_L", "expected"] == pytest.approx(10.7)  # data/wood/species.csv
    assert table.loc["E_L", "stated"] == pytest.approx(1e-9 * job.top.wood.E_L)
    assert table.loc["density", "stated"] == pytest.approx(372.0)


def test_stated_constants_narrow_the_prior(job):
    plain, stated = prior_of(job.top.wood), prior_of(job.top.wood, stated=True)
    for name in ("E_L", "E_R", "G_LR"):
        assert stated.sd(name) <= 0.05 < plain.sd(name)
    assert "stated in the job" in stated.source


def test_a_wood_of_no_species_falls_back_on_the_usual_one():
    assert (
        prior_of(replace(from_species("Sitka spruce"), name="from the attic")).wood.name == "tonewood spruce"
    )


# ---------------------------------------------------------------- text and data


def test_text_says_what_was_heard_found_and_next(result, fit):
    text = as_text(result)
    assert "INVENTED DATA" in text
    assert "Taps without bar" in text
    for row in fit.modes.itertuples():
        assert f"{row.number} {row.name}" in text
        assert f"{row.heard_hz:.1f}" in text
    line = next(line for line in text.splitlines() if line.strip().startswith("G_LR"))
    low, high = fit.estimate.band("G_LR")
    assert (
        f"{figures(1e-9 * fit.estimate.wood.G_LR)}   ({figures(1e-9 * low)} to {figures(1e-9 * high)})"
        in line
    )
    assert f"mode {fit.next_taps['number'].iloc[0]}" in text.split("One more tap")[1]
    assert "weight     71.3 g" in text
    assert "The maker decides" in text
    assert "Looks wrong" not in text
    assert max(map(len, wrapped(text).splitlines())) <= 125


def test_text_of_doubtful_taps_says_so_before_all_else(doubtful):
    lines = as_text(doubtful).splitlines()
    assert [line.startswith("LOOKS WRONG: ") for line in lines[1:4]] == [True, True, False]
    assert any("not weighed in any state" in line for line in lines)
    barred = replace(doubtful, states=(TopState(WITH, "new"),))
    assert "the bar in job.toml is taken as the one" in as_text(barred)


def test_figures_are_three_and_signs_are_shown():
    cases = {381.5: "382", 5071.0: "5070", 9.809: "9.81", 0.66: "0.660", 13.3: "13.3", 0.0225: "0.0225"}
    assert {value: figures(value) for value in cases} == cases
    assert [signed(v) for v in (0.123, -0.127, -0.004)] == ["+0.12", "-0.13", "0.00"]


def test_data_go_into_json(result, doubtful, fit):
    data = json.loads(json.dumps(as_data(result), allow_nan=False))
    assert data["doubts"] == []
    assert [t["number"] for t in data["taps"]] == [1, 2, 5]
    assert data["mass_g"]["measured"] == pytest.approx(71.3)
    # written with six figures
    assert data["wood"][1]["value"] == pytest.approx(1e-9 * fit.estimate.wood.E_L, rel=1e-5)
    assert data["job_toml"] == snippet(fit.estimate.wood)
    other = json.loads(json.dumps(as_data(doubtful), allow_nan=False))
    assert other["mass_g"] is None
    assert len(other["doubts"]) == 2


def test_lines_for_job_toml_give_the_wood_back(fit, tmp_path):
    lines = "\n".join(snippet(fit.estimate.wood))
    assert set(tomllib.loads(lines)["wood"]["top"]) > {"species", "density_kg_m3", "E_L_gpa", "G_LR_gpa"}
    found = read_job(write(tmp_path, f'[job]\ninstrument = "viola"\n{lines}\n')).top.wood
    for name in CONSTANTS:
        if not name.startswith("nu"):
            # whole kg/m3, four figures of GPa
            assert getattr(found, name) == pytest.approx(getattr(fit.estimate.wood, name), rel=1.5e-3), name


def test_a_job_with_the_lines_rings_as_fitted(job, fit, tmp_path):
    folder = shutil.copytree(DEMO, tmp_path / "job")
    text = (folder / "job.toml").read_text(encoding="utf-8")
    before = re.search(r"\[wood\.top\]\n(.*\n)+?(?=\n)", text).group()
    kept = [line for line in before.splitlines() if line.startswith("grain_angle")]
    text = text.replace(before, "\n".join([*snippet(fit.estimate.wood), *kept]) + "\n")
    (folder / "job.toml").write_text(text, encoding="utf-8")
    top = read_job(folder).top
    modes = plate_modes(coarse_model(top, job.bar))
    heard = fit.modes.set_index("number")
    factor = fit.thickness[0] - 1.0
    for number in (1, 2, 5):
        # slips of the shape and the thickness factor stay out of job.toml; the factor moves a mode by less
        # than itself
        limit = abs(factor) + 1e-3
        plain = heard.loc[number, "fitted_hz"] / (1 + heard.loc[number, "slip_percent"] / 100)
        assert modes.frequency(number) == pytest.approx(plain, rel=limit), number


# ---------------------------------------------------------------- pictures and page


def test_bands_are_drawn_in_place_and_told_without_colour(fit, ax):
    assert draw_bands(fit, ax) is ax
    bars = [line for line in ax.lines if len(line.get_xdata()) == 2 and line.get_linewidth() > 1]
    marks = [line for line in ax.lines if line.get_marker() not in ("None", None, "")]
    assert len(bars) == len(marks) == 8
    assert {round(b.get_linewidth()) for b in bars} == {7, 4}
    assert {m.get_marker() for m in marks} == {"|", "o"}
    names = [t.get_text() for t in ax.get_yticklabels()]
    at = names.index(WORDS["E_R"])
    found = min((b for b in bars if round(b.get_linewidth()) == 4), key=lambda b: abs(b.get_ydata()[0] - at))
    median = fit.prior.wood.E_R
    expected = [100 * (v / median - 1) for v in fit.estimate.band("E_R")]
    assert list(found.get_xdata()) == pytest.approx(expected)
    written = {t.get_text() for t in ax.texts}
    assert f"{1e-9 * fit.estimate.wood.E_R:.3g} GPa" in written
    assert f"{fit.estimate.wood.density:.3g} kg/m³" in written
    low, high = ax.get_ylim()
    assert low > high  # the first row on top
    assert "90 %" in ax.get_title()


def test_the_region_of_a_pair_holds_ninety_of_a_hundred(fit, ax):
    assert draw_trade_off(fit, ax, "E_L", "G_LR") is ax
    lines = [line for line in ax.lines if len(line.get_xdata()) > 2]
    assert [line.get_linestyle() for line in lines] == ["--", "-"]
    assert {t.get_text() for t in ax.texts} == {"species", "this top"}
    at = [CONSTANTS.index(c) for c in ("E_L", "G_LR")]
    for line, estimate in zip(lines, (fit.prior, fit.estimate), strict=True):
        off = np.log(1e9 * line.get_xydata()) - estimate.logs[at]
        distance = np.einsum("ni,ij,nj->n", off, np.linalg.inv(estimate.log_cov[np.ix_(at, at)]), off)
        assert distance == pytest.approx(CHI2_90, rel=1e-3)
    assert ax.get_xlabel() == "E_L along the grain, GPa"
    assert draw_trade_off(fit, Figure().subplots(), "E_R", "G_RT").get_ylabel() == "G_RT, GPa"


def test_the_page_is_a4_and_says_what_it_is(result, sheets, tmp_path):
    figure = sheets["result"]
    path = paper_files.save_pages(figure, tmp_path / "page.pdf")
    box = re.search(rb"/MediaBox \[([^\]]*)\]", path.read_bytes()).group(1).split()
    assert [float(v) for v in box] == pytest.approx([0, 0, *A4_PT], abs=0.01)
    text = page_words(figure)
    heads = ("Invented data", "without bar", "weight, g", "One more tap")
    for expected in (result.job.name, *heads, *cautions.WOOD):
        assert expected in text
    assert all(" ".join(line.split()) in text for line in snippet(result.fit.estimate.wood)[1:])
    assert "Looks wrong" not in text


@pytest.mark.parametrize("kind", ["result", "doubtful"])
def test_the_page_is_legible(kind, sheets):
    assert list(faults(sheets[kind])) == []
    assert ("Looks wrong" in page_words(sheets[kind])) == (kind == "doubtful")


# ---------------------------------------------------------------- files


def test_files_hold_the_table_and_are_not_overwritten(result, tmp_path):
    out = tmp_path / "new" / "sheets"
    assert [p.name for p in REPORT.write_files(result, out)] == list(FILES)
    assert sorted(p.name for p in out.iterdir()) == sorted(FILES)
    rows = list(csv.DictReader((out / FILES[0]).open(encoding="utf-8")))
    assert [r["quantity"] for r in rows] == list(SHOWN)
    assert [float(r["low"]) for r in rows] == pytest.approx(result.table["low"].tolist(), rel=1e-5)
    before = [(out / name).read_bytes() for name in FILES]
    with pytest.raises(FileExistsError, match="--force"):
        REPORT.write_files(result, out)
    assert [(out / name).read_bytes() for name in FILES] == before


def test_one_file_in_the_way_is_enough(result, tmp_path):
    (tmp_path / FILES[1]).write_text("mine")
    with pytest.raises(FileExistsError, match=re.escape(FILES[1])):
        REPORT.write_files(result, tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == [FILES[1]]
    REPORT.write_files(result, tmp_path, force=True)
    assert (tmp_path / FILES[1]).read_bytes().startswith(b"%PDF")


def test_files_are_written_whole_or_not_at_all(result, tmp_path, monkeypatch):
    def full_disk(*_):
        raise OSError(28, "No space left on device")

    (tmp_path / FILES[0]).write_text("mine")
    monkeypatch.setattr(paper_files, "save_pages", full_disk)
    with pytest.raises(OSError, match="No space"):
        REPORT.write_files(result, tmp_path, force=True)
    assert [p.name for p in tmp_path.iterdir()] == [FILES[0]]
    assert (tmp_path / FILES[0]).read_text() == "mine"


# ---------------------------------------------------------------- the verb


def run(capsys, *args):
    code = main([str(a) for a in args])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_wood_prints_and_writes(capsys, tmp_path, monkeypatch, result):
    out = tmp_path / "sheets"
    monkeypatch.setattr(wood_report, "job_wood", lambda *_, **__: result)
    code, text, messages = run(capsys, "wood", DEMO, "--out", out)
    assert code == 0
    assert text.split() == as_text(result).split()  # long lines are broken for the terminal
    assert "drawing the page" in messages
    assert sorted(p.name for p in out.iterdir()) == sorted(FILES)
    monkeypatch.setattr(wood_report, "job_wood", None)  # refused before the computing
    code, text, messages = run(capsys, "wood", DEMO, "--out", out)
    assert (code, text) == (2, "")
    assert "--force" in messages


def altered(tmp_path, ring_hz):
    """The demo with another pitch written down for mode 5."""
    folder = shutil.copytree(DEMO, tmp_path / "job")
    table = (folder / "taps.csv").read_text(encoding="utf-8")
    (folder / "taps.csv").write_text(table.replace("215.145", ring_hz), encoding="utf-8")
    return folder


def test_an_octave_is_not_fitted(capsys, tmp_path, quick):
    """No wood rings with the ring an octave higher."""
    out = tmp_path / "sheets"
    folder = altered(tmp_path, "430.29")
    code, text, messages = run(capsys, "wood", folder, "--out", out, "--json", "--quiet")
    assert code == 1
    assert "the taps look wrong" in messages
    assert "mode 5 at 430.29 Hz looks an octave too high; 215 Hz would fit" in messages
    assert "--despite-doubts fits" in messages
    assert "Traceback" not in messages
    assert not out.exists()
    data = json.loads(text)
    assert data["ok"] is False
    assert "octave" in data["doubts"][0]


@pytest.mark.slow
def test_doubtful_taps_are_fitted_when_asked(capsys, tmp_path, quick):
    """Mode 4 of the demo written down as mode 5."""
    code, text, messages = run(capsys, "wood", altered(tmp_path, "158"), "--despite-doubts", "--quiet")
    assert (code, messages) == (0, "")
    assert text.splitlines()[1].startswith("LOOKS WRONG: 158 Hz is given as mode 5 but looks like mode 4")
