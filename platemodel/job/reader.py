"""Reads and checks a job folder: job.toml with CSV tables beside it, millimetres and grams."""

import os
import re
from pathlib import Path

from platemodel.errors import JobError, Problem
from platemodel.instrument.top import Top
from platemodel.job.bar import OLD, build_bar, build_old_bar, check_over_holes
from platemodel.job.body import build_body
from platemodel.job.build import build_arching, build_bridge, build_holes, build_thickness, build_wood
from platemodel.job.build_context import Work
from platemodel.job.day import DAY_FILE
from platemodel.job.fields import Fields, check_fields
from platemodel.job.findings import find_odd
from platemodel.job.flexes import FLEXES_FILE, read_flexes
from platemodel.job.gaps import GAPS_FILE
from platemodel.job.job import JOB_FILE, Job, Measured
from platemodel.job.marks import MARKS_FILE, read_marks, with_scar
from platemodel.job.offcut import build_offcut
from platemodel.job.outline import build_outline
from platemodel.job.schema import COLUMNS, DISTINCT, MIN_ROWS, WITH_FEWER
from platemodel.job.shape_errors import shape_errors
from platemodel.job.stages import STAGES_FILE
from platemodel.job.states import STATES_FILE, read_states
from platemodel.job.states_of import all_states, check_bars_of_states
from platemodel.job.strings import build_set_up
from platemodel.job.tables import read_table
from platemodel.job.taps import TAPS_FILE, check_clashes, read_taps, typed_taps
from platemodel.job.toml import field_lines, parse_toml, read_text
from platemodel.job.wood_found import WOOD_FILE, read_wood_found


def read_job(folder: str | os.PathLike) -> Job:
    """Read a job folder.

    Parameters
    ----------
    folder : path
        Folder that holds ``job.toml``.

    Raises
    ------
    JobError
        If anything is wrong; it carries every problem that could be found, with file, field and line.
    """
    folder = Path(folder)
    problems: list[Problem] = []
    notes: list[str] = []
    fields = read_fields(folder, problems, notes)
    if fields is None:
        raise JobError(sorted(problems, key=_place))
    listed = read_states(folder, problems, notes)
    taps = _taps(folder, fields, problems, notes, listed)
    tables = {
        name: read_table(
            folder,
            fields.values[name],
            columns,
            problems,
            notes,
            f"{name} in {JOB_FILE}",
            MIN_ROWS.get(name, 3),
            DISTINCT.get(name, 0),
            WITH_FEWER.get(name, ""),
        )
        for name, columns in COLUMNS.items()
        if name in fields.values
    }
    work = Work(fields, tables, problems, notes)
    top, bar, old_bar, set_up = (None,) * 4 if "job.instrument" not in fields.values else _build(work, folder)
    body = {} if top is None else build_body(work)
    flexes = () if top is None else read_flexes(folder, top, problems, notes, listed)
    marks = () if top is None else read_marks(folder, top.outline, work.dims, problems, notes)
    marks = with_scar(marks, old_bar, problems)
    found = None if top is None else read_wood_found(folder, top.wood, problems, notes)
    offcut = None if top is None else build_offcut(work, top.wood)
    measured = _measured(fields)
    states = all_states(listed, taps, flexes, measured)
    check_bars_of_states(states, bar, old_bar, None if top is None else top.bridge.x, problems)
    if problems or top is None:
        raise JobError(sorted(problems, key=_place))
    files = (JOB_FILE, *(fields.values[n] for n in tables))
    by_name = (WOOD_FILE, STATES_FILE, TAPS_FILE, FLEXES_FILE, MARKS_FILE)
    files += tuple(name for name in by_name if (folder / name).exists())
    stray = _stray_tables(folder, files)
    findings = find_odd(work, top, bar, old_bar, measured, stray, set_up, taps, marks, offcut, states)
    return Job(
        name=top.name,
        top=top,
        bar=bar,
        measured=measured,
        invented=fields.get("job.invented", False),
        notes=fields.get("job.notes", ""),
        assumptions=tuple(work.assumed + work.unused),
        findings=findings,
        files=files,
        set_up=set_up,
        taps=taps,
        flexes=flexes,
        marks=marks,
        body=body,
        targets=_targets(fields),
        shape_errors=shape_errors(work, top),
        found_wood=found,
        old_bar=old_bar,
        states=states,
        wood_from=fields.get("wood.top.found_from", ""),
        offcut=offcut,
    )


