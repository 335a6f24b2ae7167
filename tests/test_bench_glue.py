"""Fit and glue, and the history: pictures, pages, reports, tables of gaps, commands."""

import csv
import json
import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.image import imsave

from platemodel.bench.glue import result as glue_report
from platemodel.bench.glue.page import SCALES, glue_page, glue_pages
from platemodel.bench.glue.plots import draw_clamps, draw_closing, draw_pressure, draw_window
from platemodel.bench.glue.report import REPORT, names
from platemodel.bench.glue.result import as_data, as_text, clamp_table, job_glue, time_text, what_to_do
from platemodel.bench.kit import cautions
from platemodel.bench.record.page import record_pages
from platemodel.bench.record.result import JobHistory, state_text
from platemodel.cli import main
from platemodel.errors import JobError
from platemodel.instrument.gaps import Gaps
from platemodel.instrument.marks import place
from platemodel.job import read_job
from platemodel.job.gaps import read_gaps
from platemodel.record import HISTORY_FILE, Record, read_history
from platemodel.resources import data_path
from platemodel.study.gluing.clamps import EVEN
from platemodel.study.gluing.glue_window import LONGEST
from platemodel.study.top.figures import FIGURES
from platemodel.study.top.old_bar import beside
from tests.job_folders import VIOLIN as TOML
from tests.paper_faults import faults, page_words
from tests.quick import quick_bench

VIOLIN = data_path("jobs", "modern_violin")
MM = 1e-3


@pytest.fixture(scope="module")
def job():
    return read_job(VIOLIN)


@pytest.fixture(scope="module")
def result(job):
    return job_glue(job, Gaps.even_spring(job.bar.length, 0.7 * MM))


@pytest.fixture
def ax():
    return Figure().subplots()


def run(capsys, *args):
    code = main([str(a) for a in args])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


# --- pictures and page ----------------------------------------------------------------------------------


def test_clamps_are_drawn_where_they_stand_numbered_in_order(result, ax):
    assert draw_clamps(result.plan, result.job.top, ax) is ax
    rings = [line for line in ax.lines if line.get_marker() == "o"]
    assert [r.get_ydata()[0] for r in rings] == pytest.approx(list(1e3 * result.plan.x))
    numbers = [t.get_text() for t in ax.texts if t.get_text().isdigit()]
    assert [int(n) for n in numbers] == list(result.plan.table["set_as"])


def test_the_pressure_curve_is_the_plans(result, ax):
    draw_pressure(result.plan, ax)
    assert ax.lines[0].get_ydata() == pytest.approx(1e-6 * result.plan.pressure)
    assert f"{result.plan.evenness:.2f}" in ax.get_title(loc="left")


def test_closing_forces_have_a_bar_each(result, ax):
    closing = result.locked[0].closing
    draw_closing(closing, ax)
    heights = [p.get_height() for p in ax.figure.axes[1].patches]
    assert heights == pytest.approx([f for f in closing.force if f])
    assert f"{closing.total:.0f} N together" in ax.get_title(loc="left")


def test_window_bars_span_the_bands(result, ax):
    draw_window(result.window, ax)
    first = ax.patches[0]
    row = result.window.table.iloc[0]
    assert first.get_x() == pytest.approx(row["open_low_s"])
    assert first.get_x() + first.get_width() == pytest.approx(row["open_high_s"])
    assert ax.get_xlabel() == ""  # seconds stand at the ticks
    assert ax._left_title.get_position()[0] < 0.0  # over the words at the left, or it runs off the paper


def test_the_page_is_a4_to_scale_and_carries_the_cautions(result):
    figure = glue_page(result)
    assert figure.get_size_inches() * 25.4 == pytest.approx((297, 210))
    words = "\n".join(t.get_text() for ax in figure.axes for t in ax.texts)
    rules = [text for _, text in cautions.GLUING]
    for expected in (cautions.GLUE, *rules, "Invented data", "light clamps close it"):
        assert expected in " ".join(words.split())
    plan = figure.axes[1]
    (scale,) = [k for k in SCALES if f"1 : {k:g}\n" in words + "\n"]
    low, high = plan.get_ylim()
    assert plan.get_position().height * 210 == pytest.approx((high - low) / scale, rel=1e-6)


def test_forces_by_hand_are_few_and_press_about_as_evenly(result):
    hand, plan = result.hand, result.plan
    assert len(set(np.round(hand.force, 6))) <= 3
    assert hand.force.sum() == pytest.approx(plan.force.sum(), rel=1e-9)
    # equal by our rule, or within a grade of the best that forces of any size do
    assert hand.evenness >= min(EVEN, 0.7 * plan.evenness)
    assert 0 <= hand.if_off < hand.evenness
    assert hand.pressure.min() / hand.pressure.max() == pytest.approx(hand.evenness)
    table = clamp_table(result)
    assert table["by_hand_kgf"].to_numpy() == pytest.approx(hand.force / 9.80665)  # kgf by definition


