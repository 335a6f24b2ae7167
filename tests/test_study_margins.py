"""The table of margins from stresses that are given: each row its own worst place, strength and quotient."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import Post, SetUp
from platemodel.study.top.answers import Bracket
from platemodel.study.top.margins import END_CLEAR, POST_ZONE, Solved, strength_margins
from platemodel.wood.strength import usual_strength

MPA = 1e6
KINDS = {
    "along the grain, tension": ("along", 1, "bending"),
    "along the grain, compression": ("along", -1, "compression_along"),
    "across the grain, tension": ("across_tension", 1, "tension_across"),
    "across the grain, compression": ("across_compression", -1, "compression_across"),
    "shear along the grain": ("shear", 1, "shear"),
}


@pytest.fixture(scope="module")
def top():
    return preset_top("violin")


@pytest.fixture(scope="module")
def bar(top):
    bar = preset_bar(top)
    return replace(bar, wood=replace(bar.wood, density=1.2 * top.wood.density))  # stronger than the plate


def stress(top, set_up, seed):
    """Stresses on both faces at points on both sides of the edge of the post's zone, and further away."""
    place, reach = set_up.post.place(top.bridge), POST_ZONE * set_up.post.diameter
    points = place[:, None] + reach * np.array(
        [[0.0, 0.99, -0.7, 1.01, -0.72, 3.0], [0, 0, 0.7, 0, 0.72, 1.0]]
    )
    draw = np.random.default_rng(seed).normal(scale=10 * MPA, size=(2, 4, points.shape[1]))
    names = ("along", "across_tension", "across_compression", "shear")
    faces = {
        face: SimpleNamespace(**dict(zip(names, v, strict=True)))
        for face, v in zip(("inner", "outer"), draw, strict=True)
    }
    return SimpleNamespace(points=points, faces=faces)


def forces(bar, seed):
    s = np.linspace(0.0, bar.length, 91)
    draw = np.random.default_rng(seed).normal(scale=5 * MPA, size=(5, len(s)))
    draw[:, [0, 1, -2, -1]] *= 10.0  # at the ends a beam's formulas say nothing
    draw[2] = np.abs(draw[2])
    names = ("free", "seat", "sideways", "shear_stress", "glue_shear")
    ends = [
        SimpleNamespace(shear=v * MPA, peel=w * MPA) for v, w in ((1.0 + seed, 0.5), (2.0, 0.1 * seed - 0.3))
    ]
    return SimpleNamespace(s=s, ends=ends, **dict(zip(names, draw, strict=True)))


@pytest.fixture(scope="module")
def solved(top, bar):
    set_up = SetUp.usual("violin")
    model = SimpleNamespace(top=top)
    return Solved(
        model, bar, set_up, (30.0, 50.0), Bracket(*(stress(top, set_up, k) for k in (1, 2))),
        Bracket(*(forces(bar, k) for k in (1, 2))), Bracket(35.0, 45.0),
    )  # fmt: skip


@pytest.fixture(scope="module")
def table(solved):
    return strength_margins(solved).set_index(["part", "what"])


def check(row, pair, limit, kind, kept=0.6):
    """Low and high stress; a permanent load indoors leaves 0.6 (EN 1995-1-1, table 3.1, from memory); 1.645
    standard deviations are the 5 % fractile of a normal spread.
    """
    low, high = np.maximum(sorted(pair), 0.0)
    mean, spread = getattr(limit, kind), limit.spread[kind]
    assert row["stress_low_mpa"] == pytest.approx(low / MPA)
    assert row["stress_high_mpa"] == pytest.approx(high / MPA)
    assert row["strength_mpa"] == pytest.approx(mean / MPA)
    assert row["k_mod"] == kept
    assert row["long_term_mpa"] == pytest.approx(kept * mean / MPA)
    quotients = [
        (mean, 0.5 * (low + high)), (mean * (1 - 1.645 * spread), high), (mean * (1 + 1.645 * spread), low),
    ]  # fmt: skip
    expected = [kept * strength / most if most > 0 else np.inf for strength, most in quotients]
    assert row[["margin", "margin_low", "margin_high"]].to_list() == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("what", KINDS)
@pytest.mark.parametrize("near", [True, False])
def test_worst_of_both_faces_by_the_post_and_away_from_it(solved, table, top, what, near):
    name, sign, kind = KINDS[what]
    columns = slice(0, 3) if near else slice(3, None)
    both = (solved.stress.sliding, solved.stress.held)
    found = [
        max((sign * getattr(face, name)[k], label, *s.points[:, k]) for label, face in s.faces.items()
            for k in range(*columns.indices(6)))
        for s in both
    ]  # fmt: skip
    row = table.loc["top by the post" if near else "top", what]
    check(row, [f[0] for f in found], usual_strength(top.wood), kind)
    _, label, x, y = max(found)
    assert (row["where"], row["x_mm"], row["y_mm"]) == (
        f"{label} face",
        pytest.approx(1e3 * x),
        pytest.approx(1e3 * y),
    )


