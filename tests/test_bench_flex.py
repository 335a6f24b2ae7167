"""Flex tests of a job as text, data and page."""

import re

import numpy as np
import pytest

from platemodel.bench.flex import result as flex
from platemodel.bench.flex.page import flex_page
from platemodel.bench.flex.report import REPORT
from platemodel.cli import main
from platemodel.instrument.flex_test import KINDS
from platemodel.instrument.strings import KGF
from platemodel.job import read_job
from tests.job_folders import VIOLIN, write
from tests.paper_faults import faults
from tests.quick import quick_bench
from tests.unlike_jobs import OLD_CELLO, SOFT_VIOLIN, caliper_readings

HEAD = "kind,weight_g,sag_mm,bar_on\n"


@pytest.fixture(scope="module")
def cello(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cello")
    rows = f"{HEAD}along,200,0.44,false\ntwist,20,1.07,true\n"
    rows = rows.replace("\n", ",\n").replace("bar_on,", "bar_on,support") + "foot,200,0.1,false,rim\n"
    return flex.job_flex(read_job(write(folder, OLD_CELLO, caliper=caliper_readings(), flexes=rows)))


def test_readings_stand_beside_their_own_test(cello):
    table = flex.readings_table(cello)
    assert list(table["kind"]) == ["along", "twist", "foot on the rim"]
    assert list(table["plate"]) == ["without bar", "with bar", "without bar"]
    expected = cello.without[0].flexibility * 0.2 * KGF  # the usual places: the same test
    assert table["model_mm"][0] == pytest.approx(1e3 * expected, rel=1e-9)
    assert table["softer_percent"][0] == pytest.approx(100 * (0.44e-3 / expected - 1), rel=1e-9)
    assert not table["agrees"][0]


def test_a_reading_stands_beside_the_bar_that_was_on(tmp_path):
    """The old bar's reading is judged by the old bar, a rough bar's by its own height."""
    states = "state,bar,height_mm\nas it came,old,\noff,none,\nrough,new,15\n"
    rows = "kind,weight_g,sag_mm,state\n" + "".join(
        f"along,100,0.1,{state}\n" for state in ("rough", "as it came", "off", "with bar")
    )
    old = "[bar]\n[old_bar]\nheight_mm = 9\nmass_g = 3.2\n"
    flexed = rows.replace(",state\n", ",state,bar_on\n", 1).replace("with bar\n", ",true\n")
    job = read_job(write(tmp_path, VIOLIN + old, states=states, flexes=flexed))
    found = flex.job_flex(job, bench=quick_bench(job))
    table = flex.readings_table(found)
    usual = [found.with_old_bar[0], found.without[0], found.with_bar[0]]
    expected = [flex.sag_mm(one, 100) for one in usual]
    plates = ["rough (new bar of 15 mm)", "as it came (old bar)", "off (no bar)", "with bar"]
    assert list(table["plate"]) == plates
    assert table["model_mm"][1:].to_numpy() == pytest.approx(expected, rel=1e-9)
    assert table["model_mm"][0] < expected[2] < expected[0] < expected[1]  # the higher, the stiffer
    assert list(faults(flex_page(found))) == []
    assert len(flex.job_flex(job, bar=False, bench=quick_bench(job)).readings) == 1


def test_a_bar_stiffens_along_most(cello):
    pairs = zip(cello.without, cello.with_bar, strict=True)
    shares = {a.test.name: b.stiffness / a.stiffness for a, b in pairs}
    assert shares.pop("foot on the rim") > shares["foot"]  # the edge takes no share of the sag
    assert min(shares.values()) > 1.0
    assert max(shares, key=shares.get) in ("along", "twist")
    assert shares["across"] < shares["along"]


def test_the_foot_on_the_rim_is_told_beforehand(cello):
    """It is stiffer than on pegs, and what a reading taken so is set beside."""
    for found in (cello.without, cello.with_bar):
        on_pegs, on_rim = (f for f in found if f.test.kind == "foot")
        assert (on_pegs.test.support, on_rim.test.support) == ("pegs", "rim")
        assert on_rim.stiffness > 1.5 * on_pegs.stiffness
        assert flex.light_weight(on_rim) > 0
    table = flex.readings_table(cello).set_index("kind")
    expected = flex.sag_mm(cello.without[-1], 200)
    assert table["model_mm"]["foot on the rim"] == pytest.approx(expected, rel=1e-9)


def test_higher_bars_sag_less(cello):
    for kind in KINDS:
        assert (np.diff(cello.by_height[kind]) < 0).all()


def test_weights_stay_light(cello):
    for one in cello.without:
        assert flex.light_weight(one) <= 1e3 * one.most_force / KGF


def test_text_and_data_hold_no_empty_figures(cello):
    text = REPORT.text(cello)
    assert not re.search(r"\bnan\b|\binf\b", text)
    said = ("INVENTED", "foot on the rim", "light hand", "softer than computed", "Each millimetre off")
    for words in said:
        assert words in text
    data = REPORT.data(cello)
    assert len(data["expected"]) == 2 * (len(KINDS) + 1)
    assert [row["support"] for row in data["expected"]] == 2 * [*(["pegs"] * len(KINDS)), "rim"]
    assert data["readings"][0]["weight_g"] == pytest.approx(200, rel=1e-6)


def test_without_bar_and_without_readings(tmp_path, capsys):
    """A top without a bar has one state, no heights to change and an invitation to measure."""
    folder = write(tmp_path, SOFT_VIOLIN)
    out = tmp_path / "out"
    assert main(["flex", str(folder), "--out", str(out), "--quiet"]) == 0
    text = capsys.readouterr().out
    assert "With bar" not in text
    assert "No readings yet" in text
    assert sorted(p.name for p in out.iterdir()) == ["flexes.pdf", "flexes_expected.csv"]