def test_one_sentence_says_what_to_do_with_the_wood(result):
    """The demo's bar of 275.02 mm needs 20 + 60 * 0.27502 = 36.501 s: cold wood leaves less."""
    first = result.window.table.iloc[0]
    assert first["closed_mid_s"] < 36.5
    text = what_to_do(result)
    assert "this bar of 275 mm needs about 37 s" in text
    enough = result.window.table.query("closed_mid_s > 36.501").iloc[0]
    assert text.startswith(f"Warm bar and plate to {enough['wood_c']:g} °C")
    warm = replace(result, window=replace(result.window, table=result.window.table.iloc[-1:]))
    assert "warming is not needed" in what_to_do(warm)
    cold = replace(result, window=replace(result.window, table=result.window.table.iloc[:1]))
    assert what_to_do(cold).startswith("No time")


def test_times_are_no_finer_than_they_are_known():
    said = [time_text(s) for s in (8.2, 57.4, 202.0, 317.0, LONGEST)]
    assert said == ["8 s", "57 s", "200 s", "320 s", "over 600 s"]


def test_blocks_on_marks_are_told_on_page_and_in_table(job):
    bar = job.bar
    marked = replace(job, marks=(place("patch", (0.2, float(bar.at(0.2))), 0.04, 0.03),))
    glue = job_glue(marked)
    assert [f.kind for f in glue.conflicts] == ["block"]
    assert any("on a patch" in note for note in clamp_table(glue)["block"])
    assert "presses on a patch" in as_text(glue)


# --- report ---------------------------------------------------------------------------------------------


def test_text_says_what_the_numbers_are(result):
    text = as_text(result)
    assert text.startswith("Modern violin, sound top. INVENTED DATA")
    heads = ("Closing", "Clamps", "Glue window", "Cautions")
    for words in (*heads, f"{result.plan.count} clamps", cautions.GLUE):
        assert words in text
    assert "film 0.2 to 0.4 mm" in text


def test_data_go_into_json(result):
    data = json.loads(json.dumps(as_data(result), allow_nan=False))
    assert data["clamps"]["count"] == len(data["clamps"]["places"]) == result.plan.count
    assert len(data["closing"]["stations"]) == 13
    assert [s["holding"] for s in data["closing"]["locked_in"]] == ["held", "free"]
    assert data["glue_window"]["contact_c"] == pytest.approx(result.window.contact_c, abs=0.05)


def test_a_gap_too_large_leaves_the_clamps_for_the_bar_that_fits(job, result):
    far = job_glue(job, Gaps.even_spring(job.bar.length, 4 * MM))
    assert far.locked[0].closing.too_large
    fits = job_glue(job)
    assert far.plan.force == pytest.approx(fits.plan.force)
    assert "Once the bar has been pared" in as_text(far)
    assert fits.locked is None
    assert "No gaps were given" in as_text(fits)
    assert "closing" not in as_data(fits)
    assert len(glue_pages(fits)) == 1
    assert len(glue_pages(far)) == 2


def test_a_blank_needs_more_force_than_the_planed_bar(job, result):
    blank = job_glue(job, result.gaps, blank=20 * MM)
    assert blank.locked[0].closing.total > 4 * result.locked[0].closing.total
    assert blank.plan.characteristic_length[0] > result.plan.characteristic_length[1]


def test_the_old_bar_stands_beside_the_new_one(job, result):
    """On the page of gaps where it has room, else on one of its own; without an old bar there is nothing."""
    assert "Beside the old bar" not in as_text(result)
    assert as_data(result)["old_bar"] is None
    figures = {name: 2.0 for name in FIGURES}
    bench, table = quick_bench(job), beside(figures, {name: 3.0 for name in FIGURES})
    bench.kept("old bar", lambda: figures)
    bench.kept("old bar beside the new", lambda: table)
    told = job_glue(replace(job, old_bar=job.bar), bench=bench)
    lines = as_text(told).splitlines()
    at = lines.index("Beside the old bar")
    assert lines[at + 2].split()[-3:] == ["2.0", "3.0", "+50"]
    assert as_data(told)["old_bar"][0]["change_percent"] == pytest.approx(50.0)
    for glue, count in ((told, 2), (replace(result, old_bar=table), 2)):
        pages = glue_pages(glue)
        assert len(pages) == count
        assert "Beside the old bar" in page_words(pages[-1])
        assert not list(faults(pages[-1]))
    crowded = replace(result, window=replace(result.window, warnings=("so it is",) * 8), old_bar=table)
    pages = glue_pages(crowded)
    assert ["Beside the old bar" in page_words(p) for p in pages] == [False, False, True]


