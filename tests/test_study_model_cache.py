"""Learnt models kept for later runs: believed only where they are whole and of this very top."""

import io
import pickle
import zipfile
from dataclasses import replace

import numpy as np
import pytest

from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.top import cache_folder, model_cache
from platemodel.study.top.array_files import write_arrays
from platemodel.study.top.foot import unit_loads, usual_set_up
from platemodel.study.top.model import with_wood
from platemodel.study.top.reduced_learning import Teacher
from platemodel.study.top.reduced_top import reduced_top
from tests.quick import quick_model

TOLERANCE = 1e-2  # quick to learn; the files do not depend on it otherwise


@pytest.fixture(scope="module")
def violin():
    return quick_model(preset_top("violin"))


@pytest.fixture(scope="module")
def bar(violin):
    return preset_bar(violin.top)


@pytest.fixture(scope="module")
def span(bar):
    height = float(bar.heights.max())
    return BarRange((0.8 * height, 1.2 * height), (2e-3, 4e-3), (1.4, 1.6), (1, 1), (1, 1))


@pytest.fixture(scope="module")
def learnt(violin, bar, span):
    return reduced_top(violin, bar, span, tolerance=TOLERANCE, keep=False)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv(cache_folder.VARIABLE, str(tmp_path))
    return tmp_path / "models"


@pytest.fixture
def never_again(monkeypatch):
    """No learning from here on."""

    def nothing(*_, **__):
        raise AssertionError

    monkeypatch.setattr(Teacher, "taught", nothing)


def kept(learnt):
    model_cache.keep_models(learnt.models.teacher, learnt.models.roms)
    return next((cache_folder.cache_folder()).glob("*.npz"))


def test_a_second_run_need_not_learn(folder, violin, bar, span, learnt, never_again):
    """Answers agree to round-off: a frequency squared cancels by six digits of sixteen."""
    kept(learnt)
    told = []
    again = reduced_top(violin, bar, span, tolerance=TOLERANCE, progress=told.append)
    assert told == ["learning bars: known from an earlier run"]
    for one in (None, bar, bar_of_height(bar, 11e-3)):
        found, expected = again.response(one, again.set_up), learnt.response(one, learnt.set_up)
        assert found.source == expected.source == "reduced"
        assert found.frequencies == pytest.approx(expected.frequencies, rel=1e-8)
        assert found.foot.sliding == pytest.approx(expected.foot.sliding, rel=1e-8)
        assert found.sinking.held == pytest.approx(expected.sinking.held, rel=1e-8)


def test_what_was_kept_can_learn_more(folder, violin, bar, span, learnt):
    kept(learnt)
    again = reduced_top(violin, bar, span, tolerance=TOLERANCE)
    wider = replace(bar, width=1.1 * bar.width)
    found, true = again.response(wider), violin.response(wider)
    assert found.source == "reduced"
    for number in (1, 2, 5):
        assert found.frequency(number) == pytest.approx(true.frequency(number), rel=TOLERANCE)


@pytest.mark.parametrize("change", ["cut", "bit", "empty", "text", "pickle", "squeezed", "renamed"])
def test_damaged_and_foreign_files_are_passed_over(folder, learnt, change):
    path = kept(learnt)
    whole = path.read_bytes()
    if change == "cut":
        path.write_bytes(whole[: len(whole) // 2])
    elif change == "bit":
        middle = len(whole) // 2
        path.write_bytes(whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :])
    elif change == "empty":
        path.write_bytes(b"")
    elif change == "text":
        path.write_text("not a model")
    elif change == "pickle":
        arrays = dict(np.load(path))
        arrays["free.basis"] = np.array([lambda_free()], dtype=object)
        np.savez(path, **arrays)
    elif change == "squeezed":
        out = io.BytesIO()
        with zipfile.ZipFile(path) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
            for name in old.namelist():
                new.writestr(name, old.read(name))
        path.write_bytes(out.getvalue())
    elif change == "renamed":  # whole, but learnt with another range
        other = replace(learnt.models.teacher, range=replace(learnt.range, power=(1.0, 2.0)))
        assert model_cache.kept_models(other) is None
        path.rename(path.with_name(f"{model_cache.fingerprint(other)}.npz"))
        assert model_cache.kept_models(other) is None
    assert model_cache.kept_models(learnt.models.teacher) is None


def lambda_free():
    """Something that only pickle can write."""
    return pickle.dumps


def test_a_model_of_another_top_does_not_pass_even_under_this_one_s_name(folder, bar, span, learnt):
    """Checksum and shapes are right, the energies of its basis are not those of this top."""
    path = kept(learnt)
    stiffer = quick_model(with_wood(preset_top("violin"), E_L=1.2e10))
    teacher = Teacher(stiffer, bar, span, TOLERANCE, unit_loads(stiffer, usual_set_up(stiffer.top)))
    assert model_cache.kept_models(teacher) is None
    key = model_cache.fingerprint(teacher)
    with np.load(path) as archive:
        arrays = {name: archive[name] for name in archive.files if name != "checksum"}
    write_arrays(folder / f"{key}.npz", key, arrays)
    assert model_cache.kept_models(teacher) is None


def test_everything_that_goes_in_is_in_the_name(monkeypatch, learnt, bar):
    teacher = learnt.models.teacher
    names = {model_cache.fingerprint(teacher)}
    for other in (
        replace(teacher, tolerance=2 * TOLERANCE),
        replace(teacher, range=replace(learnt.range, power=(1.0, 2.0))),
        replace(teacher, bar=replace(bar, width=1.01 * bar.width)),
        replace(teacher, bar=replace(bar, wood=replace(bar.wood, E_L=1.01 * bar.wood.E_L))),
        replace(teacher, loads=1.01 * teacher.loads),
    ):
        names.add(model_cache.fingerprint(other))
    monkeypatch.setattr(model_cache, "__version__", "0")
    names.add(model_cache.fingerprint(teacher))
    assert len(names) == 7


def test_it_can_be_switched_off(tmp_path, monkeypatch, learnt):
    monkeypatch.setenv(cache_folder.VARIABLE, "off")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    model_cache.keep_models(learnt.models.teacher, learnt.models.roms)
    assert model_cache.kept_models(learnt.models.teacher) is None
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_written_to_is_no_fault_of_the_run(tmp_path, monkeypatch, learnt):
    (tmp_path / "models").write_text("a file in its place")
    monkeypatch.setenv(cache_folder.VARIABLE, str(tmp_path))
    model_cache.keep_models(learnt.models.teacher, learnt.models.roms)
    assert model_cache.kept_models(learnt.models.teacher) is None


def test_the_folder_stays_within_bounds(folder, monkeypatch, learnt):
    """The oldest go; what is not of this package stays."""
    path = kept(learnt)
    monkeypatch.setattr(model_cache, "MOST_BYTES", int(2.5 * path.stat().st_size))
    (folder / "mine.txt").write_text("a note")
    for tolerance in (2e-2, 3e-2, 4e-2):
        model_cache.keep_models(replace(learnt.models.teacher, tolerance=tolerance), learnt.models.roms)
    names = {p.name for p in folder.iterdir()}
    assert len(names) == 3
    assert "mine.txt" in names
    assert path.name not in names
