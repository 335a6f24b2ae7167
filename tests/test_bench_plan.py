"""Bench pack: all parts in one numbered folder, whole or not at all."""

import re
import shutil
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from platemodel.bench.glue.page import glue_pages
from platemodel.bench.kit.typeset import HEAD, TEXT, TITLE
from platemodel.bench.pack import bench_pack, plan
from platemodel.bench.pack.first_page import first_page
from platemodel.bench.pack.frame import Stamp, stamped
from platemodel.bench.pack.job_sheet import job_pages
from platemodel.bench.pack.part_names import PARTS
from platemodel.bench.pack.parts import contents_page, part_pages
from platemodel.bench.pack.spring_page import spring_page
from platemodel.bench.pack.stop_sheet import stop_sheet
from platemodel.bench.pack.work_order import work_order_pages
from platemodel.bench.record.owner_page import owner_page
from platemodel.cli import main
from platemodel.instrument.bar_shape import usual_least_end
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.presets import preset_top
from platemodel.job import read_job
from platemodel.resources import data_path
from platemodel.study import top_model
from platemodel.study.top.answers import bar_response
from platemodel.study.top.foot import bass_foot_stiffness
from platemodel.study.top.workbench import Workbench
from platemodel.study.trimming.stop_points import EVEN, stop_points
from platemodel.study.trimming.tap_correction import FIRST_DOUBT
from tests.paper_faults import faults, page_words
from tests.quick import quick_bench

