"""Paper at true size and the tiles of a large sheet, read back from the PDF."""

import itertools
from dataclasses import replace

import matplotlib as mpl
import numpy as np
import pytest

from platemodel.bench import sheets
from platemodel.bench.kit.paper import check_bar, from_inside, new_page, paper_size
from platemodel.bench.layout.result import job_layout
from platemodel.bench.sheets.layout_drawing import drawing_box
from platemodel.bench.sheets.layout_sheet import strip_tiling
from platemodel.bench.sheets.tiles import ARM, LAP, tiling
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.job import read_job
from platemodel.resources import data_path
from tests.sheet_reading import ISO_216, NEAR, pdf_pages, segments

VIOLIN = data_path("jobs", "modern_violin")


@pytest.fixture(scope="module")
def violin():
    return job_layout(read_job(VIOLIN))


@pytest.fixture(scope="module")
def cello(violin):
    top = preset_top("cello")
    return job_layout(replace(violin.job, top=top, bar=preset_bar(top), name="usual cello"), spring=0.5e-3)


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
            expected = np.add(tiles.place[:2], point) - tiles.origin(*here)
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
