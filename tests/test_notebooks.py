"""Hygiene of the notebooks; that they run, and that their text fits, is for the runner and their checks."""

import ast
import importlib
import re

import pytest

from platemodel.bench.notebook.notebook_index import notebook_index
from tests.notebook_cells import (
    FOLDER,
    FOUND,
    INDEX,
    LESSONS,
    WORKING,
    answers,
    code,
    draws,
    name_of,
    prose,
    read,
    tagged,
    text,
)

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
    assert max(map(len, text(first).split("\n"))) <= 88  # what a window of 900 pixels shows of a line


def test_the_readers_values_are_set_nowhere_else(tool):
    own = {n.id for n in ast.walk(ast.parse(text(code(tool)[0]))) if isinstance(n, ast.Name)}
    used = set()
    for cell in code(tool)[1:]:
        for node in ast.walk(ast.parse(text(cell))):
            if isinstance(node, ast.Name):
                assert not (node.id in own and isinstance(node.ctx, ast.Store)), (cell["id"], node.id)
                used.add(node.id)
    assert own <= used, own - used


def test_a_tool_shows_no_code_but_the_readers_cell(tool):
    shown = [cell["id"] for cell in code(tool) if "jupyter" not in cell["metadata"]]
    assert shown == ["yours"]


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


def test_what_taps_correct_has_the_bands_of_the_trim_page(any_notebook):
    """Without the doubt of the job's own tones the filter would begin with a band that no page shows."""
    for cell in code(any_notebook):
        for call in (n for n in ast.walk(ast.parse(text(cell))) if isinstance(n, ast.Call)):
            if getattr(call.func, "id", "") in ("correct", "propose_cut"):
                given = {k.arg: ast.unparse(k.value) for k in call.keywords}
                assert given.get("doubt") == "doubt", cell["id"]


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


@pytest.mark.parametrize("path", FOUND, ids=name_of)
def test_documents_are_linked_from_where_the_notebook_lies(path):
    for cell in prose(read(path)):
        named = re.findall(r"`docs/[^`]+`", text(cell))
        links = re.findall(r"\[`(docs/[^`]+)`\]\(([^)]+)\)", text(cell))
        assert len(links) == len(named), (cell["id"], named)
        for words, link in links:
            assert (path.parent / link).resolve() == (FOLDER.parent / words).resolve()
            assert (path.parent / link).is_file(), link


def test_docs_a_notebook_points_to_exist(any_notebook):
    words = "\n".join(text(cell) for cell in prose(any_notebook))
    for target in re.findall(r"`((?:docs|notebooks)/[^`]+)`", words):
        assert (FOLDER.parent / target).exists(), target
