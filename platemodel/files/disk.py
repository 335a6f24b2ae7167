"""What makes a file last through a failure of power."""

import os
from pathlib import Path


def sync_file(path: Path) -> None:
    """See that a file's content is on the disk."""
    _sync(path, os.O_RDWR)


def sync_folder(path: Path) -> None:
    """See that the names in a folder are on the disk; Windows has no such call."""
    if os.name != "nt":
        _sync(path, os.O_RDONLY)


def _sync(path, flags):
    handle = os.open(path, flags)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