def test_files_of_the_closing_only_with_gaps(tmp_path):
    assert len(REPORT.target_files(tmp_path, names=names(True))) == 5
    assert len(REPORT.target_files(tmp_path, names=names(False))) == 3


# --- tables of gaps -------------------------------------------------------------------------------------


def gaps_of(folder, text, length=0.27):
    (folder / "gaps.csv").write_text(text, encoding="utf-8")
    return read_gaps(folder / "gaps.csv", length)


def test_gaps_are_read_with_sides_and_decimal_commas(tmp_path):
    found = gaps_of(
        tmp_path, "# feelers\nx_mm;gap_mm;side;note\n0;0,4;;\n270;0,1;;end\n100;0,1;inner;\n100;0,3;outer;\n"
    )
    assert found.s == pytest.approx([0, 0.1, 0.27])
    assert found.gap == pytest.approx([0.4e-3, 0.2e-3, 0.1e-3])
    assert found.uneven == pytest.approx([0, -0.2e-3, 0])
    assert not found.on_purpose


def test_every_wrong_cell_is_named_at_once(tmp_path):
    with pytest.raises(JobError) as caught:
        gaps_of(
            tmp_path, "x_mm,gap_mm,side\n0,0.1,left\n900,0.1,\n50,-1,\n60,x,\n70,0.1,inner\n70,0.2,\n300,0,\n"
        )
    lines = [(p.line, p.field) for p in caught.value.problems]
    assert lines == [(2, "side"), (3, "x_mm"), (4, "gap_mm"), (5, "gap_mm"), (7, "x_mm"), (8, "x_mm")]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "0 places; at least 3"),
        ("x,gap\n0,0\n", "no such column"),
        ("x_mm,gap_mm\n0,0\n270,0\n", "at least 3"),
        ("x_mm,gap_mm\n0,0,1\n", "2 cells are enough"),
    ],
)
def test_tables_that_are_none(tmp_path, text, words):
    with pytest.raises(JobError, match=words):
        gaps_of(tmp_path, text)
    with pytest.raises(JobError, match="no such file"):
        read_gaps(tmp_path / "none.csv", 0.27)


def test_gaps_in_the_job_folder_are_no_stray_table(tmp_path):
    (tmp_path / "job.toml").write_text(TOML + "[bar]\n", encoding="utf-8")
    (tmp_path / "gaps.csv").write_text("x_mm,gap_mm\n0,0.1\n", encoding="utf-8")
    assert not [f for f in read_job(tmp_path).findings if "gaps.csv" in str(f)]


# --- command glue ---------------------------------------------------------------------------------------


def test_glue_reads_the_gaps_of_the_folder_and_writes_all_files(capsys, tmp_path):
    folder = tmp_path / "job"
    folder.mkdir()
    for name in ("job.toml", "thickness.csv"):
        (folder / name).write_bytes((VIOLIN / name).read_bytes())
    (folder / "gaps.csv").write_text("x_mm,gap_mm\n0,0.3\n130,0\n270,0.2\n", encoding="utf-8")
    out = tmp_path / "sheets"
    code, text, messages = run(capsys, "glue", folder, "--out", out, "--wood-c", "35", "--clamps", "6")
    assert code == 0
    assert "Gaps up to 0.30 mm" in text
    assert "6 clamps" in text
    assert "closing the gaps" in messages
    names = {"glue_clamps.csv", "glue_closing.csv", "glue_locked_in.csv", "glue_window.csv", "glue.pdf"}
    assert {p.name for p in out.iterdir()} == names
    rows = list(csv.DictReader((out / "glue_closing.csv").open()))
    assert [float(r["gap_mm"]) for r in rows] == [0.3, 0.0, 0.2]
    assert (out / "glue.pdf").read_bytes().startswith(b"%PDF")
    code, text, messages = run(capsys, "glue", folder, "--out", out)
    assert (code, text) == (2, "")
    assert "--force" in messages


def test_glue_as_json_without_gaps(capsys):
    code, text, messages = run(capsys, "glue", VIOLIN, "--json", "--quiet")
    assert (code, messages) == (0, "")
    assert "closing" not in json.loads(text)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--gaps", "x.csv", "--spring-mm", "1"), "not both"),
        (("--spring-mm", "40"), "allowed 0 to 10 mm"),
        (("--glue-c", "hot"), "allowed 40 to 75"),
        (("--clamps", "90"), "90 clamps: allowed 3 to"),
    ],
)
def test_glue_refuses_wrong_usage(capsys, arguments, words):
    code, text, messages = run(capsys, "glue", VIOLIN, *arguments)
    assert (code, text) == (2, "")
    assert words in messages


