"""Slips of hand and unit that are common: each is told in the sentence that helps."""

import numpy as np
import pytest

from platemodel.cli.common import quoted, tones
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.job import read_job
from platemodel.record import Record
from tests.job_folders import VIOLIN, problems, readings, table, write

MM = 1e-3
CELLO = '[job]\ninstrument = "cello"\n'
TRACED = VIOLIN + "[outline]\npoints_file = 'o.csv'\n"


def traced(change=lambda p: p):
    """The usual violin's outline as a table, changed."""
    loop = 1e3 * preset_top("violin").outline.points[::6]
    return table("x_mm,y_mm", change(loop))


def arch_rows(kind="violin", dip=0.0, across=False):
    """Heights of the usual arch over most of the plate, sunk on the bass side by ``dip`` mm by the bridge."""
    top = preset_top(kind)
    length, bar, x_bridge = top.outline.body_length, preset_bar(top), top.bridge.x
    rows = []
    for x in np.linspace(0.06, 0.94, 17) * length:
        half = min(top.outline.half_width(np.array([x])))[0]
        for y in np.linspace(-0.9, 0.9, 13) * half:
            z = float(top.arching.value(x, y))
            off = np.hypot((x - x_bridge) / (0.16 * length), (y - bar.at(x_bridge)) / (0.06 * length))
            rows.append((1e3 * x, 1e3 * y, 1e3 * z - dip * np.exp(-(off**2))))
    return rows


# ---------------------------------------------------------------- heights and depths


def test_depths_below_a_straight_edge_are_the_same_arch(tmp_path):
    for name in ("high", "deep", "lost", "idle"):
        (tmp_path / name).mkdir()
    rows = arch_rows()
    deep = [(x, y, 30.0 - z) for x, y, z in rows]
    toml = VIOLIN + "[arching]\npoints_file = 'a.csv'\n"
    high = read_job(write(tmp_path / "high", toml, a=table("x_mm,y_mm,z_mm", rows)))
    told = toml + "straight_edge_mm = 30\n"
    found = read_job(write(tmp_path / "deep", told, a=table("x_mm,y_mm,depth_mm", deep)))
    x, y = np.array([[0.1, 0.2, 0.25], [0.0, -0.03, 0.02]])
    # readings are written to 0.01 mm
    assert found.top.arching.value(x, y) == pytest.approx(high.top.arching.value(x, y), abs=0.02 * MM)
    (said,) = problems(write(tmp_path / "lost", toml, a=table("x_mm,y_mm,depth_mm", deep)))
    assert "straight_edge_mm" in said
    assert said.endswith("give the height of the straight edge over the gluing plane of the ribs")
    idle = read_job(write(tmp_path / "idle", told, a=table("x_mm,y_mm,z_mm", rows)))
    assert any("no table has the column depth_mm" in text for text in idle.assumptions)


def test_a_plate_that_falls_towards_its_middle_is_refused(tmp_path):
    for name in ("points", "along"):
        (tmp_path / name).mkdir()
    deep = [(x, y, 20.0 - z) for x, y, z in arch_rows()]
    toml = VIOLIN + "[arching]\npoints_file = 'a.csv'\n"
    (said,) = problems(write(tmp_path / "points", toml, a=table("x_mm,y_mm,z_mm", deep)))
    assert "name the column depth_mm" in said
    along = [(x, 20.0 - 15.0 * np.sin(np.pi * x / 355)) for x in range(40, 340, 30)]
    toml = VIOLIN + "[arching]\nlong_arch_file = 'a.csv'\n"
    (said,) = problems(write(tmp_path / "along", toml, a=table("x_mm,z_mm", along)))
    assert "an arch rises towards the middle" in said


@pytest.mark.parametrize(("kind", "toml"), [("violin", VIOLIN), ("cello", CELLO)])
def test_a_sunk_bass_side_is_found_and_a_sound_one_is_not(tmp_path, kind, toml):
    toml += "[bar]\n[arching]\npoints_file = 'a.csv'\n"
    found = {}
    for dip in (0.0, 1.9, 3.0):
        folder = tmp_path / f"{dip}"
        folder.mkdir()
        job = read_job(write(folder, toml, a=table("x_mm,y_mm,z_mm", arch_rows(kind, dip))))
        found[dip] = [f.message for f in job.findings if f.kind in ("sunk", "hollow")]
    assert found[0.0] == []
    assert any("bass side" in text for text in found[1.9])
    assert any("correct it first" in text for text in found[3.0])
    assert any("Correct the arch first, or say that you keep it" in text for text in found[3.0])
    kept = tmp_path / "kept"
    kept.mkdir()
    rows = table("x_mm,y_mm,z_mm", arch_rows(kind, 3.0))
    job = read_job(write(kept, toml + "sunk_kept = true\n", a=rows))
    assert not [f for f in job.findings if f.kind in ("sunk", "hollow")]


