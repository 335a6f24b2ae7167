"""The verification page says what the code computes."""

import re

import pytest

from tests.published.verification import PAGE, TOPICS, differences, page


def test_page_is_up_to_date():
    """Text exactly, computed numbers to 0.05 %: enough for other machines, too little for another model."""
    made = page()
    stale = differences(PAGE.read_text(encoding="utf-8"), made)
    assert not stale, f"run python -m tests.published.verification; first of {len(stale)} lines: {stale[0]}"


def test_case_names_are_unique():
    names = [case.id for _, cases in TOPICS for case in cases]
    assert len(names) == len(set(names)) > 50


@pytest.mark.parametrize(
    ("pattern", "replacement"),
    [
        (r"\| computed, Hz \| (\d)", r"| computed, Hz | 9\1"),
        (r"published, Hz \| (\d)", r"published, Hz | 9\1"),
        (r"thin plate", "thick plate"),
        (r"difference % \| .\d\.", "difference % | +7."),
        (r"\| (\d\.\d\d) \| 0\.1 \|", "| 0.09 | 0.1 |"),
        (r"\n\n\|", "\n|"),
    ],
)
def test_a_changed_page_is_noticed(pattern, replacement):
    text = PAGE.read_text(encoding="utf-8")
    changed = re.sub(pattern, replacement, text)
    assert changed != text
    assert differences(text, changed)


def test_rounding_is_not_noticed():
    before = "| computed, Hz | 100.00 | 31.311 |\n| difference % | +0.02 | -0.10 |"
    after = "| computed, Hz | 100.01 | 31.310 |\n| difference % | +0.03 | -0.09 |"
    assert not differences(before, after)
    assert differences(before, after.replace("100.01", "100.20"))
