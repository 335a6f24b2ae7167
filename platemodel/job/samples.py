"""Reads a table of wood samples; sizes in mm, weights in g, times in microseconds become SI here."""

import os
from dataclasses import dataclass
from pathlib import Path

from platemodel.errors import JobError, Problem
from platemodel.job.row_table import RowTable
from platemodel.job.tables import Column
from platemodel.job.toml import read_text
from platemodel.wood import USUAL_SPECIES, species_table
from platemodel.wood.moisture import equilibrium_moisture
from platemodel.wood.sample import KINDS, Sample
from platemodel.wood.strip import LongitudinalTap, SoundSpeed, Strip, StripTap

MAX_SAMPLES = 300
USUAL_TEMPERATURE = 20.0  # degrees C, where only the humidity was written down
FLAGS = {"yes": True, "true": True, "no": False, "false": False}


@dataclass(frozen=True)
class SampleColumn:
    """A column: name with unit, allowed range (None: text), whether every row needs it, what it is."""

    name: str
    low: float | None
    high: float | None
    required: bool
    doc: str


COLUMNS = (
    SampleColumn("name", None, None, True, "Your name for the piece; no two alike."),
    SampleColumn("kind", None, None, True, "blank (for a bar), wedge (for a top), strip (quarter-sawn)."),
    SampleColumn("species", None, None, False, f"A row of the species table; else {USUAL_SPECIES}."),
    SampleColumn("length_mm", 40, 1500, True, "Along the grain."),
    SampleColumn("width_mm", 3, 400, True, "Greater side of the section."),
    SampleColumn("thickness_mm", 1, 120, True, "Smaller side of the section; of a wedge the mean."),
    SampleColumn("mass_g", 0.5, 9000, True, "Weight."),
    SampleColumn("tap_flat_hz", 20, 20000, False, "Lowest bending tone, smaller side bends. No wedge."),
    SampleColumn("tap_edge_hz", 20, 20000, False, "Lowest bending tone, greater side bends. No wedge."),
    SampleColumn("end_tap_hz", 500, 60000, False, "Lowest tone when tapped on its end grain."),
    SampleColumn("pulse_us", 5, 1000, False, "Time of a pulse from end to end, less the instrument's delay."),
    SampleColumn("across_length_mm", 20, 500, False, "A strip cut across, along the rays: its length."),
    SampleColumn("across_width_mm", 3, 200, False, "Its greater side."),
    SampleColumn("across_thickness_mm", 1, 60, False, "Its smaller side, along the rings."),
    SampleColumn("across_mass_g", 0.2, 2000, False, "Its weight."),
    SampleColumn("across_tap_hz", 20, 20000, False, "Its lowest bending tone, flat."),
    SampleColumn("across_pulse_us", 3, 1000, False, "Time of a pulse from end to end of it."),
    SampleColumn("moisture_percent", 2, 30, False, "Moisture content when tested, by meter or oven."),
    SampleColumn("relative_humidity_percent", 5, 95, False, "Of the air it lay in, if there is no meter."),
    SampleColumn("temperature_c", -10, 50, False, "Of that air; else 20."),
    SampleColumn("invented", None, None, False, "yes for made-up data; tables and pictures then say so."),
    SampleColumn("note", None, None, False, "Anything else."),
)  # fmt: skip
_ALONG = ("tap_flat_hz", "tap_edge_hz", "end_tap_hz", "pulse_us")
_ACROSS = tuple(f"across_{x}" for x in ("length_mm", "width_mm", "thickness_mm", "mass_g"))
_ACROSS_TESTS = ("across_tap_hz", "across_pulse_us")


def read_samples(path: str | os.PathLike) -> tuple[Sample, ...]:
    """Read a CSV table of samples, one a row.

    Parameters
    ----------
    path : path
        Columns as in ``COLUMNS``, in any order; cells of columns that are not required may be empty.

    Raises
    ------
    JobError
        Everything that is wrong with the table, at once.
    """
    path = Path(path)
    problems: list[Problem] = []
    if not path.exists():
        raise JobError([Problem(path.name, "", "no such file", "give the path of a CSV table of samples")])
    text = read_text(path.parent, path.name, problems, [])
    if text is None:
        raise JobError(problems)
    table = _SampleRows(path.name, problems)
    samples = tuple(table.read(text))
    if not problems and not samples:
        required = ", ".join(c.name for c in COLUMNS if c.required)
        table.refuse("", "no samples", f"first line: {required} and more; then one sample a line")
    if problems:
        raise JobError(problems)
    return samples


