"""The benchmark page's writer and the solid bodies that it puts to other tools; nothing is solved here."""

import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from tests.benchmarks import page, page_text
from tests.benchmarks.comparison import BRICKS, OURS, SHELLS, WEDGES, Comparison, Run, bodies
from tests.benchmarks.growth import Cost, exponent
from tests.benchmarks.tools import ccx, ngs
from tests.benchmarks.tools.plan import BAR, MID, plan_mesh

DOCS = Path(__file__).parents[1] / "docs"


@pytest.fixture(scope="module")
def barred():
    return bodies()[1]


@pytest.fixture(scope="module")
def plan(barred):
    return plan_mesh(barred, 0.03, 0.008)


def hex_volumes(points, bricks):
    """Volumes of bricks with flat faces: six tetrahedra each, (n,)."""
    corner = points[:, bricks[:, :8]].transpose(1, 2, 0)
    tets = np.array([(0, 1, 2, 6), (0, 2, 3, 6), (0, 3, 7, 6), (0, 7, 4, 6), (0, 4, 5, 6), (0, 5, 1, 6)])
    a, b, c, d = (corner[:, tets[:, k]] for k in range(4))
    return np.einsum("ntd,ntd->n", np.cross(b - a, c - a), d - a) / 6


def test_plan_has_the_area_of_the_outline(barred, plan):
    a, b, c = (plan.points[:, plan.triangles[k]] for k in range(3))
    area = 0.5 * ((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0])
    assert area.min() > 0
    bowed = area.sum()
    for side, (i, j) in enumerate(MID):  # a parabola over a side holds two thirds of its box
        edge = plan.points[:, plan.triangles[j]] - plan.points[:, plan.triangles[i]]
        bowed += np.sum(2 / 3 * (edge[1] * plan.bulge[:, side, 0] - edge[0] * plan.bulge[:, side, 1]))
    assert bowed == pytest.approx(barred.top.plan.area, rel=3e-4)  # parabolas for curves
    assert abs(area.sum() / barred.top.plan.area - 1) > 1e-3  # and chords alone would not do


def test_bricks_have_the_volume_of_top_and_bar(barred, plan):
    points, plate, rod = ccx.solid_mesh(barred, plan, 2, 2)
    for bricks, volume in ((plate, barred.top.volume()), (rod, barred.bar.volume())):
        found = hex_volumes(points, bricks)
        assert found.min() > 0
        assert found.sum() == pytest.approx(volume, rel=3e-3)  # flat faces for curved ones
    assert len(np.unique(np.r_[plate.ravel(), rod.ravel()])) == points.shape[1]
    joint = np.intersect1d(plate, rod)  # the bar hangs on nodes of the plate, all over its face
    assert len(joint) == len(np.unique(rod[rod >= 0])) - len(np.setdiff1d(rod, plate))
    assert len(joint) > 3 * (plan.part == BAR).sum()


def test_the_bar_is_as_high_as_a_caliper_reads(barred):
    bar = barred.bar
    x = np.linspace(bar.x_start, bar.x_end, 7)
    middle = barred.foot(np.stack([x, bar.at(x)]))
    top, low = (barred.place(middle, np.full(7, level)) for level in (0.0, -1.0))
    np.testing.assert_allclose([top[:2], low[:2]], 2 * [np.stack([x, bar.at(x)])], atol=1e-9)
    np.testing.assert_allclose(top[2] - low[2], bar.height(x), rtol=1e-6)
    outer = barred.place(middle, np.ones(7))
    np.testing.assert_allclose(np.linalg.norm(outer - top, axis=0), barred.top.thickness.value(*middle))


