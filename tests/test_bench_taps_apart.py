"""Taps against the model: a coarse mesh judges first, and never otherwise than the usual one."""

from types import SimpleNamespace

import pytest

from platemodel.bench.kit import taps_apart
from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.taps_apart import BORNE_OUT, ROUGH, ROUGH_ERROR, taps_finding
from platemodel.instrument.presets import preset_top
from platemodel.job import Job, TapReading
from platemodel.job.job import Measured

TONES = {1: 80.0, 2: 140.0, 5: float("nan")}  # Hz, of a made-up model; its ring mode cannot be told


def tapped(frequencies):
    """A stand-in for a job without bar, with taps of these modes."""
    readings = {n: TapReading(n, f, 0.1, False) for n, f in frequencies.items()}
    return SimpleNamespace(states=(), bar=None, wood_from="", heard=lambda bar_on: {} if bar_on else readings)


@pytest.fixture
def laid(monkeypatch):
    """Fineness of each mesh that was laid; the coarse one errs by 0.3 %."""
    found = []

    def bench(job, fineness=1.0, progress=None):
        found.append(fineness)
        error = 1.003 if fineness == ROUGH else 1.0
        return SimpleNamespace(tones=lambda bar: {n: error * f for n, f in TONES.items()})

    monkeypatch.setattr(taps_apart, "job_bench", bench)
    return found


@pytest.mark.parametrize(
    ("share", "meshes", "told"),
    [
        (0.0, [ROUGH], False),
        (0.045, [ROUGH], False),
        (0.049, [ROUGH, 1.0], False),
        (0.06, [ROUGH, 1.0], True),
    ],
)
def test_the_usual_mesh_is_laid_where_the_coarse_one_leaves_a_doubt(laid, share, meshes, told):
    job = tapped({1: TONES[1] * (1 + share), 2: TONES[2]})
    finding = taps_finding(job)
    assert laid == meshes
    assert (finding is not None) == told
    if told:
        assert "mode 1 without bar was heard at 84.8 Hz, 6 % above the 80.0 Hz computed" in finding.message


def test_a_mode_that_the_coarse_mesh_does_not_know_leaves_a_doubt(laid):
    assert taps_finding(tapped({1: TONES[1], 5: 300.0})) is None
    assert laid == [ROUGH, 1.0]


def test_nothing_tapped_lays_no_mesh(laid):
    assert taps_finding(tapped({})) is None
    assert taps_finding(tapped({3: 200.0})) is None  # a mode that the model does not name
    assert laid == []


def test_the_coarse_mesh_errs_no_more_than_allowed_for():
    """A violin's bare top; thirteen others were put to it by hand."""
    top = preset_top("violin")
    rough, usual = (
        job_bench(Job("A try", top, None, Measured(), invented=True), fineness).tones(False)
        for fineness in (ROUGH, 1.0)
    )
    assert all(abs(rough[n] / f - 1) < ROUGH_ERROR for n, f in usual.items())
    assert ROUGH_ERROR < BORNE_OUT / 5  # it settles nearly all that the usual mesh would
