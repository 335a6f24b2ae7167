"""The lab sheet of a lesson: guesses before answers, a page to print, a table for the teacher."""

import doctest

import numpy as np
import pandas as pd
import pytest

from platemodel.bench.notebook import lab_sheet
from platemodel.bench.notebook.claims import claim
from platemodel.bench.notebook.lab_sheet import UNGUESSED, Folded, LabSheet, class_table
from platemodel.errors import PlatemodelError

QUESTIONS = {"stiff": ("Twice as thick: how stiff?", "times"), "pitch": ("Its pitch < 3?", "times")}


@pytest.fixture
def sheet():
    return LabSheet("1 A strip", QUESTIONS)


def test_an_answer_is_folded_until_it_is_guessed(sheet):
    table = pd.DataFrame({"stiff": [8.0]})
    folded = sheet.reveal(table, "stiff")
    assert isinstance(folded, Folded)
    assert "<details>" in folded._repr_html_()
    assert "8.0" in folded._repr_html_()
    assert "8.0" not in repr(folded)
    sheet.guess(stiff=4, pitch=None)
    assert sheet.reveal(table, "stiff") is table
    assert isinstance(sheet.reveal(table), Folded)  # the other question has no guess yet
    sheet.guess(stiff=None)  # taken back
    assert isinstance(sheet.reveal(table, "stiff"), Folded)


def test_zero_is_a_guess(sheet):
    sheet.guess(stiff=0)
    assert repr(sheet.reveal("x", "stiff")) == "X."


def test_figures_stand_in_their_columns(sheet):
    sheet.guess(stiff=4)
    sheet.reading(stiff=np.float64(7.5))
    sheet.model(stiff=7.96, pitch=2.0)
    sheet.book(stiff=8)
    assert sheet.table.loc[0, ["guess", "reading", "model", "book"]].tolist() == [4, 7.5, 7.96, 8]
    assert sheet.table.loc[1, ["guess", "reading", "book"]].isna().all()
    assert "model 7.96" in repr(sheet)
    page = sheet.page()
    assert "<td>7.96</td>" in page
    assert "<td>2</td>" not in page  # what the model says of the pitch, which nobody has guessed yet
    assert f"<td>{lab_sheet.HIDDEN}</td>" in page
    assert "Its pitch &lt; 3?" in page
    assert page.count("<tr>") == 3
    assert sheet.blank().table[["guess", "reading", "model", "book"]].isna().all().all()


@pytest.mark.parametrize("figure", ["eight", "8", True, float("nan"), [8]])
def test_what_is_no_number_is_refused(sheet, figure):
    with pytest.raises(PlatemodelError, match=r"guess stiff = .* type a number"):
        sheet.guess(stiff=figure)


def test_a_question_that_is_none_is_refused(sheet):
    with pytest.raises(PlatemodelError, match="'weight'; its questions are stiff, pitch"):
        sheet.reading(weight=3)
    with pytest.raises(PlatemodelError, match="no question 'weight'"):
        sheet.reveal("x", "weight")


def test_sheets_of_a_class_become_one_table(sheet, tmp_path):
    assert sheet.save(None) is sheet
    sheet.model(stiff=8.0)
    sheet.guess(stiff=4)
    sheet.save(tmp_path / "ann.csv")
    other = LabSheet("1 A strip", QUESTIONS)
    other.reading(stiff=6.0)
    other.model(stiff=8.0)
    other.save(tmp_path / "ben.csv")
    table = class_table(tmp_path).set_index(["sheet", "question"])
    stiff = table.xs(QUESTIONS["stiff"][0], level="question")
    assert stiff["guessed"].tolist() == [True, False]
    assert stiff["read"].tolist() == [False, True]
    assert stiff.loc["ann", "guess_over_model"] == 0.5
    assert stiff.loc["ben", "reading_over_model"] == 0.75


def test_a_sheet_replaces_nothing_and_knows_its_endings(sheet, tmp_path):
    path = tmp_path / "ann.html"
    sheet.save(path)
    assert path.read_text(encoding="utf-8") == sheet.page()
    with pytest.raises(PlatemodelError, match="never replaced"):
        sheet.save(path)
    with pytest.raises(PlatemodelError, match=r"\.html .* or \.csv"):
        sheet.save(tmp_path / "ann.pdf")


def test_a_folder_without_sheets_is_told(tmp_path):
    with pytest.raises(PlatemodelError, match="no lab sheets"):
        class_table(tmp_path)
    (tmp_path / "x.csv").write_text("a,b\n1,2\n")
    with pytest.raises(PlatemodelError, match=r"x\.csv: not a lab sheet"):
        class_table(tmp_path)


def test_examples_of_the_help_are_true():
    assert doctest.testmod(lab_sheet).failed == 0


def test_a_panel_stays_shut_until_the_guess():
    widgets = pytest.importorskip("ipywidgets")
    sheet, panel = LabSheet("1", {"a": ("?", "mm")}), widgets.VBox([widgets.HTML("x")])
    shut = sheet.reveal(panel, "a")
    assert (shut.children, shut.titles, shut.selected_index) == ((panel,), (UNGUESSED,), None)
    sheet.guess(a=1)
    assert sheet.reveal(panel, "a") is panel


def test_texts_and_claims_are_told_one_under_the_other():
    sheet = LabSheet("1", {"a": ("?", "mm")})
    told = sheet.reveal(["one", claim("two", 2.0, 1.0, unit="mm")], "a")
    assert isinstance(told, Folded)
    assert told._repr_html_().count("<p ") == 2
    sheet.guess(a=1)
    assert repr(sheet.reveal(["one", claim("two", 2.0, 1.0, unit="mm")], "a")) == (
        "one\nTwo 2 mm, not less than 1 mm."
    )
