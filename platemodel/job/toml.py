"""Reads the files of a job folder as text and TOML, with line numbers for the messages."""

import datetime
import difflib
import os
import re
import stat
import tomllib
from pathlib import Path

from platemodel.errors import Problem

#: Larger files are not measurements of one top; reading them would only stall.
MAX_BYTES = {".toml": 200_000, ".csv": 2_000_000}
_MAX_BAD_LINES = 20
_KEY_LINE = re.compile(r"""^\s*((?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')(?:\s*\.\s*[A-Za-z0-9_-]+)*)\s*=""")
_TABLE_LINE = re.compile(r"^\s*\[\s*([A-Za-z0-9_. \t-]+?)\s*\]")
_DECIMAL_COMMA = re.compile(r"=\s*[+-]?\d+,\d+\s*(#.*)?$")
_WITH_UNIT = re.compile(
    r"=\s*([+-]?\d+(?:[.,]\d+)?)\s*(mm|cm|m|g|kg|hz|gpa|mpa|deg|°|%)\s*(#.*)?$", re.IGNORECASE
)
_OPENS = re.compile(r"=\s*(\"\"\"|'''|\[)")
_EUROPEAN = re.compile(r"(\d{1,2})\s*[./]\s*(\d{1,2})\s*[./]\s*(\d{4})")
#: What people write for a reading that they did not take.
NOT_MEASURED = ("", "-", "\u2013", "\u2014", "?", "n/a", "na", "none")
_AT_LINE = re.compile(r" \(at line (\d+), column \d+\)| \(at end of document\)")


def shown(value, limit=60) -> str:
    """Return a value as a message shows it: one line, no control characters, not too long."""
    if isinstance(value, dict | list):  # repr of a deeply nested one would not return
        return "a table" if isinstance(value, dict) else "a list"
    text = value if isinstance(value, str) else repr(value)
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= limit else text[: limit - 3] + "..."


def european_date(text: str) -> str:
    """Return a date written day, month, year as year-month-day; empty if it is none."""
    hit = _EUROPEAN.fullmatch(text.strip().strip("\"'"))
    if not hit:
        return ""
    day, month, year = map(int, hit.groups())
    try:
        return datetime.date(year, month, day).isoformat()
    except ValueError:
        return ""


def nearest(word: str, valid) -> str:
    """Return ' Did you mean X?' for the nearest valid name, or an empty string."""
    lower = {v.casefold(): v for v in valid}
    hit = difflib.get_close_matches(word.casefold(), list(lower), n=1, cutoff=0.6)
    return f" Did you mean {lower[hit[0]]}?" if hit else ""


def read_text(
    folder: Path, name: str, problems: list[Problem], notes: list[str], field: str = ""
) -> str | None:
    """Read one text file of the job folder.

    Parameters
    ----------
    name : str
        Plain file name inside the folder.
    problems, notes : list
        What went wrong, and what had to be assumed about the encoding, are appended here.
    field : str
        Field that named the file, for the message.

    Returns
    -------
    str or None
        Text with plain line feeds and without a byte order mark, or None when a problem was appended.
    """
    raw = _read_bytes(folder, name, problems, field)
    return None if raw is None else _decode(raw, name, problems, notes)


def _read_bytes(folder, name, problems, field):
    def refuse(found, allowed):
        problems.append(Problem(name, field, found, allowed))

    path = folder / name
    try:
        info = os.stat(path)
        inside = path.resolve().is_relative_to(folder.resolve())
    except FileNotFoundError:
        refuse("no such file", "put the file in the job folder." + _other_name(folder, name))
        return None
    except (OSError, ValueError, RuntimeError) as error:
        refuse(
            f"a file that cannot be opened ({_reason(error)})", "a readable file in the job folder is needed"
        )
        return None
    if stat.S_ISDIR(info.st_mode):
        refuse("a folder", "a file is needed under this name")
    elif not stat.S_ISREG(info.st_mode):
        refuse("a device or pipe", "a plain file is needed under this name")
    elif not inside:
        refuse("a link that leads out of the job folder", "copy the file itself into the job folder")
    elif info.st_size > (most := MAX_BYTES.get(path.suffix.lower(), MAX_BYTES[".csv"])):
        refuse(f"{info.st_size} bytes", f"at most {most} bytes; is this the right file?")
    else:
        try:
            return path.read_bytes()
        except OSError as error:
            refuse(f"a file that cannot be read ({_reason(error)})", "check the file's permissions")
    return None


def _reason(error):
    return getattr(error, "strerror", None) or str(error)


def _other_name(folder, name):
    try:
        present = sorted(p.name for p in folder.iterdir())
    except OSError:
        return ""
    return nearest(name, present)


