"""Lessons with another reader's readings and guesses: they run, say no "nan", and their words follow."""

import pytest

from platemodel.bench.notebook.lab_sheet import UNGUESSED, LabSheet
from platemodel.errors import PlatemodelError
from tests.notebook_runs import not_a_figure, run_notebook

pytest.importorskip("ipywidgets")


def said(number, **yours):
    """What each code cell of a lesson said to this reader, by its id."""
    run = run_notebook(f"lessons/{number:02d}", **yours)
    assert not not_a_figure(run)
    assert UNGUESSED not in run.text
    return run.said


def test_a_strip_of_another_size_and_wood():
    told = said(1, LENGTH_MM=220, WIDTH_MM=25, THICKNESS_MM=4.2, WEIGHT_G=8.4, PITCH_HZ=330, THINNER_MM=3.2,
               THINNER_HZ=252)  # fmt: skip
    assert "E = 5.0 GPa" in told["wood"]  # by hand: 0.946 x 364 x 330^2 x 0.22^4 / 0.0042^2 = 4.98e9
    assert "is little for spruce" in told["wood-says"]


def test_strips_that_are_hardly_unlike():
    told = said(2, LENGTH_MM=160, WIDTH_MM=18, THICKNESS_MM=5.0, WEIGHT_G=6.8, ALONG_HZ=880, SLANTED_HZ=520,
               ACROSS_HZ=470, BOARD_MM=(200, 150, 2.5), CORNER_MM=3.4)  # fmt: skip
    assert "less than an octave" in told["says"]


def test_a_plate_whose_lowest_tone_is_no_twist():
    told = said(3, LENGTH_MM=240, WIDTH_MM=240, THICKNESS_MM=2.6, WEIGHT_G=58.0, ACROSS_GPA=0.5, LOWEST_HZ=60,
               SECOND_HZ=90)  # fmt: skip
    assert "not the twist" in told["says"]
    assert "model's" in told["says"]


@pytest.mark.slow
def test_a_top_much_softer_than_the_demo():
    told = said(4, TWIST_HZ=62, CROSS_HZ=110, RING_HZ=None)
    assert "below this demo top's" in told["carved-says"]
    assert "Not known: your ring (not read yet)." in told["carved-says"]


@pytest.mark.slow
def test_gutters_and_a_high_arch():
    told = said(5, COINS_G={2: 3, 5: 9}, ARCH_MM=17.0, RING_HZ=260)
    assert "below the demo top" in told["says"]


@pytest.mark.slow
def test_a_card_that_lost_little():
    told = said(6, CARD_G=(60, 55), TOP_G=(70.0, 68.9), RING_HZ=(340, 325))
    assert "Your top's ring fell by 4.4 %" in told["says"]


@pytest.mark.slow
def test_a_bar_planed_by_five_millimetres():
    told = said(7, LENGTH_MM=420, BAR_WIDTH_MM=6.0, HEIGHTS_MM=(15, 10), LOOSE_G=(16.3, 10.9),
               LOOSE_HZ=(470, 318), PLATE_GPA=9, GLUED_G=(30.1, 24.7), GLUED_HZ=(540, 380))  # fmt: skip
    assert "loose bar keeps 30 %" in told["says"]  # (10 / 15) cubed


@pytest.mark.slow
def test_a_shorter_blank_with_high_ends():
    told = said(8, LENGTH_MM=240, WIDTH_MM=6, HEIGHT_MM=10, END_MM=5, WEIGHT_G=6.5, WOOD_GPA=9.5, LOAD_KG=1.0,
               PLACE_MM=100, EVEN_GIVES_MM=1.1, TAPERED_GIVES_MM=None)  # fmt: skip
    assert "less than yours" in told["says"]


@pytest.mark.slow
def test_the_first_strip_is_the_stiffer_and_the_heavier():
    told = said(9, LENGTH_MM=260, WIDTH_MM=22, A_MM=5.8, A_G=15.8, A_HZ=520, B_MM=6.1, B_G=13.2, B_HZ=440)
    assert "The wood of A is" in told["says"]
    assert "heavier as well" in told["says"]


def test_a_cord_that_rubs_and_a_flat_angle():
    told = said(10, BOTTLE_KG=1.5, RISE_MM=30, APART_MM=250, SCALE_KG=0.22, RAISED_KG=None, FRONT_DEG=6.0,
               BACK_DEG=9.5)  # fmt: skip
    assert "rubs, and holds part" in told["says"]
    assert "less than the usual violin's" in told["strings-says"]


def test_a_strip_that_crept_beyond_the_standard():
    told = said(11, SPAN_MM=250, WIDTH_MM=25, THICKNESS_MM=2.5, LOAD_G=400,
               SAG_MM={"at once": 4.0, "after a month": 7.2}, LEFT_MM=None)  # fmt: skip
    assert "more than the standard says" in told["says"]


@pytest.mark.slow
def test_a_higher_bar_and_an_unsteady_hand():
    told = said(12, HEIGHT_MM=14.5, TAPS_HZ={1: 90.2, 2: 149.0, 5: 349.5}, AGAIN_HZ=[349.5, 356.0, 344.0])
    assert "look at the hold" in told["places"]


def test_a_reading_that_is_no_number_is_told_at_once():
    sheet = LabSheet("x", {"a": ("?", "mm")})
    with pytest.raises(PlatemodelError, match="type a number"):
        sheet.reading(a="4,5")
