"""Pictures, page, report and command of the string load."""

import csv
import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.figure import Figure
from shapely import contains_xy

from platemodel.bench.kit import cautions
from platemodel.bench.kit.against_usual import least_line, share_words, with_shares
from platemodel.bench.kit.wrapped_text import wrapped
from platemodel.bench.load import result as load_report
from platemodel.bench.load.page import load_pages
from platemodel.bench.load.plots import draw_bar_forces, draw_load_split, draw_sinking
from platemodel.bench.load.report import REPORT
from platemodel.bench.load.result import (
    NOT_THE_TENSION,
    JobLoad,
    as_data,
    as_text,
    job_load,
    load_lines,
    margin_text,
)
from platemodel.cli import main
from platemodel.instrument.strings import KGF
from platemodel.job import read_job
from platemodel.resources import data_path
from tests.paper_faults import faults, page_words
from tests.quick import quick_bench

VIOLIN = data_path("jobs", "modern_violin")
MM = 1e-3


@pytest.fixture(scope="module")
def result():
    job = read_job(VIOLIN)
    return job_load(job, bench=quick_bench(job))


@pytest.fixture(scope="module")
def load(result):
    return result.load


@pytest.fixture
def ax():
    return Figure().subplots()


# --- pictures -----------------------------------------------------------------------------------------


def test_contours_carry_their_height_and_the_line_between_is_thick(load, ax):
    assert draw_sinking(load, load.main, ax) is ax
    filled, lines, zero = (c for c in ax.collections if hasattr(c, "levels"))
    assert filled.filled
    assert zero.levels.tolist() == [0.0]
    assert zero.get_linewidth()[0] > 2 * lines.get_linewidth()[0]
    labels = {t.get_text() for t in lines.labelTexts}
    assert labels
    assert labels <= {f"{v:+.1f}" for v in lines.levels} | {f"{v:+.2f}" for v in lines.levels}
    for level, style in zip(lines.levels, lines.get_linestyle(), strict=True):
        assert (style[1] is None) == (level < 0)  # sunk solid, raised dashed


def test_contour_lines_end_at_the_sound_holes(load, ax):
    """A label put on a line inside a hole cannot be read."""
    draw_sinking(load, load.main, ax)
    lines = [c for c in ax.collections if hasattr(c, "levels")][1]
    at = np.concatenate([p.vertices for p in lines.get_paths()]) * MM  # y, x
    assert len(at) > 100
    for hole in load.model.top.sound_holes:
        assert not contains_xy(hole.polygon, at[:, 1], at[:, 0]).any()


def test_the_deepest_contour_lies_where_the_top_sinks_most(load, ax):
    """Asked of the grid: a picture with x and y exchanged cannot pass."""
    draw_sinking(load, load.main, ax)
    lines = [c for c in ax.collections if hasattr(c, "levels")][1]
    inner = np.concatenate([p.vertices for p in [lines.get_paths()[0]]])[:, ::-1] * MM
    deepest = load.grid.points[:, load.main.shape.argmin()]
    assert np.hypot(*(inner.mean(axis=0) - deepest)) < 40 * MM


def test_titles_say_state_and_band(load, ax):
    draw_sinking(load, load.main, ax)
    low, mid, high = (1e3 * v for v in load.day_one(load.main))
    assert ax.get_title() == f"with bar\nbass foot {mid:.2f} mm\n({low:.2f} to {high:.2f})"


def test_forces_of_the_bar_are_drawn_in_millimetres_and_megapascals(load, ax):
    assert draw_bar_forces(load, ax) is ax
    free = ax.lines[0]
    assert free.get_xdata()[0] == pytest.approx(1e3 * load.bar.x_start, abs=2)
    middle = 0.5e-6 * (load.main.bar_forces.sliding.free + load.main.bar_forces.held.free)
    assert free.get_ydata() == pytest.approx(middle)
    assert len({line.get_linestyle() for line in ax.lines[:3]}) == 3
    with pytest.raises(ValueError, match="no bar"):
        draw_bar_forces(load, ax, load.state(bar=False))


def test_the_split_is_drawn_to_scale(load, ax):
    assert draw_load_split(load, ax) is ax
    widths = [p.get_width() for p in ax.patches]
    assert widths == pytest.approx([load.set_up.strings.total, load.downforce, load.bass, load.treble])
    assert "not the load" in ax.get_title(loc="left")


# --- page and text ------------------------------------------------------------------------------------


def test_the_pages_say_what_they_are(result, load):
    text = page_words(*load_pages(result))
    for expected in (result.job.name, cautions.INVENTED, cautions.MARGINS, *cautions.LOAD, "!"):
        assert expected in text
    assert NOT_THE_TENSION.split(":")[0] in text
    for row in load.table.itertuples():
        assert f"{row.sink_bass_mid_mm:.2f} ({row.sink_bass_low_mm:.2f} to" in text


def test_the_pages_are_legible(result):
    for figure in load_pages(result):
        assert list(faults(figure)) == []


def test_pages_without_bar(result, load):
    alone = replace(load, bar=None, states=tuple(s for s in load.states if not s.bar))
    first, second = load_pages(replace(result, load=alone))
    assert len(first.axes) == 4  # the page itself, two pictures, the split of the load
    assert len(second.axes) == 1


