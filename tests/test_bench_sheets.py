"""Sheets at true size, read back from the PDF and the SVG."""

import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree

import matplotlib as mpl
import numpy as np
import pytest

from platemodel.bench import sheets
from platemodel.bench.kit.paper import check_bar, from_inside, new_page, paper_size
from platemodel.bench.layout.result import job_layout
from platemodel.bench.sheets.layout_drawing import INSIDE, drawing_box
from platemodel.bench.sheets.layout_sheet import strip_tiling
from platemodel.bench.sheets.template_drawing import TemplateFrame
from platemodel.bench.sheets.template_sheet import template_tiles
from platemodel.bench.sheets.tiles import ARM, LAP, tiling
from platemodel.instrument.bar import Bar
from platemodel.instrument.layout import bar_ends
from platemodel.instrument.layout_checks import check_layout
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.job import read_job
from platemodel.resources import data_path

VIOLIN, VIOLA = data_path("jobs", "modern_violin"), data_path("jobs", "old_viola")
NEAR = 0.1  # mm, what the sheets promise
ISO_216 = {"A4": (210.0, 297.0), "A3": (297.0, 420.0)}  # mm
POINT = 25.4 / 72  # mm


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


def pdf_pages(pages, path):
    """Page boxes in mm and the lines on each page, (n, 2) in mm each, read from an uncompressed PDF."""
    with sheets.true_size(), mpl.rc_context({"pdf.compression": 0}):
        sheets.save_pages(pages, path)
    data = path.read_bytes().decode("latin-1")
    boxes = [[float(v) * POINT for v in m.split()] for m in re.findall(r"/MediaBox \[([^\]]+)\]", data)]
    streams = [m for m in re.findall(r"stream\n(.*?)\nendstream", data, re.DOTALL) if " l\n" in m]
    number = r"-?[\d.]+"
    lines = []
    for stream in streams:
        if "re\n" not in stream and " m\n" not in stream:
            continue
        found = re.findall(rf"{number} {number} m\n(?:{number} {number} l\n)+", stream)
        lines.append([np.array(re.findall(rf"({number}) ({number}) [ml]", f), float) * POINT for f in found])
    return boxes, [page for page in lines if len(page) > 20]


def segments(lines, length, upright=False):
    """Middles of the two-point lines of a length that lie level or stand upright."""
    axis = 1 if upright else 0
    out = []
    for line in lines:
        run = np.ptp(line, axis=0)
        if len(line) == 2 and abs(run[axis] - length) < NEAR and run[1 - axis] < 0.001:
            out.append(line.mean(axis=0))
    return np.array(out)


def svg_paths(path):
    """Size in mm, viewBox and the first path under each named group, in mm from the upper left corner."""
    root = ElementTree.parse(path).getroot()
    name = "{http://www.w3.org/2000/svg}"
    group = next(g for g in root.iter(f"{name}g") if g.get("id") == "millimetres")
    scale = float(re.fullmatch(r"scale\(([\d.]+)\)", group.get("transform")).group(1))
    out = {}
    for g in group.iter(f"{name}g"):
        p = g.find(f"{name}path")
        if p is not None and g.get("id"):
            numbers = re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", p.get("d"))
            out.setdefault(g.get("id"), scale * np.array(numbers, float))
    return root.get("width"), root.get("height"), root.get("viewBox"), out


# --- paper ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_pages_are_exactly_the_paper_and_carry_both_check_bars(violin, paper, tmp_path):
    pages = [*sheets.layout_pages(violin, paper, whole=True), *sheets.layout_pages(violin, paper)]
    pages += sheets.template_pages(violin, paper)
    boxes, lines = pdf_pages(pages, tmp_path / "x.pdf")
    assert len(boxes) == len(lines) == len(pages)
    for box, page in zip(boxes, lines, strict=True):
        assert box[:2] == [0, 0]
        assert sorted(box[2:]) == pytest.approx(ISO_216[paper], abs=0.001)
        # A segment of 100 mm within 0.1 mm, one at least each way, whole on the paper.
        for upright in (False, True):
            (*_, middle) = segments(page, 100.0, upright)
            half = np.array([0, 50.0] if upright else [50.0, 0])
            assert (middle - half >= 4).all()
            assert (middle + half <= np.array(box[2:]) - 4).all()


