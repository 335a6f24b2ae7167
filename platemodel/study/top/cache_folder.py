"""The user's cache folder, and figures kept in it for later runs."""

import hashlib
import json
import os
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

import numpy as np
import platformdirs

import platemodel
from platemodel.study.top.array_files import write_whole

VARIABLE = "PLATEMODEL_CACHE"  # a folder, or "off"
CODE = ("fem", "instrument", "wood", "study/top", "study/body")  # rooms that figures of a top come from
MOST_FILES = 200  # of figures, a few kB each


def cache_folder() -> Path | None:
    """Folder of what is kept for later runs; None where keeping is switched off.

    ``PLATEMODEL_CACHE`` names another folder, or switches off with ``off``; without it it is the user's cache
    folder of the platform (``XDG_CACHE_HOME`` on Linux).
    """
    asked = os.environ.get(VARIABLE)
    if asked is None:
        return platformdirs.user_cache_path("platemodel", appauthor=False) / "models"
    if asked.strip().lower() in ("", "off", "0", "no", "false"):
        return None
    return Path(asked).expanduser() / "models"


def kept_figures(
    what: str, asked: tuple[object, ...], make: Callable[[], dict[str, float]]
) -> dict[str, float]:
    """Figures that depend on nothing but a few words and numbers, from an earlier run where there was one.

    Parameters
    ----------
    what : str
        What they are, a short name.
    asked : tuple
        All that they depend on, of plain words and numbers.
    make : callable
        Computes them; asked where no file is to be trusted.

    Notes
    -----
    The file is named by a hash of name, words and the code that computes them, and carries a checksum; what
    is damaged or foreign is passed over and written anew.
    """
    folder = cache_folder()
    if folder is None:
        return make()
    key = hashlib.sha256(repr((what, asked, code_hash())).encode()).hexdigest()
    path = folder / f"{what}_{key}.json"
    with suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
        told = json.loads(path.read_text(encoding="utf-8"))
        found = {str(name): float.fromhex(value) for name, value in told["figures"].items()}
        if told["checksum"] == _checksum(key, found):
            return found
    found = make()
    told = json.dumps({"checksum": _checksum(key, found), "figures": _hex(found)})
    with suppress(OSError):
        write_whole(path, lambda file: file.write(told.encode()))
        for old in sorted(folder.glob("*_*.json"), key=lambda p: p.stat().st_mtime)[:-MOST_FILES]:
            old.unlink(missing_ok=True)
    return found


def _hex(figures):
    return {name: float(value).hex() for name, value in figures.items()}


def _checksum(key, figures):
    return hashlib.sha256(repr((key, sorted(_hex(figures).items()))).encode()).hexdigest()


@lru_cache(maxsize=1)
def code_hash() -> str:
    """Hash of the code that figures are computed by, and of the libraries' versions that matter."""
    out = hashlib.sha256(f"{platemodel.__version__} {np.__version__}".encode())
    root = Path(__file__).parents[2]
    for room in CODE:
        for path in sorted((root / room).glob("*.py")):
            out.update(path.read_bytes())
    return out.hexdigest()
