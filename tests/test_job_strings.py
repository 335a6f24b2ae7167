"""Job folder: strings and sound post."""

import numpy as np
import pytest

from platemodel.instrument.strings import SetUp
from platemodel.job import read_job
from tests.job_folders import VIOLIN, problems, write

BOTH = VIOLIN + "[strings]\n"


def read(folder, lines=None):
    return read_job(write(folder, VIOLIN if lines is None else BOTH + lines))


def test_without_a_table_the_usual_set_up_and_one_line_of_it(tmp_path):
    job = read(tmp_path)
    usual = SetUp.usual("violin")
    assert job.set_up.strings == usual.strings
    assert job.set_up.downforce == pytest.approx(usual.downforce)
    assert sum("string" in a for a in job.assumptions) == 1


def test_all_figures_are_taken(tmp_path):
    lines = "tension_1_n = 80\ntension_2_n = 56\ntension_3_n = 47\ntension_4_n = 45\nangle_deg = 156\n"
    lines += "spacing_mm = 33\npost_behind_mm = 7\npost_inward_mm = 1\npost_diameter_mm = 6.2\n"
    lines += "post_stiffness_n_per_mm = 400\n"
    job = read(tmp_path, lines)
    assert job.set_up.strings.names == ("G", "D", "A", "E")
    assert job.set_up.strings.tensions == (45.0, 47.0, 56.0, 80.0)
    assert np.degrees(job.set_up.included) == pytest.approx(156)
    assert job.set_up.downforce == pytest.approx(2 * 228 * np.cos(np.radians(78)))
    post = job.set_up.post
    assert (post.behind, post.inward, post.diameter, post.stiffness) == pytest.approx(
        (7e-3, 1e-3, 6.2e-3, 400e3)
    )
    assert not any("string" in a or "post" in a for a in job.assumptions)


def test_what_is_left_out_is_listed(tmp_path):
    found = " ".join(read(tmp_path, "tension_1_n = 80\n").assumptions)
    for words in ("string tension G 44, D 46, A 54 N", "string angle 157.5", "outer strings", "sound post"):
        assert words in found


@pytest.mark.parametrize(
    ("lines", "front", "back"),
    [
        ("front_deg = 8\nback_deg = 14\n", 8, 14),
        ("front_deg = 8\nangle_deg = 158\n", 8, 14),
        ("back_deg = 14\nangle_deg = 158\n", 8, 14),
        ("angle_deg = 158\n", 11, 11),
        ("front_deg = 8\nback_deg = 14\nangle_deg = 158.4\n", 8, 14),
    ],
)
def test_sides_and_included_angle(tmp_path, lines, front, back):
    found = read(tmp_path, lines).set_up
    assert np.degrees([found.front, found.back]) == pytest.approx([front, back])


def test_a_direct_load_sets_the_angle_aside(tmp_path):
    job = read(tmp_path, "downforce_n = 90\nangle_deg = 156\n")
    assert job.set_up.downforce == 90.0
    assert any("strings.angle" in a and "not used" in a for a in job.assumptions)


def test_the_post_is_out(tmp_path):
    job = read(tmp_path, "post_present = false\npost_behind_mm = 7\n")
    assert not job.set_up.post.present
    assert any("strings.post_behind" in a and "not used" in a for a in job.assumptions)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("front_deg = 8\nback_deg = 14\nangle_deg = 150\n", "front and back leave 158"),
        ("front_deg = -5\nback_deg = 4\n", "together they must fall"),
        ("tension_1_n = 7.6\n", "allowed 10 to 400"),
        ("angle_deg = 22\n", "allowed 120 to 178"),
        ("post_present = 1\n", "true or false"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path, lines, words):
    found = problems(write(tmp_path, BOTH + lines))
    assert len(found) == 1
    assert words in found[0]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("downforce_n = 220\n", "sum of the tensions"),
        ("angle_deg = 170\n", "not the angle by which the strings break"),
        ("post_behind_mm = -4\n", "in front of the treble foot"),
    ],
)
def test_what_is_unusual_is_a_finding(tmp_path, lines, words):
    assert any(words in f.message for f in read(tmp_path, lines).findings if f.kind == "strings")
    assert not any(f.kind == "strings" for f in read(tmp_path, "").findings)
