"""Checks the tables of job.toml against the schema and turns their numbers into SI."""

import datetime
import math
from dataclasses import dataclass, field

from platemodel.errors import Problem
from platemodel.instrument.strings import KGF
from platemodel.job.field import SI_PER_UNIT, Field
from platemodel.job.schema import SECTIONS
from platemodel.job.tables import allowed_range
from platemodel.job.toml import NOT_MEASURED, european_date, nearest, shown

_SECTION = {s.name: s for s in SECTIONS}
_PARENTS = {s.name.split(".")[0] for s in SECTIONS if "." in s.name}
_LARGEST = 1e15
_UNITS = sorted(SI_PER_UNIT, key=len, reverse=True)


def unit_of(key: str) -> str:
    """Return the unit suffix of a field's name, for example ``_mm``; empty for plain text."""
    return next((u for u in _UNITS if key.endswith(u)), "")


def plain_name(key: str) -> str:
    """Return a field's name without its unit."""
    return key.removesuffix(unit_of(key))


@dataclass
class Fields:
    """Fields of one job.toml that passed the check.

    Attributes
    ----------
    values : dict
        Section and field name without unit, joined by a dot, to the value in SI.
    lines : dict
        Dotted name as written to its line in the file.
    present : set
        Sections that stand in the file.
    failed : set
        Dotted names as written of fields whose value was refused.
    """

    file: str
    values: dict = field(default_factory=dict)
    lines: dict = field(default_factory=dict)
    present: set = field(default_factory=set)
    failed: set = field(default_factory=set)

    def get(self, name, default=None):
        """Value in SI of ``section.field`` (no unit), or the default."""
        return self.values.get(name, default)

    def line(self, name) -> int | None:
        """Line of a field (written with its unit) or, failing that, of its section."""
        return self.lines.get(name, self.lines.get(name.rpartition(".")[0]))


def check_fields(tables: dict, file: str, lines: dict, broken: set[str], problems: list[Problem]) -> Fields:
    """Check all tables of job.toml; append every problem, return what is usable."""
    out = Fields(file, lines=lines, failed=set(broken))
    for name, content in tables.items():
        _check_section(name, content, out, problems)
    for section in SECTIONS:
        for wanted in section.fields:
            dotted = f"{section.name}.{wanted.key}"
            if wanted.required and plain_name(dotted) not in out.values and dotted not in out.failed:
                problems.append(
                    Problem(
                        file,
                        dotted,
                        "nothing",
                        f"this field is needed: {_allowed(wanted)}",
                        lines.get(section.name),
                    )
                )
    return out


def _check_section(name, content, out, problems):
    def refuse(field_name, found, allowed):
        problems.append(Problem(out.file, field_name, shown(found), allowed, out.line(field_name)))

    if name not in _SECTION and name not in _PARENTS:
        home = next((s.name for s in SECTIONS for f in s.fields if f.key == name), None)
        if home and not isinstance(content, dict):
            refuse(name, f"{shown(content)} outside a table", f"put it below the line [{home}]")
        else:
            stray = content if isinstance(content, dict) else f"{shown(content)} outside a table"
            refuse(
                name,
                stray,
                f"the tables are {', '.join(f'[{s}]' for s in _SECTION)}.{nearest(name, _SECTION)}",
            )
        return
    if not isinstance(content, dict):
        refuse(name, content, f"{name} is a table: write [{name}] on a line of its own, its fields below")
        return
    section = _SECTION.get(name)
    if section:
        out.present.add(name)
    known = {f.key: f for f in section.fields} if section else {}
    inner = [s.removeprefix(f"{name}.") for s in _SECTION if s.startswith(f"{name}.")]
    for key, value in content.items():
        dotted = f"{name}.{key}"
        if key in inner:
            _check_section(dotted, value, out, problems)
        elif key not in known:
            hint = nearest(key, list(known) + inner) or f" The fields here are {', '.join([*known, *inner])}."
            refuse(shown(dotted), "an unknown name", f"no such field in [{name}].{hint}")
        else:
            clean, trouble = _check_value(known[key], value)
            if trouble:
                refuse(dotted, value, trouble)
                out.failed.add(dotted)
            else:
                out.values[f"{name}.{plain_name(key)}"] = clean


