"""Predicted taps as text, data and sound files."""

from platemodel.bench.kit.report import Report
from platemodel.bench.sounds.result import STATES, JobSounds, as_data, as_text, sound_name, write_sound
from platemodel.study.top.recognise import KNOWN


def names(bar: bool) -> list[str]:
    """Files that may be made, with or without those of the top with its bar."""
    return [sound_name(state, n) for state in STATES if bar or state == STATES[0] for n in KNOWN]


def _writer(state, number):
    return lambda result, path: write_sound(result, state, number, path)


def _present(result: JobSounds):
    """Sounds of the modes that were recognised by their shape."""
    return [sound_name(row.plate, row.number) for row in result.table.itertuples()]


REPORT = Report(
    as_text, as_data, {sound_name(state, n): _writer(state, n) for state in STATES for n in KNOWN}, _present
)
