"""Layout and template at true size, read back from the SVG."""

import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from platemodel.bench import sheets
from platemodel.bench.layout.result import job_layout
from platemodel.bench.sheets.layout_drawing import INSIDE
from platemodel.bench.sheets.template_drawing import TemplateFrame
from platemodel.bench.sheets.template_sheet import template_tiles
from platemodel.instrument.bar import Bar
from platemodel.instrument.layout import bar_ends
from platemodel.instrument.layout_checks import check_layout
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.job import read_job
from platemodel.job.report import report
from platemodel.resources import data_path
from tests.paper_faults import page_words
from tests.sheet_reading import NEAR, svg_paths
from tests.unlike_jobs import UNLIKE

VIOLIN, VIOLA = data_path("jobs", "modern_violin"), data_path("jobs", "old_viola")


@pytest.fixture(scope="module")
def violin():
    return job_layout(read_job(VIOLIN))


@pytest.fixture(scope="module")
def viola():
    return job_layout(read_job(VIOLA))


@pytest.fixture(scope="module")
def cello(violin):
    top = preset_top("cello")
    return job_layout(replace(violin.job, top=top, bar=preset_bar(top), name="usual cello"), spring=0.5e-3)


# --- layout drawing ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def layout_svg(violin, tmp_path_factory):
    path = tmp_path_factory.mktemp("svg") / "layout.svg"
    with sheets.true_size():
        sheets.save_svg(sheets.layout_drawing(violin), path)
    return svg_paths(path)


def test_svg_says_millimetres(layout_svg):
    width, height, view, _ = layout_svg
    assert width.endswith("mm")
    assert height.endswith("mm")
    assert view == f"0 0 {width[:-2]} {height[:-2]}"


def test_distances_in_the_svg(violin, layout_svg):
    """Every divider line that is drawn has the length of its distance, within 0.1 mm."""
    *_, paths = layout_svg
    assert np.hypot(*np.ptp(paths["check-bar-level"], axis=0)) == pytest.approx(100, abs=0.001)
    assert np.hypot(*np.ptp(paths["check-bar-upright"], axis=0)) == pytest.approx(100, abs=0.001)
    drawn = [d for d in violin.distances if d.key in paths]
    assert {d.key for d in drawn} >= {
        "inner_upper", "inner_bridge", "inner_lower", "eye", "stem", "foot_outer", "foot_inner", "end_lower",
        "end_upper",
    }  # fmt: skip
    for d in drawn:
        assert np.hypot(*(paths[d.key][1] - paths[d.key][0])) == pytest.approx(1e3 * abs(d.value), abs=0.001)


def test_layout_is_seen_from_inside(violin, layout_svg):
    """The bass foot, the bar and the bass hole lie to the right of the axis, the post to its left."""
    *_, paths = layout_svg
    axis = paths["axis"][0, 0]
    for name in ("foot-bass", "bar", "hole-bass"):
        assert paths[name][:, 0].min() > axis, name
    for name in ("foot-treble", "post", "hole-treble"):
        assert paths[name][:, 0].max() < axis, name
    # Up the page is towards the upper bout: in the SVG, y grows downwards.
    ends = paths["bar-axis"]
    assert ends[0, 1] > ends[1, 1]
    assert 1e3 * violin.bar.length == pytest.approx(np.hypot(*(ends[1] - ends[0])), abs=0.001)


def test_outline_in_the_svg_is_the_outline(violin, layout_svg):
    *_, paths = layout_svg
    size = np.ptp(paths["outline"], axis=0)
    assert size == pytest.approx([207.2, 355.5], abs=NEAR)  # job.toml of the demo: lower bout, body length


def test_no_conflict_is_drawn_where_there_is_none(violin, layout_svg):
    *_, paths = layout_svg
    assert violin.conflicts == ()
    assert not [k for k in paths if k.startswith("conflict")]
    assert "trim" not in paths


