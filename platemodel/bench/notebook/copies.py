"""Copies of the notebooks, and of what they need, for the reader to change."""

import os
import shutil
from pathlib import Path

from platemodel.errors import PlatemodelError
from platemodel.files import write_folder
from platemodel.resources import shipped_path

KINDS = ("notebooks", "docs", "data")
#: Of ``data`` only what a reader may change; tables of woods and strings stay in the package.
DATA = ("jobs", "samples")
#: Also left: what only the making of the book needs.
LEFT = shutil.ignore_patterns(".*", "__pycache__", "conf.py", "site")


def copy_notebooks(folder: str | os.PathLike) -> Path:
    """Copy notebooks, the documents they point to and the demo jobs into a new folder.

    Parameters
    ----------
    folder : path
        New or empty; its parent must exist. Gets ``notebooks``, ``docs`` and ``data``, which lie to each
        other as in the repository, so that links and folders are found.

    Returns
    -------
    Path
        The index notebook.

    Raises
    ------
    PlatemodelError
        Something is there already, or the place cannot be written to.
    """
    folder = Path(folder)
    if not folder.parent.is_dir():
        msg = f"{folder}: the folder {folder.parent} does not exist; make it first"
        raise PlatemodelError(msg)
    if folder.is_symlink() or (folder.exists() and not (folder.is_dir() and not any(folder.iterdir()))):
        msg = f"{folder}: something of that name is there already; choose a new name, nothing is replaced"
        raise PlatemodelError(msg)

    def fill(draft):
        for kind in KINDS:
            parts = [(kind, part) for part in DATA] if kind == "data" else [(kind,)]
            for part in parts:
                shutil.copytree(shipped_path(*part), draft.joinpath(*part), ignore=LEFT)

    try:
        write_folder(folder, fill)
    except OSError as error:
        msg = f"{folder}: cannot be written ({error.strerror or error}); nothing was copied"
        raise PlatemodelError(msg) from error
    return folder / "notebooks" / "index.ipynb"