def test_ticks_of_the_check_bar_stand_every_ten_millimetres(tmp_path):
    figure, ax = new_page(210.0, 297.0)
    check_bar(ax, 20.0, 30.0)
    check_bar(ax, 10.0, 100.0, upright=True)
    with mpl.rc_context({"pdf.compression": 0}):
        (_, [lines]) = pdf_pages([figure], tmp_path / "x.pdf")
    ends = {tuple(np.round(line[0], 3)) for line in lines if len(line) == 2}
    assert {(20.0 + 10 * k, 30.0) for k in range(11)} <= ends
    assert {(10.0, 100.0 + 10 * k) for k in range(11)} <= ends


def test_unknown_paper_is_refused(violin):
    with pytest.raises(ValueError, match="allowed are A4, A3"):
        sheets.layout_pages(violin, "A5")
    assert paper_size("A4", landscape=True) == (297.0, 210.0)


# --- tiles ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["violin", "viola", "cello"])
@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_tiles_cover_the_drawing_and_overlap(kind, paper):
    box = drawing_box(preset_top(kind))
    tiles = tiling(box, paper)
    places = list(itertools.product(range(1, tiles.rows + 1), range(1, tiles.columns + 1)))
    for u, v in itertools.product(np.linspace(box[0], box[2], 40), np.linspace(box[1], box[3], 40)):
        assert any(tiles.holds((u, v), *p, margin=-1e-9) for p in places), (u, v)
    for (r, c), (r2, c2) in itertools.combinations(places, 2):
        if abs(r - r2) + abs(c - c2) != 1:
            continue
        shared = [
            p for p in tiles.crosses.values() if all(tiles.holds(p, *q, ARM) for q in ((r, c), (r2, c2)))
        ]
        assert len(shared) >= 2
        # Two crosses far apart fix the angle as well.
        assert max(np.hypot(*np.subtract(a, b)) for a in shared for b in shared) > 80
        a, b = tiles.origin(r, c), tiles.origin(r2, c2)
        gap = (abs(a[0] - b[0]), abs(a[1] - b[1]))
        assert max(gap[0] - tiles.place[2], gap[1] - tiles.place[3]) <= -LAP + 1e-9
    assert not tiles.crosses or len(places) > 1
    # As few sheets as possible: neither way needs fewer.
    assert tiles.rows * tiles.columns == min(
        t.rows * t.columns for t in (tiling(box, paper, way) for way in (True, False))
    )


def test_number_of_sheets_a_maker_prints():
    """By hand: windows of 269 x 176 (landscape) and 182 x 263 mm (upright), 10 mm of overlap."""
    for kind, paper, count in (
        ("violin", "A4", 3),
        ("violin", "A3", 1),
        ("cello", "A4", 9),
        ("cello", "A3", 4),
    ):
        tiles = tiling(drawing_box(preset_top(kind)), paper)
        assert tiles.rows * tiles.columns == count, (kind, paper)


def test_a_strip_along_the_bar_needs_few_sheets_and_shows_the_bar_and_the_foot(cello, violin):
    """By hand: windows of 182 x 263 mm upright, 10 mm of overlap: 758 mm of a cello on three, 361 on two."""
    for job, paper, count in ((cello, "A4", 3), (cello, "A3", 2), (violin, "A4", 2), (violin, "A3", 1)):
        tiles = strip_tiling(job.job.top, paper)
        assert (tiles.columns, tiles.rows) == (1, count)
        u0, _, u1, _ = tiles.box
        across = from_inside(np.array(job.bar.polygon.exterior.coords))[:, 0]
        assert u0 <= -10 < across.min() < across.max() < u1
        assert u1 > -1e3 * job.job.top.bridge.bass_edge + 10


def test_no_leader_of_a_strip_leaves_the_paper(cello):
    """Each label stands on the sheet that shows what it speaks of, so that no leader crosses a frame."""
    tiles = strip_tiling(cello.job.top, "A4")
    pages = sheets.layout_pages(cello, "A4")[2:]
    assert len(pages) == tiles.rows == 3
    for row, page in enumerate(pages, 1):
        (ax,) = [a for a in page.axes if abs(a.get_ylim()[0] - tiles.origin(row, 1)[1]) < 1e-9]
        words = {t.get_text() for t in ax.texts}
        leaders = [line.get_xydata() for line in ax.lines if line.get_gid() == "leader"]
        shown = [p for p in leaders if any(tiles.holds(tuple(q), row, 1) for q in p)]
        assert all(tiles.holds(tuple(q), row, 1) for p in shown for q in p)
        if any("bar to upper eye" in w for w in words):
            assert shown


