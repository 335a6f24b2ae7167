"""The states of a job put together: those of states.csv, and those that readings imply."""

from collections.abc import Sequence
from dataclasses import replace

from platemodel.errors import Problem
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_cuts import with_bridge_height
from platemodel.instrument.flex_test import FlexReading
from platemodel.job.states import STATES_FILE, TopState, state_name
from platemodel.job.taps import TapReading


def all_states(
    listed: Sequence[TopState], taps: Sequence[TapReading], flexes: Sequence[FlexReading], measured
) -> tuple[TopState, ...]:
    """List the states of a job: those that readings imply, then those of states.csv.

    Parameters
    ----------
    listed : sequence of TopState
        Of states.csv.
    taps, flexes : sequence
        Those that name no state belong to ``without bar`` or ``with bar``.
    measured : Measured
        Weight and air of job.toml belong to one of these two as well.
    """
    named = {state.name: state for state in listed}
    used = [(r.state or state_name(r.bar_on), r.bar_on) for r in (*taps, *flexes)]
    mine = (state_name(measured.bar_on_top), measured.bar_on_top)
    if measured.mass is not None:
        used.append(mine)
    implied = {n: TopState(n, "new" if on else "none") for n, on in sorted(used, key=lambda u: u[1])}
    states = [s for n, s in implied.items() if n not in named] + list(listed)
    return tuple(_filled(s, measured) if s.name == mine[0] else s for s in states)


def _filled(state, measured):
    """State with what job.toml says of it, where states.csv does not."""
    out = state
    if out.mass is None and measured.mass is not None:
        out = replace(out, mass=measured.mass)
    if out.relative_humidity is None and measured.relative_humidity is not None:
        out = replace(out, relative_humidity=measured.relative_humidity)
        if measured.temperature is not None:
            out = replace(out, temperature=measured.temperature)
    return out if out.date or not measured.date else replace(out, date=measured.date)


def check_bars_of_states(
    states: Sequence[TopState],
    bar: Bar | None,
    old_bar: Bar | None,
    x_bridge: float | None,
    problems: list[Problem],
) -> None:
    """Append a problem for each state of states.csv whose bar is not described, or cannot be so high."""

    def refuse(field, found, allowed):
        problems.append(Problem(STATES_FILE, field, found, allowed))

    for state in states:
        if state.bar == "old" and old_bar is None:
            refuse("bar", f"old, of {state.name}", "describe the old bar in [old_bar] of job.toml")
        elif state.height is not None and bar is None:
            refuse("height_mm", f"{1e3 * state.height:g}", "describe the new bar in [bar] of job.toml")
        elif state.height is not None and x_bridge is not None:
            try:
                with_bridge_height(bar, state.height, x_bridge)
            except ValueError as error:
                refuse("height_mm", f"{1e3 * state.height:g}", str(error))
