"""Hygiene of the notebooks; that they run, and that their text fits, is for the runner and their checks."""

import ast
import importlib
import json
import re
from pathlib import Path

import pytest

from platemodel.bench.notebook.notebook_index import notebook_index

FOLDER = Path(__file__).resolve().parent.parent / "notebooks"
INDEX = FOLDER / "index.ipynb"
# What an editor or a runner leaves behind is no notebook of ours.
FOUND = [p for p in sorted(FOLDER.rglob("*.ipynb")) if ".ipynb_checkpoints" not in p.parts]
LESSONS = [p for p in FOUND if p.parent == FOLDER / "lessons"]
WORKING = [p for p in FOUND if p not in LESSONS and p != INDEX]
PLAIN = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
# Reading and writing goes through platemodel; anything here would depend on where the notebook lies.
FILE_CALLS = re.compile(r"\b(open|read_csv|read_excel|loadtxt|genfromtxt|np\.load|read_text|read_bytes)\s*\(")
PATH_LITERAL = re.compile(r"""["'](\.{1,2}/|/|~|[A-Za-z]:[\\/])[^"']*["']""")
LINK = re.compile(r"https?://")
# Inches. A wider picture is shrunk, and its letters with it: on a screen of 1366 pixels some 920 are left
# beside the list of files, at 100 to the inch.
WIDEST = 9.2

# A figure of a source or of a formula, not of the demo.
ALLOWED = re.compile(r"formula|table \d|common practice|from memory|per cent of")

# What every lesson has, in this order, as headings.
SECTIONS = ("You will learn", "At the bench", "Predict", "Check", "Exercises")
HEARD_OR_MOVED = re.compile(r"\bAudio\(|\.panel\b|\bstepper\(|_explorer\(|\binteract(ive)?\(|\bSlider\(")


def read(path):
    return json.loads(path.read_text(encoding="utf-8"))


def name_of(path):
    return f"lesson_{path.stem}" if path in LESSONS else path.stem


@pytest.fixture(params=FOUND, ids=name_of)
def any_notebook(request):
    """Working notebooks, lessons and the index."""
    return read(request.param)


@pytest.fixture(params=WORKING + LESSONS, ids=name_of)
def notebook(request):
    """Working notebooks and lessons."""
    return read(request.param)


@pytest.fixture(params=WORKING, ids=name_of)
def working(request):
    return read(request.param)


@pytest.fixture(params=LESSONS, ids=name_of)
def lesson(request):
    return read(request.param)


def text(cell):
    return "".join(cell["source"])


def code(notebook):
    return [c for c in notebook["cells"] if c["cell_type"] == "code"]


def prose(notebook):
    return [c for c in notebook["cells"] if c["cell_type"] == "markdown"]


def tagged(notebook, tag):
    return [c for c in code(notebook) if tag in c["metadata"].get("tags", ())]


def draws(cell):
    """Whether a code cell draws: a figure, or a panel whose picture follows a slider."""
    nodes = list(ast.walk(ast.parse(text(cell))))
    called = {ast.unparse(n.func) for n in nodes if isinstance(n, ast.Call)}
    return (
        bool(called & {"plt.subplots", "plt.figure"})
        or any(name.split(".")[-1].startswith("draw_") for name in called)
        or any(isinstance(n, ast.Attribute) and n.attr == "panel" for n in nodes)
    )


def answers(notebook):
    """Python blocks in the folded answers."""
    return [b for c in prose(notebook) for b in re.findall(r"```python\n(.*?)```", text(c), re.DOTALL)]


def numbers(paths):
    return [int(re.match(r"(\d\d)_[a-z0-9_]+$", path.stem).group(1)) for path in paths]


@pytest.mark.parametrize(("paths", "least"), [(WORKING, 2), (LESSONS, 6)], ids=["working", "lessons"])
def test_there_are_notebooks_and_they_are_numbered(paths, least):
    assert len(paths) >= least
    assert numbers(paths) == list(range(1, len(paths) + 1))


def test_every_notebook_is_found_and_linked_from_the_index():
    assert sorted(FOUND) == sorted([*WORKING, *LESSONS, INDEX])
    table = notebook_index(FOLDER)
    assert sorted(table["notebook"]) == sorted(p.relative_to(FOLDER).as_posix() for p in WORKING + LESSONS)
    assert table["linked"].all(), table.loc[~table["linked"], "notebook"].tolist()
    links = re.findall(r"\]\(([^)]+)\)", "\n".join(text(cell) for cell in prose(read(INDEX))))
    assert [link for link in links if not (FOLDER / link).is_file()] == []


