"""An offcut in the job folder: what its bends say of the wood, who uses it, what is refused."""

import re

import numpy as np
import pytest

from platemodel.bench.wood import result as wood_report
from platemodel.cli import main
from platemodel.job import read_job
from platemodel.wood import species_estimate
from tests.job_folders import VIOLIN, problems, write

STIFF, ROLLING = 0.9e9, 0.030e9  # Pa, of the wood bent below; the species would have 0.042 for the second
GRAVITY = 9.80665  # m/s2, ISO 80000-4


def sag_mm(span, load, width=25e-3, thickness=12e-3):
    """Sag of a beam on two supports under a load (kg) in its middle, with its shear.

    Timoshenko, Strength of Materials I, article on shear in deflections, from memory:
    F L^3/(48 E I) + F L/(4 k G A), with k = 5/6 for a rectangle.
    """
    force, area = GRAVITY * load, width * thickness
    inertia = width * thickness**3 / 12
    bending = force * span**3 / (48 * STIFF * inertia)
    return 1e3 * (bending + force * span / (4 * 5 / 6 * ROLLING * area))


FIELDS = {
    "length_mm": 110, "width_mm": 25, "thickness_mm": 12, "mass_g": 13.9,
    "short_span_mm": 60, "short_load_g": 4000, "short_sag_mm": round(sag_mm(60e-3, 4.0), 4),
    "long_span_mm": 100, "long_load_g": 2500, "long_sag_mm": round(sag_mm(100e-3, 2.5), 4),
    "sag_sd_mm": 0.002,
}  # fmt: skip


def toml(**changed):
    """Job with an offcut; a field that is changed to None is left out."""
    lines = [f"{k} = {v}" for k, v in (FIELDS | changed).items() if v is not None]
    return f"{VIOLIN}[offcut]\n" + "\n".join(lines) + "\n"


def test_two_spans_tell_stiffness_and_rolling_shear_apart(tmp_path):
    known = read_job(write(tmp_path, toml())).offcut.estimate
    before = species_estimate("tonewood spruce")
    assert abs(np.log(before.wood.G_RT / ROLLING)) > 0.2  # else the test could not fail
    # Half a standard deviation: the species pulls by the square of 0.1 over 0.38, on what is 0.4 away.
    assert abs(np.log(known.wood.G_RT / ROLLING)) < 0.5 * known.sd("G_RT")
    assert abs(np.log(known.wood.E_R / STIFF)) < 0.5 * known.sd("E_R")
    assert known.sd("G_RT") < 0.4 * before.sd("G_RT")


def test_one_span_alone_tells_less(tmp_path):
    both = read_job(write(tmp_path, toml())).offcut.estimate
    short = {f"long_{name}": None for name in ("span_mm", "load_g", "sag_mm")}
    alone = read_job(write(tmp_path, toml(**short))).offcut.estimate
    assert both.sd("G_RT") < alone.sd("G_RT") < species_estimate("tonewood spruce").sd("G_RT")


def test_wood_starts_from_it_and_check_tells_of_it(tmp_path, monkeypatch, capsys):
    asked = {}

    class Enough(Exception):
        pass

    def identify(*_, prior, **__):
        asked["prior"] = prior
        raise Enough

    monkeypatch.setattr(wood_report, "top_model", lambda *_, **__: None)
    monkeypatch.setattr(wood_report, "identify_wood", identify)
    tapped = toml() + "[measured]\nmass_g = 66\nmode_1_hz = 85\nmode_2_hz = 160\nmode_5_hz = 330\n"
    job = read_job(write(tmp_path, tapped))
    with pytest.raises(Enough):
        wood_report.job_wood(job)
    assert asked["prior"] is job.offcut.estimate
    assert wood_report.JobWood(job, None, ()).beforehand == "offcut"
    write(tmp_path, toml())  # with taps to look at, check solves the top
    assert main(["check", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    told = re.search(r"offcut, bent across +E_R ([0-9.]+) GPa ± (\d+) %, G_RT ([0-9.]+)", said)
    assert float(told[1]) == pytest.approx(1e-9 * job.offcut.estimate.wood.E_R, abs=0.006)
    assert float(told[3]) == pytest.approx(1e-9 * job.offcut.estimate.wood.G_RT, abs=6e-5)


def test_bends_that_contradict_each_other_look_odd(tmp_path):
    """A short span that sags less than bending alone would have it: a slip that no rolling shear mends."""
    stiff = toml(short_sag_mm=0.03)
    assert any("offcut do not fit" in f.message for f in read_job(write(tmp_path, stiff)).findings)
    assert not any("offcut" in f.message for f in read_job(write(tmp_path, toml())).findings)


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"mass_g": None}, "offcut.mass_g: found nothing; length, width, thickness and weight"),
        ({"mass_g": 1.39}, "offcut.mass_g: found 1.39; with its sizes that is 42 kg/m3; 250 to 700 is wood"),
        ({"short_load_g": None}, "short_load_g: found nothing; it goes with short_span_mm, short_sag_mm"),
        ({"short_span_mm": 30}, "offcut.short_span_mm: found 30; 48.0 (four thicknesses) to 110"),
        ({"long_span_mm": 130}, "offcut.long_span_mm: found 130; 48.0 (four thicknesses) to 110"),
        ({"short_span_mm": 100}, "offcut.short_span_mm: found 100; less than long_span_mm, 100"),
        ({"long_sag_mm": 5}, "long_sag_mm: found 5; under 2500 g on 100 mm it makes the wood 0.028 GPa"),
        ({"short_load_g": 4}, "offcut.short_load_g: found 4; allowed 20 to 20000; is this in kg?"),
        (
            {f"{s}_{n}": None for s in ("short", "long") for n in ("span_mm", "load_g", "sag_mm")},
            "offcut.short_span_mm: found no bend; give short_span_mm, short_load_g and short_sag_mm",
        ),
    ],
)
def test_refused(tmp_path, changed, expected):
    found = problems(write(tmp_path, toml(**changed)))
    assert len(found) == 1, found
    assert expected in found[0]
    assert found[0].startswith("job.toml, line ")
