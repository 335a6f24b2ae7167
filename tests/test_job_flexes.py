"""The table flexes.csv: usual places, places of one's own, and what is refused by line."""

import pytest

from platemodel.instrument.strings import KGF
from platemodel.job import read_job
from tests.job_folders import VIOLIN, problems, write

HEAD = "kind,weight_g,sag_mm,bar_on"


def test_usual_places(tmp_path):
    rows = f"{HEAD},by_hand\nalong,150,0.12,false,\ntwist,40,1.1,true,yes\n"
    along, twist = read_job(write(tmp_path, VIOLIN, flexes=rows)).flexes
    assert (along.test.kind, along.bar_on, along.force) == ("along", False, pytest.approx(0.150 * KGF))
    assert along.sag == pytest.approx(0.12e-3)
    assert along.sd == pytest.approx((0.01e-3**2 + (0.02 * 0.12e-3) ** 2) ** 0.5)  # dial, places
    assert twist.test.held
    assert not along.test.held
    assert twist.sd == pytest.approx(0.2 * 1.1e-3)  # by hand
    assert twist.flexibility == pytest.approx(1.1e-3 / (0.040 * KGF))


def test_the_rim_all_round_instead_of_pegs(tmp_path):
    """What says nothing of its support stood on pegs, as always; the rim has none, and cannot tip."""
    rows = f"{HEAD},support,load_x_mm,load_y_mm\nfoot,100,0.09,false,,,\nfoot,100,0.04,false,Rim,,\n"
    rows += "foot,100,0.04,true,rim,300,20\n"
    pegs, rim, there = (r.test for r in read_job(write(tmp_path, VIOLIN + "[bar]\n", flexes=rows)).flexes)
    assert (pegs.support, pegs.pegs.shape, pegs.name) == ("pegs", (3, 2), "foot")
    assert (rim.support, rim.pegs.shape, rim.name, rim.held) == ("rim", (0, 2), "foot on the rim", False)
    assert rim.load == pytest.approx(pegs.load)
    assert (there.load, there.read) == (pytest.approx([0.3, 0.02]), pytest.approx([0.3, 0.02]))


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("foot,100,0.1,false,table,,,", ["support", "found table", "pegs, rim"]),
        ("along,100,0.1,false,rim,,,", ["support", "with kind foot only"]),
        ("foot,100,0.1,false,rim,true,,", ["support", "leave those cells empty"]),
        ("foot,100,0.1,false,rim,,60,10", ["support", "leave those cells empty"]),
    ],
)
def test_supports_refused(tmp_path, row, words):
    (found,) = problems(write(tmp_path, VIOLIN, flexes=f"{HEAD},support,held,peg1_x_mm,peg1_y_mm\n{row}\n"))
    for word in ("flexes.csv", "line 2", *words):
        assert word in found


def test_places_of_ones_own(tmp_path):
    pegs = "peg1_x_mm,peg1_y_mm,peg2_x_mm,peg2_y_mm,peg3_x_mm,peg3_y_mm"
    rows = (
        f"{HEAD},load_x_mm,load_y_mm,{pegs},sd_mm,note\n"
        "across,200,0.2,no,170,0,80,-70,290,-60,190,45,0.02,second try\n"
    )
    (found,) = read_job(write(tmp_path, VIOLIN, flexes=rows)).flexes
    assert found.test.load == pytest.approx([0.170, 0.0])
    assert found.test.read == pytest.approx([0.170, 0.0])  # the gauge stands with the weight
    assert found.test.pegs[1] == pytest.approx([0.290, -0.060])
    assert (found.sd, found.note) == (pytest.approx(0.02e-3), "second try")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("bend,100,0.1,false", ["kind", "along, across, twist, foot"]),
        ("along,100,,false", ["sag_mm"]),
        ("along,0.1,0.1,false", ["weight_g", "5"]),
        ("along,100,0.1,perhaps", ["bar_on", "or false"]),
        ("along,100,0.1,", ["bar_on"]),
    ],
)
def test_refused(tmp_path, row, words):
    (found,) = problems(write(tmp_path, VIOLIN, flexes=f"{HEAD}\n{row}\n"))
    for word in ("flexes.csv", "line 2", *words):
        assert word in found


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("200,", "load_x_mm and load_y_mm go together"),
        ("200,99", "not wholly on the plate"),
        ("346,0", "would tip"),
    ],
)
def test_places_refused(tmp_path, place, words):
    rows = f"{HEAD},load_x_mm,load_y_mm\nalong,100,0.1,false,{place}\n"
    (found,) = problems(write(tmp_path, VIOLIN, flexes=rows))
    assert words in found


def test_two_pegs_are_not_enough(tmp_path):
    rows = f"{HEAD},peg1_x_mm,peg1_y_mm,peg2_x_mm,peg2_y_mm\nalong,100,0.1,false,20,0,300,0\n"
    (found,) = problems(write(tmp_path, VIOLIN, flexes=rows))
    assert "all three pegs" in found
