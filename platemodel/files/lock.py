"""One writer at a time in a folder."""

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from filelock import FileLock, Timeout

from platemodel.errors import PlatemodelError
from platemodel.files.names import LOCK

PATIENCE = 10.0  # s to wait for another writer
_held = threading.local()


class BusyError(PlatemodelError):
    """Another program is writing to the folder."""


@contextmanager
def locked(folder: str | os.PathLike, patience: float | None = None) -> Iterator[None]:
    """Keep other programs and threads from writing to a folder; asked again by the same thread, it passes.

    The system lets go of the lock when the program dies.

    Parameters
    ----------
    patience : float, optional
        How long to wait, s; default `PATIENCE`.

    Raises
    ------
    BusyError
        Another program keeps the folder locked for longer than that.
    OSError
        The folder cannot be written to.
    """
    folder = Path(folder).resolve()
    held = _held.__dict__.setdefault("folders", set())
    if folder in held:
        yield
        return
    lock = FileLock(folder / LOCK)
    try:
        lock.acquire(timeout=PATIENCE if patience is None else patience)
    except Timeout as error:
        msg = f"{folder}: another program is writing there; wait until it is done, or close it"
        raise BusyError(msg) from error
    except OSError as error:
        raise type(error)(error.errno, error.strerror, str(folder)) from error
    held.add(folder)
    try:
        yield
    finally:
        held.discard(folder)
        # Removed while the lock is held: whoever waited for it sees that its file is gone and begins anew.
        with suppress(OSError):
            (folder / LOCK).unlink()
        lock.release()
