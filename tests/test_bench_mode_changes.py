"""What a bar does to the named modes, in one table and in sentences that follow it."""

import numpy as np
import pandas as pd
import pytest

from platemodel.bench.notebook.mode_changes import change_lines, mode_changes
from platemodel.study.top.plate_modes import compare_modes, plate_modes
from tests.choosing_parts import bar, model

COLUMNS = [
    "number",
    "name",
    "before_hz",
    "called_hz",
    "called_change_hz",
    "like_hz",
    "like_change_hz",
    "likeness",
]


def table(*rows):
    return pd.DataFrame(rows, columns=COLUMNS)


def test_the_table_is_that_of_the_modes():
    without, with_bar = plate_modes(model()), plate_modes(model(), bar())
    out = mode_changes(without, with_bar).set_index("number")
    pairs = compare_modes(without, with_bar).set_index("name")
    assert out.index.tolist() == [1, 2, 5]
    for number, name in ((1, "twist"), (2, "cross"), (5, "ring")):
        row = out.loc[number]
        printed = [round(m.frequency(number), 1) for m in (with_bar, without)]
        assert row["called_change_hz"] == pytest.approx(printed[0] - printed[1], abs=1e-9)
        assert row["like_hz"] == pairs.loc[name, "f_with_hz"]
        assert row["likeness"] == pairs.loc[name, "likeness"]


def test_one_sentence_where_both_ways_agree():
    lines = change_lines(
        table([1, "twist", 43.0, 54.5, 11.5, 54.5, 11.5, 0.98], [2, "cross", 90, 88, -2, 88, -2, 0.9])
    )
    assert lines == [
        "The bar raises mode 1 (twist) by 11.5 Hz; its shape stays (likeness 0.98).",
        "The bar lowers mode 2 (cross) by 2 Hz; its shape stays (likeness 0.90).",
    ]


def test_both_ways_where_they_differ():
    """Two figures for one mode must never stand alone: +16 in one place and +80 in another."""
    (line,) = change_lines(table([5, "ring", 211.1, 227.2, 16.1, 291.4, 80.3, 0.39]))
    assert "no single heir" in line
    assert "227.2 Hz" in line
    assert "291.4 Hz (likeness 0.39)" in line
    (weak,) = change_lines(table([5, "ring", 211.1, 227.2, 16.1, 227.2, 16.1, 0.39]))
    assert "no single heir" in weak
    assert weak.count("227.2 Hz") == 1
    assert "is the most like the old shape, and yet little like it (likeness 0.39)" in weak


def test_what_is_missing_is_said():
    nan = np.nan
    lines = change_lines(
        table([5, "ring", nan, 227.2, nan, nan, nan, nan], [5, "ring", 211.0, nan, nan, nan, nan, nan])
    )
    assert lines[0].startswith("Not known: mode 5 (ring)")
    assert lines[1] == "Mode 5 (ring) is gone with the bar on: no mode has its shape."
    assert "nan" not in "".join(lines)
