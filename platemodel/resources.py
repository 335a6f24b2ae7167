"""Finds the package's data, notebooks and documents, installed from a wheel or run from the repository."""

from pathlib import Path

from platemodel.errors import PlatemodelError


def data_path(*parts: str) -> Path:
    """Path of a data file or folder.

    A wheel carries the data inside the package, a checkout beside it; the first that exists is used.

    Parameters
    ----------
    *parts : str
        Path below the data folder, for example ``"wood", "species.csv"``.

    Raises
    ------
    PlatemodelError
        If neither place holds it.
    """
    return shipped_path("data", *parts)


def shipped_path(kind: str, *parts: str) -> Path:
    """Path of something that comes with the package.

    Parameters
    ----------
    kind : {"data", "notebooks", "docs"}
    *parts : str
        Path below that folder.

    Raises
    ------
    PlatemodelError
        If neither place holds it.
    """
    here = Path(__file__).resolve().parent
    for root in (here / kind, here.parent / kind):
        path = root.joinpath(*parts)
        if path.exists():
            return path
    msg = f"{kind} file {'/'.join(parts)!r} not found beside or inside the package; reinstall the package"
    raise PlatemodelError(msg)