def test_text_shows_pull_and_load_in_both_units(result, load):
    text = as_text(result)
    total, push = load.set_up.strings.total, load.downforce
    assert f"together {total:.0f} N ({total / KGF:.1f} kgf)" in text
    assert f"{push:.1f} N ({push / KGF:.1f} kgf), at 157.5 degrees included angle" in text
    assert "not the load on the top" in text
    assert cautions.MARGINS in text
    assert "INVENTED DATA" in text
    assert max(map(len, wrapped(text).splitlines())) <= 125


def test_a_direct_load_is_called_so(load):
    lines = dict(load_lines(replace(load, bass=41.0, treble=59.0)))
    assert lines["load on the top"] == "100.0 N (10.2 kgf), given directly"


def test_margins_in_words(load):
    rows = {r.what: margin_text(r) for r in load.main.margins.itertuples() if r.part != "top"}
    assert rows["shear along the joint"][0].isdigit()
    assert margin_text(SimpleNamespace(margin=40.0, margin_low=25.0, margin_high=60.0)) == ">20"


def test_margins_stand_against_the_usual_instrument(result):
    """The demo violin is close to usual; a part with half of the usual margin is marked, and told."""
    own = result.load.main.margins
    same = with_shares(own, own.set_index(["part", "what"])["margin"])
    assert {share_words(s) for s in same["share"]} == {"as usual"}
    assert least_line(same, "violin") == "as the usual violin or more, everywhere"
    weak = same.assign(share=[0.81, *[1.0] * (len(same) - 1)])
    assert least_line(weak, "violin").startswith("a fifth less than the usual violin has (")
    strong = weak.assign(share=0.5, margin=9.0)
    strong.loc[strong.index[-1], ["share", "margin", "what"]] = 0.7, 1.5, "by a hair"
    assert least_line(strong, "violin").endswith(", by a hair): look there first")
    assert least_line(strong.iloc[:-1], "violin").endswith("), with strength to spare")
    # two that are called a third less: the one with less in hand, not the one a hair shorter of the usual
    two = same.iloc[:2].assign(share=[0.65, 0.66], margin=[2.0, 0.6], what=["safer", "near"])
    assert least_line(two, "violin").endswith(", near): look there first")
    half = replace(result, usual=2 * own.set_index(["part", "what"])["margin"])
    below = half.margins[half.margins["margin"] < 10]  # larger ones count as 20
    assert {share_words(s) for s in below["share"]} == {"half"}
    assert "  half !  " in as_text(half)
    assert "look there first" in as_text(half)
    assert " ".join(as_text(result).split()).count(" nan") == 0


def test_data_go_into_json(result, load):
    data = json.loads(json.dumps(as_data(result), allow_nan=False))
    assert data["load"]["total_tension_n"] == load.set_up.strings.total
    assert data["load"]["downforce_n"] == pytest.approx(load.downforce, abs=5e-4)
    assert [s["state"] for s in data["states"]] == [s.label for s in load.states]
    assert len(data["margins"]["with bar"]) == len(load.main.margins)


# --- command ------------------------------------------------------------------------------------------


@pytest.fixture
def coarse(monkeypatch):
    monkeypatch.setattr(load_report, "job_bench", quick_bench)


def run(capsys, *args):
    code = main([str(a) for a in args])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_load_prints_and_writes(capsys, tmp_path, coarse):
    out = tmp_path / "sheets"
    code, text, messages = run(capsys, "load", VIOLIN, "--no-bar", "--out", out)
    assert code == 0
    assert "pressing on the feet" in messages
    assert sorted(p.name for p in out.iterdir()) == sorted(REPORT.files)
    rows = list(csv.DictReader((out / "string_load.csv").open()))
    assert [r["state"] for r in rows] == ["without bar", "without bar, post out"]
    assert f"{float(rows[0]['sink_bass_mid_mm']):.2f} (" in text
    assert (out / "string_load.pdf").read_bytes().startswith(b"%PDF")
    before = (out / "string_load.csv").read_bytes()
    code, text, messages = run(capsys, "load", VIOLIN, "--no-bar", "--out", out)
    assert (code, text) == (2, "")
    assert "--force" in messages
    assert (out / "string_load.csv").read_bytes() == before


def test_load_takes_a_direct_load_as_json(capsys, coarse):
    code, text, messages = run(
        capsys, "load", VIOLIN, "--no-bar", "--json", "--quiet", "--downforce-n", "100"
    )
    assert (code, messages) == (0, "")
    assert json.loads(text)["load"]["downforce_n"] == 100.0


@pytest.mark.parametrize("wrong", ["2000", "kg", "nan"])
def test_load_refuses_a_wrong_load(capsys, wrong):
    code, _, messages = run(capsys, "load", VIOLIN, "--downforce-n", wrong)
    assert code == 2
    assert "allowed 5 to 1000 N" in messages


def test_a_post_off_the_plate_is_told_without_traceback(capsys, tmp_path, coarse):
    wide = "[bridge]\nfoot_span_mm = 60\n[strings]\npost_inward_mm = -15\n"  # the post under the sound hole
    (tmp_path / "job.toml").write_text(f'[job]\ninstrument = "violin"\n{wide}')
    code, _, messages = run(capsys, "load", tmp_path, "--quiet")
    assert code == 1
    assert "sound post" in messages


def test_result_holds_its_job(result):
    assert isinstance(result, JobLoad)
    assert result.job.invented
