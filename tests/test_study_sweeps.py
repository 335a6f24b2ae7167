"""Sweeps: grids, workers, files taken up again; samples of wood; effects of the bar's line."""

import pickle
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pandas as pd
import pytest
from threadpoolctl import threadpool_limits

from platemodel.errors import GeometryError
from platemodel.instrument.bar_shape import shaped_bar
from platemodel.study.choosing import sweeps
from platemodel.study.choosing.sweeps import sweep
from platemodel.study.choosing.wood_bands import wood_samples
from platemodel.study.top.figures import BODY_FIGURES, FIGURES, FLEX_FIGURES, TopFigures
from platemodel.study.top.process_pool import local_workers, pack
from platemodel.threads import one_blas_thread
from platemodel.wood import CONSTANTS, WoodEstimate, species_estimate
from tests.choosing_parts import MM, bar, effects, model, plain, reduced, set_up

GRID = {"height_mm": [10.0, 12.0, 14.0], "power": [1.5, 2.0]}


def run(grid, **more):
    return sweep(reduced(), bar(), grid, effects=plain(), **more)


@pytest.fixture(scope="module")
def table():
    return run(GRID)


# ---------------------------------------------------------------- what is in it


def test_a_grid_gives_all_combinations_with_units_in_the_names(table):
    assert len(table) == 6
    assert list(table["row"]) == list(range(6))
    figures = [f for f in FIGURES if f not in ("sink_mm", *FLEX_FIGURES, *BODY_FIGURES)]
    assert list(table) == [
        "row", "power", *figures, "foot_sliding_n_per_mm", "foot_held_n_per_mm", "source", "error",
    ]  # fmt: skip
    for power in (1.5, 2.0):
        assert table.loc[table["power"] == power, "height_mm"].tolist() == pytest.approx([10, 12, 14])


def test_a_row_says_what_the_single_question_says(table):
    one = shaped_bar(bar(), height=14 * MM, power=2.0)
    row, found = table.iloc[5], TopFigures(reduced()).of(one)
    # 1e-4: the model asked here may have learnt more from other tests, within its tolerance of 1e-3
    assert {k: row[k] for k in found} == pytest.approx(found, rel=1e-4)
    full = TopFigures(model()).of(one)
    assert {k: row[k] for k in full} == pytest.approx(full, rel=1e-3)  # the reduced model's tolerance
    assert row["foot_sliding_n_per_mm"] < row["foot_n_per_mm"] < row["foot_held_n_per_mm"]


def test_rows_of_a_frame_woods_and_softness():
    frame = pd.DataFrame({"height_mm": [12.0, 12.0], "wood": ["a", "b"], "softness": [1.0, 0.9]})
    woods = {"a": bar().wood, "b": shaped_bar(bar(), stiffness=1.2).wood}
    found = run(frame, woods=woods)
    assert found["wood"].tolist() == ["a", "b"]
    expected = TopFigures(reduced()).softer(0.9).of(shaped_bar(bar(), height=12 * MM, stiffness=1.2))
    assert found.iloc[1]["f5_hz"] == pytest.approx(expected["f5_hz"], rel=1e-4)


def test_sinking_is_listed_with_a_set_up():
    found = sweep(reduced(), bar(), {"height_mm": [12.0, 14.0]}, effects=effects())
    # a sweep asks the model as it was made, without what it learnt on the way for others
    plain_figures = TopFigures(reduced().unlearning(5e-3), set_up())
    assert found["sink_mm"].tolist() == pytest.approx(
        [plain_figures.of(shaped_bar(bar(), height=h * MM))["sink_mm"] for h in (12, 14)], rel=1e-9
    )


@pytest.mark.parametrize(
    ("grid", "more", "message"),
    [({"hight_mm": [12.0]}, {}, "unknown columns hight_mm"), ({}, {}, "nothing in it"),
     ({"height_mm": [np.nan]}, {}, "empty cell"), ({"height_mm": [2.0]}, {}, "row 0: bar height 2 mm"),
     ({"wood": ["x"]}, {}, "needs woods"), ({"softness": [0.0]}, {}, "positive factor"),
     ({"wood": ["x"]}, {"woods": {"y": 1}}, "no wood 'x'")],
)  # fmt: skip
def test_what_cannot_be_is_refused_before_the_computing(grid, more, message):
    with pytest.raises(ValueError, match=message):
        run(grid, **more)


def test_a_bar_off_the_plate_or_out_of_reach_is_refused():
    with pytest.raises(GeometryError):
        run({"position_mm": [-40.0]})
    with pytest.raises(GeometryError, match="at most"):
        run({"width_mm": [9.0]})


# ---------------------------------------------------------------- the line


