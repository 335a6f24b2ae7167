"""Sentences that follow the figures."""

import doctest
import math

import pytest

from platemodel.bench.notebook import claims
from platemodel.bench.notebook.claims import claim, number_text, with_unit

WORDS = {
    "below": "Falls short: {value}, {low} were asked for.",
    "within": "Met: {value}.",
    "above": "Too much: {value}, {high} at most.",
}


@pytest.mark.parametrize(
    ("value", "where", "sentence"),
    [
        (9.87, "below", "Falls short: 9.87 mm, 10 mm were asked for."),
        (10.0, "within", "Met: 10 mm."),  # the ends belong to the range
        (12.0, "within", "Met: 12 mm."),
        (12.3456, "above", "Too much: 12.3 mm, 12 mm at most."),
        (12.0001, "above", "Too much: 12.0001 mm, 12 mm at most."),  # not "12 mm, 12 mm at most"
    ],
)
def test_the_sentence_is_the_one_of_the_zone(value, where, sentence):
    said = claim("the height", value, 10, 12, "mm", **WORDS)
    assert (said.where, said.sentence) == (where, sentence)
    assert said.holds == (where == "within")
    assert str(said) == repr(said) == sentence


@pytest.mark.parametrize("value", [None, math.nan, math.inf, -math.inf])
def test_what_is_not_known_is_said_and_never_printed_as_a_number(value):
    said = claim("mode 5 with this bar", value, 10, 12, "Hz", **WORDS, unknown="no mode is like a ring")
    assert said.sentence == "Not known: mode 5 with this bar (no mode is like a ring)."
    assert (said.where, said.holds) == ("not known", False)
    assert claim("mode 5", value).sentence == "Not known: mode 5."


def test_a_limit_that_is_not_known_leaves_the_claim_open():
    assert claim("mode 5 against the usual", 300.0, math.nan).where == "not known"
    assert claim("mode 5 against the usual", 300.0, 1, math.nan).where == "not known"


def test_made_sentences():
    assert claim("the bar weighs", 4.2, unit="g").sentence == "The bar weighs 4.2 g."
    assert claim("the bar weighs", 4.2, 5, unit="g").sentence == "The bar weighs 4.2 g, less than 5 g."
    assert claim("the bar weighs", 4.2, 4, unit="g").sentence == "The bar weighs 4.2 g, not less than 4 g."
    assert (
        claim("the bar weighs", 4.2, None, 5, "g").sentence == "The bar weighs 4.2 g, not more than 5 g."
    )
    assert claim("the bar weighs", 4.2, 4, 5, "g").sentence == "The bar weighs 4.2 g, between 4 and 5 g."
    assert claim("the bar weighs", 4.2, 1, 3, "g").sentence == "The bar weighs 4.2 g, more than 3 g."


def test_size_leaves_the_sign_to_the_words():
    said = claim("mode 1", -2.5, 0, unit="Hz", below="Falls by {size}.", within="Rises by {size}.")
    assert said.sentence == "Falls by 2.5 Hz."
    assert claim("mode 1", -2.5, unit="Hz").sentence == "Mode 1 −2.5 Hz."


def test_a_range_the_wrong_way_round_is_refused():
    with pytest.raises(ValueError, match="'the height': the range ends at 10, before it begins at 12"):
        claim("the height", 11, 12, 10)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"),
        (-0.0, "0"),
        (1234.5, "1230"),
        (0.012345, "0.0123"),
        (99.96, "100"),
        (-7.0, "−7"),
        (2e6, "2000000"),
    ],
)
def test_numbers_read_aloud(value, text):
    assert number_text(value) == text
    assert with_unit(value, "g") == f"{text} g"


def test_long_sentences_break_between_words():
    said = claim("x", 1.0, within="so " * 60 + "on")
    assert max(map(len, str(said).split("\n"))) <= 100
    assert said.sentence == "so " * 60 + "on"


def test_the_examples_are_true():
    assert doctest.testmod(claims).failed == 0
