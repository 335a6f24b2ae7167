"""Where the reader's folder or table is: from where one stands, from the checkout, among the demos."""

import os
from pathlib import Path

from platemodel.errors import PlatemodelError
from platemodel.job import JOB_FILE
from platemodel.resources import data_path


def find_job(folder: str | os.PathLike) -> Path:
    """Find a job folder by its name or path.

    It is looked for from the working directory and two folders up, there also among copies of the demos
    (``data/jobs``), then beside the package's data, then among its demos (``"old_viola"``,
    ``"modern_violin"``).

    Parameters
    ----------
    folder : path
        Name or path of a folder that holds ``job.toml``, or of that file.

    Returns
    -------
    Path
        Whole path.

    Raises
    ------
    PlatemodelError
        There is no such folder; says where it was looked for.
    """
    wanted = Path(folder).expanduser()
    if wanted.name == JOB_FILE:
        wanted = wanted.parent
    return _find(
        wanted, "jobs", lambda path: (path / JOB_FILE).is_file(),
        f"no job folder {str(folder)!r}, that is, a folder with {JOB_FILE} in it",
        f"Write the whole path of your folder, or begin one: platemodel new {wanted.name or 'my_top'}",
    )  # fmt: skip


def find_table(table: str | os.PathLike) -> Path:
    """Find a table of samples by its name or path.

    Parameters
    ----------
    table : path
        CSV file, looked for as in `find_job`; the demos are ``"bar_blanks.csv"`` and ``"top_wedges.csv"``.

    Returns
    -------
    Path
        Whole path.

    Raises
    ------
    PlatemodelError
        There is no such file; says where it was looked for.
    """
    return _find(
        Path(table).expanduser(), "samples", Path.is_file,
        f"no table {str(table)!r}", "Write the whole path of your table.",
    )  # fmt: skip


def is_demo(path: str | os.PathLike) -> bool:
    """Whether a path lies in the package's own data, where nothing of the reader's belongs."""
    return data_path() in Path(path).resolve().parents


def _find(wanted, demos, is_one, problem, advice):
    here, looked = Path.cwd(), []
    near = [here, *here.parents[:2]]
    # Copies of the demos beside the notebooks come before the package's own.
    for base in (*near, *(p / "data" / demos for p in near), data_path().parent, data_path(demos)):
        path = (base / wanted).resolve()  # a whole path stays what it is
        if is_one(path):
            return path
        if path not in looked:
            looked.append(path)
    names = sorted(path.name for path in data_path(demos).iterdir() if is_one(path))
    lines = [
        f"{problem}. Looked for:",
        *(f"  {path}" for path in looked),
        advice,
        f"Demos: {', '.join(names)}.",
    ]
    raise PlatemodelError("\n".join(lines))
