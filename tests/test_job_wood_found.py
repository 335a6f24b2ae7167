"""The found wood kept in a job with its doubt."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.job import read_job
from platemodel.job.keep_wood import keep_wood
from platemodel.job.wood_found import WOOD_FILE, wood_table
from platemodel.wood import species_estimate
from tests.job_folders import VIOLIN, problems, write


@pytest.fixture
def found():
    """A wood with the correlations and spreads of a species, narrowed by a measured E_L."""
    return species_estimate("tonewood spruce", density=405.0).measured(0.04, "three taps", E_L=11.2e9)


def toml(wood):
    lines = [f'species = "{wood.name}"', f"density_kg_m3 = {wood.density:.5g}"]
    moduli = ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")
    lines += [f"{c}_gpa = {1e-9 * getattr(wood, c):.4g}" for c in moduli]
    return VIOLIN + "[wood.top]\n" + "\n".join(lines) + "\n"


def put(folder, found):
    path = folder / WOOD_FILE
    path.write_text(wood_table(found), encoding="utf-8")
    return path


def test_the_doubt_comes_back(tmp_path, found):
    write(tmp_path, VIOLIN)
    assert read_job(tmp_path).found_wood is None
    keep_wood(tmp_path, found, "three taps")
    job = read_job(tmp_path)
    np.testing.assert_allclose(job.found_wood.log_cov, found.log_cov, atol=2e-6)  # six digits of each factor
    assert job.top_wood is job.found_wood
    assert job.top_wood.wood == job.top.wood
    assert "three taps" in job.top_wood.source
    assert WOOD_FILE in job.files


def test_another_wood_sets_it_aside(tmp_path, found):
    stiffer = replace(found.wood, E_L=1.1 * found.wood.E_L)
    write(tmp_path, toml(stiffer))
    put(tmp_path, found)
    job = read_job(tmp_path)
    assert job.found_wood is None
    assert any("set aside" in line and "E_L" in line for line in job.assumptions)
    assert job.top_wood.wood == job.top.wood
    assert "three taps" not in job.top_wood.source


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("constant,value", "constant,median", ["column names", "--keep"]),
        ("\nE_R,", "\nE_Q,", ["constant", "E_Q"]),
        ("\nE_L,", "\nE_L,-", ["E_L", "above 0"]),
    ],
)
def test_a_broken_table_is_refused(tmp_path, found, old, new, words):
    write(tmp_path, toml(found.wood))
    path = put(tmp_path, found)
    path.write_text(path.read_text().replace(old, new, 1))
    text = problems(tmp_path)[0]
    for word in (WOOD_FILE, *words):
        assert word in text
