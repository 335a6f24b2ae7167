"""Plate modes of whole tops: convergence, rigid motions, recognition, what a bar does."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.errors import GeometryError
from platemodel.fem import seat
from platemodel.fem.eigen import LEFT
from platemodel.fem.kept import Kept
from platemodel.fem.system import System
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.job import read_job
from platemodel.resources import data_path
from platemodel.study.top import cache_folder
from platemodel.study.top.air import added_mass
from platemodel.study.top.meshed_top import bar_rib
from platemodel.study.top.model import top_model
from platemodel.study.top.plate_modes import compare_modes, plate_modes
from platemodel.study.top.recognise import follow, likeness, mac, patterns, recognise
from platemodel.study.top.sampling import plan_grid
from tests.benchmarks.drawn_tops import drawn_tops
from tests.benchmarks.mesh_band import TOPS, shares
from tests.quick import quick_model

DEMOS = ("modern_violin", "old_viola")


@pytest.fixture(scope="module")
def jobs():
    return {name: read_job(data_path("jobs", name)) for name in DEMOS}


@pytest.fixture(scope="module")
def models(jobs):
    """On the coarsest mesh that carries both bars: what is tested on it holds on any."""
    return {name: top_model(job.top, 0.5, bar=job.bar) for name, job in jobs.items()}


@pytest.fixture(scope="module")
def plates(jobs, models):
    """Modes without and with the bar."""
    return {
        name: tuple(plate_modes(models[name], bar) for bar in (None, job.bar)) for name, job in jobs.items()
    }


@pytest.mark.slow
@pytest.mark.parametrize("name", DEMOS)
def test_default_mesh_is_converged_and_its_band_covers_the_error(jobs, name):
    """Modes 1 to 8 against a mesh of 32,000 unknowns, itself within 0.15 % of one of 53,000.

    The whole difference must stay below 0.5 %, hence 0.4 % here (tests/benchmarks/mesh_convergence.py goes on
    until the modes move by less than 0.05 %).
    """
    job = jobs[name]
    model, fine = (top_model(job.top, fineness, bar=job.bar) for fineness in (1.0, 1.8))
    for bar in (None, job.bar):
        plate = plate_modes(model, bar, band=True)
        exact = fine.free_modes(bar, 8).frequencies
        error = np.abs(plate.table["f_hz"] / exact - 1)
        assert error.max() < 4e-3, error.round(4).tolist()
        assert np.all(np.abs(plate.table["f_hz"] - exact) <= plate.table["band_hz"])


@pytest.mark.slow
def test_band_holds_where_both_meshes_err_alike():
    """Straight slots and a bar: of ten unlike tops the one that the step from the coarse mesh sees worst."""
    top = TOPS["violin with slots, even"]()
    for share, _ in shares(top, 1.8):
        # at fineness 1.8 some 0.05 % of the error is still in the reference: 0.13 of the least band
        assert np.abs(share).max() < 0.87


@pytest.mark.slow
@pytest.mark.parametrize("fineness", [1.0, 0.5])
def test_band_holds_for_the_worst_of_twenty_tops_drawn_by_lot(fineness):
    """A small viola, thin and steeply arched, with slots: its plate bends within shorter lengths than the
    triangles, whose size follows from the body length, are made for.
    """
    top, _, bar = drawn_tops(1, 1)[0]
    for share, _ in shares(top, 2.0, bar, fineness):
        # against fineness 2 what is left of the error there, a sixth, is missing
        assert 0.6 < np.abs(share).max() < 0.86 if fineness == 1.0 else np.abs(share).max() < 1.0


def test_where_the_coarse_mesh_fails_the_band_is_not_known(jobs, models, monkeypatch):
    """The answer stands when the mesh that only judges cannot be laid; its band is NaN."""

    def fails(*_, **__):
        msg = "the mesher gives up"
        raise GeometryError(msg)

    monkeypatch.setattr("platemodel.study.top.plate_modes.top_model", fails)
    found = plate_modes(models["modern_violin"], jobs["modern_violin"].bar, band=True, count=4)
    assert not found.band_known
    assert found.table["band_hz"].isna().all()
    assert np.all(np.diff(found.table["f_hz"]) > 0)


@pytest.mark.parametrize("name", DEMOS)
def test_six_rigid_motions_and_the_mass(jobs, models, name):
    """Rigid motions below 1e-3 of the first elastic frequency; mass by quadrature against geometry.

    The plan's polygon keeps the area of the true curve to 1e-4; the slope's and the midsurface's
    interpolation add to it, together below 0.3 %.
    """
    job, model = jobs[name], models[name]
    rib = bar_rib(model, job.bar)
    system = System(model.shell, (rib,))
    stiffness, mass = system.matrices
    motions = system.rigid_motions()
    energy = np.einsum("ij,ij->j", motions, stiffness @ motions)
    inertia = np.einsum("ij,ij->j", motions, mass @ motions)
    first = system.modes(1).omega2[0]
    assert np.sqrt(np.abs(energy / inertia).max() / first) < 1e-3
    # the rib's frames on its two lines differ by its width over the arching's radius: 1e-3 of its own 8 %
    assert inertia[:3] == pytest.approx(np.full(3, model.mass + rib.mass), rel=3e-4)
    assert model.mass == pytest.approx(job.top.mass_estimate(), rel=3e-3)
    assert rib.mass == pytest.approx(job.bar.mass(), rel=3e-3)


@pytest.mark.parametrize("kind", ["violin", "viola", "cello"])
def test_usual_tops_show_the_three_known_modes_in_order(kind):
    """Hutchins, Sci. Am. 245(4), 1981, from memory: twist lowest, then cross, the ring fifth."""
    modes = plate_modes(quick_model(preset_top(kind)))
    assert [(n.number, n.index) for n in modes.namings] == [(1, 0), (2, 1), (5, 4)]
    assert all(n.likeness > 0.75 for n in modes.namings)


def test_a_violin_top_rings_where_the_literature_has_it(plates):
    """One free violin top by holograms (Hutchins, Stetson & Taylor 1971, from memory): 80, 147, 304 Hz.

    Another top of other wood: 15 % either way. With bar (common practice, no source): mode 1 75 to 95, mode 2
    150 to 185, mode 5 320 to 370 Hz.
    """
    without, with_bar = plates["modern_violin"]
    for number, published in ((1, 80.0), (2, 147.0), (5, 304.0)):
        assert without.frequency(number) == pytest.approx(published, rel=0.15)
    for number, low, high in ((1, 75, 95), (2, 150, 185), (5, 320, 370)):
        assert low < with_bar.frequency(number) < high


def test_a_bar_raises_every_known_mode_and_the_ring_more_than_the_twist(plates):
    """Sign and ranking (common practice, no source): a bar adds to mode 5 most, to mode 1 least, in hertz."""
    without, with_bar = plates["modern_violin"]
    rise = {n: with_bar.frequency(n) - without.frequency(n) for n in (1, 2, 5)}
    assert rise[5] > rise[2] > rise[1] > 0


def test_changes_are_followed_by_shape(plates):
    table = compare_modes(*plates["modern_violin"])
    assert sorted(table["becomes_mode"]) == list(range(1, 9))
    assert table["likeness"].iloc[0] > 0.95  # the twist keeps its shape
    same = compare_modes(plates["modern_violin"][0], plates["modern_violin"][0])
    assert np.allclose(same["likeness"], 1.0)
    assert np.allclose(same["change_hz"], 0.0)


def test_mixed_modes_are_said_to_be_mixed(plates):
    """On the old viola with its bar the ring pattern is spread over two modes: both say so."""
    table = plates["old_viola"][1].table
    remarks, rival = list(table["remark"]), table[table["remark"] == "shares the ring pattern"]
    assert f"mixes with {rival['f_hz'].iloc[0]:.1f} Hz" in remarks
    assert "shares the ring pattern" in remarks


def test_recognition_goes_by_shape_and_not_by_order():
    grid = plan_grid(preset_top("violin"))
    known = patterns(grid)
    rng = np.random.default_rng(4)
    noise = rng.standard_normal((len(known[1]), 2)) / np.sqrt(len(known[1]))
    shapes = np.stack([noise[:, 0], known[5], -known[1], noise[:, 1], known[2]], axis=1)
    assert {n.number: n.index for n in recognise(grid, shapes)} == {5: 1, 1: 2, 2: 4}
    scores = likeness(grid, shapes)
    assert scores[5][1] == pytest.approx(1.0)
    # cross and ring are nearly, not exactly, at right angles: x^2 and y^2 are correlated on a violin's plan
    assert scores[2][1] < 1e-9
    assert mac(shapes, shapes).diagonal() == pytest.approx(np.ones(5))
    assert follow(shapes, shapes[:, ::-1]).tolist() == [4, 3, 2, 1, 0]


def test_hold_points_are_quiet_and_tap_points_loud(plates):
    for plate in (p for pair in plates.values() for p in pair):
        x, y = plate.grid.points
        for k, row in enumerate(plate.table.itertuples()):
            level = {}
            for what in ("hold", "tap"):
                px, py = 1e-3 * getattr(row, f"{what}_x_mm"), 1e-3 * getattr(row, f"{what}_y_mm")
                level[what] = abs(plate.shapes[np.argmin(np.hypot(x - px, y - py)), k])
            assert level["hold"] < 0.08
            assert level["tap"] > 0.59


def test_modal_mass_is_what_a_tap_there_meets(plates):
    """Definition: twice the kinetic energy at unit velocity of the tapped point, by mass matrix and air."""
    plate = plates["modern_violin"][0]
    shell = plate.model.shell
    row = plate.table.iloc[4]
    station = shell.locate(1e-3 * np.array([[row.tap_x_mm], [row.tap_y_mm]]))
    normal = (station.axes[:, 2:3] @ station.displacement_rows())[0]
    moved = float((shell.operator(station, normal[None]) @ plate.vectors[:, 4])[0])
    air = float(added_mass(plate.model, plate.vectors[:, 4:5])[0, 0])
    energy = plate.vectors[:, 4] @ (shell.M @ plate.vectors[:, 4]) + air
    assert 0.02 < air / energy < 0.06  # 1 to 3 % in pitch
    assert row.modal_mass_g == pytest.approx(1e3 * energy / moved**2, rel=1e-6)


def test_a_held_rim_raises_the_modes(models):
    model = models["modern_violin"]
    free, hinged, clamped = (
        plate_modes(model, edge=edge, count=3).table["f_hz"] for edge in ("free", "hinged", "clamped")
    )
    assert np.all(hinged > free)
    assert np.all(clamped > hinged)


def test_repeated_runs_agree_bit_for_bit(monkeypatch):
    monkeypatch.setenv("PLATEMODEL_CACHE", "off")  # both are solved
    top = preset_top("violin")
    first, second = (plate_modes(quick_model(top), preset_bar(top), count=4) for _ in range(2))
    assert np.array_equal(first.table["f_hz"], second.table["f_hz"])
    assert np.array_equal(first.shapes, second.shapes)


def test_one_mode_alone_can_be_asked_for(models):
    assert [n.number for n in plate_modes(models["modern_violin"], count=1).namings] == [1]


def test_wrong_questions_are_refused(models, jobs):
    with pytest.raises(ValueError, match="allowed are free, hinged, clamped"):
        plate_modes(models["modern_violin"], edge="glued")
    with pytest.raises(ValueError, match=r"fineness 0.25: allowed 0.4 to 6"):
        top_model(jobs["modern_violin"].top, 0.25)
    with pytest.raises(ValueError, match="at least 1 mode"):
        plate_modes(models["modern_violin"], count=0)
    bar = jobs["modern_violin"].bar
    off = replace(bar, y_start=bar.y_start - 0.2, y_end=bar.y_end - 0.2)
    with pytest.raises(GeometryError, match="the bar leaves the plate"):
        plate_modes(models["modern_violin"], off)


def test_points_of_a_bar_that_passes_a_sound_hole(jobs, models, monkeypatch):
    """On an arch the lines that a bar is read on are bent in plan, and beside the hole the triangles are as
    small as the bend. Eight points on every piece say the same of the foot within 1e-5; with pieces cut for
    straight lines the two differed by 2e-4 to 6e-4.
    """
    one, bar = models["old_viola"], jobs["old_viola"].bar
    monkeypatch.setenv(cache_folder.VARIABLE, "off")
    found = replace(one, answers=Kept()).foot_stiffness(bar).middle
    monkeypatch.setattr(seat, "POINTS", ((0.0, 8),))
    assert found == pytest.approx(replace(one, answers=Kept()).foot_stiffness(bar).middle, rel=1e-5)


@pytest.mark.slow
def test_round_off_of_a_fine_mesh_is_no_fault(jobs):
    """At three times the default fineness the bar of a soft top leaves 3e-5 of a mode's forces by round-off
    alone. Its lowest frequencies are those at twice the fineness to within 0.3 %, what the mesh still does.
    """
    job = jobs["old_viola"]
    fine, coarse = (top_model(job.top, f, bar=job.bar).free_modes(job.bar, 4) for f in (3.0, 2.0))
    assert fine.residual > LEFT
    assert fine.frequencies == pytest.approx(coarse.frequencies, rel=3e-3)