def test_the_index_lists_by_glob_and_asserts():
    index = read(INDEX)
    assert len(code(index)) == 1
    assert "notebook_index(" in text(code(index)[0])
    assert any(isinstance(n, ast.Assert) for n in ast.walk(ast.parse(text(code(index)[0]))))


def test_no_traces_of_a_run(any_notebook):
    for cell in code(any_notebook):
        assert cell["outputs"] == [], cell["id"]
        assert cell["execution_count"] is None, cell["id"]
    assert any_notebook["metadata"] == PLAIN
    assert (any_notebook["nbformat"], any_notebook["nbformat_minor"]) == (4, 5)
    for cell in any_notebook["cells"]:
        assert set(cell["metadata"]) <= {"tags", "jupyter"}, cell["id"]
        if "jupyter" in cell["metadata"]:
            assert cell["metadata"]["jupyter"] == {"source_hidden": True}, cell["id"]
            assert {"answers", "hide-input"} & set(cell["metadata"]["tags"]), cell["id"]
        assert not cell.get("attachments"), cell["id"]


def test_cells_have_names_of_their_own(any_notebook):
    names = [cell["id"] for cell in any_notebook["cells"]]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z0-9-]{1,64}", name) for name in names)
    assert all(text(cell).strip() for cell in any_notebook["cells"])


def test_title_first_and_only_once(any_notebook):
    first = any_notebook["cells"][0]
    assert first["cell_type"] == "markdown"
    assert re.match(r"# \S", text(first))
    lines = [line for cell in prose(any_notebook) for line in text(cell).split("\n")]
    titles = [line for line in lines if re.match(r"# \S", line)]
    # Comments in the folded answers look like titles but stand inside a block.
    assert len([t for t in titles if not any(t in a for a in answers(any_notebook))]) == 1


def test_cautions_stand_in_the_first_cell(notebook):
    first = text(notebook["cells"][0])
    for words in ("Cautions", "the maker decides", "qualified restorer"):
        assert words in first


def test_check_cells_assert(notebook):
    checks = tagged(notebook, "check")
    assert checks
    for cell in checks:
        found = [n for n in ast.walk(ast.parse(text(cell))) if isinstance(n, ast.Assert)]
        assert found, cell["id"]


def test_the_last_code_is_a_check(working):
    assert code(working)[-1] in tagged(working, "check")


def is_tool(notebook):
    """Whether all that is the reader's stands in a cell on top."""
    return code(notebook)[0]["id"] == "yours"


@pytest.fixture(params=WORKING, ids=name_of)
def tool(request):
    """All working notebooks are tools; what teaches is a lesson."""
    return read(request.param)


def test_the_readers_cell_comes_first_and_holds_plain_values(tool):
    """Whoever does not program can change it: names and values, a word to each, nothing computed."""
    first, setup = code(tool)[:2]
    assert tool["cells"].index(first) == 1
    assert (first["id"], setup["id"]) == ("yours", "setup")
    assert not first["metadata"]
    for node in ast.parse(text(first)).body:
        assert isinstance(node, ast.Assign), ast.unparse(node)
        ast.literal_eval(node.value)
    assert text(first).count("YOURS") == 1


def test_the_readers_values_are_set_nowhere_else(tool):
    own = {n.id for n in ast.walk(ast.parse(text(code(tool)[0]))) if isinstance(n, ast.Name)}
    used = set()
    for cell in code(tool)[1:]:
        for node in ast.walk(ast.parse(text(cell))):
            if isinstance(node, ast.Name):
                assert not (node.id in own and isinstance(node.ctx, ast.Store)), (cell["id"], node.id)
                used.add(node.id)
    assert own <= used, own - used


def test_a_tool_says_nothing_of_its_own_figures(tool):
    """Prose that states a figure of the demo is untrue for the next reader: cells print such figures."""
    for cell in prose(tool)[1:-1]:
        for line in text(cell).split("\n"):
            found = re.search(r"\d(\.\d+)? ?(Hz|N/mm|GPa|g|mm|%)(?![\w²³/])", line)
            assert not found or ALLOWED.search(line), (cell["id"], line)


def test_links_of_a_tool_lead_somewhere(tool):
    """Contents, the one before, the next one, a lesson."""
    links = re.findall(r"\]\(([^)]+)\)", text(tool["cells"][0]))
    assert "index.ipynb" in links
    assert any(link.startswith("lessons/") for link in links)
    assert [link for link in links if not (FOLDER / link).is_file()] == []


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


