"""Reads a history; never writes."""

import json
import os
from dataclasses import dataclass
from pathlib import Path

from platemodel.errors import RecordError
from platemodel.record.entry import LARGEST, MOST_BYTES, START, Entry, parse_line, sealed

HISTORY_FILE = "history.jsonl"
HEAD_FILE = "history.head"
TORN_NAME = "history.torn-{}"


@dataclass(frozen=True)
class Damage:
    """Something in a history that is not as it was written.

    Attributes
    ----------
    line : int
        Line of the file, from 1; 0 for the file as a whole.
    """

    line: int
    what: str

    def __str__(self) -> str:
        return self.what if self.line == 0 else f"line {self.line}: {self.what}"


@dataclass(frozen=True)
class History:
    """What a history holds.

    Attributes
    ----------
    entries : tuple of Entry
        Every line that can be read, in order.
    damage : tuple of Damage
        Lines changed, taken out or cut off after they were written; empty for a sound history.
    torn : bytes
        Rest of a line that a crash cut short; it is no entry.
    whole_bytes : int
        Length of the file up to the torn rest.
    ends_open : bool
        The last line is whole but its line feed is missing.
    set_aside : tuple of str
        Files that hold torn rests of earlier crashes.
    head : (int, str) or None
        Number and seal of the last entry as noted in a file apart; None when it is missing.
    """

    folder: Path
    entries: tuple[Entry, ...]
    damage: tuple[Damage, ...] = ()
    torn: bytes = b""
    whole_bytes: int = 0
    ends_open: bool = False
    set_aside: tuple[str, ...] = ()
    head: tuple[int, str] | None = None

    @property
    def sound(self) -> bool:
        """No line was changed or lost."""
        return not self.damage

    @property
    def last_number(self) -> int:
        """Number of the last entry that is known to have been written; 0 for none."""
        return max((self.head[0] if self.head else 0, *(e.number for e in self.entries)))

    @property
    def last_seal(self) -> str:
        """Seal that the next line goes on from.

        Where the head knows of an entry that is gone or changed, the head's: so the break stays visible.
        """
        last = self.entries[-1] if self.entries else None
        if self.head and (last is None or self.head[0] >= last.number):
            return self.head[1]
        return last.seal if last else START


def read_history(folder: str | os.PathLike) -> History:
    """Read the history of a job folder; nothing is written or mended.

    Returns
    -------
    History
        Empty when there is none yet.

    Raises
    ------
    RecordError
        No such folder, or the file cannot be opened.
    """
    folder = Path(folder)
    if not folder.is_dir():
        msg = f"{folder}: no such folder; give the job's folder"
        raise RecordError(msg)
    # The head is written after its line. Read first, it can only be behind a writer at work, never ahead.
    head = _head(folder)
    try:
        raw = (folder / HISTORY_FILE).read_bytes()
    except FileNotFoundError:
        raw = b""
    except OSError as error:
        msg = f"{HISTORY_FILE} cannot be read: {error.strerror}"
        raise RecordError(msg) from error
    whole, _, rest = raw.rpartition(b"\n")
    lines = whole.split(b"\n") if whole or raw.startswith(b"\n") else []
    damage, entries, before = [], [], START
    for number, line in enumerate(lines, 1):
        entry = parse_line(line)
        if entry is None:
            damage.append(Damage(number, "not a line of the record"))
            continue
        _check(number, line, entry, before, entries, damage)
        entries.append(entry)
        before = entry.seal
    open_end = False
    if rest and sealed(rest, before) and (entry := parse_line(rest)) is not None:
        entries.append(entry)
        rest, open_end = b"", True
    _check_head(head, entries, damage)
    return History(
        folder,
        tuple(entries),
        tuple(damage),
        rest,
        len(raw) - len(rest),
        open_end,
        tuple(sorted(p.name for p in folder.glob(TORN_NAME.format("*")))),
        head,
    )


def _check(number, line, entry, before, entries, damage):
    if not sealed(line, before):
        what = "changed after it was written, or a line before it was changed or taken out"
        damage.append(Damage(number, what))
    expected = entries[-1].number + 1 if entries else 1
    if entry.number != expected:
        damage.append(Damage(number, f"number {entry.number} where {expected} was due"))


def _head(folder):
    try:
        with open(folder / HEAD_FILE, "rb") as file:
            data = json.loads(file.read(MOST_BYTES))
        number, seal = int(data["n"]), str(data["sha256"])
    except (OSError, ValueError, TypeError, KeyError, OverflowError, RecursionError):
        return None
    return (number, seal) if 0 < number < LARGEST else None


def _check_head(head, entries, damage):
    """Lines cut off at the end leave the seals whole; the head, written apart, tells."""
    if head is None:
        if len(entries) > 1:  # a crash right after the first line leaves no head yet
            what = f"{HEAD_FILE} is missing or damaged: lines cut off at the end would not show"
            damage.append(Damage(0, what))
        return
    number, seal = head
    last = entries[-1].number if entries else 0
    if number > last:
        damage.append(Damage(0, f"ends with entry {last}, but entry {number} had been written"))
    elif not any(e.number == number and e.seal == seal for e in entries):
        damage.append(Damage(0, f"entry {number} is not the one that had been written"))
