"""Files and sets of files that are written whole: all of them, or none and what was there stays.

A set is drafted in a hidden folder beside its places. When all of it is on the disk, one rename makes it
complete; then its files go to their places, and if the program dies on the way the next command finishes that
(`platemodel.files.recovery`).
"""

import os
import re
import secrets
import shutil
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from filelock import FileLock

from platemodel.files.disk import sync_file, sync_folder
from platemodel.files.lock import BusyError, locked
from platemodel.files.names import DRAFT, READY, WRITER
from platemodel.files.recovery import recover


@contextmanager
def written_together(targets: Sequence[Path]) -> Iterator[list[Path]]:
    """Give drafts to write; when all are written they take their places, else nothing changes.

    Parameters
    ----------
    targets : sequence of Path
        In one folder, which is made if missing.

    Yields
    ------
    list of Path
        A draft for each target, of the same name.

    Raises
    ------
    OSError
        The folder cannot be written to; what was there is put back.
    BusyError
        Another program writes there and does not come to an end.
    """
    folder = targets[0].parent
    made = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    try:
        with _draft_folder(folder) as draft:
            new = draft / "new"
            new.mkdir()
            yield [new / target.name for target in targets]
            names = [target.name for target in targets]
            for name in names:
                sync_file(new / name)
            sync_folder(new)
            with locked(folder):
                _tell_recovery(folder)
                if len(names) == 1:
                    os.replace(new / names[0], folder / names[0])
                    sync_folder(folder)
                else:
                    _place(draft, folder, names)
    except BaseException:
        if made:
            with suppress(OSError):
                folder.rmdir()
        raise


def write_file(path: str | os.PathLike, content: str | bytes) -> Path:
    """Write a file whole or not at all, and return its path; text as UTF-8 with line feeds.

    Raises
    ------
    OSError
        The folder cannot be written to.
    BusyError
        Another program writes there and does not come to an end.
    """
    path = Path(path)
    with locked(path.parent):
        _tell_recovery(path.parent)
        draft = _draft_name(path.parent)
        try:
            draft.write_bytes(content.encode() if isinstance(content, str) else content)
            sync_file(draft)
            os.replace(draft, path)
        except BaseException:
            draft.unlink(missing_ok=True)
            raise
        sync_folder(path.parent)
    return path


def write_folder(path: str | os.PathLike, write: Callable[[Path], None]) -> Path:
    """Make a new folder with all its files, or nothing.

    Parameters
    ----------
    path : path
        Must not exist, or be an empty folder; its parent must exist.
    write : callable
        Writes the files into the draft folder that it is given.

    Raises
    ------
    OSError
        The parent cannot be written to, or something of that name came up meanwhile.
    """
    path = Path(path)
    with _draft_folder(path.parent) as draft:
        new = _filled(draft, write)
        with locked(path.parent):
            _put_folder(new, path)
    return path


def write_numbered_folder(parent: str | os.PathLike, stem: str, write: Callable[[Path, int], None]) -> Path:
    """Make the next of the folders ``stem_001``, ``stem_002`` ... with all its files, or nothing.

    Parameters
    ----------
    parent : path
        Made if missing.
    write : callable
        Writes the files into the draft folder that it is given, and is given the folder's number; it is
        called again if another writer took that number meanwhile.

    Returns
    -------
    Path
        The new folder.

    Raises
    ------
    OSError
        The parent cannot be written to.
    """
    parent = Path(parent)
    parent.mkdir(parents=True, exist_ok=True)
    with _draft_folder(parent) as draft:
        number = _next_number(parent, stem)
        while True:
            new = _filled(draft, lambda folder, n=number: write(folder, n))
            with locked(parent):
                free = _next_number(parent, stem)
                if free == number:
                    path = parent / f"{stem}_{number:03d}"
                    _put_folder(new, path)
                    return path
            shutil.rmtree(new)
            number = free


def _next_number(parent, stem):
    taken = re.compile(rf"{re.escape(stem)}_(\d{{3,}})$")
    return 1 + max((int(m[1]) for name in os.listdir(parent) if (m := taken.match(name))), default=0)


@contextmanager
def _draft_folder(folder):
    """Make a hidden folder that lives as long as its writer."""
    with locked(folder):
        _tell_recovery(folder)
        draft = _draft_name(folder)
        draft.mkdir()
        alive = FileLock(draft / WRITER)
        alive.acquire(timeout=0)
    try:
        yield draft
    finally:
        # Under the folder's lock, or another writer could take it for a dead one's.
        with suppress(BusyError, OSError), locked(folder):
            alive.release()
            shutil.rmtree(draft, ignore_errors=True)
        alive.release()


def _filled(draft, write):
    """Let a folder be filled, and see all of it on the disk."""
    new = draft / "new"
    new.mkdir()
    write(new)
    for path in new.rglob("*"):
        if path.is_file():
            sync_file(path)
    sync_folder(new)
    return new


def _draft_name(folder):
    return folder / f"{DRAFT}{secrets.token_hex(4)}"


def _tell_recovery(folder):
    found = recover(folder)
    if found is not None:
        warnings.warn(str(found), stacklevel=4)


def _put_folder(inner, path):
    if path.is_dir() and os.name == "nt":
        path.rmdir()  # elsewhere a folder takes the place of an empty one by itself
    os.replace(inner, path)
    sync_folder(path.parent)


def _place(draft, folder, names):
    """Declare a drafted set complete by one rename, and move its files to their places."""
    earlier, ready, put = draft / "earlier", folder / READY, []
    earlier.mkdir()
    for name in names:
        if (folder / name).exists():
            shutil.copy2(folder / name, earlier / name)
    os.replace(draft / "new", ready)
    sync_folder(folder)
    try:
        for name in names:
            os.replace(ready / name, folder / name)
            put.append(name)
    except OSError:
        # Back the way we came. As long as the folder of the complete set is there it holds every file that is
        # not in its place, so that a death in here ends with the new set, and after it with the old one.
        for name in put:
            os.replace(folder / name, ready / name)
            if (earlier / name).exists():
                os.replace(earlier / name, folder / name)
        os.replace(ready, draft / "given up")
        raise
    sync_folder(folder)
    shutil.rmtree(ready, ignore_errors=True)