TABLES = {
    "cut_list.csv", "glue_clamps.csv", "layout.csv", "lines.csv", "layout.svg", "plate_modes.csv", "seat.csv",
    "stop_points.csv", "string_load.csv", "string_load_margins.csv", "template.svg",
}  # fmt: skip


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    folder = tmp_path_factory.mktemp("job") / "violin"
    shutil.copytree(data_path("jobs", "modern_violin"), folder)
    text = (folder / "job.toml").read_text()
    taps = "mode_1_hz = 86.0\nmode_2_hz = 151.0\nmode_5_hz = 330.0\n"
    (folder / "job.toml").write_text(text.replace("bar_on_top = false\n", f"bar_on_top = false\n{taps}"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plan, "job_bench", quick_bench)
        yield plan.plan_job(read_job(folder))


@pytest.fixture(scope="module")
def pack(planned, tmp_path_factory):
    folder = tmp_path_factory.mktemp("packs")
    return folder, bench_pack.write_pack(planned, folder)


@pytest.mark.slow
def test_when_the_closed_body_is_in_the_pack(planned):
    """When the job tells of it: a measured part, or the air tone."""
    job = planned.job
    assert planned.body is None
    assert not plan.tells_of_body(job)
    assert plan.tells_of_body(replace(job, body={"rib_lower": 0.03}))
    assert plan.tells_of_body(replace(job, measured=replace(job.measured, air_tone=270.0)))


@pytest.mark.slow
def test_the_closed_body_is_three_pages_more(planned, pack, tmp_path):
    """Three pages and three tables more than without."""
    job = planned.job
    closed = plan.job_body(job, bench=quick_bench(job))
    files = bench_pack.write_pack(replace(planned, body=closed), tmp_path)
    assert len(page_boxes(files[0])) == len(page_boxes(pack[1][0])) + 3
    assert {p.name for p in files[1:]} == TABLES | {"body.csv", "body_tones.csv", "body_margins.csv"}


def page_boxes(path):
    boxes = re.findall(rb"/MediaBox \[ ?([\d.]+) ([\d.]+) ([\d.]+) ([\d.]+) ?\]", path.read_bytes())
    return np.array([[float(v) for v in box] for box in boxes])


def test_a_pack_holds_every_part(pack):
    folder, files = pack
    assert files[0] == folder / "pack_001" / "bench_pack.pdf"
    assert {p.name for p in files[1:]} == TABLES
    assert all(p.stat().st_size > 0 for p in files)
    assert [p.name for p in folder.iterdir()] == ["pack_001"]  # no draft is left


class NoMesh(Workbench):
    @property
    def model(self):
        raise AssertionError("these parts need no model")


def test_one_part_alone_computes_nothing_for_the_others(planned, tmp_path, monkeypatch):
    job = replace(planned.job, taps=(), findings=())  # taps would have to be compared with the model
    monkeypatch.setattr(plan, "job_bench", lambda job, **_: NoMesh(job.top, job.bar, job.set_up))
    names = ("first", "layout", "template", "owner")
    alone = plan.plan_job(job, only=names)
    assert (alone.modes, alone.load, alone.glue, alone.stops) == (None,) * 4
    files = bench_pack.write_pack(alone, tmp_path, only=names)
    assert {p.name for p in files[1:]} == {
        "layout.csv",
        "layout.svg",
        "template.svg",
        "seat.csv",
        "cut_list.csv",
    }
    with pytest.raises(AssertionError, match="no model"):
        plan.plan_job(job, only=("modes",))


def test_every_page_is_exactly_a4(pack):
    boxes = page_boxes(pack[1][0])
    assert len(boxes) >= 10
    sizes = np.sort(boxes[:, 2:], axis=1)
    # ISO 216: 210 x 297 mm; the format rounds to a hundredth of a point
    assert sizes == pytest.approx(np.tile([210 / 25.4 * 72, 297 / 25.4 * 72], (len(sizes), 1)), abs=0.02)


def test_one_part_alone_and_the_list_of_all(planned, tmp_path):
    counts = {"first": 1, "contents": 1, "job": 2, "stops": 1}
    shown = [t.get_text() for t in contents_page(planned, counts).axes[0].texts]
    assert shown[shown.index("The job in full") + 1] == "pages 3 to 4"
    assert shown[shown.index("Cutting down: stop points") + 1] == "page 5"
    one = bench_pack.write_pack(planned, tmp_path, only=("stops",))
    assert len(page_boxes(one[0])) == 1
    assert {p.name for p in one[1:]} == {"stop_points.csv"}
    with pytest.raises(ValueError, match="allowed are first, contents"):
        bench_pack.write_pack(planned, tmp_path, only=("clamps",))


def test_the_next_pack_takes_the_next_number_and_the_first_is_kept(planned, pack, tmp_path):
    shutil.copytree(pack[0] / "pack_001", tmp_path / "pack_007")
    before = {p.name: p.read_bytes() for p in (tmp_path / "pack_007").iterdir()}
    files = bench_pack.write_pack(planned, tmp_path, only=("stops",))
    assert files[0].parent.name == "pack_008"
    assert {p.name: p.read_bytes() for p in (tmp_path / "pack_007").iterdir()} == before


def test_nothing_is_left_of_a_pack_that_fails(planned, tmp_path, monkeypatch):
    def fails(*args):
        msg = "no space"
        raise OSError(28, msg)

    monkeypatch.setattr(bench_pack, "_bind", fails)
    with pytest.raises(OSError, match="no space"):
        bench_pack.write_pack(planned, tmp_path)
    assert list(tmp_path.iterdir()) == []


def words_on(pages):
    return " ".join(t.get_text() for page in pages for ax in page.axes for t in ax.texts)


def test_an_old_bar_that_is_told_is_not_asked_for_again(planned):
    asked, kept = "Old bar: length, height, width, weight, kept where:", "Old bar, kept where:"
    without = replace(planned, job=replace(planned.job, old_bar=None))
    told = replace(planned, job=replace(planned.job, old_bar=planned.job.bar))
    assert asked in words_on([first_page(without)])
    words = words_on([first_page(told)])
    assert kept in words
    assert asked not in words


def test_first_page_says_the_bar_its_line_and_the_caution(planned):
    page = first_page(planned)
    big = [t.get_text() for ax in page.axes for t in ax.texts if t.get_fontsize() == TITLE]
    # job.toml of the demo: 275 x 5.5 x 12 mm; the inner edge by its rule, from the axis
    assert big[1:4] == ["275", "5.5", "12.0"]
    at = np.array([planned.layout.bar.x_start, planned.job.top.bridge.x, planned.layout.bar.x_end])
    assert big[4:7] == [f"{-1e3 * v:.1f}" for v in planned.layout.bar.flanks(at)[1]]
    words = words_on([page])
    assert "Invented data" in words
    assert "qualified restorer" in words
    assert "the maker decides" in words
    assert "Nothing stands in the way" in words
    assert planned.job.notes == "" or "Notes" in words


def test_words_have_three_sizes_none_too_small_and_keep_within_the_paper(planned):
    pages = [first_page(planned), *job_pages(planned)]
    for page in pages:
        texts = [t for ax in page.axes for t in ax.texts if t.get_text()]
        assert {t.get_fontsize() for t in texts} <= {TEXT, HEAD, TITLE}
        wide, tall = page.get_size_inches() * page.dpi
        for t in texts:
            box = t.get_window_extent()
            # 5 mm at each side, what printers leave white
            edge = 5 / 25.4 * page.dpi
            assert edge <= box.x0, t.get_text()
            assert box.x1 <= wide - edge, t.get_text()
            assert edge <= box.y0, t.get_text()
            assert box.y1 <= tall - edge, t.get_text()
    assert TEXT == 8.0  # points: the least on paper


def test_every_finding_stands_whole_in_the_pack(planned):
    conflict = Finding("hole", "bar " + "much too near " * 30, 0.0, 1.0, "x = 1 mm", "Move it.", ("a = 1",))
    many = replace(planned, layout=replace(planned.layout, conflicts=(conflict,) * 6))
    first = words_on([first_page(many)])
    shown = first.count("much too near") // 30
    assert 1 <= shown < 6
    assert f"{6 - shown} more on the next page" in first
    assert words_on(job_pages(many)).count("much too near") == 6 * 30


def test_every_page_says_which_of_how_many_and_whose(planned):
    stamp = Stamp("A very long name of an instrument that nobody reads on one line", 7, "2025-01-02")
    pages = stamped([first_page(planned), *job_pages(planned)], stamp)
    lines = [ax.texts[-1].get_text() for page in pages for ax in page.axes[-1:]]
    for k, line in enumerate(lines, 1):
        assert line.endswith(f"… · pack 007 of 2025-01-02 · page {k} of {len(pages)}")


@pytest.mark.slow
def test_every_page_is_legible_with_a_long_name_too(planned):
    """Three sizes of type, none under 8 pt; no words off the paper, over each other or on a line."""
    job = replace(planned.job, name="A very long name of an instrument that nobody reads on one line, ever")
    long = replace(planned, job=job, layout=replace(planned.layout, job=job))
    pages = part_pages(long, tuple(PARTS), "A4", whole=False)
    for figure in stamped(pages, Stamp(job.name, 7, "2025-01-02")):
        assert list(faults(figure)) == []


def test_stop_sheet_shows_every_stage(planned):
    words = [t.get_text() for t in stop_sheet(planned).axes[0].texts]
    assert words.count("found:") == len(planned.stops)
    # the taps lie 8, 7 and 3 % above the model: no figure follows them, and the page says what to do
    assert any("run `wood` first" in " ".join(w.split()) for w in [" ".join(words)])
    assert any("run `wood` first" in f.message for f in planned.job.findings)


def test_stop_sheet_keeps_the_ends_of_a_longer_bar_thicker(planned):
    """2 mm for a violin of 355 mm, in proportion for a longer body, as `platemodel trim` has it."""
    assert usual_least_end(preset_top("violin", 0.355)) == pytest.approx(2.0e-3)
    assert usual_least_end(preset_top("cello", 0.752)) == pytest.approx(4.24e-3, abs=0.01e-3)
    words = " ".join(t.get_text() for t in stop_sheet(planned).axes[0].texts)
    assert f"never below {1e3 * usual_least_end(planned.job.top):.1f} mm" in words


def test_pages_agree_on_the_ends_and_the_section(planned):
    """The ends as the template draws them; a section that is left square is rounded nowhere."""
    ends = " and ".join(dict.fromkeys(f"{1e3 * h:.1f}" for h in planned.layout.bar.heights[[0, -1]]))
    assert f"Leave the ends as high as drawn ({ends} mm)" in page_words(stop_sheet(planned))
    for fill, words in ((1.0, "Section left square"), (0.9, "Section rounded")):
        layout = replace(planned.layout, bar=replace(planned.layout.bar, section_fill=fill))
        assert words in page_words(*work_order_pages(replace(planned, layout=layout)))


def test_stop_points_come_down_to_the_bar_itself(planned):
    stops, modes = planned.stops, planned.modes
    assert stops["stage"].iloc[0] == EVEN
    assert stops["left_mm"].iloc[-1] == 0.0
    assert (np.diff(stops["bar_g"]) < 0).all()
    assert (np.diff(stops["foot_n_per_mm"]) < 0).all()
    bands = modes.bands[-1].table.set_index("number")
    for n in planned.job.heard(False):
        f = modes.with_bar.frequency(n)
        assert stops[f"f{n}_hz"].iloc[-1] == pytest.approx(f, rel=1e-9)  # taps change no tone
        assert stops[f"f{n}_band_hz"].iloc[-1] == pytest.approx(bands["sum_hz"][n], rel=1e-9)  # one band
    foot = 1e-3 * bass_foot_stiffness(modes.model, planned.job.bar).middle
    assert stops["foot_n_per_mm"].iloc[-1] == pytest.approx(foot, rel=1e-9)


@pytest.mark.slow
def test_stages_of_a_coarse_mesh_lie_near_those_of_the_fine_one(planned):
    """Only the change from stage to stage comes from the coarse mesh."""
    job, bar = planned.job, planned.job.bar
    fine = top_model(job.top, 0.5, bar=bar)
    final = bar_response(fine, bar)
    finer = {n: final.frequency(n) for n in (1, 2, 5)}, final.foot.middle
    rough = stop_points(planned.modes.model, bar, 1e-3, steps=1, finer=finer)
    exact = stop_points(fine, bar, 1e-3, steps=1)
    for n in (1, 2, 5):
        # a mesh error of 1 % of a change of some 5 %
        assert rough[f"f{n}_hz"].to_numpy() == pytest.approx(exact[f"f{n}_hz"].to_numpy(), rel=2e-3)
    foot = "foot_n_per_mm"  # the same: 1 % of a change of some 25 %
    assert rough[foot].to_numpy() == pytest.approx(exact[foot].to_numpy(), rel=5e-3)


def test_stop_points_without_bands_have_the_first_doubt(planned):
    stops = stop_points(planned.modes.model, planned.job.bar, 0.5e-3, steps=1)
    assert list(stops["left_mm"]) == pytest.approx([0.5, 0.5, 0.0])
    last = stops.iloc[-1]
    assert last["f5_band_hz"] == pytest.approx(1.645 * FIRST_DOUBT * last["f5_hz"], rel=1e-3)
    # 1.645 standard deviations on each side hold 90 % of a normal distribution (any table)
    with pytest.raises(ValueError, match="at least"):
        stop_points(planned.modes.model, planned.job.bar, -1e-3)


def test_written_tables_are_those_of_the_plan(planned, pack):
    stops = pd.read_csv(pack[0] / "pack_001" / "stop_points.csv")
    assert stops["f2_hz"].to_numpy() == pytest.approx(planned.stops["f2_hz"].to_numpy(), abs=1e-3)


def test_command_writes_into_the_job_folder(planned, tmp_path, monkeypatch, capsys):
    folder = tmp_path / "job"
    shutil.copytree(data_path("jobs", "modern_violin"), folder)
    monkeypatch.setattr(plan, "plan_job", lambda *a, **k: planned)
    assert main(["plan", str(folder), "--quiet", "--only", "stops"]) == 0
    out = capsys.readouterr().out.split()
    assert out[0] == str(folder / "packs" / "pack_001" / "bench_pack.pdf")


@pytest.mark.parametrize(("option", "value"), [("--spring-mm", "9"), ("--roughing-mm", "-1")])
def test_command_refuses_odd_figures(option, value, capsys):
    assert main(["plan", str(data_path("jobs", "modern_violin")), option, value]) == 2
    assert f"argument {option}: '{value}': allowed 0 to 5 mm" in capsys.readouterr().err


def test_command_without_a_bar_says_what_to_add(tmp_path, capsys):
    folder = tmp_path / "job"
    shutil.copytree(data_path("jobs", "modern_violin"), folder)
    text = (folder / "job.toml").read_text()
    text = re.sub(r"(?ms)^\[bar\].*?(?=^\[|\Z)", "", text)
    text = re.sub(r"(?ms)^\[wood\.bar\].*?(?=^\[|\Z)", "", text)
    (folder / "job.toml").write_text(text)
    assert main(["plan", str(folder), "--quiet"]) == 1
    assert "add the table [bar]" in capsys.readouterr().err
    assert not (folder / "packs").exists()


# --- order of work, springs, owner ------------------------------------------------------------------------


def test_order_of_work_has_a_box_for_each_step_and_the_cautions(planned):
    on_it = replace(planned, job=replace(planned.job, states=()))  # nothing says that the bar is off
    words = words_on(work_order_pages(on_it))
    assert words.count("☐") >= 30
    assert f"All {planned.glue.plan.count} clamps" in words
    for head_ in ("1. Before", "2. The old bar off", "6. Glue", "9. Last"):
        assert head_ in words
    assert "Hot glue scalds" in words


def test_a_bar_that_is_off_is_not_taken_off(planned):
    """The job weighs and taps the top without bar."""
    words = words_on(work_order_pages(planned))
    assert "2. The seat" in words
    assert "3. Lay out and saw" in words
    assert "Old bar, if it was kept" in words
    for step in ("The old bar off", "planed down thin", "inside with the old bar", "measured on the top"):
        assert step not in words, step
    told = replace(planned, job=replace(planned.job, old_bar=planned.job.bar))
    assert "Old bar" not in words_on(work_order_pages(told))


def test_springs_stand_side_by_side_and_grow_with_the_gap(planned):
    table = planned.springs
    assert list(table["spring_mm"]) == pytest.approx([0.3, 0.3, 0.5, 0.5])
    for holding in ("held", "free"):
        two = table[table["holding"] == holding]
        # linear: 5/3 of the stress and of the lift for 5/3 of the gap
        for name in ("bar_mpa", "sagitta_mm", "clamps_n"):
            assert two[name].iloc[1] / two[name].iloc[0] == pytest.approx(5 / 3, rel=0.15), name
    words = words_on([spring_page(planned)])
    assert "0.5 mm, held" in words.replace("\n", " ") or "0.5 mm," in words
    for end in planned.layout.cuts.ends:
        assert f"{1e3 * end.run_height:.1f}" in words


def test_the_owners_report_has_no_mechanics(planned):
    page = owner_page(planned.job, ["2025-01-02: new bar glued"], ["2025-01-01: the old one was loose"])
    words = words_on([page])
    assert "new bar glued" in words
    assert "the old one was loose" in words
    assert "after three months" in words
    for term in ("Hz", "N/mm", "MPa", "mode", "stiffness", "model", " N "):
        assert term not in words, term


def test_every_word_of_the_new_pages_is_on_the_paper_and_large_enough(planned):
    pages = [*work_order_pages(planned), spring_page(planned), owner_page(planned.job)]
    for page in [*pages, *glue_pages(planned.glue)]:
        wide = page.get_size_inches()[0] * page.dpi
        for t in (t for ax in page.axes for t in ax.texts if t.get_text()):
            box = t.get_window_extent()
            assert t.get_fontsize() >= TEXT, t.get_text()
            # 3 mm: lines are broken by the width on paper, which the screen rounds up by some per cent
            edge = 3 / 25.4 * page.dpi
            assert edge <= box.x0, t.get_text()
            assert box.x1 <= wide - edge, t.get_text()
            assert edge <= box.y0, t.get_text()