# ---------------------------------------------------------------- units and axes


@pytest.mark.parametrize(
    ("toml", "what"),
    [
        (VIOLIN + "[strings]\ntension_1_n = 7.6\n", "is this in kgf"),
        (VIOLIN + "[strings]\ntension_4_n = 10.2\n", "10.2 kgf is 100 N"),
        (CELLO + "[strings]\ntension_4_n = 13.2\n", "13.2 kgf is 129 N"),
        (VIOLIN + "[job]\n", "twice"),
        (VIOLIN + "date = 04.11.2025\n", "2025-11-04"),
        (VIOLIN + "date = '4/11/2025'\n", "2025-11-04"),
        (VIOLIN + "[measured]\nmode_1_hz = \u2014\n", "leave the line out"),
        (VIOLIN + "[measured]\nmass_g = '-'\n", "leave the line out"),
        (VIOLIN + "[arching]\nheight_mm = 15,5\n", "with a point"),
    ],
)
def test_a_slip_in_a_field(tmp_path, toml, what):
    assert any(what in text for text in problems(write(tmp_path, toml)))


def test_a_load_far_from_usual_is_told_in_the_right_direction(tmp_path):
    asks = {"downforce_n = 8.8": "is it in kgf?", "downforce_n = 216": "not the sum of the tensions"}
    for k, (line, what) in enumerate(asks.items()):
        folder = tmp_path / str(k)
        folder.mkdir()
        job = read_job(write(folder, VIOLIN + f"[strings]\n{line}\n"))
        assert any(what in f.message for f in job.findings if f.kind == "strings"), line


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (lambda p: p / 10, "is the table in centimetres?"),
        (lambda p: np.c_[p[:, 1] + 104, p[:, 0]], "turned by 90 degrees, or are the columns x and y"),
        (lambda p: np.c_[p[:, 1] + 110, p[:, 0] - 180], "turn it by 90 degrees"),
        (lambda p: p + np.array([12, 110]), "take 12.0 off every x; take 110.0 off every y"),
        (lambda p: p + np.array([0, 30]), "take 30.0 off every y"),
    ],
)
def test_a_slip_in_a_tracing(tmp_path, change, what):
    said = problems(write(tmp_path, TRACED + "body_length_mm = 355\n", o=traced(change)))
    assert any(what in text for text in said), said


def test_a_dash_for_what_was_not_measured(tmp_path):
    text = readings().replace("180,0,2.6", "180,0,\u2014")
    (said,) = problems(write(tmp_path, VIOLIN + "[thickness]\npoints_file = 't.csv'\n", t=text))
    assert "what was not measured: leave the row out" in said


# ---------------------------------------------------------------- the command line


def test_decimal_commas_in_tones():
    read = tones((1, 2, 5), 10, 900)
    assert read("5=345,5") == {5: 345.5}
    assert read("5=345,5;2=150") == {5: 345.5, 2: 150.0}
    assert read("5=345.5,2=150") == {5: 345.5, 2: 150.0}


def test_a_folder_with_spaces_is_quoted():
    assert quoted("old cello/job") == '"old cello/job"'
    assert quoted("jobs/cello_2") == "jobs/cello_2"


def test_a_picture_is_found_from_where_one_stands(tmp_path, monkeypatch):
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "top.png").write_bytes(b"\x89PNG\r\n")
    monkeypatch.chdir(tmp_path)
    for name in ("top.png", "job/top.png"):
        entry = Record(folder).append("note", {}, "seen", [name])
        assert [p for p, _ in entry.pictures] == ["top.png"]


def test_a_tracing_that_rounds_a_corner_off_is_told(tmp_path):
    """Without the points within 15 mm of a tip the line goes round it."""
    outline = preset_top("violin").outline
    tip = 1e3 * outline.points[outline.corners[0]]

    def told(name, change):
        folder = tmp_path / name
        folder.mkdir()
        job = read_job(write(folder, TRACED, o=traced(change)))
        return [f.message for f in job.findings if "instead of four" in f.message]

    assert told("whole", lambda p: p) == []
    (message,) = told("blunt", lambda p: p[::3][np.hypot(*(p[::3] - tip).T) > 15])
    assert "the tracing shows" in message
