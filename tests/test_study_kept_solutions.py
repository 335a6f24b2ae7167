"""What the full model solved for one run serves the next: to the last bit, and for nothing else."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.fem.joined import Joined
from platemodel.instrument.bar_shape import bar_of_height, scaled_wood
from platemodel.instrument.body import usual_body
from platemodel.instrument.flex_test import usual_flex_test
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import SetUp
from platemodel.study.body.air import body_air
from platemodel.study.body.model import body_model
from platemodel.study.body.reduced import reduced_body
from platemodel.study.body.statics import body_load
from platemodel.study.top import cache_folder, flex, kept_solutions, model
from platemodel.study.top.flex import flexes
from platemodel.study.top.kept_solutions import kept_solution
from platemodel.study.top.model import top_model, with_wood

COUNT = 8


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv(cache_folder.VARIABLE, str(tmp_path))
    return tmp_path / "models"


@pytest.fixture
def solved(monkeypatch):
    """Whatever is solved: free modes, rims, free statics."""
    seen = []
    for module, name in ((model, "modes_in_air"), (model, "rim_system"), (flex, "solve_free")):
        real = getattr(module, name)

        def noted(*args, real=real, name=name):
            seen.append(name)
            return real(*args)

        monkeypatch.setattr(module, name, noted)
    return seen


def violin(**wood):
    top = preset_top("violin")
    set_up = SetUp.usual("violin", top.outline.body_length)
    return top_model(with_wood(top, **wood) if wood else top, fineness=0.4, set_up=set_up)


def answers(one, bar):
    found = one.response(bar, one.set_up)
    sags = [f.flexibility for f in flexes(one, [usual_flex_test(one.top, "along")], bar)]
    return (*found.frequencies, found.foot.sliding, found.foot.held, found.sinking.held, *sags)


def test_the_next_run_solves_nothing_and_says_the_same(folder, solved):
    bar = preset_bar(preset_top("violin"))
    first = answers(violin(), bar)
    assert sorted(solved) == ["modes_in_air", "rim_system", "rim_system", "solve_free"]
    assert answers(violin(), preset_bar(preset_top("violin"))) == first
    assert len(solved) == 4
    assert len(list(folder.glob("solved_*.npz"))) == 4


def test_another_bar_wood_or_mesh_is_solved_anew(folder, solved):
    one = violin()
    bar = preset_bar(one.top)
    others = (
        bar_of_height(bar, 1.001 * float(bar.heights.max())),
        replace(bar, section_fill=0.95),
        replace(bar, width=1.001 * bar.width),
        replace(bar, lean=0.01),
        replace(bar, wood=scaled_wood(bar.wood, 1.001, 1.0)),
        replace(bar, y_start=bar.y_start + 1e-4),
        None,
    )
    found = {one.pushed(other, "held").sum() for other in (bar, *others)}
    assert len(found) == len(solved) == 8
    heavier = violin(density=1.001 * one.top.wood.density)
    heavier.pushed(bar, "held")  # no heavier at rest, but another plate
    assert len(solved) == 9


def test_a_wood_that_is_only_tried_is_not_kept(folder, solved):
    one = violin()
    wood = one.top.wood
    tried = one.with_shell(one.shell.with_material(0.5 * wood.compliance(), wood.density))
    for _ in range(2):
        tried.with_shell(tried.shell).free_modes(None, COUNT)
    assert len(solved) == 2
    assert not folder.exists()


def test_a_damaged_or_foreign_file_is_solved_anew(folder):
    one, wanted = violin(), np.arange(6.0)
    kept_solution(one, None, ("test",), lambda: {"a": wanted})
    kept_solution(one, None, ("another",), lambda: {"a": 2.0 * wanted})
    path, foreign = sorted(folder.iterdir(), key=lambda p: p.stat().st_mtime_ns)
    whole = path.read_bytes()
    changed = bytearray(whole)
    changed[whole.index(wanted.tobytes()) + 6] ^= 1
    for damage in (b"", whole[:-100], bytes(changed), foreign.read_bytes()):
        path.write_bytes(damage)
        assert np.array_equal(kept_solution(one, None, ("test",), lambda: {"a": wanted})["a"], wanted)
        assert path.read_bytes()[:200] == whole[:200]  # written anew

    def never():
        raise AssertionError

    assert np.array_equal(kept_solution(one, None, ("test",), never)["a"], wanted)


def test_other_code_is_not_believed(folder, monkeypatch):
    kept_solution(violin(), None, ("test",), lambda: {"a": np.zeros(3)})
    monkeypatch.setattr(kept_solutions, "code_hash", lambda: "another version")
    assert kept_solution(violin(), None, ("test",), lambda: {"a": np.ones(3)})["a"][0] == 1.0


def test_switched_off_or_unwritable_it_solves(folder, monkeypatch):
    folder.write_text("a file where the folder should be")
    assert kept_solution(violin(), None, ("test",), lambda: {"a": np.ones(3)})["a"][0] == 1.0
    monkeypatch.setenv(cache_folder.VARIABLE, "off")
    assert kept_solution(violin(), None, ("test",), lambda: {"a": np.ones(3)})["a"][0] == 1.0


def test_the_oldest_go_when_there_are_too_many(folder, monkeypatch):
    monkeypatch.setattr(kept_solutions, "MOST_BYTES", 3000)
    one = violin()
    for k in range(5):
        kept_solution(one, None, (k,), lambda: {"a": np.zeros(100)})
    left = list(folder.glob("solved_*.npz"))
    assert 1 <= len(left) < 5
    assert sum(p.stat().st_size for p in left) <= 3000


@pytest.mark.slow
def test_what_was_learnt_of_a_body_serves_the_next_run(folder, monkeypatch):
    """The closed body of a violin: statics and basis are read, to the last bit, and not for another bar."""

    def closed():
        top = violin()
        whole = body_model(top, usual_body(top.top), top.set_up)
        return whole, body_air(whole)

    def learnt(whole, air, bar):
        load = body_load(whole, bar)
        reduced = reduced_body(whole, air, bar, heights=(), count=4)
        return load.sinking_bass, *reduced.solved(bar).frequencies[:4]

    bar = preset_bar(preset_top("violin"))
    higher = bar_of_height(bar, 1.01 * float(bar.heights.max()))
    first = learnt(*closed(), bar)
    assert len(list(folder.iterdir())) == 2

    def never(*_):
        raise AssertionError

    for name in ("solve", "modes"):
        monkeypatch.setattr(Joined, name, never)
    again = closed()
    assert learnt(*again, bar) == first
    for ask in (
        lambda: body_load(again[0], higher),
        lambda: reduced_body(*again, higher, heights=(), count=4),
    ):
        with pytest.raises(AssertionError):
            ask()
