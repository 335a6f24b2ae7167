"""What a program that died in the middle of writing left behind: finished, or cleared away."""

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from platemodel.errors import PlatemodelError
from platemodel.files.disk import sync_folder
from platemodel.files.lock import BusyError, locked
from platemodel.files.names import DRAFT, MARK, READY, WRITER


@dataclass(frozen=True)
class LeftOver:
    """What was found and done.

    Attributes
    ----------
    finished : tuple of str
        Files of a set that an earlier run had complete; they are in their places now.
    cleared : int
        Drafts that were cleared away.
    """

    folder: Path
    finished: tuple[str, ...] = ()
    cleared: int = 0

    def __str__(self) -> str:
        parts = []
        if self.finished:
            parts.append(f"put in place what an earlier run had written: {', '.join(self.finished)}")
        if self.cleared:
            drafts = "the unfinished draft" if self.cleared == 1 else f"{self.cleared} unfinished drafts"
            parts.append(f"cleared away {drafts} of an earlier run that was stopped")
        return f"{self.folder}: {'; '.join(parts)}"


def recover(folder: str | os.PathLike) -> LeftOver | None:
    """Finish or clear away what a program that died left in a folder; a writer at work is left alone.

    Parameters
    ----------
    folder : path
        Need not exist.

    Returns
    -------
    LeftOver or None
        None when there was nothing.

    Raises
    ------
    PlatemodelError
        A complete set cannot be put in its place, since a file is in use or the folder cannot be written to.
    """
    folder = Path(folder)
    try:
        if not any(name.startswith(MARK) for name in os.listdir(folder)):
            return None
    except OSError:
        return None
    try:
        with locked(folder, 0.0):
            finished, cleared = finish(folder), clear(folder)
    except BusyError:
        return None
    except OSError as error:
        if not (folder / READY).is_dir():
            return None  # drafts in a folder that cannot be written to: they stay, and do no harm
        name = Path(error.filename or folder).name
        msg = (
            f"{folder}: an earlier run was stopped while it put its files in place, and {name} cannot be "
            f"replaced now ({error.strerror or error}); close what uses it, see that the folder can be "
            f"written to, and run this again"
        )
        raise PlatemodelError(msg) from error
    return LeftOver(folder, finished, cleared) if finished or cleared else None


def finish(folder: Path) -> tuple[str, ...]:
    """Move the files of a complete set to their places; the caller holds the lock.

    Returns
    -------
    tuple of str
        Their names.
    """
    ready = folder / READY
    if not ready.is_dir():
        return ()
    names = sorted(os.listdir(ready))
    for name in names:
        os.replace(ready / name, folder / name)
    sync_folder(folder)
    shutil.rmtree(ready, ignore_errors=True)
    return tuple(names)


def clear(folder: Path) -> int:
    """Remove drafts whose writers are dead; the caller holds the lock.

    Returns
    -------
    int
        How many there were.
    """
    count = 0
    for path in sorted(folder.glob(f"{DRAFT}*")):
        if not path.is_dir():  # written under the folder's lock, which is ours now
            path.unlink(missing_ok=True)
        elif _dead(path):
            shutil.rmtree(path, ignore_errors=True)
        else:
            continue
        count += 1
    return count


def _dead(draft):
    if not (draft / WRITER).exists():
        return True  # died before it had its lock: both are made under the folder's lock
    lock = FileLock(draft / WRITER)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return False
    except OSError:
        return True
    lock.release()
    return True
