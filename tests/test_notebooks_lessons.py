"""What every lesson has, and in which order."""

import ast
import re

import pytest

from tests.notebook_cells import (
    LESSONS,
    code,
    draws,
    name_of,
    prose,
    read,
    tagged,
    text,
)

# What every lesson has, in this order, as headings.
SECTIONS = ("You will learn", "At the bench", "Predict", "Check", "Exercises")
HEARD_OR_MOVED = re.compile(r"\bAudio\(|\.panel\b|\bstepper\(|_explorer\(|\binteract(ive)?\(|\bSlider\(")


@pytest.fixture(params=LESSONS, ids=name_of)
def lesson(request):
    return read(request.param)


def place_of_heading(notebook, phrase):
    """Position of the first cell with a heading (or a line in bold) that holds the phrase."""
    for place, cell in enumerate(notebook["cells"]):
        if cell["cell_type"] == "markdown":
            lines = text(cell).split("\n")
            if any(re.match(r"(#{2,}\s|\*\*)", line) and phrase in line for line in lines):
                return place
    return None


def test_sections_of_a_lesson_in_order(lesson):
    places = [place_of_heading(lesson, phrase) for phrase in SECTIONS]
    assert None not in places, dict(zip(SECTIONS, places, strict=True))
    assert places == sorted(places), dict(zip(SECTIONS, places, strict=True))


def test_a_lesson_predicts_before_it_computes(lesson):
    """Only imports and the reader's readings may stand before the question; then comes the guess."""
    before = lesson["cells"][: place_of_heading(lesson, "Predict")]
    assert [cell["id"] for cell in before if cell["cell_type"] == "code"] == ["setup", "yours"]
    third = code(lesson)[2]
    (call,) = [n for n in ast.walk(ast.parse(text(third))) if isinstance(n, ast.Call)]
    assert (third["id"], ast.unparse(call.func)) == ("guess", "sheet.guess")
    assert all(key.value.value is None for key in call.keywords)  # typed in by the reader
    asked = [n for n in ast.walk(ast.parse(text(code(lesson)[0]))) if isinstance(n, ast.Dict)]
    assert [key.value for key in asked[0].keys] == [key.arg for key in call.keywords]


def test_a_lesson_shows_few_lines_and_folds_the_rest(lesson):
    """A few lines with a number to change; setup, drawing and checks are folded and tagged for a book."""
    shown = [cell for cell in code(lesson) if "jupyter" not in cell["metadata"]]
    assert len(shown) >= 4  # readings, guess, something to try, the sheet
    for cell in shown:
        lines = [line for line in text(cell).split("\n") if line.strip()]
        assert len(lines) <= 6 or cell["id"] == "guess", cell["id"]  # there a line a question
    tried = [cell for cell in shown if cell["id"] not in ("yours", "guess", "sheet")]
    assert all(len(text(cell).split("\n")) >= 3 for cell in tried)
    assert any("change" in text(cell) for cell in tried)
    for cell in code(lesson):
        if cell["id"] == "setup" or draws(cell) or cell in tagged(lesson, "check"):
            assert "hide-input" in cell["metadata"].get("tags", ()), cell["id"]


def test_a_lesson_shows_its_answers_after_the_guess(lesson):
    tried = [cell for cell in code(lesson) if "sheet.reveal(" in text(cell)]
    assert len(tried) >= 2
    assert text(code(lesson)[-2]) == "SAVE_AS = None\nsheet.save(SAVE_AS)"  # the sheet stands last


@pytest.mark.parametrize("place", range(len(LESSONS)), ids=[path.stem for path in LESSONS])
def test_links_lead_to_the_lessons_before_and_after_and_home(place):
    cells = read(LESSONS[place])["cells"]
    wanted = [LESSONS[k].name for k in (place - 1, place + 1) if 0 <= k < len(LESSONS)]
    wanted.insert(1 if place else 0, "../index.ipynb")
    for cell in (cells[0], cells[-1]):
        links = re.findall(r"\]\(([^)]+\.ipynb)\)", text(cell))
        assert links == wanted, cell["id"]


def test_a_lesson_sets_a_formula_as_a_formula(lesson):
    assert any("$$" in text(cell) for cell in prose(lesson))


def test_a_lesson_checks_after_its_heading_and_names_a_source(lesson):
    place = place_of_heading(lesson, "Check")
    last = max(n for n, cell in enumerate(lesson["cells"]) if cell in tagged(lesson, "check"))
    assert last > place
    words = "\n".join(text(c) for c in lesson["cells"] if c["cell_type"] == "markdown" or c in code(lesson))
    assert re.search(r"\b(1[89]|20)\d\d\b|from memory", words), "no source named"


def test_a_lesson_has_a_picture_and_something_to_hear_or_move(lesson):
    assert any("Picture: " in text(cell) for cell in prose(lesson))
    assert any(HEARD_OR_MOVED.search(text(cell)) for cell in code(lesson))


def test_a_lesson_ends_with_exercises_and_folded_answers(lesson):
    folded = tagged(lesson, "answers")
    assert len(folded) == 1
    assert folded[0]["metadata"].get("jupyter") == {"source_hidden": True}
    assert code(lesson)[-1] is folded[0]
    place = place_of_heading(lesson, "Exercises")
    asked = re.findall(r"^\*{0,2}(\d)\.\*{0,2} ", text(lesson["cells"][place]), re.MULTILINE)
    assert len(asked) >= 2
    # Folded also after a run of all cells, one answer to each exercise.
    calls = [n for n in ast.walk(ast.parse(text(folded[0]))) if isinstance(n, ast.Call)]
    given = [n for n in calls if getattr(n.func, "id", "") == "Answers"]
    assert len(given) == 1
    assert [key.value for key in given[0].args[0].keys] == [int(number) for number in asked]
    assert len(calls) > 1, "answers are computed, not typed in"
