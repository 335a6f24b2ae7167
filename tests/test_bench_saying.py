"""What notebooks say: sentences that flow, columns that stay under each other, and both in a terminal."""

import re

from platemodel.bench.notebook.claims import claim
from platemodel.bench.notebook.saying import Said, as_sentences, say, say_columns, units_kept

LONG = "word " * 40


def test_sentences_are_paragraphs_that_a_page_may_break_between_words(capsys):
    said = Said(f"a <b> & c\n  {LONG}")
    page = said._repr_html_()
    assert re.findall(r"<p [^>]*>(a [^<]*)</p>", page) == ["a &lt;b&gt; &amp; c"]
    assert page.count("<p ") == 2
    assert "padding-left:1em" in page  # as far in as it began
    assert "<pre" not in page
    say("one", claim("mode 1 rises by", 12.3, 0, unit="Hz"))
    assert capsys.readouterr().out == "one\nMode 1 rises by 12.3 Hz, not less than 0 Hz.\n"


def test_a_claim_on_a_page_flows():
    long = claim("x", 1.0, within=LONG.strip() + ".")
    assert "\n" in str(long)  # broken for the terminal
    assert "\n" not in long._repr_html_()
    assert long._repr_html_() == Said(long.sentence)._repr_html_()


def test_columns_are_never_broken_and_scroll(capsys):
    text = "mode    Hz\n  1    88.4"
    page = Said(text, columns=True)._repr_html_()
    assert "white-space:pre;" in page
    assert "overflow-x:auto" in page
    assert f">{text}</pre>" in page
    say_columns(text)
    assert capsys.readouterr().out == f"{text}\n"


def test_lines_of_a_report_become_sentences():
    told = as_sentences("take off 1 mm\n  stop at 92 Hz.\n\nwhy?")
    assert told == "Take off 1 mm.\n  Stop at 92 Hz.\n\nWhy?"


def test_a_figure_and_its_unit_stay_on_one_line():
    assert units_kept("12.0 mm and 3 % of 5 goals, 2 more") == "12.0\xa0mm and 3\xa0% of 5 goals, 2 more"
    assert units_kept("off by ± 9 %") == "off by ±\xa09\xa0%"
    assert "12\xa0mm" in Said("12 mm high")._repr_html_()
    assert "12 mm" in repr(Said("12 mm high"))  # a terminal is left alone