def test_every_picture_is_told_in_words(any_notebook):
    """For those who cannot see it: the cell after it says what the picture shows, in a paragraph."""
    cells = any_notebook["cells"]
    for cell, after in zip(cells, [*cells[1:], None], strict=True):
        if cell["cell_type"] == "code" and draws(cell):
            assert after is not None, cell["id"]
            assert after["cell_type"] == "markdown", cell["id"]
            told = re.search(r"^Picture: \S[^\n]*(\n\S[^\n]*)*", text(after), re.MULTILINE)
            assert told, cell["id"]
            assert len(told.group().split()) >= 12, cell["id"]


@pytest.mark.parametrize(
    ("source", "drawn"),
    [
        ("figure, ax = plt.subplots()", True),
        ("figure = plt.figure(figsize=(4, 3))", True),
        ("_ = draw_mode(modes, 0, ax)", True),
        ("app = stepper('arch', tops, look)\napp.panel", True),
        ("table.round(2)", False),
        ("drawn = 'draw_mode'", False),
    ],
)
def test_a_cell_that_draws_is_known(source, drawn):
    assert draws({"source": source}) == drawn


def test_pictures_fit_the_page(any_notebook):
    for cell in code(any_notebook):
        for call in (n for n in ast.walk(ast.parse(text(cell))) if isinstance(n, ast.Call)):
            for key in call.keywords:
                if key.arg in ("figsize", "size"):
                    assert ast.literal_eval(key.value)[0] <= WIDEST, cell["id"]


def test_notebooks_import_and_never_define(any_notebook):
    """Physics lives in the package: no functions (a lambda that picks edges is none), no classes."""
    for cell in code(any_notebook):
        tree = ast.parse(text(cell))
        defined = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef | ast.ClassDef)]
        assert not defined, f"{cell['id']}: def or class"
    cells = code(any_notebook)[is_tool(any_notebook) :]
    assert any(isinstance(n, ast.ImportFrom) for n in ast.walk(ast.parse(text(cells[0]))))
    for cell in cells[1:]:
        late = [n for n in ast.walk(ast.parse(text(cell))) if isinstance(n, ast.Import | ast.ImportFrom)]
        assert not late, f"{cell['id']}: imports belong in the first code cell"


def test_no_paths_no_network_no_magics(any_notebook):
    for source in [*(text(c) for c in code(any_notebook)), *answers(any_notebook)]:
        assert not FILE_CALLS.search(source)
        assert not PATH_LITERAL.search(source)
        assert not LINK.search(source)
        assert not re.search(r"^\s*[%!]", source, re.MULTILINE)


def test_nothing_is_written_when_all_cells_run(notebook):
    """A cell that writes stands behind a switch that is off."""
    for cell in code(notebook):
        if "write_files(" in text(cell):
            every = "\n".join(map(text, code(notebook)))
            assert re.search(r"^SHEETS = None\b", every, re.MULTILINE)
            assert text(cell).index("if SHEETS:") < text(cell).index("write_files(")


def test_answers_can_be_pasted(notebook):
    """Folded answers are not run with the notebook: they must at least parse, and find what they import."""
    for block in answers(notebook):
        for node in ast.walk(ast.parse(block)):
            if isinstance(node, ast.ImportFrom):
                module = importlib.import_module(node.module)
                assert all(hasattr(module, alias.name) for alias in node.names), node.module
    known = {n.id for c in code(notebook) for n in ast.walk(ast.parse(text(c))) if isinstance(n, ast.Name)}
    known |= {
        alias.asname or alias.name
        for c in code(notebook)
        for n in ast.walk(ast.parse(text(c)))
        if isinstance(n, ast.Import | ast.ImportFrom)
        for alias in n.names
    }
    for block in answers(notebook):
        tree = ast.parse(block)
        own = {a.asname or a.name for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) for a in n.names}
        own |= {n.id for n in ast.walk(tree) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
        used = {n.id for n in ast.walk(tree) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Load)}
        assert used <= known | own | {"print"}, used - known - own


def test_docs_a_notebook_points_to_exist(any_notebook):
    words = "\n".join(text(cell) for cell in prose(any_notebook))
    for target in re.findall(r"`((?:docs|notebooks)/[^`]+)`", words):
        assert (FOLDER.parent / target).exists(), target
