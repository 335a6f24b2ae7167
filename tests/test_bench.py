"""Bench room: pictures, the A4 page and the mode report."""

import io
import json
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from platemodel.bench.kit import cautions, paper_files
from platemodel.bench.kit.paper_files import save_pages
from platemodel.bench.kit.plots import draw_mode, draw_mode_row, draw_top, scale_bar
from platemodel.bench.kit.wrapped_text import wrapped
from platemodel.bench.modes.bands import MEANING
from platemodel.bench.modes.page import COLUMNS, LEGEND, mode_page
from platemodel.bench.modes.report import REPORT
from platemodel.bench.modes.result import JobModes, as_data, as_table, as_text
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.job import Job, Measured, TapReading
from platemodel.job.states import TopState
from platemodel.study.top.drawn_plate import drawn_plate
from platemodel.study.top.plate_modes import plate_modes
from platemodel.study.top.sampling import normal_displacement
from tests.paper_faults import faults, page_words
from tests.quick import quick_model

MM = 1e-3
FILES = tuple(REPORT.files)
A4_PT = (297 / 25.4 * 72, 210 / 25.4 * 72)  # ISO 216: 210 x 297 mm; PDF counts 72 points to an inch


@pytest.fixture(scope="module")
def model():
    """Coarse model of the usual violin top: what is drawn does not depend on the mesh."""
    return quick_model(preset_top("violin"))


@pytest.fixture(scope="module")
def bar(model):
    return preset_bar(model.top)


@pytest.fixture(scope="module")
def without(model):
    return plate_modes(model)


@pytest.fixture(scope="module")
def with_bar(model, bar):
    return plate_modes(model, bar)


@pytest.fixture(scope="module")
def result(model, bar, without, with_bar):
    taps = (TapReading(1, 90.0, 1.0, True), TapReading(5, 340.0, 3.4, True))
    told = {"taps": taps, "states": (TopState("with bar", "new"),), "invented": True}
    job = Job("A try", model.top, bar, Measured(bar_on_top=True), **told)
    return JobModes(job, model, without, with_bar)


@pytest.fixture
def ax():
    return Figure().subplots()


def polygons(ax):
    return [p for p in ax.patches if isinstance(p, Polygon)]


def extent(patch):
    """Lowest and highest x, y of a patch as drawn."""
    xy = patch.get_xy()
    return xy.min(axis=0), xy.max(axis=0)


# --- tops ---------------------------------------------------------------------------------------------


def test_a_top_is_drawn_in_millimetres_upper_bout_up(model, bar, ax):
    assert draw_top(model.top, ax, bar) is ax
    outline, *holes, drawn_bar, foot, other_foot = polygons(ax)
    low, high = extent(outline)
    assert high[1] - low[1] == pytest.approx(1e3 * model.top.outline.body_length, abs=0.01)
    widths = [1e3 * line.width for line in model.top.outline.widest()]
    assert high[0] - low[0] == pytest.approx(max(widths), abs=0.05)
    assert len(holes) == 2
    low, high = extent(drawn_bar)
    assert high[1] - low[1] == pytest.approx(1e3 * (bar.x_end - bar.x_start), abs=0.01)
    assert high[0] < 0  # bass side is the left of the page
    # Two feet, outer edges as far apart as the bridge says.
    across = [extent(p) for p in (foot, other_foot)]
    span = max(h[0] for _, h in across) - min(lo[0] for lo, _ in across)
    assert span == pytest.approx(1e3 * model.top.bridge.foot_span_outer, abs=1e-6)
    assert ax.get_aspect() == 1
    assert "mm" in ax.get_xlabel()
    assert "mm" in ax.get_ylabel()


def test_bar_bridge_and_fill_can_be_left_out(model, ax):
    draw_top(model.top, ax, bridge=False, fill=False)
    outline, *holes = polygons(ax)
    assert len(holes) == 2
    assert outline.get_facecolor()[3] == 0


