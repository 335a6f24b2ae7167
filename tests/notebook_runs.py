"""Runs a notebook's code cells without a kernel, with other values in the reader's cell."""

import ast
import json
import re
import sys
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

import matplotlib as mpl
import matplotlib.pyplot as plt

NOTEBOOKS = Path(__file__).resolve().parent.parent / "notebooks"
# Never for a reader: a figure that is none, written out.
NO_FIGURE = re.compile(r"(?<![\w/.])[-+]?(nan|NaN|inf)(?![\w/])")


class Run:
    """What a notebook left behind.

    Attributes
    ----------
    names : dict
        Its variables.
    said : dict of str to str
        What each code cell printed or showed, by the cell's id.
    """

    def __init__(self):
        self.names, self.said = {"__name__": "__main__"}, {}

    @property
    def text(self) -> str:
        """All that was said."""
        return "\n".join(self.said.values())


def run_notebook(name: str, **yours) -> Run:
    """Run a notebook with the reader's values in place of those in its cell ``yours``.

    Parameters
    ----------
    name : str
        How its file begins, ``"03"``.
    **yours
        Values by name.
    """
    (path,) = NOTEBOOKS.glob(f"{name}*.ipynb")
    mpl.use("agg")
    run = Run()
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            tree = ast.parse("".join(cell["source"]))
            if cell["id"] == "yours":
                _put(tree, yours)
            run.said[cell["id"]] = _run(tree, f"{path.name}, cell {cell['id']}", run.names)
    plt.close("all")
    return run


def _put(tree, yours):
    left = dict(yours)
    for node in tree.body:
        names = [target.id for target in node.targets if isinstance(target, ast.Name)]
        for name in names:
            if name in left:
                node.value = ast.parse(repr(left.pop(name)), mode="eval").body
    assert not left, f"not in the reader's cell: {left}"
    ast.fix_missing_locations(tree)


def _run(tree, where, names):
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    out = StringIO()
    with redirect_stdout(out):
        exec(compile(tree, where, "exec"), names)
        if last is not None:
            shown = eval(compile(ast.Expression(last.value), where, "eval"), names)
            if shown is not None:
                print(_page(shown))
    sys.stdout.flush()
    return out.getvalue()


def _page(shown):
    """What the reader sees of a value: a table whole, the words of a panel, else its text."""
    if hasattr(shown, "to_string"):
        return shown.to_string()
    if hasattr(shown, "children"):
        return "\n".join(_page(child) for child in shown.children)
    if hasattr(shown, "comm"):
        value = getattr(shown, "value", "")
        return f"{getattr(shown, 'description', '')} {value if isinstance(value, str | float) else ''}"
    return str(shown)


def not_a_figure(run: Run) -> list[str]:
    """Lines that show a reader what is no figure."""
    return [
        f"{cell}: {line}"
        for cell, said in run.said.items()
        for line in said.split("\n")
        if NO_FIGURE.search(line)
    ]