def test_decks_hold_every_node_and_element(barred):
    plan = plan_mesh(barred, 0.06, 0.02, turn=1.0)
    quads = 3 * plan.triangles.shape[1]
    deck = ccx.solid_deck(barred, plan, 1, 2, count=5)
    nodes = re.search(r"\*NODE, NSET=NALL\n(.*?)\n\*", deck, re.DOTALL).group(1).splitlines()
    elements = re.findall(r"\*ELEMENT, TYPE=C3D20R, ELSET=(\w+)\n(.*?)\n\*", deck, re.DOTALL)
    numbers = [np.array(re.findall(r"\d+", body), dtype=int).reshape(-1, 21) for _, body in elements]
    assert [name for name, _ in elements] == ["EPLATE", "EBAR"]
    assert [len(n) for n in numbers] == [quads, 2 * 3 * (plan.part == BAR).sum()]
    assert np.concatenate(numbers)[:, 0].tolist() == list(range(1, sum(map(len, numbers)) + 1))
    assert set(np.concatenate(numbers)[:, 1:].ravel()) == set(range(1, len(nodes) + 1))
    assert deck.count("*SOLID SECTION") == 2
    assert deck.endswith("*FREQUENCY\n11\n*END STEP\n")
    assert max(map(len, deck.splitlines())) <= 132  # the solver's longest line
    shell = ccx.shell_deck(barred, plan)
    assert len(re.search(r"TYPE=S8R, ELSET=EALL\n(.*?)\n\*", shell, re.DOTALL).group(1).splitlines()) == quads
    bent = ccx.solid_deck(barred, plan, 1, 2, bent=True)
    assert bent.count("*SOLID SECTION") == quads + 1


def test_turned_stiffness(barred):
    """Axes as in space: the inverse compliance; a quarter turn in plan swaps x and y."""
    wood = barred.top.wood
    straight = ngs.stiffness(wood, np.eye(3))
    np.testing.assert_allclose(straight, np.linalg.inv(wood.compliance()), rtol=1e-9, atol=1.0)
    turned = ngs.stiffness(wood, np.array([[0.0, 1, 0], [-1, 0, 0], [0, 0, 1]]))
    swap = [1, 0, 2, 4, 3, 5]
    np.testing.assert_allclose(turned, straight[np.ix_(swap, swap)], rtol=1e-9, atol=1.0)


def test_solver_output_is_read():
    rows = "\n".join(f"      {k}  {(2 * np.pi * 10 * k) ** 2:.7E}  0.0  0.0  0.0" for k in range(1, 9))
    head = "E I G E N V A L U E   O U T P U T\n\n MODE NO\n\n"
    text = f"\n     {head}{rows}\n\n P A R T I C I P A T I O N\n 1 2\n"
    np.testing.assert_allclose(ccx.frequencies(text, count=2), [70.0, 80.0], rtol=1e-6)
    assert ccx.unknowns(" number of equations\n 1234\n number of nonzero\n 9\n") == 1234
    with pytest.raises(RuntimeError, match="out of memory"):
        ccx.frequencies("", "out of memory")


@pytest.mark.parametrize(
    ("value", "text"),
    [(12345.6, "12,000"), (0.0123, "0.012"), (3.04, "3.0"), (0, "0"), (None, "-"), (99.6, "100")],
)
def test_numbers(value, text):
    assert page.number(value) == text


def test_tables():
    assert page.table(("a", "b"), [(1, "x")]) == "| a | b |\n| --- | --- |\n| 1 | x |\n"
    assert exponent(np.array([1.0, 10, 100]), np.array([2.0, 63.2, 2000])) == pytest.approx(1.5, abs=1e-3)