def test_glue_without_bar_or_table_is_told(capsys, tmp_path):
    (tmp_path / "job.toml").write_text(TOML, encoding="utf-8")
    code, text, messages = run(capsys, "glue", tmp_path)
    assert (code, text) == (1, "")
    assert "add the table [bar]" in messages
    code, _, messages = run(capsys, "glue", VIOLIN, "--gaps", tmp_path / "none.csv")
    assert code == 1
    assert "none.csv" in messages


def test_a_job_without_bar_is_refused_from_python(tmp_path):
    (tmp_path / "job.toml").write_text(TOML, encoding="utf-8")
    with pytest.raises(JobError, match="gluing needs a bar"):
        glue_report.job_glue(read_job(tmp_path))


# --- history --------------------------------------------------------------------------------------------


def test_note_writes_and_history_shows(capsys, tmp_path):
    (tmp_path / "bar.png").write_bytes(b"")
    imsave(tmp_path / "bar.png", np.linspace(0, 1, 600).reshape(20, 30))
    code, text, _ = run(
        capsys, "note", tmp_path, "cut the bar", "--kind", "cut", "--value", "height_mm=11,5", "--value",
        "bar_on=no", "--picture", "bar.png",
    )  # fmt: skip
    assert code == 0
    assert text.startswith("1  ")
    (entry,) = read_history(tmp_path).entries
    assert entry.values == {"height_mm": 11.5, "bar_on": False}
    assert entry.pictures[0][0] == "bar.png"
    out = tmp_path / "sheets"
    code, text, _ = run(capsys, "history", tmp_path, "--out", out)
    assert code == 0
    assert "height_mm 11.5, bar_on no" in text
    assert "1 entry, every seal intact" in text
    assert (out / "history.pdf").read_bytes().startswith(b"%PDF")
    code, text, messages = run(capsys, "history", tmp_path, "--out", out)
    assert code == 2
    assert "--force" in messages
    data = json.loads(run(capsys, "history", tmp_path, "--json", "--quiet")[1])
    assert data["sound"]
    assert data["entries"][0]["values"] == {"height_mm": 11.5, "bar_on": False}


def test_history_says_when_a_line_was_changed(capsys, tmp_path):
    Record(tmp_path).append("cut", {"height_mm": 12.0})
    path = tmp_path / HISTORY_FILE
    path.write_bytes(path.read_bytes().replace(b"12.0", b"13.0"))
    code, text, _ = run(capsys, "history", tmp_path)
    assert code == 1
    assert "NOT AS WRITTEN: line 1" in text


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("x", "--value", "height_mm"), 2, "NAME=VALUE"),
        (("x", "--value", "height=3"), 1, "ends in its unit"),
        ((), 1, "says nothing"),
        (("x", "--picture", "none.png"), 1, "cannot be read"),
    ],
)
def test_note_refuses(capsys, tmp_path, arguments, code, words):
    found, text, messages = run(capsys, "note", tmp_path, *arguments)
    assert (found, text) == (code, "")
    assert words in messages
    assert not (tmp_path / HISTORY_FILE).exists()


def test_note_and_history_of_no_folder(capsys, tmp_path):
    for verb in (("note", tmp_path / "none", "x"), ("history", tmp_path / "none")):
        code, _, messages = run(capsys, *verb)
        assert code == 1
        assert "no such folder" in messages


def test_pages_turn_and_hold_every_entry(tmp_path):
    (tmp_path / "broken.png").write_bytes(b"no picture")
    record = Record(tmp_path)
    record.append("note", note="dollars $ and {braces}", pictures=["broken.png"])
    for n in range(30):
        record.append("tapped", {"mode_5_hz": 300.0 + n}, f"tap {n}")
    pages = record_pages(JobHistory(read_history(tmp_path), "A try"))
    assert len(pages) >= 2
    assert all(page.get_size_inches() * 25.4 == pytest.approx((210, 297)) for page in pages)
    words = page_words(*pages)
    assert [fault for page in pages for fault in faults(page)] == []
    for n in range(30):
        assert re.search(rf"\btap {n}\b", words)
    assert f"page 1 of {len(pages)}" in words
    assert any("cannot be read" in t.get_text() for a in pages[0].axes for t in a.texts)
    assert "dollars $ and {braces}" in words  # drawn as they are, not taken for a formula


def test_torn_rests_are_told(tmp_path):
    Record(tmp_path).append("note", note="x")
    with open(tmp_path / HISTORY_FILE, "ab") as file:
        file.write(b'{"n":2,')
    assert "the last 7 bytes" in state_text(read_history(tmp_path)).lower()
    Record(tmp_path).append("note", note="y")
    assert "set aside: history.torn-" in state_text(read_history(tmp_path))
