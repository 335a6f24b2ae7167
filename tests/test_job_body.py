"""Fields of the rest of the body in job.toml."""

import pytest

from platemodel.errors import JobError
from platemodel.job import read_job
from tests.job_folders import write

VIOLIN = '[job]\ninstrument = "violin"\n'


def test_nothing_given_is_nothing_said(tmp_path):
    """Only the verb body asks for these fields, so that other verbs are not told of twenty usual figures."""
    job = read_job(write(tmp_path, VIOLIN))
    assert job.body == {}
    assert not [a for a in job.assumptions if "ribs" in a or "neck" in a]


def test_given_figures_arrive_in_metres_and_kilograms(tmp_path):
    text = VIOLIN + (
        "[ribs]\nlower_mm = 32.5\nlining_width_mm = 0\n[back]\nmass_g = 98\n[neck]\nhead_mass_g = 75\n"
        "[strings]\nbridge_height_mm = 34\nnut_height_mm = -4\n[measured]\nair_hz = 271\n"
        "body_tone_1_hz = 455\nbody_tone_2_hz = 540\n"
        "arch_strung_mm = 14.2\narch_off_mm = 14.6\nsunk_mm = 0.8\n"
    )
    job = read_job(write(tmp_path, text))
    assert job.body == pytest.approx({
        "rib_lower": 32.5e-3, "lining_width": 0.0, "back_mass": 0.098, "head_mass": 0.075,
        "bridge_height": 34e-3, "nut_height": -4e-3,
    })  # fmt: skip
    read = job.measured
    assert read.air_tone == 271
    assert read.body_tones == (455, 540)
    assert (read.arch_strung, read.arch_off, read.sunk) == pytest.approx((14.2e-3, 14.6e-3, 0.8e-3))


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("[ribs]\nlining_height_mm = 24\n", "do not fit twice"),
        ("[back]\narch_mm = 6\nedge_mm = 7\n", "not above its edge"),
        ("[ribs]\nthickness_mm = 12\n", "0.5 to 3"),
    ],
)
def test_what_cannot_be_is_refused_when_the_folder_is_read(tmp_path, lines, words):
    with pytest.raises(JobError, match=words):
        read_job(write(tmp_path, VIOLIN + lines))