@pytest.mark.parametrize(("kind", "length"), [("violin", 50), ("viola", 50), ("cello", 100)])
def test_the_scale_bar_is_as_long_as_it_says(kind, length, ax):
    top = preset_top(kind)
    draw_top(top, ax)
    assert scale_bar(ax, top) is ax
    (line,) = ax.collections[-1].get_segments()
    assert np.ptp(line[:, 0]) == length
    assert ax.texts[-1].get_text() == f"{length} mm"
    low, high = ax.get_ylim()
    assert low < line[0, 1] < high


# --- modes --------------------------------------------------------------------------------------------


def test_a_mode_is_drawn_and_kept_inside_the_plate(without, ax):
    assert draw_mode(without, 0, ax) is ax
    filled, nodes = ax.collections
    assert filled.filled
    assert nodes.levels.tolist() == [0.0]
    for contours in (filled, nodes):
        assert contours.get_clip_path() is not None
    outline = polygons(ax)[0].get_path()
    assert filled.get_clip_path()._path.vertices == pytest.approx(outline.vertices)


def _inner(modes, points):
    """Of points in plan, (..., 2), those that any mesh of the top holds: (2, n)."""
    flat = points.reshape(-1, 2).T
    return flat[:, shapely.contains_xy(modes.model.top.plan.buffer(-2 * MM), *flat)]


@pytest.mark.parametrize("index", [0, 1, 4])
def test_nodal_lines_lie_where_the_plate_stays_still(without, index, ax):
    """Asked of the finite elements themselves, so that a picture with x and y exchanged cannot pass."""
    draw_mode(without, index, ax)
    grid = without.grid
    line = ax.collections[1].get_paths()[0].vertices[:, ::-1].T * MM  # back to x, y in m
    line = _inner(without, line.T)
    assert line.shape[1] > 40
    moves = normal_displacement(without.model, grid.points, without.vectors[:, [index]])
    still = normal_displacement(without.model, line, without.vectors[:, [index]])
    # 1.5 % of the greatest motion: straight lines across triangles of some 10 mm (0.7 % are measured).
    assert np.abs(still).max() < 0.015 * np.abs(moves).max()


@pytest.mark.parametrize("index", [0, 1, 4])
def test_nodal_lines_stop_at_the_sound_holes(without, index, ax):
    draw_mode(without, index, ax)
    line = shapely.points(ax.collections[1].get_paths()[0].vertices[:, ::-1] * MM)
    for hole in without.model.top.sound_holes:
        within = shapely.distance(shapely.LinearRing(hole.points), line)
        within = within[shapely.contains(shapely.Polygon(hole.points), line)]
        # 0.4 mm: the mesh's polygon cuts a hole's curves (0.15 are measured); the hole is drawn over it
        assert within.max(initial=0.0) < 0.4 * MM


def test_a_drawn_plate_reads_the_fields_of_its_model(without):
    """Asked of the finite elements in another way; any triangle mixed up with another shows."""
    plate = drawn_plate(without.model)
    assert drawn_plate(without.model) is plate
    (ax, ay), (bx, by) = np.diff(plate.points[:, plate.triangles], axis=2).transpose(2, 0, 1)
    area = np.abs(ax * by - ay * bx).sum() / 2
    assert area == pytest.approx(without.model.top.plan.area, rel=5e-3)  # polygon for curve
    inner = shapely.contains_xy(without.model.top.plan.buffer(-2 * MM), *plate.points)
    asked = normal_displacement(without.model, plate.points[:, inner], without.vectors[:, [4]])[:, 0]
    lift = plate.lift(without.vectors[:, 4])
    line = _inner(without, plate.still_lines(lift))
    still = normal_displacement(without.model, line, without.vectors[:, [4]])
    assert len(still) > 80
    assert np.abs(still).max() < 0.015 * np.abs(lift).max()  # as in the picture
    assert lift[inner] == pytest.approx(asked, abs=1e-9 * np.abs(asked).max())  # round-off


def test_hold_and_tap_are_marked_where_the_table_says(without, ax):
    draw_mode(without, 1, ax)
    row = without.table.iloc[1]
    at = np.array([line.get_data() for line in ax.lines])[..., 0]
    hold, tap = (row.hold_y_mm, row.hold_x_mm), (row.tap_y_mm, row.tap_x_mm)
    assert at == pytest.approx(np.array([hold, hold, tap], dtype=float))