def test_conflicts_are_drawn_where_they_are(viola, tmp_path):
    with sheets.true_size():
        sheets.save_svg(sheets.layout_drawing(viola), tmp_path / "x.svg")
    *_, paths = svg_paths(tmp_path / "x.svg")
    hit = next(f for f in viola.conflicts if f.kind == "hole")
    low, high = (float(v) for v in re.findall(r"[\d.]+", hit.where))
    # The lower end of the body in the SVG, from the bar's lower end 47 mm above it.
    zero = paths["bar-axis"][0, 1] + 47.0
    x = zero - paths["conflict-clearance"][:, 1]
    assert (x.min(), x.max()) == pytest.approx(
        (low, high), abs=0.6
    )  # pitch of the check, and the slack of its limit
    # Over the opening by 0.30 mm, as the finding says.
    assert np.ptp(paths["conflict-overlap"][:, 0]) == pytest.approx(0.30, abs=0.03)
    assert 2.0 < np.ptp(paths["trim"][:, 0]) < 2.2
    labels = [t.get_text() for page in sheets.layout_pages(viola)[2:] for ax in page.axes for t in ax.texts]
    assert "-0.3" in labels
    assert any(t.startswith("outer flank (dashed): 4.0") for t in labels)
    assert INSIDE in labels


@pytest.mark.parametrize("name", ["old_cello", "small_viola", "soft_violin"])
def test_no_word_stands_on_a_cross_a_mark_or_the_bars_edge(name, tmp_path):
    """Registration crosses, one-seventh marks and the flanks beside the words of the ends, on any top."""
    folder = UNLIKE[name](tmp_path)
    if name == "soft_violin":
        with (folder / "job.toml").open("a") as file:
            file.write("[bar]\n")
    seen = 0
    for page in sheets.layout_pages(job_layout(read_job(folder)))[2:]:
        FigureCanvasAgg(page).draw()
        for ax in page.axes:
            texts = [(t, t.get_window_extent()) for t in ax.texts if len(t.get_text()) > 1]
            marks = [x for x in ax.lines if str(x.get_gid()).startswith(("cross-", "seventh-"))]
            seen += len(marks)
            for mark in marks:
                assert [t.get_text() for t, box in texts if box.overlaps(mark.get_window_extent())] == []
            for bar in (p for p in ax.patches if p.get_gid() == "bar"):
                edge = bar.get_path().transformed(bar.get_transform())
                ends = [box for t, box in texts if "end, from the lower edge" in t.get_text()]
                assert not any(edge.intersects_bbox(box, filled=False) for box in ends)
    assert seen >= 8


def test_the_sheet_says_how_good_the_curve_is_by_the_job(viola, tmp_path):
    """An arch drawn from its height is no curve to saw to, one that was measured is."""
    cello = job_layout(read_job(UNLIKE["old_cello"](tmp_path)))
    for layout, words in ((cello, "take the curve off the top"), (viola, "It brings the saw cut close.")):
        said = page_words(*sheets.template_pages(layout))
        off = layout.job.shape_errors
        assert f"arching {1e3 * off.arching:.2g} mm off at a place" in said
        assert f"arching {1e3 * off.arching:.2g}" in report(layout.job)  # the same figure
        assert words in said


def test_foot_and_end_conflicts_are_drawn_too(violin, tmp_path):
    top, bar = violin.job.top, violin.bar
    moved = replace(bar, y_start=bar.y_start - 3e-3, y_end=bar.y_end - 3e-3)
    low, high = bar_ends(top.outline, 0.29)
    long = Bar(
        low, float(moved.at(low)), high, float(moved.at(high)), moved.width, np.array([low, 0.16, high]),
        np.array([3e-3, 12e-3, 3e-3]), moved.wood,
    )  # fmt: skip
    result = job_layout(replace(violin.job, bar=long))
    assert {f.kind for f in check_layout(top, long)} >= {"foot", "end"}
    with sheets.true_size():
        sheets.save_svg(sheets.layout_drawing(result), tmp_path / "x.svg")
    *_, paths = svg_paths(tmp_path / "x.svg")
    outer = next(d for d in result.distances if d.key == "foot_outer")
    assert outer.value < 0
    assert np.ptp(paths["conflict-foot"][:, 0]) == pytest.approx(-1e3 * outer.value, abs=0.001)
    assert np.ptp(paths["conflict-end"][:, 1]) == pytest.approx(1e3 * long.width, abs=0.1)


