"""Writes a bar that was found into a job folder, as a table [bar] of its own file."""

import hashlib
import os
from pathlib import Path

import numpy as np

from platemodel.errors import PlatemodelError
from platemodel.files import written_together
from platemodel.instrument.bar import Bar
from platemodel.instrument.profile import PROFILES, height_profile
from platemodel.job.toml import shown

CHOSEN_FILE = "chosen_bar.toml"
SAME = 0.05e-3  # m: heights that agree with a named profile as closely are that profile
MM = 1e-3


def bar_table(bar: Bar, x_bridge: float, remark: str = "") -> str:
    """Write a bar as a table [bar] of job.toml.

    Parameters
    ----------
    x_bridge : float
        Bridge line, m.
    remark : str
        A line above it.
    """
    name = _profile(bar, x_bridge)
    ends = bar.heights[[0, -1]] / MM
    lines = [f"# {shown(remark, 200)}"] if remark else []
    lines += [
        "# To use it, put this table in the place of [bar] in job.toml.",
        "[bar]",
        'rule = "placed"',
        'edge = "middle"',
        f"lower_end_from_axis_mm = {-bar.y_start / MM:.2f}",
        f"upper_end_from_axis_mm = {-bar.y_end / MM:.2f}",
        f"lower_margin_mm = {bar.x_start / MM:.1f}",
        f"length_mm = {bar.length / MM:.1f}",
        f"width_mm = {bar.width / MM:.2f}",
    ]
    if name:
        lines += [
            f"height_mm = {bar.heights.max() / MM:.2f}",
            f"lower_end_height_mm = {ends[0]:.2f}",
            f"upper_end_height_mm = {ends[1]:.2f}",
            f'profile = "{name}"',
        ]
    else:
        lines.append(f'heights_file = "{_heights(bar)[0]}"')
    lines += [f"lean_deg = {np.degrees(bar.lean):.2f}", f"section_fill = {bar.section_fill:g}"]
    return "\n".join(lines) + "\n"


def _profile(bar, x_bridge):
    """Name of the profile that the heights follow, or nothing."""
    if not bar.x_start < x_bridge < bar.x_end:
        return ""
    sizes = x_bridge, bar.x_start, bar.x_end, float(bar.heights.max()), *bar.heights[[0, -1]]
    for name in PROFILES:
        if np.abs(height_profile(bar.stations, *sizes, name) - bar.heights).max() <= SAME:
            return name
    return ""


def _heights(bar):
    """Name and content of the table of heights.

    The name follows from the content, so that a table of an earlier bar, which job.toml may name,
    is never replaced.
    """
    rows = zip(bar.stations / MM, bar.heights / MM, strict=True)
    table = "x_mm,height_mm\n" + "".join(f"{x:.2f},{h:.2f}\n" for x, h in rows)
    return f"chosen_bar_heights_{hashlib.sha256(table.encode()).hexdigest()[:8]}.csv", table


def keep_bar(folder: str | os.PathLike, bar: Bar, x_bridge: float, remark: str = "") -> list[Path]:
    """Write a bar into ``chosen_bar.toml`` of a job folder; job.toml itself stays as it is.

    Parameters
    ----------
    folder : path
        Job folder.
    x_bridge : float
        Bridge line, m.

    Returns
    -------
    list of Path
        What was written: the table, and the heights beside it when they follow no named profile.

    Raises
    ------
    PlatemodelError
        No such folder, or it cannot be written to; nothing is written then.
    """
    folder = Path(folder)
    if not folder.is_dir():
        msg = f"{folder}: no such folder; give the job folder"
        raise PlatemodelError(msg)
    contents = {}
    if not _profile(bar, x_bridge):
        name, table = _heights(bar)
        contents[name] = table  # first, so that the table that names it never stands there without it
    contents[CHOSEN_FILE] = bar_table(bar, x_bridge, remark)
    targets = [folder / name for name in contents]
    try:
        with written_together(targets) as drafts:
            for draft, text in zip(drafts, contents.values(), strict=True):
                draft.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        msg = f"{folder}: cannot be written ({error.strerror or error}); the bar was not saved"
        raise PlatemodelError(msg) from error
    return targets[::-1]
