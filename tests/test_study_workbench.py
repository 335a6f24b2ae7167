"""The workbench of a run: everything computed once, whoever asks."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import SetUp
from platemodel.study.top import workbench as module
from platemodel.study.top.plate_modes import plate_modes
from platemodel.study.top.workbench import Workbench


@pytest.fixture(scope="module")
def bench():
    top = preset_top("violin")
    return Workbench(top, preset_bar(top), SetUp.usual("violin"), fineness=0.4)


def test_what_is_asked_again_is_the_same_object(bench):
    assert bench.model is bench.model
    assert bench.with_bar is bench.modes()[1]
    assert bench.load() is bench.load()
    assert bench.on_mesh(0.5) is bench.on_mesh(0.5)
    assert bench.on_mesh(0.4) is bench
    assert bench.with_bar.model is bench.load().model is bench.model


def test_numbers_are_those_of_the_questions_asked_one_by_one(bench):
    alone = plate_modes(bench.model, bench.bar)
    assert bench.with_bar.table["f_hz"].tolist() == pytest.approx(alone.table["f_hz"].tolist(), rel=1e-9)
    both = bench.without.table
    assert (both["band_hz"] / both["f_hz"]).tolist() == pytest.approx(
        [(bench.with_bar.table["band_hz"] / bench.with_bar.table["f_hz"]).max()] * 8
    )


def test_threads_share_one_mesh(monkeypatch):
    made = []

    def counted(*args, **names):
        made.append(1)
        return true(*args, **names)

    true = module.top_model
    monkeypatch.setattr(module, "top_model", counted)
    top = preset_top("violin")
    bench = Workbench(top, preset_bar(top), fineness=0.4)
    with ThreadPoolExecutor(4) as pool:
        models = list(pool.map(lambda _: bench.model, range(4)))
    assert len(made) == 1
    assert all(model is models[0] for model in models)


def test_what_is_missing_is_named():
    bench = Workbench(preset_top("violin"))
    with pytest.raises(ValueError, match="no strings"):
        bench.load()
    with pytest.raises(ValueError, match="needs a bar"):
        bench.reduced()
