"""What the reader of job folders refuses, and what its messages say."""

import os
import shutil

import numpy as np
import pandas as pd
import pytest

from platemodel.errors import GeometryError, JobError
from platemodel.instrument.outline import Outline
from platemodel.job import read_job
from platemodel.resources import data_path
from platemodel.study.top.meshed_top import bar_rib
from tests.job_folders import VIOLIN, problems, readings, table, write
from tests.quick import quick_model


@pytest.mark.parametrize(
    ("toml", "expected"),
    [
        (
            "[thickness]\ncentre_mm = 0.003\n",
            "job.toml, line 4: thickness.centre_mm: found 0.003; allowed 1 to 9; is this in metres?",
        ),
        ("[outline]\nlower_bout_mm = 20.8\n", "found 20.8; allowed 110 to 520; is this in centimetres?"),
        ("[wood.top]\nE_L_gpa = 11500\n", "found 11500; allowed 4 to 25; is this in MPa?"),
        ("[wood.top]\ndensity_kg_m3 = 0.4\n", "found 0.4; allowed 250 to 700; is this in g/cm3?"),
        ("[measured]\nmass_g = 0.066\n", "found 0.066; allowed 15 to 900; is this in kg?"),
        (
            "[bar]\nwidth_mm = 5,5\n",
            "line 4: bar.width_mm: found width_mm = 5,5; write the decimal with a point",
        ),
        (
            "[bar]\nwidth_mm = 5.5 mm\n",
            "line 4: bar.width_mm: found width_mm = 5.5 mm; write the number only",
        ),
        ("[bar]\nwidth_mm = '5.5'\n", "found 5.5; a number without quotes"),
        ("[bar]\nwidth_mm = nan\n", "found nan; a finite number"),
        ("[bar]\nwidth_mm = -inf\n", "found -inf; a finite number"),
        ("[bar]\nwidth_mm = true\n", "found True; a number, allowed 2.5 to 16"),
        (
            "[bar]\nwidht_mm = 5.5\n",
            "bar.widht_mm: found an unknown name; no such field in [bar]. Did you mean",
        ),
        ("[bar]\nwidth = 5.5\n", "Did you mean width_mm?"),
        ("[bars]\n", "Did you mean bar?"),
        ("[bar]\nprofile = 'parabolic'\n", "Did you mean parabola?"),
        ("[bar]\nwidth_mm = 5.5\nwidth_mm = 5.6\n", "line 5: bar.width_mm: found width_mm = 5.6; this field"),
        ("[bar\n", "job.toml, line 3: found [bar; the line cannot be read"),
        ("[measured]\nbar_on_top = yes\n", "yes and no are written true and false"),
        ("[outline]\npoints_file = '../o.csv'\n", "a plain file name without folders"),
        ("[outline]\npoints_file = 'o.csv'\n", "o.csv: outline.points_file in job.toml: found no such file"),
        ("[outline]\nbody_length_mm = 405\n", "found 405.0 mm; allowed 180 to 385 for a violin, in mm;"),
        ("[wood.top]\nspecies = 'oak'\n", 'found "oak"; one of "'),
        ("[bar]\nrule = 'placed'\n", "give lower_end_from_axis_mm and upper_end_from_axis_mm"),
        ("[bar]\nheight_mm = 4\nlower_end_height_mm = 6\n", "the bar is highest at the bridge"),
        ("[bar]\nlower_margin_mm = 120\nlength_mm = 270\n", "the bar must end on the body of 355.0 mm"),
        ("[bar]\nlower_end_from_axis_mm = 75\nupper_end_from_axis_mm = 70\n", "must lie inside the outline"),
        ("[sound_holes.bass]\nupper_eye_inner_mm = 60\n", "bass sound hole leaves the plate near"),
        ("[sound_holes.bass]\nlean_deg = 5\n", "let the hole lean more"),
        ("[bridge]\nfoot_span_mm = 20\nfoot_across_mm = 12\n", "does not fit twice"),
        ("[arching]\nheight_mm = 6\n[thickness]\nedge_mm = 8\n", "is not above the edge"),
    ],
)
def test_refused(tmp_path, toml, expected):
    found = problems(write(tmp_path, VIOLIN + toml))
    assert any(expected in p for p in found), found
    assert len(found) == 1