@pytest.mark.slow
def test_another_line_is_read_to_a_few_tenths_of_a_per_cent():
    """A wider bar of another height against the full model."""
    change = {"width": 5.9 * MM}
    one = shaped_bar(bar(), height=13 * MM)
    found, true = plain().of(one, change), TopFigures(model()).of(shaped_bar(one, **change))
    base = TopFigures(reduced()).of(one)
    for name in ("foot_n_per_mm", "f1_hz", "f2_hz", "f5_hz", "bar_g"):
        assert found[name] == pytest.approx(true[name], rel=3e-3), name
    # and it says more than nothing: most of the change is there
    assert abs(found["foot_n_per_mm"] - true["foot_n_per_mm"]) < 0.3 * abs(
        base["foot_n_per_mm"] - true["foot_n_per_mm"]
    )
    assert found["strip_n_m2"] == pytest.approx(true["strip_n_m2"], rel=1e-9)


@pytest.mark.slow
def test_a_sweep_reads_lines_or_solves_them():
    grid = {"height_mm": [13.0], "width_mm": [5.5, 5.9]}
    read, solved = run(grid), run(grid, exact=True)
    assert read["source"].tolist() == ["reduced", "read"]
    assert "read" not in set(solved["source"])
    assert read["foot_n_per_mm"].to_numpy() == pytest.approx(solved["foot_n_per_mm"].to_numpy(), rel=2e-3)
    assert read["foot_n_per_mm"][1] > read["foot_n_per_mm"][0]


# ---------------------------------------------------------------- workers


def test_a_parcel_answers_as_its_model_does():
    model = reduced().at_home()
    again = pickle.loads(pack(model))
    one = shaped_bar(bar(), height=11 * MM, stiffness=1.1)
    found, expected = again.response(one), model.response(one)
    assert expected.foot.middle == pytest.approx(reduced().response(one).foot.middle, rel=1e-4)
    assert found.frequencies == pytest.approx(expected.frequencies, rel=1e-12)
    assert found.foot.middle == pytest.approx(expected.foot.middle, rel=1e-12)
    assert found.source == "reduced"
    # what it falls back on is whole
    assert np.allclose(again.full.shell.K.data, reduced().full.shell.K.data, rtol=1e-12, atol=0)
    # the bases stay behind: two fifths of it on this coarse mesh, two thirds on the default one
    here, whole = (len(pack(list(m.models.roms.values()))) for m in (model, reduced().unlearning(1e-3)))
    assert here < 0.7 * whole


def assert_same_sweep(found, table):
    """The same figures but for round-off.

    Other threads, processes and processors sum in another order. A frequency squared and a stiffness are
    sums whose terms, of the size of the stiffest motion of the reduced model, cancel down to the softest:
    double precision times their ratio of some 1e6 leaves 1e-10. The estimated error is the square of a
    residual that is itself a difference, and only has to agree to the tolerance of the model's own answers.
    """
    pd.testing.assert_frame_equal(found.drop(columns="error"), table.drop(columns="error"), rtol=1e-9, atol=0)
    assert found["error"].to_numpy() == pytest.approx(table["error"].to_numpy(), rel=1e-3, abs=1e-9)


def test_the_same_whatever_computes_it(table):
    with ThreadPoolExecutor(1) as here, local_workers(2) as workers:
        for executor, chunk in ((here, 4), (workers, 2)):
            assert_same_sweep(run(GRID, executor=executor, chunk=chunk), table)


@pytest.mark.slow
def test_the_same_with_any_number_of_blas_threads(table):
    with threadpool_limits(limits=2, user_api="blas"):
        found = run(GRID)
    one_blas_thread()
    assert_same_sweep(found, table)


def test_the_pool_of_a_cluster(table):
    distributed = pytest.importorskip("distributed")
    cluster = {"n_workers": 2, "threads_per_worker": 1, "processes": True, "dashboard_address": None}
    with distributed.LocalCluster(**cluster) as pool, distributed.Client(pool) as client:
        found = run(GRID, executor=client.get_executor(), chunk=3)
    assert_same_sweep(found, table)


# ---------------------------------------------------------------- files


class Stop(Exception):
    """Someone pulls the plug."""


def stopping(after):
    def progress(done, _):
        if done >= after:
            raise Stop

    return progress


def test_a_sweep_is_taken_up_again_without_computing_twice(table, tmp_path, monkeypatch):
    file = tmp_path / "heights.csv"
    with pytest.raises(Stop):
        run(GRID, file=file, chunk=2, progress=stopping(4))
    assert len(file.read_text().splitlines()) == 2 + 4
    with file.open("a") as torn:
        torn.write("5,2.0,97.4")  # a row that was being written when the power went
    computed, told = [], []
    real = sweeps.compute_rows

    def counting(token, parcel, rows, exact):
        computed.extend(r[0] for r in rows)
        return real(token, parcel, rows, exact)

    monkeypatch.setattr(sweeps, "compute_rows", counting)
    found = run(GRID, file=file, chunk=2, progress=lambda done, all_: told.append((done, all_)))
    assert len(computed) == 2
    assert told == [(4, 6), (6, 6)]
    pd.testing.assert_frame_equal(found, table, check_exact=True)
    lines = file.read_text().splitlines()
    assert len(lines) == 2 + 6
    assert len({line.count(",") for line in lines[1:]}) == 1
    again = run(GRID, file=file)
    assert len(computed) == 2
    pd.testing.assert_frame_equal(again, table, check_exact=True)


