"""Which notebooks there are, and whether an index notebook links each of them."""

import json
import os
import re
from pathlib import Path

import pandas as pd


def notebook_index(folder: str | os.PathLike = ".") -> pd.DataFrame:
    """List the notebooks of a folder and its sub-folders.

    Parameters
    ----------
    folder : path
        Where ``index.ipynb`` lies, which is not listed itself.

    Returns
    -------
    DataFrame
        A row a notebook: ``notebook`` (path from the folder), ``title`` (its first heading), ``linked``.

    Raises
    ------
    FileNotFoundError
        There is no index in the folder.
    """
    folder = Path(folder)
    page = folder / "index.ipynb"
    if not page.is_file():
        msg = f"no {page.name} in {folder.resolve()}: run it from the folder of the notebooks"
        raise FileNotFoundError(msg)
    linked = set(re.findall(r"\]\(([^)#]+\.ipynb)[^)]*\)", _prose(page)))
    rows = []
    for path in sorted(folder.rglob("*.ipynb")):
        name = path.relative_to(folder).as_posix()
        if path == page or ".ipynb_checkpoints" in path.parts:
            continue
        title = re.search(r"^# (.+)$", _prose(path), re.MULTILINE)
        rows.append({"notebook": name, "title": title.group(1) if title else "", "linked": name in linked})
    return pd.DataFrame(rows, columns=["notebook", "title", "linked"])


def _prose(path):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return "\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown")