@pytest.mark.parametrize("index", [0, 1, 4])
def test_the_place_to_tap_lies_on_the_light_side(without, index):
    """A mode has no sign of its own; two pictures of it must not differ by it."""
    tap = without.table.loc[index, ["tap_y_mm", "tap_x_mm"]].to_numpy(dtype=float)
    for vectors in (without.vectors, -without.vectors):
        filled = draw_mode(replace(without, vectors=vectors), index, Figure().subplots()).collections[0]
        at = [k for k, path in enumerate(filled.get_paths()) if path.contains_point(tap)]
        assert at
        assert min(filled.levels[at]) > -1e-9


def test_titles_carry_pitch_band_and_name(without, with_bar, ax):
    draw_mode(without, 0, ax)
    row = without.table.iloc[0]
    assert ax.get_title() == f"{row.f_hz:.1f} Hz\nmode 1, twist"
    nameless = int(np.flatnonzero(without.table["name"] == "")[0])
    draw_mode(without, nameless, ax)
    assert ax.get_title().endswith("(no name)")


def test_a_picture_says_no_band_of_the_mesh_alone(without, ax):
    judged = replace(without, table=without.table.assign(band_hz=0.74))
    draw_mode(judged, 0, ax)
    assert ax.get_title() == f"{without.table['f_hz'].iloc[0]:.1f} Hz\nmode 1, twist"


def test_a_row_of_modes_has_one_scale_and_one_label(with_bar):
    axes = Figure().subplots(1, 3)
    assert draw_mode_row(with_bar, axes, "with bar") is axes
    assert [sum("mm" in t.get_text() for t in ax.texts) for ax in axes] == [1, 0, 0]
    assert sum(t.get_text() == "with bar" for ax in axes for t in ax.texts) == 1
    # The bar is on every picture: outline, two holes, bar and the invisible clip.
    assert [len(polygons(ax)) for ax in axes] == [5, 5, 5]


# --- the page -----------------------------------------------------------------------------------------


def test_the_page_is_a4_lying(result, tmp_path):
    path = save_pages(mode_page(result), tmp_path / "page.pdf")
    box = re.search(rb"/MediaBox \[([^\]]*)\]", path.read_bytes()).group(1).split()
    # 0.01 pt, or 0.004 mm: the digits the PDF is written with.
    assert [float(v) for v in box] == pytest.approx([0, 0, *A4_PT], abs=0.01)
    assert [round(v) for v in A4_PT] == [842, 595]


def test_the_page_carries_every_figure_and_the_cautions(result):
    figure = mode_page(result)
    text = page_words(figure)
    for expected in ("A try", cautions.INVENTED, LEGEND, MEANING, *cautions.MODES):
        assert expected in text
    for label, modes in result.rows:
        assert f"{label[0].upper()}{label[1:]}: {1e3 * modes.mass:.1f} g" in text
        for row in modes.table.head(COLUMNS).itertuples():
            assert f"{row.f_hz:.1f}" in text
    assert len(figure.axes) == 1 + 2 * COLUMNS  # the page itself and the pictures


def test_the_page_is_legible(result):
    assert list(faults(mode_page(result))) == []


def test_a_page_without_bar_has_one_row(result):
    figure = mode_page(replace(result, with_bar=None))
    assert len(figure.axes) == 1 + COLUMNS
    assert list(faults(figure)) == []


def test_the_same_page_gives_the_same_file(result, tmp_path):
    bare = replace(result, with_bar=None)
    pages = [save_pages(mode_page(bare), tmp_path / name).read_bytes() for name in ("a.pdf", "b.pdf")]
    assert pages[0] == pages[1]


# --- the report ---------------------------------------------------------------------------------------


