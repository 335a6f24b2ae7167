"""Writes the wood found for a top into job.toml; the lines that it replaces stay as comments.

Its doubt goes into wood_found.csv beside it.
"""

import os
from pathlib import Path

from platemodel.errors import JobError, Problem
from platemodel.files import locked, write_file, written_together
from platemodel.job.fields import check_fields
from platemodel.job.job import JOB_FILE
from platemodel.job.reader import read_job
from platemodel.job.toml import field_lines, parse_toml, read_text
from platemodel.job.wood_found import WOOD_FILE, wood_table
from platemodel.wood import CONSTANTS, WoodEstimate
from platemodel.wood.orthotropic import Orthotropic

TABLE = "wood.top"


def wood_lines(wood: Orthotropic) -> list[str]:
    """Return the fields of [wood.top] that state a wood."""
    moduli = [c for c in CONSTANTS if c[0] in "EG"]
    lines = [f'species = "{wood.name}"', f"density_kg_m3 = {wood.density:.0f}"]
    return lines + [f"{c}_gpa = {1e-9 * getattr(wood, c):.4g}" for c in moduli]


def keep_wood(folder: str | os.PathLike, found: Orthotropic | WoodEstimate, found_from: str) -> Path:
    """Put a wood into the table [wood.top] of job.toml, and its doubt into wood_found.csv, both or neither.

    Parameters
    ----------
    folder : path
        Job folder.
    found : Orthotropic or WoodEstimate
        Without its doubt, there is no wood_found.csv.
    found_from : str
        What it was found from, as ``"weight and taps of modes 1, 2, 5"``.

    Returns
    -------
    Path
        job.toml.

    Raises
    ------
    JobError
        The job cannot be read, or its wood stands where it cannot be replaced; nothing is written then.
    OSError
        The folder cannot be written to.
    """
    folder = Path(folder)
    wood = found if isinstance(found, Orthotropic) else found.wood
    read_job(folder)  # what is wrong with it is told first
    with locked(folder):
        text = read_text(folder, JOB_FILE, [], []) or ""
        new = _replaced(text, [*wood_lines(wood), f'found_from = "{found_from}"'])
        problems: list[Problem] = []
        parsed = parse_toml(new, JOB_FILE, problems)
        fields = None if parsed is None else check_fields(parsed[0], JOB_FILE, {}, set(), problems)
        if problems or fields is None or fields.get(f"{TABLE}.found_from") != found_from:
            words = "write it as a table [wood.top] of its own, or copy the lines by hand"
            raise JobError(
                [Problem(JOB_FILE, TABLE, "a wood that cannot be replaced where it stands", words)]
            )
        if isinstance(found, Orthotropic):
            return write_file(folder / JOB_FILE, new)
        with written_together([folder / JOB_FILE, folder / WOOD_FILE]) as (job_draft, doubt_draft):
            job_draft.write_text(new, encoding="utf-8", newline="\n")
            doubt_draft.write_text(wood_table(found), encoding="utf-8", newline="\n")
        return folder / JOB_FILE


def _replaced(text, fields):
    """Text of job.toml with the fields in [wood.top], and what they replace as comments below them."""
    lines, found = text.split("\n"), field_lines(text)
    keys = {field.partition(" =")[0] for field in fields}
    old = sorted(n for name, n in found.items() if name.partition(f"{TABLE}.")[2] in keys)
    was = [f"# before: {lines[n - 1].strip()}" for n in old]
    kept = [line for n, line in enumerate(lines, 1) if n not in old]
    head = found.get(TABLE)
    if head is None:
        while kept and not kept[-1].strip():
            kept.pop()
        return "\n".join([*kept, "", f"[{TABLE}]", *fields, *was, ""])
    at = head - sum(n < head for n in old)
    return "\n".join([*kept[:at], *fields, *was, *kept[at:]])