def test_all_problems_at_once(tmp_path):
    toml = """[job]
instrument = "violin"
nam = "x"
[outline]
body_length_mm = 355,5
[thickness]
centre_mm = 0.003
points_file = "t.csv"
[wood.bar]
species = "oak"
[bar]
height_mm = inf
"""
    found = problems(write(tmp_path, toml, t="x_mm,y_mm,h_mm\n10,20,x\n"))
    assert [p.split(": ")[0] for p in found] == [
        *(f"job.toml, line {n}" for n in (3, 5, 7, 10, 12)),
        "t.csv, line 2",
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "found an empty table; first line: x_mm,y_mm,h_mm"),
        ("x_mm,y_mm,h_mm\n", "found 0 rows of numbers; at least 12 are needed"),
        ("x,y,h\n1,2,3\n", "t.csv, line 1: column names: found x, y, h; the first line must name x_mm"),
        ("x_mm,y_mm,h_mn\n1,2,3\n", "Did you mean h_mm?"),
        ("x_mm,x_mm,h_mm\n1,2,3\n", "each once"),
        ("1,2,3\n4,5,6\n", "The line of column names is missing"),
        ("x_mm,y_mm,h_mm\n10,5,20,0,2,5\n", "a decimal comma needs ; between the columns"),
        ("x_mm,y_mm,h_mm\n1,2\n", "t.csv, line 2: found 1,2; 3 cells are needed"),
        ("x_mm,y_mm,h_mm\n1,2,\n", "t.csv, line 2: h_mm: found an empty cell; a number in mm is needed"),
        ("x_mm;y_mm;h_mm\n1;2;nan\n", "h_mm: found nan; a number in mm is needed"),
        ("x_mm;y_mm;h_mm\n1;2;1_0\n", "found 1_0; a number in mm is needed"),
        ("x_mm;y_mm;h_mm\n1;2;1e999\n", "found 1e999; allowed 0.8 to 9"),
        (readings(h=0.0026), "found 0.0026; allowed 0.8 to 9; is this in metres?"),
        (readings() + "20,0,3.0\n", "t.csv, line 82: x_mm, y_mm: found 20, 0 again, with another value"),
        (readings() + "180,-90,2.5\n", "line 82: x_mm, y_mm: found 180, -90; this place is off the plate"),
        ("x_mm,y_mm,h_mm\n" + "".join(f"{x},{y},2.5\n" for x in range(9) for y in range(9)), "of the length"),
    ],
)
def test_refused_tables(tmp_path, text, expected):
    found = problems(write(tmp_path, VIOLIN + "[thickness]\npoints_file = 't.csv'\n", t=text))
    assert any(expected in p for p in found), found
    assert len(found) <= 6  # a wrong file gives a short list


def test_outline_that_crosses_itself_names_the_lines(tmp_path):
    mm = 1e3 * Outline.preset("violin").points[::4]
    mm[[30, 36]] = mm[[36, 30]]
    text = "# traced\n" + table("x_mm,y_mm", mm)
    found = problems(write(tmp_path, VIOLIN + "[outline]\npoints_file = 'o.csv'\n", o=text))
    assert len(found) == 1
    assert "crosses itself" in found[0]
    first = int(found[0].split("line ")[1].split(":")[0])
    assert 29 <= first - 3 <= 36  # the step before a swapped row; two lines stand before the rows, from 1


@pytest.mark.parametrize(
    ("shift", "expected"),
    [((12, 0), "x counts from the lower edge"), ((0, 104), "the two sides may differ by a fifth at most")],
)
def test_outline_from_another_origin(tmp_path, shift, expected):
    mm = 1e3 * Outline.preset("violin").points[::4] + shift
    found = problems(write(tmp_path, VIOLIN + "[outline]\npoints_file = 'o.csv'\n", o=table("x_mm,y_mm", mm)))
    assert expected in found[0]


def test_outline_given_twice(tmp_path):
    toml = VIOLIN + "[outline]\npoints_file = 'o.csv'\nhalf_widths_file = 'w.csv'\n"
    mm = 1e3 * Outline.preset("violin").points[::4]
    widths = "x_mm,bass_mm,treble_mm\n" + "".join(f"{x},80,80\n" for x in (30, 71, 120, 284, 330))
    found = problems(write(tmp_path, toml, o=table("x_mm,y_mm", mm), w=widths))
    assert "give points_file or half_widths_file, not both" in found[0]


# ---------------------------------------------------------------- files that are not files


def test_folder_problems(tmp_path):
    assert "no such folder" in problems(tmp_path / "nowhere")[0]
    assert "job.toml: found no such file" in problems(tmp_path)[0]
    write(tmp_path, VIOLIN)
    assert f"try the folder {tmp_path}" in problems(tmp_path / "job.toml")[0]
    assert problems("a\0b")
    assert problems("x" * 5000)


def test_job_file_of_another_name(tmp_path):
    (tmp_path / "job.toml.txt").write_text(VIOLIN)
    assert "Did you mean job.toml.txt?" in problems(tmp_path)[0]