def test_a_file_of_another_sweep_is_left_alone(tmp_path):
    file = tmp_path / "heights.csv"
    run({"height_mm": [12.0]}, file=file)
    before = file.read_bytes()
    for other in ({"height_mm": [12.5]}, {"width_mm": [5.5]}):
        with pytest.raises(ValueError, match="another sweep"):
            run(other, file=file)
    file.write_text("x,y\n1,2\n")
    with pytest.raises(ValueError, match="other than a sweep"):
        run({"height_mm": [12.0]}, file=file)
    assert before.startswith(b"# platemodel sweep ")
    assert file.read_text() == "x,y\n1,2\n"


def test_other_kinds_of_file(tmp_path, monkeypatch):
    with pytest.raises(ValueError, match=r"\.csv or \.parquet"):
        run({"height_mm": [12.0]}, file=tmp_path / "a.xlsx")
    with pytest.raises(FileNotFoundError, match="make it first"):
        run({"height_mm": [12.0]}, file=tmp_path / "none" / "a.csv")
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(ValueError, match="pyarrow"):
        run({"height_mm": [12.0]}, file=tmp_path / "a.parquet")


def test_parquet_is_written_whole_at_the_end(table, tmp_path):
    pytest.importorskip("pyarrow")
    file = tmp_path / "heights.parquet"
    with pytest.raises(Stop):
        run(GRID, file=file, chunk=2, progress=stopping(2))
    assert not file.exists()
    run(GRID, file=file, chunk=2)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["heights.parquet"]
    pd.testing.assert_frame_equal(run(GRID, file=file), table, check_exact=True)


# ---------------------------------------------------------------- samples of wood


@pytest.mark.parametrize("method", ["sobol", "latin hypercube"])
def test_samples_have_the_estimate_s_middle_and_spread(method):
    estimate = species_estimate("tonewood spruce")
    logs = np.log([[getattr(w, c) for c in CONSTANTS] for w in wood_samples(estimate, 256, method=method)])
    sd = np.sqrt(np.diag(estimate.log_cov))
    # Draws by chance err by sd/16 in the mean and 1/sqrt(2 n) = 4.4 % in the spread. A Latin hypercube fills
    # each of its own coordinates evenly but not their sums: three such errors. Sobol points fill those too.
    # Woods whose Poisson ratios cannot be are left out, which the stiffnesses do not feel.
    stiff = [i for i, c in enumerate(CONSTANTS) if not c.startswith("nu")]
    off = (logs.mean(axis=0) - estimate.logs) / sd
    assert np.abs(off[stiff]).max() < 0.05
    assert (logs.std(axis=0) / sd)[stiff] == pytest.approx(
        np.ones(len(stiff)), abs={"sobol": 0.06, "latin hypercube": 0.13}[method]
    )
    density, e_l = logs[:, 0], logs[:, 1]
    assert np.corrcoef(density, e_l)[0, 1] == pytest.approx(estimate.correlation("density", "E_L"), abs=0.05)


def test_samples_depend_on_the_seed_alone():
    estimate = species_estimate("tonewood spruce")
    first, again, other = (wood_samples(estimate, 5, seed=s) for s in (1, 1, 2))
    assert first == again
    assert first != other
    assert len(wood_samples(estimate, 5)) == 5
    with pytest.raises(ValueError, match="one of sobol"):
        wood_samples(estimate, 5, method="dice")


def test_evenly_filled_samples_beat_chance_by_far():
    """Mean stiffness of 64 woods against the exact mean of the lognormal, exp(mean + variance/2)."""
    estimate = species_estimate("tonewood spruce")
    exact = estimate.wood.E_L * np.exp(0.5 * estimate.sd("E_L") ** 2)
    errors = {"even": [], "chance": []}
    for seed in range(8):
        errors["even"].append(np.mean([w.E_L for w in wood_samples(estimate, 64, seed)]) / exact - 1)
        rng = np.random.default_rng(seed)
        errors["chance"].append(np.mean([w.E_L for w in estimate.samples(64, rng)]) / exact - 1)
    rms = {k: np.sqrt(np.mean(np.square(v))) for k, v in errors.items()}
    assert rms["even"] < 0.5 * rms["chance"]


def test_draws_that_are_no_sound_material_are_drawn_again():
    """A Poisson ratio in so wide a band is often too large; as many sound woods come, the same each time."""
    wood = species_estimate("tonewood spruce").wood
    wide = WoodEstimate(wood, np.diag([4.0 if name == "nu_RT" else 0.0 for name in CONSTANTS]))
    first, again = (wood_samples(wide, 32, seed=3) for _ in range(2))
    assert first == again
    assert len({w.nu_RT for w in first}) == 32  # and no draw comes twice