def test_text_says_modes_changes_taps_and_cautions(result):
    text = as_text(result)
    assert text.startswith("A try. INVENTED DATA, no real instrument.\n")
    assert f"Without bar ({1e3 * result.without.mass:.1f} g)" in text
    assert f"With bar ({1e3 * result.with_bar.mass:.1f} g)" in text
    for _, modes in result.rows:
        for row in modes.table.itertuples():
            assert f"{row.f_hz:8.1f}" in text
    before, after = result.without.frequency(5), result.with_bar.frequency(5)
    step = round(after, 1) - round(before, 1)  # of what is printed
    assert f"mode 5: {before:.1f} -> {after:.1f} Hz ({step:+.1f})" in text
    first = result.with_bar.frequency(1)
    off = f"{100 * abs(90 / first - 1):.1f} % {'above' if first < 90 else 'below'}"
    assert f"mode 1 with bar: heard 90.0 Hz, {off} the {first:.1f} Hz computed" in text
    assert text.rstrip().endswith("not an instruction to cut; the maker decides.")
    assert max(map(len, wrapped(text).splitlines())) <= 100


def test_taps_without_bar_are_set_against_the_plate_without_bar(result):
    taps, states = (TapReading(2, 140.0, 1.4, False),), (TopState("without bar"),)
    job = Job("A try", result.model.top, result.job.bar, Measured(), taps=taps, states=states)
    text = as_text(JobModes(job, result.model, result.without, result.with_bar))
    told = rf"mode 2 without bar: heard 140.0 Hz, .* the {result.without.frequency(2):.1f} Hz"
    assert re.search(told, text)
    assert "INVENTED" not in text


def test_taps_with_bar_are_not_set_against_a_plate_without(result):
    alone = JobModes(result.job, result.model, result.without, None)
    text = as_text(alone)
    assert "heard" not in text
    assert "What the bar does" not in text


def test_data_go_into_json_and_back(result):
    data = json.loads(json.dumps(as_data(result), allow_nan=False))
    assert (data["name"], data["invented"]) == ("A try", True)
    for label, modes in (("without_bar", result.without), ("with_bar", result.with_bar)):
        assert data[label]["mass_g"] == pytest.approx(1e3 * modes.mass, abs=5e-4)
        rows = data[label]["modes"]
        assert [row["f_hz"] for row in rows] == pytest.approx(modes.table["f_hz"].tolist(), abs=5e-4)
        assert [row["mode"] for row in rows] == list(range(1, 9))
        assert {row["number"] for row in rows} == {1, 2, 5, None}
        assert all(row["band_hz"] is None for row in rows)  # not judged here


def test_the_table_holds_both_plates(result):
    table = as_table(result)
    assert table["plate"].tolist() == ["without bar"] * 8 + ["with bar"] * 8
    assert table["f_hz"].tolist() == [
        *result.without.table["f_hz"],
        *result.with_bar.table["f_hz"],
    ]


def test_files_hold_what_was_computed(result, tmp_path):
    csv, pdf = REPORT.write_files(result, tmp_path / "new" / "sheets")
    assert (csv.name, pdf.name) == FILES
    text = csv.read_bytes()
    assert b"\r" not in text
    back = pd.read_csv(io.BytesIO(text))
    wanted = as_table(result)
    assert list(back.columns) == list(wanted.columns)
    for column in ("f_hz", "modal_mass_g", "hold_x_mm", "tap_y_mm"):
        # Half a unit of the third decimal, as written.
        assert back[column].to_numpy() == pytest.approx(wanted[column].to_numpy(), abs=5.1e-4)
    assert pdf.read_bytes().startswith(b"%PDF")
    assert sorted(p.name for p in csv.parent.iterdir()) == sorted(FILES)


def test_files_that_are_there_are_kept_unless_forced(result, tmp_path):
    (tmp_path / FILES[1]).write_text("mine")
    with pytest.raises(FileExistsError, match=f"{FILES[1]} is there already; nothing written"):
        REPORT.write_files(result, tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == [FILES[1]]
    assert (tmp_path / FILES[1]).read_text() == "mine"
    REPORT.write_files(result, tmp_path, force=True)
    assert (tmp_path / FILES[1]).read_bytes().startswith(b"%PDF")


def test_nothing_is_written_when_the_page_fails(result, tmp_path, monkeypatch):
    def fail(*_):
        msg = "no room"
        raise OSError(msg)

    monkeypatch.setattr(paper_files, "save_pages", fail)
    with pytest.raises(OSError, match="no room"):
        REPORT.write_files(result, tmp_path)
    assert list(tmp_path.iterdir()) == []