def _targets(fields):
    head = "targets."
    return {k.removeprefix(head): v for k, v in fields.values.items() if k.startswith(head)}


def _place(problem):
    return problem.file != JOB_FILE, problem.file, problem.line or 0


def read_fields(folder: Path, problems: list[Problem], notes: list[str]) -> Fields | None:
    """Read the fields of job.toml; None when the file or the folder cannot be used."""
    try:
        is_folder, is_there = folder.is_dir(), folder.exists()
    except (OSError, ValueError):
        is_folder = is_there = False
    if not is_folder:
        found = "a file" if is_there else "no such folder"
        where = f"; try the folder {folder.parent}" if is_there and folder.name == JOB_FILE else ""
        problems.append(Problem(str(folder), "", found, f"give the folder that holds {JOB_FILE}{where}"))
        return None
    text = read_text(folder, JOB_FILE, problems, notes)
    if text is None:
        return None
    parsed = parse_toml(text, JOB_FILE, problems)
    if parsed is None:
        return None
    tables, broken = parsed
    return check_fields(tables, JOB_FILE, field_lines(text), broken, problems)


def _build(work, folder):
    """Build as many parts as can be built, so that one run names every problem.

    Returns (top, bar, old bar, set_up).
    """
    f = work.fields
    outline = build_outline(work)
    z = h = bridge = bar = old = None
    holes = [None, None]
    if outline is not None and not work.failed("thickness"):
        edge = work.usual("thickness.edge", "edge", "thickness at the edge")
        z = build_arching(work, outline, edge)
        h = build_thickness(work, outline, edge)
    if work.dims is not None:
        bridge = build_bridge(work)
    if bridge is not None:
        holes = build_holes(work, bridge)
    wood = build_wood(work, "top")
    if wood is not None and "bar" in f.present:
        bar_wood = build_wood(work, "bar", wood)
        if bar_wood is not None and bridge is not None and outline is not None:
            bar = build_bar(work, outline, bridge, bar_wood)
    if wood is not None and bridge is not None and outline is not None:
        old = build_old_bar(work, outline, bridge, wood, build_wood)
    set_up = build_set_up(work)
    if old is not None and None not in holes and not check_over_holes(work, old, holes, OLD):
        old = None
    if bar is not None and None not in holes and not check_over_holes(work, bar, holes):
        bar = None
    if wood is None or bridge is None or z is None or h is None or None in holes:
        return None, None, None, None
    top = work.attempt(
        "sound_holes",
        Top,
        name=f.get("job.name") or folder.resolve().name,
        kind=f.get("job.instrument"),
        outline=outline,
        arching=z,
        thickness=h,
        sound_holes=tuple(holes),
        wood=wood,
        bridge=bridge,
        **{n: f.get(f"wood.top.{n}", 0.0) for n in ("grain_angle", "ring_angle", "run_out")},
    )
    return top, bar, old, set_up


def _taps(folder, fields, problems, notes, states):
    typed = typed_taps(fields)
    kept, lines = read_taps(folder, problems, notes, states)
    check_clashes(kept, lines, typed, problems)
    return tuple(sorted((*kept, *typed), key=lambda r: (r.bar_on, r.state, r.mode)))


def _measured(fields):
    return Measured(
        fields.get("measured.mass"),
        fields.get("measured.bar_on_top", False),
        fields.get("job.relative_humidity"),
        fields.get("job.temperature"),
        fields.get("job.date"),
        *(fields.get(f"measured.{name}") for name in ("air", "arch_strung", "arch_off", "sunk")),
        tuple(t for t in (fields.get(f"measured.body_tone_{k}") for k in (1, 2)) if t is not None),
    )


def _stray_tables(folder, files):
    """CSV files that hold numbers but that no field names; blank starter tables do not count."""
    found = []
    try:
        paths = sorted(folder.iterdir())
    except OSError:
        return found
    for path in paths:
        if path.suffix.lower() == ".csv" and path.name not in (
            *files,
            GAPS_FILE,
            STAGES_FILE,
            STATES_FILE,
            DAY_FILE,
        ):
            text = read_text(folder, path.name, [], [])
            rows = [line for line in (text or "").split("\n") if line.strip() and not line.startswith("#")]
            if rows and {"kind", "mass_g"} <= set(re.split(r"[;,\t]", rows[0].strip().casefold())):
                continue  # a table of samples, which the verbs samples and choose are given by name
            if any(line.strip(";, \t").count(mark) for line in rows[1:] for mark in ";,\t"):
                found.append(path.name)
    return found