@pytest.mark.skipif(os.name == "nt", reason="pipes and links are made otherwise there")
def test_odd_files(tmp_path):
    toml = VIOLIN + "[thickness]\npoints_file = 't.csv'\n"
    write(tmp_path, toml)
    path = tmp_path / "t.csv"

    path.mkdir()
    assert "t.csv: thickness.points_file in job.toml: found a folder" in problems(tmp_path)[0]
    path.rmdir()

    os.mkfifo(path)
    assert "found a device or pipe" in problems(tmp_path)[0]
    path.unlink()

    outside = tmp_path.parent / "elsewhere.csv"
    outside.write_text(readings())
    path.symlink_to(outside)
    assert "a link that leads out of the job folder" in problems(tmp_path)[0]
    path.unlink()
    path.symlink_to(path)
    assert "cannot be opened" in problems(tmp_path)[0]
    path.unlink()
    path.symlink_to(tmp_path / "none.csv")
    assert "no such file" in problems(tmp_path)[0]
    path.unlink()

    (tmp_path / "real.csv").write_text(readings())
    path.symlink_to("real.csv")
    assert read_job(tmp_path).top.kind == "violin"
    path.unlink()

    path.write_bytes(b"x" * 2_000_001)
    assert "at most 2000000 bytes" in problems(tmp_path)[0]
    path.write_bytes(b"PK\x03\x04abc")
    assert "save the table as CSV" in problems(tmp_path)[0]
    path.write_bytes(readings().encode() + b"\0")
    assert "t.csv, line 82: found a zero byte" in problems(tmp_path)[0]
    path.write_bytes(b"x_mm,y_mm,h_mm\n\x81\n")
    assert "t.csv, line 2: found byte 0x81" in problems(tmp_path)[0]


def test_hostile_toml(tmp_path):
    for text in ("a = " + "[" * 5000, "a = " + "9" * 5000, ".".join(["a"] * 3000) + " = 1", "[job]\n" * 2):
        (tmp_path / "job.toml").write_text(text)
        assert problems(tmp_path)


@pytest.mark.parametrize(
    ("off", "words"),
    [(14.0, ""), (16.4, "by 1.6 mm, from x 194.8 to 199.0 mm"), (22.0, "with its middle")],
)
def test_a_bar_over_a_sound_hole_is_refused_with_both_names(tmp_path, off, words):
    """Beside it is free, and by a third or all of its width it has no wood below."""
    bar = (
        f'[bar]\nrule = "placed"\nedge = "middle"\nwidth_mm = 5.5\n'
        f"lower_end_from_axis_mm = {off + 8}\nupper_end_from_axis_mm = {off}\n"
    )
    folder = write(tmp_path, VIOLIN + bar)
    if not words:
        assert read_job(folder).bar is not None
        return
    (said,) = problems(folder)
    assert "bar: found a bar that lies over the bass sound hole " + words in said
    assert "move the bar towards the axis" in said


    """A fifth of the width over the hole: the furthest that the check lets through."""
    from platemodel.study.top.meshed_top import bar_rib
    from platemodel.study.top.model import top_model

    for off in np.arange(14.0, 18.0, 0.1):
        bar = (
            f'[bar]\nrule = "placed"\nedge = "middle"\nwidth_mm = 5.5\n'
            f"lower_end_from_axis_mm = {off + 8:.1f}\nupper_end_from_axis_mm = {off:.1f}\n"
        )
        try:
            job = read_job(write(tmp_path, VIOLIN + bar))
        except JobError:
            break
    assert 15 < off < 16.4
    assert any(f.kind == "hole" and "over the opening" in f.message for f in job.findings)
    assert bar_rib(top_model(job.top, 0.5, bar=job.bar), job.bar) is not None  # no point outside the plate


@pytest.mark.parametrize(
    ("toml", "words"),
    [
        ("[thickness]\nbouts_mm = 1\n", r"top is 1.0 to 2.\d mm thick.*check thickness"),
        ("[wood.top]\nring_angle_deg = 45\n", "its rings lean by 45 degrees;.*check thickness, ring angle"),
    ],
)
def test_a_top_whose_section_with_the_bar_has_no_stiffness_is_refused_by_name(tmp_path, toml, words):
    """Legal figures by which a stiffness of the two together came out below zero, and so no tone."""
    job = read_job(write(tmp_path, VIOLIN + "[bar]\n" + toml))
    with pytest.raises(GeometryError, match=words):
        bar_rib(quick_model(job.top, job.bar), job.bar)


def test_depths_from_a_straight_edge_are_not_taken_for_heights(tmp_path):
    """The viola's own heights pass; taken from a straight edge 20 mm over the ribs they make a bowl."""
    demo = data_path("jobs", "old_viola")
    for path in demo.iterdir():
        if path.suffix in (".toml", ".csv"):
            shutil.copy(path, tmp_path)
    assert read_job(tmp_path).top is not None
    for name in ("cross_arches.csv", "long_arch.csv"):
        table = pd.read_csv(tmp_path / name, comment="#", sep=None, engine="python", decimal=",")
        table["z_mm"] = table["z_mm"].astype(str).str.replace(",", ".").astype(float)
        table["z_mm"] = 20.0 - table["z_mm"]
        table.to_csv(tmp_path / name, index=False, sep=";", decimal=",")
    said = "\n".join(problems(tmp_path))
    assert "in the middle of the plate" in said
    assert "depths below a straight edge" in said
