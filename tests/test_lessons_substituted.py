"""Lessons with another reader's readings and guesses: they run, say no "nan", and their words follow."""

import ast
import json
import re
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

import matplotlib as mpl
import matplotlib.pyplot as plt
import pytest

from platemodel.bench.notebook.lab_sheet import LabSheet
from platemodel.errors import PlatemodelError

pytest.importorskip("ipywidgets")
LESSONS = Path(__file__).resolve().parent.parent / "notebooks" / "lessons"
NO_FIGURE = re.compile(r"(?<![\w/.])[-+−]?(nan|NaN|inf)(?![\w/])")


def run(number, **yours):
    """What each code cell said, by id, with these values in the reader's cell; every guess is 1."""
    (path,) = LESSONS.glob(f"{number:02d}_*.ipynb")
    mpl.use("agg")
    names, said = {"__name__": "__main__"}, {}
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] != "code":
            continue
        tree = ast.parse("".join(cell["source"]))
        last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
        where, out = f"{path.name}, cell {cell['id']}", StringIO()
        with redirect_stdout(out):
            exec(compile(tree, where, "exec"), names)
            shown = eval(compile(ast.Expression(last.value), where, "eval"), names) if last else None
            if "Answers" in type(shown).__name__:
                shown = shown._repr_html_()
            print(shown.to_string() if hasattr(shown, "to_string") else shown)
        if cell["id"] == "yours":
            assert set(yours) <= set(names), set(yours) - set(names)
            names |= yours
        if cell["id"] == "guess":
            sheet = names["sheet"]
            sheet.guess(**dict.fromkeys(sheet.questions, 1))
        said[cell["id"]] = out.getvalue()
    plt.close("all")
    return said


def figures_only(said):
    shown = [f"{name}: {line}" for name, text in said.items() for line in text.split("\n")]
    # The library's table cell for a mode that has no number.
    assert [line for line in shown if NO_FIGURE.search(line)] == []
    assert not any("Your guess first" in line for line in shown)


def test_a_strip_of_another_size_and_wood():
    said = run(1, LENGTH_MM=220, WIDTH_MM=25, THICKNESS_MM=4.2, WEIGHT_G=8.4, PITCH_HZ=330, THINNER_MM=3.2,
               THINNER_HZ=252)  # fmt: skip
    figures_only(said)
    assert "E = 5.0 GPa" in said["wood"]  # by hand: 0.946 x 364 x 330^2 x 0.22^4 / 0.0042^2 = 4.98e9
    assert "is little for spruce" in said["wood-says"]


def test_strips_that_are_hardly_unlike():
    said = run(2, LENGTH_MM=160, WIDTH_MM=18, THICKNESS_MM=5.0, WEIGHT_G=6.8, ALONG_HZ=880, SLANTED_HZ=520,
               ACROSS_HZ=470, BOARD_MM=(200, 150, 2.5), CORNER_MM=3.4)  # fmt: skip
    figures_only(said)
    assert "less than an octave" in said["says"]


def test_a_plate_whose_lowest_tone_is_no_twist():
    said = run(3, LENGTH_MM=240, WIDTH_MM=240, THICKNESS_MM=2.6, WEIGHT_G=58.0, ACROSS_GPA=0.5, LOWEST_HZ=60,
               SECOND_HZ=90)  # fmt: skip
    figures_only(said)
    assert "not the twist" in said["says"]
    assert "model's" in said["says"]


def test_a_top_much_softer_than_the_demo():
    said = run(4, TWIST_HZ=62, CROSS_HZ=110, RING_HZ=None)
    figures_only(said)
    assert "below this demo top's" in said["carved-says"]
    assert "Not known: your ring (not read yet)." in said["carved-says"]


@pytest.mark.slow
def test_gutters_and_a_high_arch():
    figures_only(run(5, COINS_G={2: 3, 5: 9}, ARCH_MM=17.0, RING_HZ=260))


@pytest.mark.slow
def test_a_card_that_lost_little():
    figures_only(run(6, CARD_G=(60, 55), TOP_G=(70.0, 68.9), RING_HZ=(340, 325)))


@pytest.mark.slow
def test_a_bar_planed_by_five_millimetres():
    said = run(7, LENGTH_MM=420, BAR_WIDTH_MM=6.0, HEIGHTS_MM=(15, 10), LOOSE_G=(16.3, 10.9),
               LOOSE_HZ=(470, 318), PLATE_GPA=9, GLUED_G=(30.1, 24.7), GLUED_HZ=(540, 380))  # fmt: skip
    figures_only(said)


@pytest.mark.slow
def test_a_shorter_blank_with_high_ends():
    said = run(8, LENGTH_MM=240, WIDTH_MM=6, HEIGHT_MM=10, END_MM=5, WEIGHT_G=6.5, WOOD_GPA=9.5, LOAD_KG=1.0,
               PLACE_MM=100, EVEN_GIVES_MM=1.1, TAPERED_GIVES_MM=None)  # fmt: skip
    figures_only(said)
    assert "less than yours" in said["says"]


def test_the_first_strip_is_the_stiffer_and_the_heavier():
    said = run(9, LENGTH_MM=260, WIDTH_MM=22, A_MM=5.8, A_G=15.8, A_HZ=520, B_MM=6.1, B_G=13.2, B_HZ=440)
    figures_only(said)
    assert "The wood of A is" in said["says"]
    assert "heavier as well" in said["says"]


def test_a_cord_that_rubs_and_a_flat_angle():
    said = run(10, BOTTLE_KG=1.5, RISE_MM=30, APART_MM=250, SCALE_KG=0.22, RAISED_KG=None, FRONT_DEG=6.0,
               BACK_DEG=9.5)  # fmt: skip
    figures_only(said)
    assert "rubs, and holds part" in said["says"]
    assert "less than the usual violin's" in said["strings-says"]


def test_a_strip_that_crept_beyond_the_standard():
    said = run(11, SPAN_MM=250, WIDTH_MM=25, THICKNESS_MM=2.5, LOAD_G=400,
               SAG_MM={"at once": 4.0, "after a month": 7.2}, LEFT_MM=None)  # fmt: skip
    figures_only(said)
    assert "more than the standard says" in said["says"]


@pytest.mark.slow
def test_a_higher_bar_and_an_unsteady_hand():
    said = run(12, HEIGHT_MM=14.5, TAPS_HZ={1: 90.2, 2: 149.0, 5: 349.5}, AGAIN_HZ=[349.5, 356.0, 344.0])
    figures_only(said)
    assert "look at the hold" in said["places"]


def test_a_reading_that_is_no_number_is_told_at_once():
    sheet = LabSheet("x", {"a": ("?", "mm")})
    with pytest.raises(PlatemodelError, match="type a number"):
        sheet.reading(a="4,5")
