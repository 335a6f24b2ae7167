"""Slips of the pen in tables: a reading that stands alone is a finding, an uneven plate is not."""

import numpy as np
import pytest

from platemodel.instrument.presets import preset_top
from platemodel.job import read_job
from platemodel.job.slips import odd_readings
from platemodel.resources import data_path
from tests.job_folders import VIOLIN, problems, readings, table, write

CELLO = '[job]\ninstrument = "cello"\n'
MM = 1e-3


def slips(job):
    return [f for f in job.findings if f.kind == "slip"]


def scattered(n=60, seed=1):
    """Places on a plate, and a plate that thins smoothly from the middle, worn on one side; made by rule."""
    rng = np.random.default_rng(seed)
    p = rng.uniform((0.02, -0.15), (0.70, 0.15), (n, 2))
    h = 3.6 + 1.0 * np.exp(-(((p[:, 0] - 0.35) / 0.15) ** 2)) - 0.6 * (p[:, 1] < -0.05)
    return p, MM * (h + rng.normal(0, 0.05, n))


def test_the_others_let_expect_what_leaving_out_and_solving_anew_lets_expect():
    """Leave-one-out by one inverse is exact: against surfaces through all other readings (definition)."""
    from scipy.interpolate import RBFInterpolator

    p, h = scattered(25)
    h[7] += 3 * MM
    (k, expected), *_ = odd_readings(p, h, 0.6 * MM)
    others = np.arange(len(h)) != k
    surface = RBFInterpolator(p[others], h[others], kernel="linear", degree=1)
    assert k == 7
    assert expected == pytest.approx(float(surface(p[k : k + 1])[0]), rel=1e-6)  # rounding of the inverse


def test_a_worn_uneven_plate_has_no_slips():
    for seed in range(5):
        p, h = scattered(seed=seed)
        assert odd_readings(p, h, 0.6 * MM) == []


def test_two_slips_are_told_the_worst_first():
    p, h = scattered()
    h[10] -= 1.8 * MM
    h[40] += 2.6 * MM
    assert [k for k, _ in odd_readings(p, h, 0.6 * MM)] == [40, 10]


def test_demo_jobs_have_none():
    for name in ("old_viola", "modern_violin"):
        assert slips(read_job(data_path("jobs", name))) == []


def test_swapped_digits_are_named_with_their_line(tmp_path):
    text = readings(2.6, "{x};{y};{h}").replace("180;0;2.6", "180;0;6.2")
    job = read_job(write(tmp_path, VIOLIN + "[thickness]\npoints_file = 't.csv'\n", t=text))
    (slip,) = slips(job)
    line = text.split("\n").index("180;0;6.2") + 1
    assert slip.where == f"t.csv, line {line}"
    assert "thickness 6.2 mm at x 180, y +0" in slip.message
    assert "(2.6 with two digits changed round?)" in slip.message
    assert not [f for f in job.findings if f.kind == "misfit"]  # told once, not twice


def test_a_half_width_that_one_side_only_has(tmp_path):
    x = np.r_[60:300:40, 350:480:30, 540:720:40]
    half = 1e3 * preset_top("cello").outline.half_width(MM * x)[0]
    rows = np.c_[x, half, half + 1.5]
    toml = CELLO + "[outline]\nhalf_widths_file = 'w.csv'\n"
    head = "x_mm,bass_mm,treble_mm"
    right, wrong = tmp_path / "right", tmp_path / "wrong"
    right.mkdir()
    wrong.mkdir()
    assert slips(read_job(write(right, toml, w=table(head, rows)))) == []
    rows[-3, 1] -= 9.0
    (slip,) = slips(read_job(write(wrong, toml, w=table(head, rows))))
    assert slip.where == f"w.csv, line {len(rows) - 1}"
    assert "treble less bass is +10.5 mm there, +1.5 mm" in slip.message


def test_a_height_written_wrong(tmp_path):
    z = preset_top("cello").arching
    places = [(x, y) for x in (150, 250, 350, 450, 600) for y in range(-100, 101, 20)]
    rows = [(x, y, 1e3 * float(z.value(MM * x, MM * y)) - 14.0 * ((x, y) == (350, 20))) for x, y in places]
    job = read_job(
        write(
            tmp_path,
            CELLO + "[arching]\ncross_arches_file = 'a.csv'\n",
            a=table("x_mm,y_mm,z_mm", rows),
        )
    )
    assert [s.where for s in slips(job)] == [f"a.csv, line {2 + places.index((350, 20))}"]


def test_what_to_do_with_too_few_readings_and_empty_cells(tmp_path):
    toml = VIOLIN + "[thickness]\npoints_file = 't.csv'\n"
    few, empty, lost = (tmp_path / n for n in ("few", "empty", "lost"))
    for folder in (few, empty, lost):
        folder.mkdir()
    (said,) = problems(write(few, toml, t="x_mm,y_mm,h_mm\n100,0,2.6\n"))
    assert said.endswith("at least 12 are needed; with fewer give centre_mm and bouts_mm instead")
    said = problems(write(empty, toml, t=readings().replace("180,0,2.6", "180,0,")))[0]
    assert said.endswith("what was not measured: leave the row out")
    said = problems(write(lost, toml, t=readings().replace("180,0,2.6", "180,0,26")))[0]
    assert said.endswith("was it 2.6, with the decimal sign lost?")


def test_a_refused_line_is_shown_without_its_remark(tmp_path):
    (said,) = problems(write(tmp_path, VIOLIN + "[arching]\nheight_mm = 15,5   # mm, 6 to 50\n"))
    assert "found height_mm = 15,5; write the decimal with a point" in said


def test_a_table_of_samples_in_the_folder_is_not_odd(tmp_path):
    blanks = "name;kind;length_mm;mass_g\na;blank;300;30\n"
    folder = write(tmp_path, VIOLIN, blanks=blanks, other="a;b\n1;2\n")
    found = [f.where for f in read_job(folder).findings if f.kind == "file"]
    assert found == ["other.csv"]
