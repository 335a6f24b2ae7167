"""Writes the user's choice of tap tones into taps.csv of a job folder."""

import os
from collections.abc import Sequence
from contextlib import nullcontext
from pathlib import Path

from platemodel.errors import JobError, Problem
from platemodel.files import locked, write_file
from platemodel.job.reader import read_fields
from platemodel.job.row_table import format_row, header_names
from platemodel.job.states import read_states
from platemodel.job.tables import split_rows
from platemodel.job.taps import NAMES, TAPS_FILE, TapReading, check_clashes, read_taps, typed_taps
from platemodel.job.toml import read_text

_HEAD = "# Tap tones chosen from recordings; one row a mode and state of the bar."


def keep_taps(folder: str | os.PathLike, readings: Sequence[TapReading]) -> Path:
    """Put readings into taps.csv; readings of the same mode and state are replaced, all else stays as it is.

    Parameters
    ----------
    folder : path
        Job folder.

    Returns
    -------
    Path
        The table.

    Raises
    ------
    JobError
        The folder's job.toml or taps.csv cannot be read, job.toml holds a frequency of the same mode and
        state, or two readings are of one mode and state; nothing is written then.
    OSError
        The folder cannot be written to.
    """
    folder = Path(folder)
    with locked(folder) if folder.is_dir() else nullcontext():
        return _keep(folder, readings)


def _keep(folder, readings):
    problems: list[Problem] = []
    fields = read_fields(folder, problems, [])
    old, lines = read_taps(folder, problems, [], read_states(folder, problems, []))
    new = {(r.mode, r.state): r for r in readings}
    if len(new) < len(readings):
        problems.append(Problem(TAPS_FILE, "mode", "two readings of one mode and state", "keep one of them"))
    if fields is not None and not problems:
        check_clashes(tuple(new.values()), tuple(range(1, len(new) + 1)), typed_taps(fields), problems)
        problems = [Problem(p.file, p.field, p.value, p.allowed) for p in problems]  # no lines yet
    if problems or fields is None:
        raise JobError(problems)
    replaced = {n for r, n in zip(old, lines, strict=True) if (r.mode, r.state) in new}
    text = (read_text(folder, TAPS_FILE, [], []) or "") if (folder / TAPS_FILE).exists() else ""
    rows, separator = split_rows(text)
    names = header_names(rows[0][1]) if rows else list(NAMES)
    kept = [line for n, line in enumerate(text.split("\n"), 1) if n not in replaced]
    while kept and not kept[-1].strip():
        kept.pop()
    if not rows:
        kept += [*([] if kept else [_HEAD]), ",".join(NAMES)]
        separator = ","
    for reading in sorted(new.values(), key=lambda r: (r.bar_on, r.state, r.mode)):
        cells = reading.cells()
        kept.append(format_row([cells.get(n, "") for n in names], separator))
    return write_file(folder / TAPS_FILE, "\n".join(kept) + "\n")
