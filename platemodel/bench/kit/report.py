"""What every report gives: a text, plain data for JSON, and a set of files written together.

A page's folder holds ``result`` (what is computed, its text and data), ``plots`` and ``page``; its ``report``
binds them, so that neither of the others has to know it.
"""

import importlib
import os
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

import pandas as pd

from platemodel.files import free_targets, written_together

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Result = TypeVar("Result")
Writer = Callable[[Result, Path], object]


@dataclass(frozen=True)
class Report(Generic[Result]):
    """One kind of result as text, data and files.

    Attributes
    ----------
    text : callable
        ``text(result)`` for the terminal.
    data : callable
        ``data(result)``, plain data for JSON.
    files : mapping of str to callable
        Name of each file and ``write(result, path)``, which makes it; see `csv`, `pdf` and `page_pdf`.
    present : callable, optional
        ``present(result)`` names the files that a result has; default all.
    """

    text: Callable[[Result], str]
    data: Callable[[Result], dict]
    files: Mapping[str, Writer]
    present: Callable[[Result], Sequence[str]] | None = None

    def target_files(
        self, folder: str | os.PathLike, force: bool = False, names: Sequence[str] | None = None
    ) -> list[Path]:
        """Paths of the files to be written.

        Parameters
        ----------
        folder : path
            Need not exist.
        force : bool
            Files that are there may be replaced.
        names : sequence of str, optional
            Only these of `files`.

        Raises
        ------
        FileExistsError
            A file is there and ``force`` is not set, or a folder has the name of a file.
        """
        return free_targets(folder, list(self.files) if names is None else names, force)

    def write_files(self, result: Result, folder: str | os.PathLike, force: bool = False) -> list[Path]:
        """Write all files of a result, or none.

        Parameters
        ----------
        result : object
        folder : path
            Made if missing.
        force : bool
            Replace files that are there.

        Raises
        ------
        FileExistsError
            A file is there and ``force`` is not set.
        OSError
            The folder cannot be written to; what was there stays.
        """
        names = list(self.files) if self.present is None else list(self.present(result))
        targets = self.target_files(folder, force, names)
        with written_together(targets) as drafts:
            for name, draft in zip(names, drafts, strict=True):
                self.files[name](result, draft)
        return targets


def csv(table: Callable[[Result], pd.DataFrame], digits: int | None = None) -> Writer:
    """Return a writer of a table as CSV, rounded to so many digits behind the point."""

    def write(result, path):
        write_csv(table(result), path, digits)

    return write


def write_csv(table: pd.DataFrame, path: Path, digits: int | None = None) -> None:
    """Write a table as CSV with plain line ends."""
    table = table if digits is None else table.round(digits)
    table.to_csv(path, index=False, lineterminator="\n")


def pdf(draw: "Callable[[Result], Figure | Sequence[Figure]]") -> Writer:
    """Return a writer of what ``draw(result)`` returns, a page or several, as one PDF at true size."""

    def write(result, path):
        from platemodel.bench.kit.paper_files import save_pages

        save_pages(draw(result), path)

    return write


def page_pdf(package: str, name: str) -> Writer:
    """Return a writer of the page that a function of a package's module ``page`` draws.

    The page is imported when it is drawn, so that the plotting library is loaded only for those who want the
    file.

    Parameters
    ----------
    package : str
        ``__package__`` of the report.
    name : str
        ``name(result)`` returns a figure or several.
    """
    return pdf(lambda result: getattr(importlib.import_module(f"{package}.page"), name)(result))


def some_files(files: Iterable[str], optional: Collection[str]) -> Callable[[bool], list[str]]:
    """Return ``names(all_of_them)``: names of files, with or without those that only some results have."""
    return lambda whole: [name for name in files if whole or name not in optional]
