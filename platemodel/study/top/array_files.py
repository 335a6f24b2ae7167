"""Arrays in files of the user's cache folder: numbers only, whole or passed over."""

import hashlib
import os
import tempfile
import time
import zipfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import IO

import numpy as np

ABANDONED = 3600  # seconds after which a draft is no longer being written


def read_arrays(path: Path, key: str, most_bytes: int) -> dict[str, np.ndarray]:
    """Read what `write_arrays` wrote.

    Parameters
    ----------
    key : str
        What the file was written for.
    most_bytes : int
        A larger file is refused.

    Returns
    -------
    dict of array

    Raises
    ------
    Exception
        Of whatever kind: there is no such file, or it is cut short, squeezed, changed, written for something
        else, or holds anything but numbers.
    """
    if path.stat().st_size > most_bytes:
        raise ValueError(path)
    with zipfile.ZipFile(path) as archive:  # stored as they are: no small file that unpacks to a large one
        if any(one.compress_type != zipfile.ZIP_STORED for one in archive.infolist()):
            raise ValueError(path)
    with np.load(path, allow_pickle=False) as archive:
        arrays = {name: archive[name] for name in archive.files}
    if not np.array_equal(arrays.pop("checksum"), _digest(key, arrays)):
        raise ValueError(path)
    return arrays


def write_whole(path: Path, write: Callable[[IO[bytes]], object]) -> None:
    """Write a file whole or not at all; ``write`` is given it open, under another name.

    Raises
    ------
    OSError
        The folder cannot be written to.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, draft = tempfile.mkstemp(dir=path.parent, prefix=".draft_", suffix=path.suffix)
    try:
        with os.fdopen(handle, "wb") as file:
            write(file)
        os.replace(draft, path)
    finally:
        Path(draft).unlink(missing_ok=True)


def write_arrays(path: Path, key: str, arrays: dict[str, np.ndarray]) -> None:
    """Write a file whole or not at all; what a failure of power tears fails its checksum.

    Raises
    ------
    OSError
        The folder cannot be written to.
    """
    write_whole(path, lambda file: np.savez(file, checksum=_digest(key, arrays), **arrays))


def tidy(folder: Path, paths: Iterable[Path], most_bytes: int) -> None:
    """Remove the files not asked for the longest, until the rest fits, and drafts left behind in the folder.

    The last one stays, however large.
    """
    for draft in folder.glob(".draft_*.npz"):
        if time.time() - draft.stat().st_mtime > ABANDONED:
            draft.unlink(missing_ok=True)
    found = [(p.stat().st_mtime, p.stat().st_size, p) for p in paths]
    total = sum(size for _, size, _ in found)
    for _, size, path in sorted(found)[:-1]:
        if total <= most_bytes:
            return
        path.unlink(missing_ok=True)
        total -= size


def _digest(key, arrays):
    """Checksum of what is in a file and of what it was written for."""
    out = hashlib.sha256(key.encode())
    for name in sorted(arrays):
        value = np.asarray(arrays[name])
        out.update(f"{name} {value.dtype.str} {value.shape}".encode())
        out.update(np.asarray(value, order="C"))
    return np.frombuffer(out.digest(), dtype=np.uint8)