def test_without_a_post_all_points_are_alike(solved, top):
    """Nothing presses by the post, and the places that lay near it count as any others."""
    alone = strength_margins(replace(solved, set_up=replace(solved.set_up, post=Post(present=False)),
                                     post_force=Bracket(0.0, 0.0))).set_index(["part", "what"])  # fmt: skip
    assert set(alone.index.get_level_values(0)) == {"top", "bar", "glue line"}
    assert "pressure of the post" not in alone.index.get_level_values(1)
    worst = [
        max(f.along.max() for f in s.faces.values()) for s in (solved.stress.sliding, solved.stress.held)
    ]
    check(alone.loc["top", "along the grain, tension"], worst, usual_strength(top.wood), "bending")


def test_what_presses_is_load_over_area(solved, table, top):
    """Feet are rectangles, the post's end is a disc."""
    limit, bridge = usual_strength(top.wood), top.bridge
    foot = bridge.foot_along * bridge.foot_length_across
    for name, load in (("bass", 30.0), ("treble", 50.0)):
        row = table.loc["top", f"pressure under the {name} foot"]
        check(row, (load / foot, load / foot), limit, "compression_across")
        assert row["where"] == "outer face"
        assert row["y_mm"] == pytest.approx(1e3 * getattr(bridge, f"{name}_foot")[1])
    disc = np.pi * (0.5 * solved.set_up.post.diameter) ** 2
    row = table.loc["top", "pressure of the post"]
    check(row, (35.0 / disc, 45.0 / disc), limit, "compression_across")
    assert row["where"] == "inner face"


def test_the_bar_away_from_its_ends(solved, table, bar):
    """Bending about both axes at the free edge and at the seat; the ends are told by rows of their own."""
    limit, both = usual_strength(bar.wood), (solved.forces.sliding, solved.forces.held)
    s = both[0].s
    inside = (s > END_CLEAR * bar.heights[0]) & (s < bar.length - END_CLEAR * bar.heights[-1])
    assert 60 < inside.sum() < 88
    pulled = [max((f.free + f.sideways)[inside].max(), (f.seat + f.sideways)[inside].max()) for f in both]
    pressed = [max((f.sideways - f.free)[inside].max(), (f.sideways - f.seat)[inside].max()) for f in both]
    check(table.loc["bar", "along the grain, tension"], pulled, limit, "bending")
    check(table.loc["bar", "along the grain, compression"], pressed, limit, "compression_along")
    sheared = [f.shear_stress[inside].max() for f in both]
    row = table.loc["bar", "shear along the grain"]
    check(row, sheared, limit, "shear")
    worst = max(both, key=lambda f: f.shear_stress[inside].max())
    share = s[np.where(inside, worst.shear_stress, -np.inf).argmax()] / bar.length
    assert row["x_mm"] == pytest.approx(1e3 * (bar.x_start + share * (bar.x_end - bar.x_start)))
    assert row["y_mm"] == pytest.approx(1e3 * bar.at(1e-3 * row["x_mm"]))


def test_the_glue_line_holds_as_the_weaker_wood_does(solved, table, top, bar):
    """The plate's wood is the lighter one here; a joint that is pressed together never peels."""
    limit, both = usual_strength(top.wood), (solved.forces.sliding, solved.forces.held)
    assert limit.shear < usual_strength(bar.wood).shear
    s = both[0].s
    inside = (s > END_CLEAR * bar.heights[0]) & (s < bar.length - END_CLEAR * bar.heights[-1])
    glue = [np.abs(f.glue_shear)[inside].max() for f in both]
    check(table.loc["glue line", "shear along the joint"], glue, limit, "shear")
    for k, (name, x) in enumerate((("lower end", bar.x_start), ("upper end", bar.x_end))):
        row = table.loc["glue line", f"shear at the {name}"]
        check(row, [f.ends[k].shear for f in both], limit, "shear")
        assert (row["where"], row["x_mm"]) == (name, pytest.approx(1e3 * x))
        check(
            table.loc["glue line", f"peel at the {name}"],
            [f.ends[k].peel for f in both],
            limit,
            "tension_across",
        )
    assert table.loc["glue line", "peel at the upper end"]["margin"] == np.inf
