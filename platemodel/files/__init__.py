"""Writing to the disk: a file or a set of files appears complete or not at all, whenever the program dies."""

from platemodel.files.disk import sync_folder
from platemodel.files.lock import BusyError, locked
from platemodel.files.names import free_targets, writable
from platemodel.files.recovery import LeftOver, recover
from platemodel.files.sets import write_file, write_folder, write_numbered_folder, written_together

__all__ = [
    "BusyError",
    "LeftOver",
    "free_targets",
    "locked",
    "recover",
    "sync_folder",
    "write_file",
    "write_folder",
    "write_numbered_folder",
    "writable",
    "written_together",
]
