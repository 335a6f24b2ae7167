"""Flex readings of a job: the table flexes.csv."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

from platemodel.errors import GeometryError, Problem
from platemodel.instrument.flex_test import (
    KINDS,
    RIM_KIND,
    SUPPORTS,
    FlexReading,
    FlexTest,
    on_its_rim,
    reading_sd,
    usual_flex_test,
)
from platemodel.instrument.strings import KGF
from platemodel.instrument.top import Top
from platemodel.job.row_table import RowTable
from platemodel.job.states import WITH, TopState, check_state
from platemodel.job.tables import Column

FLEXES_FILE = "flexes.csv"
MAX_READINGS = 100
_FLAGS = {"true": True, "yes": True, "false": False, "no": False, "": False}
_X, _Y = (-20, 1200), (-400, 400)

#: Columns of flexes.csv with numbers, their ranges and what they are.
NUMBERS = (
    Column("weight_g", 5, 10_000, "weight set on, or what the kitchen scale shows"),
    Column("sag_mm", 0.005, 20, "gauge with the weight less gauge without"),
    Column("sd_mm", 0.001, 5, "its standard deviation; empty: 0.01 mm and 2 % together, by hand 20 %"),
    *(
        Column(f"{name}_{axis}_mm", *limits, doc)
        for name, doc in (
            ("load", "where the weight stands; empty: the usual place of the kind"),
            ("read", "where the gauge reads; empty: where the weight stands"),
            ("peg1", "first peg; empty: the usual pegs of the kind"),
            ("peg2", "second peg"),
            ("peg3", "third peg"),
        )
        for axis, limits in (("x", _X), ("y", _Y))
    ),
)
#: The other columns and what they are.
WORDS = {
    "kind": f"way of flexing: {', '.join(KINDS)}",
    "bar_on": "true when a bar was on the top, else false; may stay empty where state is given",
    "state": "name of a state of states.csv; empty: without bar, or with the bar of [bar]",
    "support": f"what the plate rests on: pegs, or with {RIM_KIND} the whole rim; empty: pegs",
    "held": "true when the pegs hold the plate down as well; empty: as usual for the kind",
    "by_hand": "true when it was flexed between the hands; empty: false",
    "note": "anything else",
}
NAMES = (*(c.name for c in NUMBERS), *WORDS)
REQUIRED = ("kind", "weight_g", "sag_mm", "bar_on")


def read_flexes(
    folder: Path, top: Top, problems: list[Problem], notes: list[str], states: Sequence[TopState] = ()
) -> tuple[FlexReading, ...]:
    """Read flexes.csv, if there is one.

    Parameters
    ----------
    top : Top
        Gives the usual places, and says which places are on the plate.
    states : sequence of TopState
        Of states.csv.
    """
    return tuple(_FlexRows(problems, top, states).read_file(folder, notes))


class _FlexRows(RowTable):
    file, names, required, filled = FLEXES_FILE, NAMES, REQUIRED, ("weight_g", "sag_mm")
    numbers, most = NUMBERS, MAX_READINGS

    def __init__(self, problems, top, states):
        super().__init__(problems)
        self.top = top
        self.states = {s.name: s for s in states}

    def check(self, line, got, numbers):
        if got.get("kind", "").casefold() not in KINDS:
            self.refuse("kind", got.get("kind", ""), f"allowed: {', '.join(KINDS)}", line)
        got["state"] = check_state(self, got, line, _FLAGS, self.states)
        support = got["support"] = got.get("support", "").casefold() or "pegs"
        if support not in SUPPORTS:
            self.refuse("support", support, f"allowed: {', '.join(SUPPORTS)}", line)
        if support == "rim" and got.get("kind", "").casefold() != RIM_KIND:
            self.refuse("support", support, f"the rim rests all round with kind {RIM_KIND} only", line)
        for name in ("held", "by_hand"):
            if got.get(name, "").casefold() not in _FLAGS:
                self.refuse(name, got.get(name, ""), "true or false", line)
        self.check_text(got, "note", line)
        given = [name for name in ("load", "read", "peg1", "peg2", "peg3") if self._half(name, numbers, line)]
        pegs = [name for name in given if name.startswith("peg")]
        if support == "rim" and (pegs or _FLAGS.get(got.get("held", "").casefold())):
            self.refuse("support", support, "without pegs and not held: leave those cells empty", line)
        elif 0 < len(pegs) < 3:
            self.refuse(
                "pegs", ", ".join(pegs), "all three pegs with x and y, or none for the usual ones", line
            )

    def _half(self, name, numbers, line):
        cells = [f"{name}_{axis}_mm" for axis in "xy"]
        there = [c for c in cells if numbers[c] is not None]
        if len(there) == 1:
            self.refuse(there[0], f"{numbers[there[0]]:g}", f"{' and '.join(cells)} go together", line)
        return bool(there)

    def make(self, line, got, numbers):
        test = self._test(got, numbers)
        try:
            self._on_plate(test)
            test.check_rests()
        except GeometryError as error:
            self.refuse("places", got["kind"], str(error), line)
            return None
        by_hand = _FLAGS[got.get("by_hand", "").casefold()]
        sag = 1e-3 * numbers["sag_mm"]
        sd = reading_sd(sag, by_hand) if numbers["sd_mm"] is None else 1e-3 * numbers["sd_mm"]
        force, state = 1e-3 * numbers["weight_g"] * KGF, got["state"]
        bar_on = self.states[state].bar_on if state in self.states else state == WITH
        return FlexReading(test, force, sag, sd, bar_on, got.get("note", ""), state)

    def _test(self, got, numbers):
        usual = usual_flex_test(self.top, got["kind"].casefold())

        def place(name):
            x, y = (numbers[f"{name}_{axis}_mm"] for axis in "xy")
            return None if x is None else 1e-3 * np.array([x, y])

        pegs = [place(name) for name in ("peg1", "peg2", "peg3")]
        load = usual.load if place("load") is None else place("load")
        if got["support"] == "rim":
            read = load if place("read") is None else place("read")
            return on_its_rim(replace(usual, load=load, read=read))
        return FlexTest(
            usual.kind,
            usual.pegs if pegs[0] is None else np.array(pegs),
            load,
            load if place("read") is None else place("read"),
            _FLAGS[got["held"].casefold()] if got.get("held") else usual.held,
        )

    def _on_plate(self, test):
        plan = self.top.plan
        for what, (x, y), size in (
            ("weight", test.load, test.weight),
            ("gauge", test.read, test.weight),
            *(("peg", peg, test.peg) for peg in test.pegs),
        ):
            if not plan.contains(shapely.Point(x, y).buffer(0.5 * size)):
                msg = (
                    f"the {what} at ({1e3 * x:.0f}, {1e3 * y:.0f}) mm is not wholly on the plate; keep it "
                    f"{0.5e3 * size:.0f} mm or more from every edge and sound hole"
                )
                raise GeometryError(msg)