def invented():
    """Return numbers of no run, to see the page written."""
    base = np.arange(1, 9) * 50.0

    def run(tool, k, error):
        return Run(tool, f"mesh {k}", ccx.Found(base * (1 + error / 100), 1000 * k, 0.5 * k))

    ours = [run(OURS, k, e) for k, e in ((1, 2.0), (2, 0.4), (3, -0.1))]
    other = [run(WEDGES, k, e) for k, e in ((10, 3.0), (30, 0.45), (90, 0.0))]
    bricks = [run(BRICKS, 20, 1.0), run(BRICKS, 60, 0.05)]
    both = tuple(
        Comparison(f"Top {w} bar", (*ours, *other, *bricks), other[-1], bricks[-1])
        for w in ("without", "with")
    )
    shells = Comparison(
        "Top without bar, grain along the surface",
        (*ours, run(SHELLS, 20, 6.0), run(SHELLS, 60, 4.0), bricks[-1]),
        bricks[-1],
        None,
    )
    costs = [Cost("platemodel, kept mesh", "8 modes", 2.0), Cost("platemodel, kept mesh", "answer", 4.0)]
    costs += [Cost("reduced model", "8 modes", 0.01), Cost("reduced model", "answer", 0.01)]
    fineness = pd.DataFrame({
        "fineness": [0.5, 1.0], "triangles": [100, 400], "unknowns": [1000, 4000],
        "assembly": [0.1, 0.4], "bar": [0.1, 0.1], "factorisation": [0.1, 0.8], "8 modes": [0.2, 1.0],
        "entries": [1_000_000, 8_000_000],
    })  # fmt: skip
    bars = pd.DataFrame(
        {
            "bars": [1],
            "seconds": [0.1],
            "a bar, ms": [100.0],
            "largest estimated error": [1e-5],
            "in full": [0],
        }
    )
    workers = pd.DataFrame({"workers": ["none, here", "2"], "first": [10.0, 8.0], "again": [10.0, 5.0]})
    return page.Measured(
        {"Python": "3"},
        2,
        0.9,
        ("CalculiX is left out.",),
        both,
        shells,
        costs,
        {},
        20.0,
        fineness,
        bars,
        workers,
    )


def headings(text):
    return re.findall(r"^#+ .+$", text, re.MULTILINE)


def test_page_says_what_was_measured():
    text = page_text.write(invented())
    assert "| 0.5 % | 1.0 s; 2,000 | 15 s, 15 times ours; 30,000 | 30 s, 30 times ours; 60,000 |" in text
    assert "| 0.25 % | 1.5 s; 3,000 | not reached | 30 s, 20 times ours; 60,000 |" in text
    assert "percent: -0.10, -0.10" in text
    assert "by chance" not in text
    assert "S8R on its finest mesh is 4.0 to 4.0 % above" in " ".join(text.split())
    assert "CalculiX is left out." in text
    assert "| 2 | 8.0 | 1.2 | 5.0 | 2.0 |" in text
    assert "| power of the unknowns |  |  | 1.0 | 0.0 | 1.5 |" in text


def test_an_error_that_comes_back_is_not_reached():
    """A coarse mesh that is right by chance does not count, and the page says so."""
    first = invented().comparisons[0]
    runs = first.of(OURS)
    worse = Comparison(first.title, (runs[1], runs[2], runs[0], *first.of(WEDGES)), first.reference, None)
    assert page.quickest(first, OURS, 0.5) is runs[1]
    assert page.quickest(worse, OURS, 0.5) is None
    assert "by chance" in page.worst(worse)


def test_picture_can_be_read_without_colour():
    root = ElementTree.fromstring(page.picture(invented().comparisons[:1]))
    dashes = {
        e.get("style")
        for e in root.iter("{http://www.w3.org/2000/svg}path")
        if "stroke-dash" in str(e.attrib)
    }
    dashes = {re.search(r"stroke-dasharray: ([^;]*)", style).group(1) for style in dashes if style}
    assert len(dashes) >= 2


def test_nothing_to_compare_with():
    """Without any tool the page still stands."""
    whole = invented()
    alone = tuple(Comparison(c.title, tuple(c.of(OURS)), None, None) for c in whole.comparisons)
    text = page_text.write(page.Measured(**{**vars(whole), "comparisons": alone, "shells": None}))
    assert text.count("No reference") == 2


def test_written_page_has_every_part():
    text = (DOCS / "benchmarks.md").read_text(encoding="utf-8")
    assert headings(text) == headings(page_text.write(invented()))
    assert text.count("| --- |") > 8
    assert f"Made by `{page.COMMAND}`" in text
    assert not re.search(r"(?<![\w.])/(home|root|tmp|usr|work)/", text)
    assert (DOCS / page.PICTURE).exists()
