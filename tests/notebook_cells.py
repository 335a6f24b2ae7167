"""Notebooks of the project as they lie there, and what their cells hold."""

import ast
import json
import re
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "notebooks"
INDEX = FOLDER / "index.ipynb"
# What an editor or a runner leaves behind is no notebook of ours.
FOUND = [p for p in sorted(FOLDER.rglob("*.ipynb")) if ".ipynb_checkpoints" not in p.parts]
LESSONS = [p for p in FOUND if p.parent == FOLDER / "lessons"]
WORKING = [p for p in FOUND if p not in LESSONS and p != INDEX]


def read(path):
    return json.loads(path.read_text(encoding="utf-8"))


def name_of(path):
    return f"lesson_{path.stem}" if path in LESSONS else path.stem


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
