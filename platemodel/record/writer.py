"""Appends to a history: one writer at a time, every line on the disk before the call returns."""

import hashlib
import json
import os
import stat
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from platemodel.errors import RecordError
from platemodel.files import locked, sync_folder, write_file
from platemodel.record.entry import KINDS, Entry, as_line, check_values
from platemodel.record.history import HEAD_FILE, HISTORY_FILE, TORN_NAME, History, read_history

PICTURES = (".png", ".jpg", ".jpeg")


class Record:
    """Writer of a job's history.

    Parameters
    ----------
    folder : path
        The job folder.

    Raises
    ------
    RecordError
        No such folder.
    """

    def __init__(self, folder: str | os.PathLike):
        self.folder = Path(folder)
        if not self.folder.is_dir():
            msg = f"{self.folder}: no such folder; give the job's folder"
            raise RecordError(msg)

    def append(
        self,
        kind: str,
        data: dict | None = None,
        note: str = "",
        pictures: Sequence[str | os.PathLike] = (),
        at: datetime | None = None,
    ) -> Entry:
        """Add one entry; it is on the disk when the call returns.

        Parameters
        ----------
        kind : str
            One of ``KINDS``.
        data : dict, optional
            Values by name; the name of a number ends in its unit.
        pictures : sequence of path
            PNG or JPEG files inside the job folder.
        at : datetime, optional
            With zone; default now.

        Raises
        ------
        RecordError
            Unknown kind, a value that cannot be written, nothing to write, a picture that is none, a history
            that another program keeps locked.
        OSError
            The disk is full or read-only. The line may then stand there in part; it does no harm.
        """
        if kind not in KINDS:
            msg = f"kind {kind!r}; allowed are {', '.join(KINDS)}"
            raise RecordError(msg)
        values, shown = check_values(data or {}), self._pictures(pictures)
        if not (values or note.strip() or shown):
            msg = "an entry without note, value and picture says nothing; give one of them"
            raise RecordError(msg)
        if at is not None and at.tzinfo is None:
            msg = f"time {at.isoformat()} has no zone; give one, or leave it out for now"
            raise RecordError(msg)
        with locked(self.folder):
            history = read_history(self.folder)
            self._catch_up(history)
            when = (at or datetime.now().astimezone()).isoformat(timespec="seconds")
            entry = Entry(history.last_number + 1, when, kind, values, note.strip(), shown)
            line, seal = as_line(entry, history.last_seal)
            _set_torn_aside(history)
            _write_line(self.folder / HISTORY_FILE, (b"\n" if history.ends_open else b"") + line + b"\n")
            _write_head(self.folder, entry.number, seal)
        return Entry(entry.number, entry.at, kind, values, entry.note, shown, seal)

    def _catch_up(self, history):
        """Write the head that a crash after the last line kept from being written.

        Else two crashes in a row, with two lines and no head, would look like damage.
        """
        if (self.folder / HEAD_FILE).is_dir():
            msg = f"{HEAD_FILE} in {self.folder} is a folder; move it away, it is none of the history's"
            raise RecordError(msg)
        if history.sound and history.entries and history.head != (history.last_number, history.last_seal):
            _write_head(self.folder, history.last_number, history.last_seal)

    def _pictures(self, pictures):
        out, root = [], self.folder.resolve()
        for picture in pictures:
            path = Path(picture)
            path = _found(path, root)
            if path.suffix.lower() not in PICTURES:
                msg = f"picture {picture}: {', '.join(PICTURES)} are allowed"
                raise RecordError(msg)
            if not path.is_relative_to(root):
                msg = f"picture {picture} lies outside the job folder; copy it there first"
                raise RecordError(msg)
            try:
                if not stat.S_ISREG(path.stat().st_mode):
                    msg = f"picture {picture} is a folder, a device or a pipe; a plain file is needed"
                    raise RecordError(msg)
                with open(path, "rb") as file:
                    digest = hashlib.file_digest(file, "sha256").hexdigest()
            except OSError as error:
                msg = f"picture {picture} cannot be read: {error.strerror}"
                raise RecordError(msg) from error
            out.append((path.relative_to(root).as_posix(), digest))
        return tuple(out)


def _found(path, root):
    """Place of a picture named from the job folder or, if there is none, from where one stands."""
    inside = (root / path).resolve()
    return inside if path.is_absolute() or inside.exists() or not path.exists() else path.resolve()


def _set_torn_aside(history: History) -> None:
    """Copy the rest of a line that a crash cut short into a file of its own, then take it off."""
    if not history.torn:
        return
    folder = history.folder
    target = folder / TORN_NAME.format(hashlib.sha256(history.torn).hexdigest()[:12])
    write_file(target, history.torn)
    handle = os.open(folder / HISTORY_FILE, os.O_RDWR)
    try:
        os.ftruncate(handle, history.whole_bytes)
        os.fsync(handle)
    finally:
        os.close(handle)


def _write_line(path, line):
    new = not path.exists()
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    try:
        while line:
            line = line[os.write(handle, line) :]
        os.fsync(handle)
    finally:
        os.close(handle)
    if new:
        sync_folder(path.parent)


def _write_head(folder, number, seal):
    write_file(folder / HEAD_FILE, json.dumps({"n": number, "sha256": seal}) + "\n")
