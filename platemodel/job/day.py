"""The decisive day of a practice top: its readings at each height of the bar, in the table day.csv."""

from dataclasses import dataclass, field
from pathlib import Path

from platemodel.errors import JobError, Problem
from platemodel.job.row_table import RowTable
from platemodel.job.tables import Column

DAY_FILE = "day.csv"
MODES = (1, 2, 5)
FLEXED = ("along", "across", "twist")
MOST_ROWS, LEAST_ROWS = 60, 4
#: Columns of day.csv with numbers, their ranges and what they are.
NUMBERS = (
    Column("height_mm", 0, 60, "height of the bar under the bridge, from the plate; 0 before it is glued"),
    Column("mass_g", 15, 900, "weight of the top with what is on it"),
    *(Column(f"f{n}_hz", 10, 900, f"mode {n} as heard, plate free") for n in MODES),
    *(
        column
        for kind in FLEXED
        for column in (
            Column(f"{kind}_g", 5, 10_000, f"weight set on for the flex {kind}"),
            Column(f"{kind}_mm", 0.005, 20, f"gauge with it less gauge without, {kind}"),
        )
    ),
    Column("relative_humidity_percent", 5, 95, "relative humidity of the room"),
    Column("temperature_c", -10, 50, "temperature of the room; empty: 20"),
)
NAMES = (*(c.name for c in NUMBERS), "note")


@dataclass(frozen=True)
class DayRow:
    """Readings at one height.

    Attributes
    ----------
    height : float
        Under the bridge, m; 0 without bar.
    mass : float or None
        kg.
    taps : dict of int to float
        Hz by mode.
    sags : dict of str to (float, float)
        Weight in g and sag in mm by kind of flex.
    relative_humidity : float or None
        Fraction.
    temperature : float
        Degrees C.
    """

    height: float
    mass: float | None = None
    taps: dict[int, float] = field(default_factory=dict)
    sags: dict[str, tuple[float, float]] = field(default_factory=dict)
    relative_humidity: float | None = None
    temperature: float = 20.0
    note: str = ""
    line: int = field(default=0, compare=False)


def read_day(folder: Path) -> tuple[DayRow, ...]:
    """Read day.csv of a job folder; empty when there is no such file, or it has no row with readings.

    Raises
    ------
    JobError
        Everything that is wrong with the table, at once.
    """
    folder, problems = Path(folder), []
    rows = [r for r in _DayRows(problems).read_file(folder, []) if r.taps or r.sags]
    barred = [r for r in rows if r.height > 0]
    if rows and len({r.height for r in barred}) < LEAST_ROWS:
        allowed = f"readings at {LEAST_ROWS} heights or more, 1 mm apart"
        problems.append(Problem(DAY_FILE, "height_mm", f"{len(barred)} rows with a bar", allowed))
    if problems:
        raise JobError(problems)
    return tuple(rows)


def blank_day(heights_mm) -> str:
    """Write a day.csv to be filled in, a row a height (mm)."""
    head = "# The decisive day: one row a height of the bar; what was not read stays empty.\n"
    rows = [f"{h:g}" + "," * (len(NAMES) - 1) for h in heights_mm]
    return head + ",".join(NAMES) + "\n" + "\n".join(rows) + "\n"


class _DayRows(RowTable):
    file, names, required, filled = DAY_FILE, NAMES, ("height_mm",), ("height_mm",)
    numbers, most = NUMBERS, MOST_ROWS

    def check(self, line, got, numbers):
        self.check_text(got, "note", line)
        for kind in FLEXED:
            given = [numbers[f"{kind}_{unit}"] is not None for unit in ("g", "mm")]
            if any(given) and not all(given):
                self.refuse(f"{kind}_g, {kind}_mm", "only one of them", "the two go together", line)

    def make(self, line, got, numbers):
        sags = {k: (numbers[f"{k}_g"], numbers[f"{k}_mm"]) for k in FLEXED if numbers[f"{k}_mm"] is not None}
        humidity, warm = numbers["relative_humidity_percent"], numbers["temperature_c"]
        return DayRow(
            1e-3 * numbers["height_mm"],
            None if numbers["mass_g"] is None else 1e-3 * numbers["mass_g"],
            {n: numbers[f"f{n}_hz"] for n in MODES if numbers[f"f{n}_hz"] is not None},
            sags,
            None if humidity is None else 1e-2 * humidity,
            20.0 if warm is None else warm,
            got.get("note", ""),
            line,
        )