# --- template ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["violin", "cello"])
def test_template_in_the_svg(name, request, tmp_path):
    result = request.getfixturevalue(name)
    with sheets.true_size():
        sheets.save_svg(sheets.template_drawing(result), tmp_path / "x.svg")
    *_, paths = svg_paths(tmp_path / "x.svg")
    view, seat = result.view, result.view.seat
    fold, under = paths["fold-bass"][0, 1], paths["fold-treble"][0, 1]
    assert under - fold == pytest.approx(1e3 * view.blank.width, abs=0.001)
    left = paths["end-bass-lower"][0, 0]
    for flank, sign, line in (("bass", -1, fold), ("treble", 1, under)):
        # Heights of the seat above the straight edge, at the ends and the highest place, on either panel.
        drawn = paths[f"seat-{flank}"]
        up = sign * (drawn[:, 1] - line)
        curve = 1e3 * getattr(view, flank)
        assert np.interp(curve[:, 0] + left, drawn[:, 0], up) == pytest.approx(curve[:, 1], abs=0.01)
        saw = sign * (paths[f"saw-{flank}"][:, 1] - line)
        assert saw - up == pytest.approx(np.full(up.shape, 0.5), abs=0.001)
        # Final height at the bridge line, seat to free edge at the middle of the bevel.
        final = sign * (paths[f"final-{flank}"][:, 1] - line)
        k = int(np.abs(seat.x - result.job.top.bridge.x).argmin())
        at = np.interp(1e3 * view.stations[k, 0, 0] + left, drawn[:, 0], up - final)
        side = {"bass": seat.bass, "treble": seat.treble}[flank]
        assert at == pytest.approx(1e3 * (result.cuts.final[k] + side[k] - seat.middle[k]), abs=NEAR)
    # Its length is the bar's, turned on its chord.
    long = np.ptp(paths["seat-bass"][:, 0])
    assert long == pytest.approx(1e3 * result.bar.length / np.cos(view.chord_angle), abs=NEAR)


def test_a_violin_template_needs_no_seam_and_a_cello_says_where(violin, cello):
    assert template_tiles(TemplateFrame(violin.view), "A4").columns == 1
    long = template_tiles(TemplateFrame(cello.view), "A4")
    assert (long.rows, long.columns) == (1, 3)
    assert len(long.crosses) == 4
    texts = [t.get_text() for ax in sheets.template_pages(cello)[0].axes for t in ax.texts]
    assert "Row 1 of 1, column 1 of 3" in texts


def test_template_shows_bevel_and_heights_at_each_station(violin):
    texts = [t.get_text() for ax in sheets.template_pages(violin)[0].axes for t in ax.texts]
    for bevel, height in zip(np.degrees(violin.view.seat.bevel), 1e3 * violin.cuts.final, strict=True):
        assert f"{bevel:.1f}" in texts
        assert f"{height:.1f}" in texts
    assert "bridge line" in texts


def test_tables_on_the_pages_hold_every_station_and_mass(cello):
    pages = sheets.template_pages(cello)[-2:]
    texts = [[t.get_text() for ax in page.axes for t in ax.texts] for page in pages]
    for s, h in zip(cello.cuts.s, cello.cuts.rough, strict=True):
        assert f"{1e3 * s:.0f}" in texts[0]
        assert f"{1e3 * h:.1f}" in texts[0]
    assert any("qualified restorer" in t for t in texts[0])
    words = " ".join(texts[0])
    for stage, mass in cello.cuts.masses.items():
        assert f"{stage} {1e3 * mass:.1f} g" in words
    assert "Spring: 0.5 mm" in " ".join(texts[1])


def test_sheets_come_out_the_same_each_time(violin, tmp_path):
    with sheets.true_size():
        for name in "ab":
            sheets.save_pages(sheets.template_pages(violin)[:1], tmp_path / f"{name}.pdf")
            sheets.save_svg(sheets.template_drawing(violin), tmp_path / f"{name}.svg")
    for kind in ("pdf", "svg"):
        assert (tmp_path / f"a.{kind}").read_bytes() == (tmp_path / f"b.{kind}").read_bytes(), kind