def test_crosses_of_neighbours_lie_on_the_same_place_in_the_pdf(cello, tmp_path):
    """Each tile's crosses, read from the page, moved back by the tile's origin: one place on the drawing."""
    tiles = tiling(drawing_box(cello.job.top), "A4")
    pages = sheets.layout_pages(cello, "A4", whole=True)[2:]
    _, lines = pdf_pages(pages, tmp_path / "x.pdf")
    places = list(itertools.product(range(1, tiles.rows + 1), range(1, tiles.columns + 1)))
    assert len(lines) == len(places) == 9
    seen = {}
    for here, page in zip(places, lines, strict=True):
        level, upright = segments(page, 2 * ARM), segments(page, 2 * ARM, upright=True)
        for name, point in tiles.crosses.items():
            if not tiles.holds(point, *here, ARM):
                continue
            expected = np.array(tiles.on_page(point, *here))
            for found in (level, upright):
                assert np.hypot(*(found - expected).T).min() < NEAR, (here, name)
            found = level[np.hypot(*(level - expected).T).argmin()]
            seen.setdefault(name, []).append(found - tiles.place[:2] + tiles.origin(*here))
    assert set(seen) == set(tiles.crosses)
    for name, found in seen.items():
        assert len(found) >= 2, name
        assert np.ptp(found, axis=0).max() < NEAR


def test_no_sheet_cuts_words_that_another_has_whole_and_none_are_lost(cello):
    """664.8 cut to 4.8 at a frame would be read as a distance."""
    tiles = tiling(drawing_box(cello.job.top), "A4")
    pages = sheets.layout_pages(cello, "A4", whole=True)[2:]
    places = list(itertools.product(range(1, tiles.rows + 1), range(1, tiles.columns + 1)))
    shown, whole_somewhere, cut = set(), set(), []
    for here, page in zip(places, pages, strict=True):
        (ax,) = [ax for ax in page.axes if abs(ax.get_xlim()[0] - tiles.origin(*here)[0]) < 1e-9]
        for text in ax.texts:
            corners = ax.transData.inverted().transform(text.get_window_extent())
            key = (text.get_text(), *np.round(text.get_position(), 3))
            seen = all(tiles.holds(tuple(c), *here) for c in corners)
            reaches = (corners[1] > tiles.origin(*here)).all() and (
                corners[0] < np.array(tiles.origin(*here)) + tiles.place[2:]
            ).all()
            whole_somewhere |= {key} if seen else set()
            shown |= {key} if reaches else set()
            cut += [key] if reaches and not seen else []
    assert not set(cut) & whole_somewhere
    figures = {key[0] for key in shown}
    assert any("664" in t or "upper end, from the lower edge" in t for t in figures)
    for label in ("axis to edge, treble side", "axis to outer edge", "to the end of the body"):
        assert any(label in t for t in figures), label


def test_more_is_left_on_a_cello_bar_for_gluing(cello, violin):
    """1 mm of 12, 2 mm of 25: common practice, no source."""
    assert cello.cuts.allowance == pytest.approx(2e-3)
    assert violin.cuts.allowance == pytest.approx(1e-3)
    assert job_layout(cello.job, allowance=0.5e-3).cuts.allowance == pytest.approx(0.5e-3)


def test_the_bar_continues_over_a_seam(violin, tmp_path):
    """In the PDF of all three sheets every corner of the bar lies on the same place of the drawing."""
    tiles = tiling(drawing_box(violin.job.top), "A4")
    _, lines = pdf_pages(sheets.layout_pages(violin, "A4", whole=True)[2:], tmp_path / "x.pdf")
    expected = from_inside(np.array(violin.bar.polygon.exterior.coords)[:-1])
    assert len(lines) == 3
    for row, page in enumerate(lines, 1):
        moved = [line - tiles.place[:2] + tiles.origin(row, 1) for line in page if len(line) >= len(expected)]
        off = [np.hypot(*(m[: len(expected)] - expected).T).max() for m in moved]
        assert min(off) < NEAR, row


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
