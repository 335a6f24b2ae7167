"""Tap tones of a job: the table taps.csv, and the frequencies typed into job.toml, as one list."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from platemodel.errors import Problem
from platemodel.job.fields import Fields
from platemodel.job.row_table import MAX_TEXT, RowTable
from platemodel.job.states import WITH, TopState, check_state, state_name
from platemodel.job.tables import Column
from platemodel.job.toml import shown

TAPS_FILE = "taps.csv"
MODES = tuple(range(1, 7))
TYPED = "typed in"
TYPED_SD, TYPED_SD_HZ = (
    0.01,
    1.0,
)  # a typed frequency is good to 1 %, at best to 1 Hz; common practice, no source
LEAST_SD = 0.003  # of the pitch: a plate tapped again repeats no better; common practice, no source
MAX_READINGS = 100
_FLAGS = {"true": True, "yes": True, "false": False, "no": False}

#: Columns of taps.csv with numbers, their ranges and what they are.
NUMBERS = (
    Column("mode", MODES[0], MODES[-1], "number of the mode: 1 twist, 2 cross, 5 ring, the others by pitch"),
    Column("f_hz", 10, 900, "frequency of the peak"),
    Column("sd_hz", 1e-4, 100, "its standard deviation, 0.3 % or more; empty: 1 %, at least 1 Hz"),
    Column("loss", 1e-4, 0.5, "loss factor; empty where it is not known"),
)
#: The other columns and what they are.
WORDS = {
    "bar_on": "true when a bar was on the top, else false; may stay empty where state is given",
    "state": "name of a state of states.csv; empty: without bar, or with the bar of [bar]",
    "source": "recording it was found in",
    "note": "anything else",
}
NAMES = (*(c.name for c in NUMBERS), *WORDS)
REQUIRED, FILLED = ("mode", "f_hz", "bar_on"), ("mode", "f_hz")


@dataclass(frozen=True)
class TapReading:
    """Frequency of one mode, as chosen by the user.

    Attributes
    ----------
    frequency : float
        Hz.
    sd : float
        Standard deviation, Hz; less than `LEAST_SD` of the frequency is not believed and raised to it.
    bar_on : bool
        Whether a bar was on the top.
    loss : float or None
        Loss factor.
    source : str
        Recording, or ``"typed in"``.
    state : str
        Name of the state of the top; without one ``with bar`` or ``without bar``.

    Raises
    ------
    ValueError
        A value that `taps.csv` does not allow.
    """

    mode: int
    frequency: float
    sd: float
    bar_on: bool
    loss: float | None = None
    source: str = ""
    note: str = ""
    state: str = ""

    def __post_init__(self):
        object.__setattr__(self, "state", self.state or state_name(self.bar_on))
        values = (self.mode, self.frequency, self.sd, self.loss)
        for column, value in zip(NUMBERS, values, strict=True):
            if value is not None and not column.low <= value <= column.high:
                msg = f"{column.name} = {value}: allowed {column.low:g} to {column.high:g}"
                raise ValueError(msg)
        for name in ("source", "note", "state"):
            text = getattr(self, name)
            if len(text) > MAX_TEXT or not text.isprintable():
                msg = f"{name} = {shown(text)!r}: allowed is one line of at most {MAX_TEXT} letters"
                raise ValueError(msg)
        object.__setattr__(self, "sd", max(self.sd, LEAST_SD * self.frequency))

    def cells(self) -> dict[str, str]:
        """Return the row of `taps.csv`, by column."""
        return {
            "mode": str(self.mode),
            "f_hz": f"{self.frequency:.3f}",
            "sd_hz": f"{self.sd:.3f}",
            "loss": "" if self.loss is None else f"{self.loss:.4f}",
            "bar_on": "true" if self.bar_on else "false",
            "state": "" if self.state == state_name(self.bar_on) else self.state,
            "source": self.source,
            "note": self.note,
        }


def typed_sd(frequency: float) -> float:
    """Return the standard deviation taken for a frequency that was typed in, Hz."""
    return max(TYPED_SD * frequency, TYPED_SD_HZ)


def typed_taps(fields: Fields) -> tuple[TapReading, ...]:
    """Return the frequencies of [measured] in job.toml."""
    bar_on = fields.get("measured.bar_on_top", False)
    given = {n: fields.get(f"measured.mode_{n}") for n in MODES}
    return tuple(TapReading(n, f, typed_sd(f), bar_on, None, TYPED) for n, f in given.items() if f)


def read_taps(
    folder: Path, problems: list[Problem], notes: list[str], states: Sequence[TopState] = ()
) -> tuple[tuple[TapReading, ...], tuple[int, ...]]:
    """Read taps.csv, if there is one.

    Parameters
    ----------
    states : sequence of TopState
        Of states.csv.

    Returns
    -------
    readings : tuple of TapReading
    lines : tuple of int
        Where each stands in the file.
    """
    found = _TapRows(problems, states).read_file(folder, notes)
    return tuple(r for r, _ in found), tuple(n for _, n in found)


def check_clashes(
    kept: tuple[TapReading, ...],
    lines: tuple[int, ...],
    typed: tuple[TapReading, ...],
    problems: list[Problem],
) -> None:
    """Append a problem for each mode that has two readings in the same state of the bar."""
    first = {
        (r.mode, r.state): f"{TAPS_FILE}, line {n}" for r, n in zip(kept[::-1], lines[::-1], strict=True)
    }
    for reading, line in zip(kept, lines, strict=True):
        place = first[reading.mode, reading.state]
        if place != f"{TAPS_FILE}, line {line}":
            problems.append(_clash(reading, f"keep one; the first is on line {place.split()[-1]}", line))
    for reading in typed:
        place = first.get((reading.mode, reading.state))
        if place is not None:
            line = int(place.split()[-1])
            allowed = (
                f"measured.mode_{reading.mode}_hz in job.toml says {reading.frequency:g} Hz for the same "
                "mode and state; keep one of the two"
            )
            match = next(r for r, n in zip(kept, lines, strict=True) if n == line)
            problems.append(_clash(match, allowed, line))


def _clash(reading, allowed, line):
    found = f"mode {reading.mode} {reading.state} at {reading.frequency:g} Hz"
    return Problem(TAPS_FILE, "mode", found, allowed, line)


class _TapRows(RowTable):
    file, names, required, filled = TAPS_FILE, NAMES, REQUIRED, FILLED
    numbers, most = NUMBERS, MAX_READINGS

    def __init__(self, problems, states):
        super().__init__(problems)
        self.states = {s.name: s for s in states}

    def check(self, line, got, numbers):
        got["state"] = check_state(self, got, line, _FLAGS, self.states)
        for name in ("source", "note"):
            self.check_text(got, name, line)
        mode = numbers["mode"]
        if mode is not None and not mode.is_integer():
            self.refuse("mode", got["mode"], "a whole number", line)

    def make(self, line, got, numbers):
        f, sd, state = numbers["f_hz"], numbers["sd_hz"], got["state"]
        flag = self.states[state].bar_on if state in self.states else state == WITH
        sd = typed_sd(f) if sd is None else sd
        source, note = got.get("source", ""), got.get("note", "")
        return TapReading(int(numbers["mode"]), f, sd, flag, numbers["loss"], source, note, state), line
