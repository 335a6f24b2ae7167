"""One line of the history: JSON, sealed with the line before it."""

import hashlib
import json
import re
from dataclasses import dataclass, field
from datetime import datetime

from platemodel.errors import RecordError

KINDS = ("measured", "decided", "cut", "fitted", "glued", "tapped", "weighed", "repaired", "strung", "note")
#: A number's name ends in one of these.
UNITS = (
    "mm", "g", "kg", "hz", "n", "n_mm", "n_m", "c", "percent", "deg", "s", "min", "h", "mpa", "gpa", "kg_m3",
    "m_s", "mm_n", "n_per_mm", "v", "lux", "count",
)  # fmt: skip
START = "0" * 64  # what the first line is sealed with
LARGEST = 1e15  # of a value, and of a line's number: every whole number below it is a number of its own
MOST_BYTES = 64_000  # of one line: a slip in a program, not a note, makes a longer one
FIELDS = ("n", "at", "kind", "values", "note", "pictures", "sha256")
_NAME = re.compile(r"[a-z][a-z0-9_]{0,63}")
_SEAL = ',"sha256":"'


@dataclass(frozen=True)
class Entry:
    """One thing that was done or found.

    Attributes
    ----------
    number : int
        Running number from 1.
    at : str
        ISO 8601 with zone.
    kind : str
        One of ``KINDS``.
    values : dict
        Numbers, words and yes/no by name; a number's name ends in its unit.
    pictures : tuple of (name, str)
        File names inside the job folder, each with the SHA-256 of the picture.
    seal : str
        SHA-256 over the seal of the line before and this line's own text.
    """

    number: int
    at: str
    kind: str
    values: dict = field(default_factory=dict)
    note: str = ""
    pictures: tuple[tuple[str, str], ...] = ()
    seal: str = ""

    @property
    def time(self) -> datetime:
        """Time with its zone."""
        return datetime.fromisoformat(self.at)


def check_values(values: dict) -> dict:
    """Return the values as they are written, or refuse them.

    Raises
    ------
    RecordError
        A name that is none, a number without unit, an infinite number, or something other than a number, a
        word or yes/no.
    """
    out = {}
    for name, value in values.items():
        if not (isinstance(name, str) and _NAME.fullmatch(name)):
            msg = f"value name {name!r}: small letters, digits and _ are allowed, as in height_mm"
            raise RecordError(msg)
        if isinstance(value, bool | str):
            out[name] = value
            continue
        try:
            number = value if isinstance(value, int) else float(value)
        except (TypeError, ValueError) as error:
            msg = f"{name} = {value!r}: a number, a word or yes/no is needed"
            raise RecordError(msg) from error
        if not -LARGEST <= number <= LARGEST:
            found = f"{value!r}" if isinstance(number, float) else f"a number of {len(str(value))} digits"
            msg = f"{name} = {found}: a finite number of at most {LARGEST:g} is needed"
            raise RecordError(msg)
        if not any(name.endswith("_" + unit) for unit in UNITS):
            msg = f"{name} = {value!r}: the name of a number ends in its unit: {', '.join(UNITS)}"
            raise RecordError(msg)
        out[name] = number
    return out


def as_line(entry: Entry, before: str) -> tuple[bytes, str]:
    """Text of an entry without its line feed, and its seal.

    Parameters
    ----------
    entry : Entry
        Its own seal is not looked at.
    before : str
        Seal of the line before; ``START`` for the first.

    Raises
    ------
    RecordError
        The line would be too long.
    """
    data = {"n": entry.number, "at": entry.at, "kind": entry.kind, "values": entry.values, "note": entry.note}
    data["pictures"] = [{"file": name, "sha256": digest} for name, digest in entry.pictures]
    body = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    body = body.encode("utf-8", errors="replace")[:-1]
    if len(body) > MOST_BYTES:
        msg = f"entry of {len(body)} bytes; at most {MOST_BYTES}: put long texts in a file and name it"
        raise RecordError(msg)
    seal = _seal(body, before)
    return body + _SEAL.encode() + seal.encode() + b'"}', seal


def _seal(body, before):
    return hashlib.sha256(before.encode() + b"\n" + body).hexdigest()


def parse_line(line: bytes) -> Entry | None:
    """Entry of a line, or None if it is none; the seal is read, not checked."""
    try:
        data = json.loads(line.decode("utf-8"))
        if not isinstance(data, dict) or set(data) != set(FIELDS):
            return None
        pictures = tuple((str(p["file"]), str(p["sha256"])) for p in data["pictures"])
        entry = Entry(
            int(data["n"]),
            str(data["at"]),
            str(data["kind"]),
            dict(data["values"]),
            str(data["note"]),
            pictures,
            str(data["sha256"]),
        )
        if entry.time.tzinfo is None or not 0 < entry.number < LARGEST:
            return None
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError, RecursionError):
        return None
    return entry


def sealed(line: bytes, before: str) -> bool:
    """Whether a line's seal fits its own text and the seal of the line before."""
    body, mark, rest = line.rpartition(_SEAL.encode())
    return bool(mark) and rest == _seal(body, before).encode() + b'"}'
