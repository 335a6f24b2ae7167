"""Tables for a notebook's page, and the bar it goes on with."""

import numpy as np
import pandas as pd

from platemodel.bench.notebook.own_bar import with_a_bar
from platemodel.bench.notebook.told import told
from platemodel.bench.wood.result import figures
from platemodel.instrument.presets import preset_bar
from platemodel.job import read_job
from platemodel.resources import data_path
from tests.unlike_jobs import soft_violin


def test_figures_have_their_digits_and_what_is_missing_is_a_dash():
    table = pd.DataFrame(
        {
            "mode": [1, 2],
            "f_hz": [88.456, np.nan],
            "met": [True, False],
            "remark": ["", None],
            "more": [np.inf, -np.inf],
        }
    )
    columns = {"f_hz": ("tone, Hz", 1), "met": ("met", 0), "remark": ("remark", 0), "more": ("margin", 1)}
    out = told(table, columns, index="mode")
    assert out.index.tolist() == [1, 2]
    assert out.to_dict("list") == {
        "tone, Hz": ["88.5", "–"],
        "met": ["yes", "no"],
        "remark": ["", "–"],
        "margin": ["–", "–"],
    }
    assert told(table, {"mode": ("mode", 0)})["mode"].tolist() == ["1", "2"]


def test_unlike_figures_in_one_column_have_four_digits_and_a_nought_no_sign():
    table = pd.DataFrame({"found": [5505.67, 0.8213, 13.706], "off": [-0.04, 0.04, -0.06]})
    out = told(table, {"found": ("found", None), "off": ("off by, %", 1)})
    assert out["found"].tolist() == ["5506", "0.8213", "13.71"]
    assert out["off by, %"].tolist() == ["0.0", "0.0", "-0.1"]
    same = told(table, {"found": ("found", figures)})  # as the page of the wood writes them
    assert same["found"].tolist() == ["5510", "0.821", "13.7"]


def test_a_top_without_a_bar_gets_the_usual_one_and_is_told(tmp_path):
    bare = read_job(soft_violin(tmp_path))
    job, words = with_a_bar(bare)
    assert bare.bar is None
    assert 1e3 * job.bar.heights.max() == 1e3 * preset_bar(bare.top).heights.max()
    assert "no bar" in words
    assert f"{1e3 * job.bar.heights.max():.1f} mm high" in words
    given = read_job(data_path("jobs", "old_viola"))
    same, words = with_a_bar(given)
    assert same is given
    assert words == "The bar of the folder: 14.0 mm high, 314 mm long, 6.0 mm wide."
