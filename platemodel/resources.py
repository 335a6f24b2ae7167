"""Finds the package's data, installed from a wheel or run from the repository."""

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
    here = Path(__file__).resolve().parent
    for root in (here / "data", here.parent / "data"):
        path = root.joinpath(*parts)
        if path.exists():
            return path
    msg = f"data file {'/'.join(parts)!r} not found beside or inside the package; reinstall the package"
    raise PlatemodelError(msg)
