"""Hygiene of the notebooks; that they run, and that their text fits, is for the runner and their checks."""

import ast
import importlib
import json
import re
from pathlib import Path

import pytest

FOLDER = Path(__file__).resolve().parent.parent / "notebooks"
NOTEBOOKS = sorted(FOLDER.rglob("*.ipynb"))
PLAIN = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
# Reading and writing goes through platemodel; anything here would depend on where the notebook lies.
FILE_CALLS = re.compile(r"\b(open|read_csv|read_excel|loadtxt|genfromtxt|np\.load|read_text|read_bytes)\s*\(")
PATH_LITERAL = re.compile(r"""["'](\.{1,2}/|/|~|[A-Za-z]:[\\/])[^"']*["']""")
LINK = re.compile(r"https?://")


@pytest.fixture(params=NOTEBOOKS, ids=lambda p: p.stem)
def notebook(request):
    return json.loads(request.param.read_text(encoding="utf-8"))


def text(cell):
    return "".join(cell["source"])


def code(notebook):
    return [c for c in notebook["cells"] if c["cell_type"] == "code"]


def prose(notebook):
    return [c for c in notebook["cells"] if c["cell_type"] == "markdown"]


def tagged(notebook, tag):
    return [c for c in code(notebook) if tag in c["metadata"].get("tags", ())]


def answers(notebook):
    """Python blocks in the folded answers."""
    return [b for c in prose(notebook) for b in re.findall(r"```python\n(.*?)```", text(c), re.DOTALL)]


def test_there_are_notebooks_and_they_are_numbered():
    assert len(NOTEBOOKS) >= 2
    numbers = [int(re.match(r"(\d\d)_[a-z0-9_]+$", path.stem).group(1)) for path in NOTEBOOKS]
    assert numbers == list(range(1, len(NOTEBOOKS) + 1))


def test_no_traces_of_a_run(notebook):
    for cell in code(notebook):
        assert cell["outputs"] == [], cell["id"]
        assert cell["execution_count"] is None, cell["id"]
    assert notebook["metadata"] == PLAIN
    assert (notebook["nbformat"], notebook["nbformat_minor"]) == (4, 5)
    for cell in notebook["cells"]:
        assert set(cell["metadata"]) <= {"tags"}, cell["id"]
        assert not cell.get("attachments"), cell["id"]


def test_cells_have_names_of_their_own(notebook):
    names = [cell["id"] for cell in notebook["cells"]]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z0-9-]{1,64}", name) for name in names)
    assert all(text(cell).strip() for cell in notebook["cells"])


def test_title_first_and_only_once(notebook):
    first = notebook["cells"][0]
    assert first["cell_type"] == "markdown"
    assert re.match(r"# \S", text(first))
    titles = [line for cell in prose(notebook) for line in text(cell).split("\n") if re.match(r"# \S", line)]
    # Comments in the folded answers look like titles but stand inside a block.
    assert len([t for t in titles if not any(t in a for a in answers(notebook))]) == 1


def test_cautions_stand_in_the_first_cell(notebook):
    first = text(notebook["cells"][0])
    for words in ("Cautions", "the maker decides", "qualified restorer"):
        assert words in first


def test_a_check_cell_asserts_and_the_last_code_is_one(notebook):
    checks = tagged(notebook, "check")
    assert checks
    for cell in checks:
        found = [n for n in ast.walk(ast.parse(text(cell))) if isinstance(n, ast.Assert)]
        assert found, cell["id"]
    assert code(notebook)[-1] in checks


def test_predictions_and_exercises_with_folded_answers(notebook):
    words = "\n".join(text(cell) for cell in prose(notebook))
    assert words.count("**Before you ") >= 3
    last = text(prose(notebook)[-1])
    assert last.startswith("## Exercises")
    exercises = re.findall(r"^\*\*\d\. ", last, re.MULTILINE)
    assert len(exercises) >= 3
    assert last.count("<details><summary>Answer</summary>") == last.count("</details>") == len(exercises)


def test_notebooks_import_and_never_define(notebook):
    """Physics lives in the package: no functions (a lambda that picks edges is none), no classes."""
    for cell in code(notebook):
        tree = ast.parse(text(cell))
        defined = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef | ast.ClassDef)]
        assert not defined, f"{cell['id']}: def or class"
    first = code(notebook)[0]
    assert any(isinstance(n, ast.ImportFrom) for n in ast.walk(ast.parse(text(first))))
    for cell in code(notebook)[1:]:
        late = [n for n in ast.walk(ast.parse(text(cell))) if isinstance(n, ast.Import | ast.ImportFrom)]
        assert not late, f"{cell['id']}: imports belong in the first code cell"


def test_no_paths_no_network_no_magics(notebook):
    for source in [*(text(c) for c in code(notebook)), *answers(notebook)]:
        assert not FILE_CALLS.search(source)
        assert not PATH_LITERAL.search(source)
        assert not LINK.search(source)
        assert not re.search(r"^\s*[%!]", source, re.MULTILINE)


def test_nothing_is_written_when_all_cells_run(notebook):
    """A cell that writes stands behind a switch that is off."""
    for cell in code(notebook):
        if "write_files(" in text(cell):
            assert re.search(r"^SHEETS = None$", text(cell), re.MULTILINE)


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


def test_docs_a_notebook_points_to_exist(notebook):
    words = "\n".join(text(cell) for cell in prose(notebook))
    for target in re.findall(r"`((?:docs|notebooks)/[^`]+)`", words):
        assert (FOLDER.parent / target).exists(), target
