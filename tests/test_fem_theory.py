"""Every equation that the finite-element room cites has its number in docs/theory.md, once."""

import re
from pathlib import Path

from platemodel import fem

ROOT = Path(__file__).parents[1]
NUMBER = r"\(([1-9]\d*\.\d+)\)"  # sections begin at 1: "(0.18)" is a figure


def _cited(text):
    return {
        n
        for group in re.findall(rf"theory ((?:{NUMBER}(?:, | and )?)+)", text)
        for n in re.findall(NUMBER, group[0])
    }


def test_cited_equations_are_numbered():
    theory = (ROOT / "docs/theory.md").read_text(encoding="utf-8")
    theory = theory.replace('"theory (4.2)"', "")  # the page's own example of a citation
    numbered = re.findall(r"\\tag\{(\d+\.\d+)\}", theory) + re.findall(NUMBER, theory)
    assert len(numbered) == len(set(numbered)) > 25
    code = "".join(p.read_text(encoding="utf-8") for p in sorted(Path(fem.__file__).parent.glob("*.py")))
    cited = _cited(code)
    assert len(cited) > 10
    assert cited <= set(numbered)


def test_a_wrong_number_would_be_seen():
    assert _cited("as in theory (3.1), (3.2) and (9.9); not (8.8)") == {"3.1", "3.2", "9.9"}
