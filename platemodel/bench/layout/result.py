"""A job's layout, seat and cut list: as text, data and sheets at true size."""

import os
import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from platemodel.files import free_targets, written_together
from platemodel.instrument.bar import Bar
from platemodel.instrument.cut_list import CutList, cut_list
from platemodel.instrument.layout_checks import Finding, check_layout
from platemodel.instrument.layout_distances import Distance, distance_table, edge_on_marks, layout_distances
from platemodel.instrument.side_view import SideView, side_view, usual_roughing
from platemodel.instrument.strings import Post
from platemodel.job import Job

FILES = (
    "layout.pdf",
    "template.pdf",
    "layout.svg",
    "template.svg",
    "seat.csv",
    "cut_list.csv",
    "layout.csv",
)


@dataclass(frozen=True, eq=False)
class JobLayout:
    """Layout of a job's bar.

    Attributes
    ----------
    job : Job
    bar : Bar
    distances : tuple of Distance
    conflicts : tuple of Finding
        What the bar's place misses.
    view : SideView
        With the seat in it.
    cuts : CutList
    pitch : float
        Of the stations, m.
    """

    job: Job
    bar: Bar
    distances: tuple[Distance, ...]
    conflicts: tuple[Finding, ...]
    view: SideView
    cuts: CutList
    pitch: float

    @property
    def post(self) -> Post | None:
        """Sound post of the set-up, if there is one."""
        return None if self.job.set_up is None else self.job.set_up.post

    @property
    def line(self) -> str:
        """Name of the job, and that it is invented if so, for each sheet."""
        return self.job.name + (" (INVENTED DATA)" if self.job.invented else "")

    @property
    def origin(self) -> tuple[str, ...]:
        """Lines on where the figures come from."""
        lines = ["Invented data, no real instrument."] if self.job.invented else []
        n = len(self.job.assumptions)
        if n:
            lines.append(
                f"{n} things were not measured and follow the usual instrument: see platemodel check."
            )
        return tuple(lines)

    @property
    def seventh_words(self) -> str:
        """How the bar stands to the one-seventh marks, and which edge they are meant for."""
        edge = edge_on_marks(self.job.top, self.bar)
        d = {e.key: e for e in self.distances}
        if edge:
            name = "middle line" if edge == "middle" else f"{edge} edge"
            here = f"The {name} of the bar lies on the marks."
        else:
            upper, lower = (
                1e3 * (d[f"inner_{k}"].value - d[f"seventh_{k}"].value) for k in ("upper", "lower")
            )
            here = (
                f"No edge of the bar lies on the marks: its inner edge is {upper:+.1f} mm (upper bout) and "
                f"{lower:+.1f} mm (lower bout) farther from the axis."
            )
        return (
            f"{here} The rule is taught for the inner edge by some and for the middle by others; where it "
            "conflicts with the bridge foot, the foot wins (common practice, no source)."
        )


def job_layout(
    job: Job, spring: float = 0.0, pitch: float = 20e-3, allowance: float | None = None
) -> JobLayout:
    """Layout of a job's bar.

    Parameters
    ----------
    job : Job
        With a bar.
    spring : float
        Gap at each end, m.
    pitch : float
        Of the stations, m.
    allowance : float, optional
        Height left over the final height after roughing, m; default 1 mm, 2 mm for a cello.

    Raises
    ------
    ValueError
        The job has no bar, or the spring, pitch or allowance is out of range.
    GeometryError
        The bar does not pass the bridge line.
    """
    if job.bar is None:
        msg = f"{job.name} has no bar to lay out; add [bar] to job.toml, an empty one means the usual bar"
        raise ValueError(msg)
    top, bar = job.top, job.bar
    allowance = usual_roughing(top) if allowance is None else allowance
    view = side_view(top, bar, pitch, spring, allowance)
    cuts = cut_list(top, bar, pitch, spring, allowance, view)
    post = None if job.set_up is None else job.set_up.post
    distances = layout_distances(top, bar, post)
    return JobLayout(job, bar, distances, tuple(check_layout(top, bar)), view, cuts, pitch)


