"""The states a top went through on the bench, in order: the table states.csv."""

import datetime
from dataclasses import dataclass
from pathlib import Path

from platemodel.errors import Problem
from platemodel.job.row_table import RowTable
from platemodel.job.tables import Column
from platemodel.job.toml import nearest

STATES_FILE = "states.csv"
MOST_STATES = 30
#: What may be on the top.
BARS = {"none": "no bar", "old": "the old bar, as in [old_bar]", "new": "the new bar, as in [bar]"}
WITHOUT, WITH = "without bar", "with bar"
#: Columns of states.csv with numbers, their ranges and what they are.
NUMBERS = (
    Column("mass_g", 15, 900, "weight of the top in this state, with what was on it"),
    Column("added_g", 0, 50, "of that: patches, cleats and glue that came on since the plate was measured"),
    Column("height_mm", 2, 60, "height of the new bar under the bridge; empty: as in [bar]"),
    Column("relative_humidity_percent", 5, 95, "relative humidity where the top lay"),
    Column("temperature_c", -10, 50, "temperature there; empty: 20"),
)
#: The other columns and what they are.
WORDS = {
    "state": "your name for the state, which taps.csv and flexes.csv give as well",
    "bar": f"what is on the top: {', '.join(BARS)}",
    "date": "day of the readings, year-month-day",
    "note": "anything else",
}
NAMES = ("state", "bar", *(c.name for c in NUMBERS), "date", "note")
REQUIRED = ("state", "bar")
TEMPERATURE = 20.0  # degrees C, where it was not read


@dataclass(frozen=True)
class TopState:
    """One state of a top.

    Attributes
    ----------
    bar : {"none", "old", "new"}
    mass : float or None
        Weighed, kg.
    added : float
        Of that: patches and the like that the model does not have, kg.
    height : float or None
        Of the new bar under the bridge, m; None is as planned.
    relative_humidity : float or None
        Fraction.
    temperature : float
        Degrees C.
    date : str
        Year-month-day; empty where it was not written down.
    """

    name: str
    bar: str = "none"
    mass: float | None = None
    added: float = 0.0
    height: float | None = None
    relative_humidity: float | None = None
    temperature: float = TEMPERATURE
    date: str = ""
    note: str = ""

    @property
    def bar_on(self) -> bool:
        """Whether a bar is on the top."""
        return self.bar != "none"

    @property
    def words(self) -> str:
        """The name, and what is on the top where the name does not say it."""
        if self.name in (WITHOUT, WITH):
            return self.name
        height = "" if self.height is None else f" of {1e3 * self.height:g} mm"
        return f"{self.name} ({'no bar' if self.bar == 'none' else f'{self.bar} bar'}{height})"


def state_name(bar_on: bool) -> str:
    """Return the state of a reading that names none."""
    return WITH if bar_on else WITHOUT


def read_states(folder: Path, problems: list[Problem], notes: list[str]) -> tuple[TopState, ...]:
    """Read states.csv, if there is one."""
    return tuple(_StateRows(problems).read_file(folder, notes))


def check_state(
    table: RowTable, got: dict[str, str], line: int, flags: dict[str, bool], known: dict[str, TopState]
) -> str:
    """Return the state that a row of taps or flexes belongs to; refuse a row that contradicts itself.

    Parameters
    ----------
    table : RowTable
        The row's.
    got : dict of str to str
        Cells.
    flags : dict of str to bool
        Words for true and false, in small letters.
    known : dict of str to TopState
        States of states.csv by name.
    """
    name, on = got.get("state", ""), got.get("bar_on", "").casefold()
    if name and name not in known and name not in (WITHOUT, WITH):
        allowed = f"a state of {STATES_FILE}: {', '.join(known) or 'it has none yet'}.{nearest(name, known)}"
        table.refuse("state", name, allowed, line)
        return name
    bar_on = known[name].bar_on if name in known else name == WITH
    if not name:
        if on not in flags or not on:
            table.refuse("bar_on", got.get("bar_on", ""), "true (a bar was on the top) or false", line)
            return ""
        return state_name(flags[on])
    if on and flags.get(on) != bar_on:
        allowed = f"{str(bar_on).lower()}, as the state says, or leave it empty: {name}"
        table.refuse("bar_on", got["bar_on"], allowed, line)
    return name


class _StateRows(RowTable):
    file, names, required = STATES_FILE, NAMES, REQUIRED
    numbers, most = NUMBERS, MOST_STATES

    def __init__(self, problems):
        super().__init__(problems)
        self.seen = {}

    def check(self, line, got, numbers):
        name, bar = got.get("state", ""), got.get("bar", "").casefold()
        for column in ("state", "note"):
            self.check_text(got, column, line)
        if not name:
            self.refuse("state", name, "a name of your own, such as old bar on", line)
        elif name in self.seen:
            self.refuse("state", name, f"each name once; the first is on line {self.seen[name]}", line)
        self.seen.setdefault(name, line)
        if bar not in BARS:
            self.refuse("bar", got.get("bar", ""), f"allowed: {', '.join(BARS)}", line)
        elif name in (WITHOUT, WITH) and (bar == "none") != (name == WITHOUT):
            self.refuse("bar", bar, f"{name} says otherwise", line)
        if numbers["height_mm"] is not None and bar in ("none", "old"):
            allowed = "only the new bar changes its height; that of the old one stands in [old_bar]"
            self.refuse("height_mm", got["height_mm"], allowed, line)
        added, mass = numbers["added_g"], numbers["mass_g"]
        if added and (mass is None or added > 0.2 * mass):
            self.refuse(
                "added_g", got["added_g"], "less than a fifth of mass_g, which must be there too", line
            )
        try:
            datetime.date.fromisoformat(got.get("date", "2024-05-31"))
        except ValueError:
            self.refuse("date", got["date"], "year-month-day, as in 2024-05-31", line)

    def make(self, line, got, numbers):
        def scaled(name, factor):
            return None if numbers[name] is None else factor * numbers[name]

        return TopState(
            got["state"],
            got["bar"].casefold(),
            scaled("mass_g", 1e-3),
            scaled("added_g", 1e-3) or 0.0,
            scaled("height_mm", 1e-3),
            scaled("relative_humidity_percent", 1e-2),
            TEMPERATURE if numbers["temperature_c"] is None else numbers["temperature_c"],
            got.get("date", ""),
            got.get("note", ""),
        )
