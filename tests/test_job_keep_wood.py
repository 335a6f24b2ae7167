"""The wood found goes into job.toml; what it replaces stays as comments, and nothing else changes."""

import shutil
from dataclasses import replace

import pytest

from platemodel.errors import JobError
from platemodel.job import read_job
from platemodel.job.keep_wood import keep_wood
from platemodel.job.report import report
from platemodel.resources import data_path
from platemodel.wood import CONSTANTS, from_species
from tests.job_folders import VIOLIN, write

FROM = "weight and taps of modes 1, 2, 5"


@pytest.fixture
def wood():
    return from_species("tonewood spruce", 402.0, E_L=11.23e9, E_R=0.81e9)


def same(found, wood):
    """Four figures are written, of the density whole kg/m3."""
    moduli = [c for c in CONSTANTS if c[0] in "EG"]
    return all(getattr(found, c) == pytest.approx(getattr(wood, c), rel=2e-4) for c in moduli)


def test_the_demo_keeps_all_its_other_lines(tmp_path, wood):
    folder = tmp_path / "job"
    shutil.copytree(data_path("jobs", "old_viola"), folder)
    before = (folder / "job.toml").read_text(encoding="utf-8").split("\n")
    job = read_job(folder)
    keep_wood(folder, wood, FROM)
    found = read_job(folder)
    after = (folder / "job.toml").read_text(encoding="utf-8").split("\n")
    assert same(found.top.wood, wood)
    assert found.wood_from == FROM
    assert f"found from {FROM}" in report(found)
    assert found.top.grain_angle == job.top.grain_angle  # [wood.top] has more than the wood's figures
    gone = [line for line in before if line not in after]
    assert [line.partition(" =")[0] for line in gone] == ["species", "density_kg_m3", "E_L_gpa", "E_R_gpa"]
    assert all(f"# before: {line.strip()}" in after for line in gone)
    assert found.bar.wood == job.bar.wood
    keep_wood(folder, replace(wood, density=399.0), FROM)
    assert read_job(folder).top.wood.density == 399.0


def test_a_job_without_wood_gets_the_table(tmp_path, wood):
    folder = write(tmp_path, VIOLIN + "[bar]\n")
    keep_wood(folder, wood, FROM)
    assert same(read_job(folder).top.wood, wood)
    assert (folder / "job.toml").read_text(encoding="utf-8").startswith(VIOLIN + "[bar]\n\n[wood.top]\n")


def test_a_wood_written_otherwise_is_left_alone(tmp_path, wood):
    text = VIOLIN + "[wood]\ntop.density_kg_m3 = 380\ntop.grain_angle_deg = 1\n"
    folder = write(tmp_path, text)
    with pytest.raises(JobError, match=r"a table \[wood.top\] of its own"):
        keep_wood(folder, wood, FROM)
    assert (folder / "job.toml").read_text(encoding="utf-8") == text