def as_text(result: JobLayout) -> str:
    """Distances, conflicts, blank, seat and masses for the terminal."""
    job, seat, cuts = result.job, result.view.seat, result.cuts
    lines = [job.name + (". INVENTED DATA, no real instrument." if job.invented else ""), "", "Distances, mm"]
    lines += [f"  {1e3 * d.value:7.1f}  {d.label}" for d in result.distances]
    lines += ["", "One-seventh marks", *_wrapped(result.seventh_words, "  "), "", "Conflicts"]
    lines += [part for f in result.conflicts for part in _wrapped(f"{f.message} ({f.where})", "  - ")] or [
        "  none found"
    ]
    low, high = np.degrees(seat.bevel.min()), np.degrees(seat.bevel.max())
    b = cuts.blank
    lines += [
        "",
        "Seat",
        f"  bevel {low:.1f} to {high:.1f} degrees, + higher on the treble side",
        f"  crown over the chord {1e3 * seat.crown:.1f} mm",
        f"  spring {1e3 * seat.spring:.1f} mm at each end" if seat.spring else "  no spring",
        "",
        "Bar",
        f"  blank at least {1e3 * b.length:.0f} x {1e3 * b.height:.1f} x {1e3 * b.width:.1f} mm "
        "(length, height, width)",
        "  " + ", ".join(f"{k} {1e3 * v:.1f} g" for k, v in cuts.masses.items()),
        "",
        "An aid for laying out, not an instruction to cut; the maker decides.",
    ]
    return "\n".join(lines) + "\n"


def _wrapped(text, first):
    return textwrap.wrap(text, 108, initial_indent=first, subsequent_indent=" " * len(first))


def as_data(result: JobLayout) -> dict:
    """Plain data for JSON; mm, degrees, grams."""
    return {
        "name": result.job.name,
        "invented": result.job.invented,
        "distances": distance_table(result.distances).to_dict("records"),
        "conflicts": [
            {"kind": f.kind, "message": f.message, "where": f.where}
            | {k: round(float(getattr(f, k)), 3) for k in ("value_mm", "limit_mm")}
            for f in result.conflicts
        ],
        "seat": result.view.seat.table().to_dict("records"),
        "cut_list": result.cuts.table().to_dict("records"),
        "blank_mm": {k: round(1e3 * v, 2) for k, v in vars(result.cuts.blank).items()},
        "mass_g": {k: round(1e3 * v, 3) for k, v in result.cuts.masses.items()},
        "spring_mm": round(1e3 * result.view.seat.spring, 3),
    }


def target_files(folder: str | os.PathLike, force: bool = False) -> list[Path]:
    """Name the files that `write_files` writes.

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set, or something that is no file has its name.
    """
    return free_targets(folder, FILES, force)


def write_files(
    result: JobLayout,
    folder: str | os.PathLike,
    force: bool = False,
    paper: str = "A4",
    progress: Callable[[str], None] | None = None,
) -> list[Path]:
    """Write the sheets and tables; an earlier set stays as it was unless every new file could be made.

    Parameters
    ----------
    result : JobLayout
    folder : path
        Made if missing.
    force : bool
        Replace files that are there.
    paper : str
        ``A4`` or ``A3``.
    progress : callable, optional
        Told in words what is being done.

    Returns
    -------
    list of Path

    Raises
    ------
    FileExistsError
        As :func:`target_files`.
    OSError
        The folder cannot be written to.
    ValueError
        Unknown paper.
    """
    targets = target_files(folder, force)
    with written_together(targets) as drafts:
        _draw(result, drafts[0].parent, paper, progress or (lambda _: None))
    return targets


def _draw(result, folder, paper, tell):
    from platemodel.bench import sheets

    with sheets.true_size():
        tell("drawing the layout")
        sheets.save_pages(sheets.layout_pages(result, paper), folder / "layout.pdf")
        tell("drawing the template")
        sheets.save_pages(sheets.template_pages(result, paper), folder / "template.pdf")
    write_drawings(result, folder)


def write_drawings(result: JobLayout, folder: Path) -> None:
    """Write the drawings as SVG and the tables as CSV into a folder that is there."""
    from platemodel.bench import sheets

    with sheets.true_size():
        sheets.save_svg(sheets.layout_drawing(result), folder / "layout.svg")
        sheets.save_svg(sheets.template_drawing(result), folder / "template.svg")
    tables = {
        "seat.csv": result.view.seat.table(),
        "cut_list.csv": result.cuts.table(),
        "layout.csv": distance_table(result.distances),
    }
    for name, table in tables.items():
        table.to_csv(folder / name, index=False, lineterminator="\n")