class _SampleRows(RowTable):
    names = tuple(c.name for c in COLUMNS)
    required = tuple(c.name for c in COLUMNS if c.required)
    filled = tuple(c.name for c in COLUMNS if c.required and c.low is not None)
    numbers = tuple(Column(c.name, c.low, c.high, c.doc) for c in COLUMNS if c.low is not None)
    most = MAX_SAMPLES

    def __init__(self, file, problems):
        super().__init__(problems)
        self.file = file
        self.seen: dict[str, int] = {}  # name of a sample to its line

    def check(self, line, got, numbers):
        before = len(self.problems)
        for name in ("name", "note"):
            self.check_text(got, name, line)
        for name in ("name", "kind"):
            if name not in got:
                self.refuse(name, "", "needed in every row", line)
        self._words(got, line)
        if len(self.problems) == before and all(numbers[name] is not None for name in self.filled):
            given = {name: value for name, value in numbers.items() if value is not None}
            self._belongs(got | given, line)

    def make(self, line, got, numbers):
        got = got | {name: value for name, value in numbers.items() if value is not None}
        try:
            tests = _tests(got)
        except ValueError as error:
            self.refuse("", got["name"], str(error), line)
            return None
        if got["name"] in self.seen:
            self.refuse("name", got["name"], f"used on line {self.seen[got['name']]} already", line)
            return None
        self.seen[got["name"]] = line
        return Sample(
            got["name"],
            got["kind"],
            tests,
            got.get("species", USUAL_SPECIES),
            _moisture(got),
            FLAGS[got.get("invented", "no")],
            got.get("note", ""),
        )

    def _words(self, got, line):
        known = {"kind": KINDS, "species": tuple(species_table().index), "invented": tuple(FLAGS)}
        for name, allowed in known.items():
            if name in got:
                found = {a.casefold(): a for a in allowed}.get(got[name].casefold())
                if found is None:
                    self.refuse(name, got[name], f"allowed are {', '.join(allowed)}", line)
                else:
                    got[name] = found

    def _belongs(self, got, line):
        """Refuse cells that are right one by one but contradict each other."""
        if got["width_mm"] < got["thickness_mm"]:
            self.refuse(
                "width_mm", f"{got['width_mm']:g}", "the greater side; swap it with thickness_mm", line
            )
        if got["kind"] == "wedge":
            for name in ("tap_flat_hz", "tap_edge_hz"):
                if name in got:
                    allowed = (
                        "a wedge has no even section; use end_tap_hz or pulse_us, or a strip cut from it"
                    )
                    self.refuse(name, f"{got[name]:g}", allowed, line)
        if not any(name in got for name in _ALONG):
            self.refuse("", "no test along the grain", f"one of {', '.join(_ALONG)} is needed", line)
        across = [n for n in (*_ACROSS, *_ACROSS_TESTS) if n in got]
        missing = [n for n in _ACROSS if n not in got]
        if across and (missing or not any(n in got for n in _ACROSS_TESTS)):
            needed = ", ".join(missing) or " or ".join(_ACROSS_TESTS)
            self.refuse(across[0], f"{got[across[0]]:g}", f"{needed} must be given with it", line)
        if "moisture_percent" in got and "relative_humidity_percent" in got:
            self.refuse("moisture_percent", "given twice", "give this or relative_humidity_percent", line)
        if "temperature_c" in got and "relative_humidity_percent" not in got:
            self.refuse("temperature_c", f"{got['temperature_c']:g}", "needs relative_humidity_percent", line)
        density = 1e6 * got["mass_g"] / (got["length_mm"] * got["width_mm"] * got["thickness_mm"])
        if not 200 <= round(density) <= 1000:
            allowed = (
                f"with the sizes it makes {density:.0f} kg/m3; 200 to 1000 is wood: check sizes and weight"
            )
            self.refuse("mass_g", f"{got['mass_g']:g}", allowed, line)


def _tests(got):
    # A bar blank lies on its side: its rings stand along the greater side, the later height.
    sizes = (1e-3 * got[f"{x}_mm"] for x in ("length", "width", "thickness"))
    strip = Strip(*sizes, 1e-3 * got["mass_g"], "L", "R" if got["kind"] == "blank" else "T")
    out = [strip]
    for way in ("flat", "edge"):
        if f"tap_{way}_hz" in got:
            out.append(StripTap(strip, got[f"tap_{way}_hz"], way))
    if "end_tap_hz" in got:
        out.append(LongitudinalTap(strip, got["end_tap_hz"]))
    if "pulse_us" in got:
        out.append(SoundSpeed(strip, 1e-6 * got["pulse_us"]))
    if _ACROSS[0] in got:
        cut = Strip(*(1e-3 * got[name] for name in _ACROSS), "R", "T")
        out.append(cut)
        if "across_tap_hz" in got:
            out.append(StripTap(cut, got["across_tap_hz"]))
        if "across_pulse_us" in got:
            out.append(SoundSpeed(cut, 1e-6 * got["across_pulse_us"]))
    return tuple(out)


def _moisture(got):
    if "moisture_percent" in got:
        return 0.01 * got["moisture_percent"]
    if "relative_humidity_percent" in got:
        temperature = got.get("temperature_c", USUAL_TEMPERATURE)
        return equilibrium_moisture(0.01 * got["relative_humidity_percent"], temperature)
    return None
