"""Names of what lies in a folder while it is written to, and of the files that may be written."""

import errno
import os
from collections.abc import Iterable
from pathlib import Path

#: Everything that the package keeps in a folder only while it writes begins with this.
MARK = ".platemodel-"
LOCK = MARK + "lock"
DRAFT = MARK + "draft-"  # a file or folder that is being written
READY = MARK + "ready"  # a complete set whose files are going to their places
WRITER = "writer.lock"  # inside a draft folder; held as long as its writer lives


def free_targets(folder: str | os.PathLike, names: Iterable[str], force: bool = False) -> list[Path]:
    """Paths of a set of files that may be written.

    Parameters
    ----------
    folder : path
        Need not exist.
    force : bool
        Files that are there may be replaced.

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set, or a folder has the name of a file.
    NotADirectoryError, PermissionError
        Nothing can be written there.
    """
    writable(folder)
    targets = [Path(folder) / name for name in names]
    for target in targets:
        if target.is_dir():
            msg = f"{target} is a folder; nothing written (move it away)"
            raise FileExistsError(msg)
        if target.exists() and not force:
            msg = f"{target} is there already; nothing written (--force replaces it)"
            raise FileExistsError(msg)
    return targets


def writable(folder: str | os.PathLike) -> None:
    """Refuse a folder that can neither be written to nor made, before anything is worked out for it.

    Parameters
    ----------
    folder : path
        Need not exist.

    Raises
    ------
    NotADirectoryError
        It, or what it would be made in, is a file.
    PermissionError
        The system does not allow it.
    """
    folder = Path(folder)
    there = next(p for p in (folder, *folder.absolute().parents) if p.exists())
    if not there.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(folder))
    if not os.access(there, os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(folder))
