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
from IPython.display import display

from platemodel.bench.notebook.answers import Answers

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
        self.names = {"__name__": "__main__", "display": display}  # a notebook has it without import
        self.said = {}

    @property
    def text(self) -> str:
        """All that was said."""
        return "\n".join(self.said.values())


def run_notebook(name: str, **yours) -> Run:
    """Run a notebook with the reader's values in place of those in its cell ``yours``.

    Parameters
    ----------
    name : str
        How its file begins, ``"03"``, or ``"lessons/03"``; every guess of a lesson is 1.
    **yours
        Values by name.
    """
    (path,) = NOTEBOOKS.glob(f"{name}*.ipynb")
    mpl.use("agg")
    run = Run()
    for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            tree = ast.parse("".join(cell["source"]))
            run.said[cell["id"]] = _run(tree, f"{path.name}, cell {cell['id']}", run.names)
            if cell["id"] == "yours":
                left = set(yours) - set(run.names)
                assert not left, f"not in the reader's cell: {left}"
                run.names |= yours
            if cell["id"] == "guess":
                sheet = run.names["sheet"]
                sheet.guess(**dict.fromkeys(sheet.questions, 1))
    plt.close("all")
    return run


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
    if isinstance(shown, Answers):
        return shown._repr_html_()
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