def _allowed(wanted):
    if wanted.kind == "number":
        return f"allowed {wanted.low:g} to {wanted.high:g}"
    if wanted.kind == "choice":
        return "one of " + ", ".join(f'"{c}"' for c in wanted.choices)
    return {
        "text": "text in quotes",
        "flag": "true or false",
        "file": 'the name of a file in this folder, in quotes, as in "outline.csv"',
        "date": "a date written year-month-day, as in 2024-05-31",
    }[wanted.kind]


def _check_value(wanted: Field, value):
    """Return (value in SI, None) or (None, what is allowed)."""
    check = {"number": _number, "text": _text, "choice": _choice, "flag": _flag, "file": _file, "date": _date}
    return check[wanted.kind](wanted, value)


def _number(wanted, value):
    if isinstance(value, str) and value.strip().casefold() in NOT_MEASURED:
        return None, "what was not measured: leave the line out, or put # in front of it"
    if isinstance(value, str) and _looks_numeric(value):
        return None, f"a number without quotes and with a point, {_allowed(wanted)}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None, f"a number, {_allowed(wanted)}"
    if isinstance(value, float) and not math.isfinite(value):
        return None, f"a finite number, {_allowed(wanted)}"
    if abs(value) > _LARGEST:  # a whole number of any length is a number in TOML
        return None, _allowed(wanted)
    if not wanted.low <= value <= wanted.high:
        unit = unit_of(wanted.key)
        return None, _range_hint(unit, value, wanted)
    return float(value) * SI_PER_UNIT.get(unit_of(wanted.key), 1.0), None


def _range_hint(unit, value, wanted):
    if unit == "_mm":
        return allowed_range(float(value), wanted.low, wanted.high)
    others = {
        "_gpa": ((1e-3, "MPa"), (1e-9, "Pa")),
        "_g": ((1e3, "kg"),),
        "_kg_m3": ((1e3, "g/cm3"),),
        "_deg": ((180 / math.pi, "radians"),),
        "_percent": ((100.0, "a fraction"),),
        "_n": ((KGF, "kgf, of which each is 9.81 N"),),
    }
    for factor, name in others.get(unit, ()):
        if value != 0 and wanted.low <= value * factor <= wanted.high:
            return (
                f"{_allowed(wanted)}; is this in {name}?"
                if name != "a fraction"
                else (f"{_allowed(wanted)}; is this a fraction of one?")
            )
    return _allowed(wanted)


def _looks_numeric(text):
    try:
        float(text.replace(",", "."))
    except ValueError:
        return False
    return True


def _text(wanted, value):
    if not isinstance(value, str):
        return None, _allowed(wanted)
    value = value.replace("\u00a0", " ").strip()
    if len(value) > 2000 or not all(c.isprintable() or c in "\n\t" for c in value):
        return None, "plain text of at most 2000 characters"
    return value, None


def _choice(wanted, value):
    if isinstance(value, str) and value.strip().casefold() in wanted.choices:
        return value.strip().casefold(), None
    hint = nearest(value, wanted.choices) if isinstance(value, str) else ""
    return None, _allowed(wanted) + "." * bool(hint) + hint


def _flag(wanted, value):
    return (value, None) if isinstance(value, bool) else (None, _allowed(wanted))


def _file(wanted, value):
    if not isinstance(value, str) or not value.strip():
        return None, _allowed(wanted)
    plain = (
        not set(value) & set('/\\:*?"<>|') and value.isprintable() and value.strip(". ") and len(value) <= 120
    )
    if not plain:
        return None, "a plain file name without folders; the file lies beside job.toml"
    return value, None


def _date(wanted, value):
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value.isoformat(), None
    if isinstance(value, str):
        try:
            return datetime.date.fromisoformat(value.strip()).isoformat(), None
        except ValueError:
            pass
        if date := european_date(value):
            return None, f"a date is written year-month-day: {date}"
    return None, _allowed(wanted)