def _decode(raw, name, problems, notes):
    if raw[:4] == b"PK\x03\x04" or raw[:4] == b"\xd0\xcf\x11\xe0":
        problems.append(Problem(name, "", "a spreadsheet file", "save the table as CSV (text) and try again"))
        return None
    try:
        marked = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
        text = raw.decode("utf-16" if marked else "utf-8-sig")
    except UnicodeDecodeError as error:
        try:
            text = raw.decode("cp1252")
        except UnicodeDecodeError as older:
            line = raw.count(b"\n", 0, older.start) + 1
            problems.append(
                Problem(
                    name,
                    "",
                    f"byte 0x{raw[older.start]:02x}, which is not text",
                    "save the file as text in UTF-8",
                    line,
                )
            )
            return None
        line = raw.count(b"\n", 0, error.start) + 1
        notes.append(f"{name} is not in UTF-8 (line {line}); it was read as Windows-1252 text.")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        problems.append(
            Problem(name, "", "a zero byte, which is not text", "save the file as text in UTF-8", line)
        )
        return None
    return text


def parse_toml(text: str, name: str, problems: list[Problem]) -> tuple[dict, set[str]] | None:
    """Parse TOML text; every line that breaks the syntax by itself becomes a problem of its own.

    Returns
    -------
    (dict, set of str) or None
        The tables, and the dotted names of fields on lines that were left out because they could not be
        read; None when the text cannot be read at all.
    """
    lines = text.split("\n")
    broken = set()
    for _ in range(_MAX_BAD_LINES):
        try:
            return tomllib.loads("\n".join(lines)), broken
        except RecursionError:
            problems.append(
                Problem(name, "", "brackets nested too deeply", "no field takes a list; a stray bracket?")
            )
            return None
        except ValueError as error:
            number = _report_syntax(error, lines, name, problems)
        if number is None:
            return None
        broken.add(key_at(lines, number))
        lines[number - 1] = ""
    return None


def _report_syntax(error, lines, name, problems):
    """Append the problem; return its line number if the rest can be read without that line, else None."""
    text = str(error)
    hit = _AT_LINE.search(text)
    number = int(hit.group(1)) if hit and hit.group(1) else None
    reason = _AT_LINE.sub("", text)
    repeated = "overwrite" in reason or "twice" in reason
    if number is None:
        # Only a line that fails by itself, or the last that opens something, can be blamed.
        keys = [i for i, line in enumerate(lines, 1) if _KEY_LINE.match(line)]
        number = next((i for i in keys if not _alone(lines[i - 1])), None)
        number = number or max((i for i in keys if _OPENS.search(lines[i - 1])), default=None)
    line = lines[number - 1] if number and number <= len(lines) else ""
    own_fault = _KEY_LINE.match(line) and (repeated or not _alone(line))
    unit = _WITH_UNIT.search(line)
    value = _without_remark(line).partition("=")[2].strip()
    if own_fault and value.strip("\"'").casefold() in NOT_MEASURED:
        allowed = "what was not measured: leave the line out, or put # in front of it"
    elif own_fault and (date := european_date(value)):
        allowed = f"a date is written year-month-day: {date}"
    elif own_fault and _DECIMAL_COMMA.search(line):
        allowed = "write the decimal with a point, as in 3.5"
    elif own_fault and unit:
        allowed = "write the number only; the unit is in the field's name"
    elif repeated:
        allowed = "this field or table stands in the file twice; keep one"
    elif "4300" in reason:
        allowed = "a number has too many digits"
    elif own_fault and _bare_word(line):
        allowed = 'text needs quotes, as in name = "spruce"; yes and no are written true and false'
    else:
        allowed = f"the line cannot be read: {reason}"
    problems.append(
        Problem(
            name,
            key_at(lines, number) if own_fault else "",
            shown(_without_remark(line)) or "end of file",
            allowed,
            number,
        )
    )
    return number if own_fault else None


def _without_remark(line):
    """Cut the remark off a line that holds no text in quotes."""
    plain = line if set(line) & set("\"'") else line.partition("#")[0]
    return plain.strip() or line.strip()


def _alone(line):
    """Whether a line can be parsed alone: not if it opens a string or list that goes on below."""
    if _OPENS.search(line):
        return True
    try:
        tomllib.loads(line)
    except (ValueError, RecursionError):
        return False
    return True


def _bare_word(line):
    return re.search(r"=\s*[^\s\"'\[{0-9+.#-]", line) is not None


def key_at(lines, number) -> str:
    """Return the dotted field name on a line (counted from 1), with its table."""
    table = ""
    for line in lines[: number or 0]:
        hit = _TABLE_LINE.match(line)
        if hit:
            table = _dotted(hit.group(1))
    hit = _KEY_LINE.match(lines[number - 1]) if number else None
    return ".".join(part for part in (table, _dotted(hit.group(1)) if hit else "") if part)


def field_lines(text: str) -> dict[str, int]:
    """Map each table and each dotted field name to the line where it stands, counted from 1."""
    found: dict[str, int] = {}
    table, fence = "", ""
    for number, line in enumerate(text.split("\n"), 1):
        if fence:
            fence = "" if fence in line else fence
            continue
        if hit := _TABLE_LINE.match(line):
            table = _dotted(hit.group(1))
            found.setdefault(table, number)
        elif hit := _KEY_LINE.match(line):
            key = _dotted(hit.group(1))
            found.setdefault(f"{table}.{key}" if table else key, number)
            rest = line[hit.end() :].strip()
            if rest[:3] in ('"""', "'''") and rest[:3] not in rest[3:]:
                fence = rest[:3]
    return found


def _dotted(key):
    return ".".join(part.strip().strip("\"'") for part in key.split("."))
