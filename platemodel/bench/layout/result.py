"""A job's layout, seat and cut list: as text, data and sheets at true size."""

from dataclasses import dataclass

import numpy as np

from platemodel.bench.kit import cautions
from platemodel.bench.kit.finding_words import finding_data, finding_lines
from platemodel.bench.kit.needs import needed_bar
from platemodel.bench.kit.tables import plain, records
from platemodel.instrument.bar import Bar
from platemodel.instrument.cut_list import CutList, cut_list
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.layout_distances import Distance, distance_table, edge_on_marks, layout_distances
from platemodel.instrument.mark_checks import in_the_way
from platemodel.instrument.side_view import SideView, side_view, usual_roughing
from platemodel.instrument.strings import Post
from platemodel.job import Job


@dataclass(frozen=True, eq=False)
class JobLayout:
    """Layout of a job's bar.

    Attributes
    ----------
    conflicts : tuple of Finding
        What the bar's place misses.
    view : SideView
        With the seat in it.
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
        lines = [cautions.INVENTED] if self.job.invented else []
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
            f"{here} Some teach the rule for the inner edge, others for the middle of the bar; where it "
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
    JobError
        The job has no bar.
    ValueError
        The spring, pitch or allowance is out of range.
    GeometryError
        The bar does not pass the bridge line.
    """
    top, bar = job.top, needed_bar(job, "a layout")
    allowance = usual_roughing(top) if allowance is None else allowance
    view = side_view(top, bar, pitch, spring, allowance)
    cuts = cut_list(top, bar, pitch, spring, allowance, view)
    post = None if job.set_up is None else job.set_up.post
    distances = layout_distances(top, bar, post)
    conflicts = in_the_way(top, bar, job.marks)
    return JobLayout(job, bar, distances, conflicts, view, cuts, pitch)


def as_text(result: JobLayout) -> str:
    """Distances, conflicts, blank, seat and masses for the terminal."""
    job, seat, cuts = result.job, result.view.seat, result.cuts
    lines = [cautions.text_title(job), "", "Distances, mm"]
    lines += [f"  {1e3 * d.value:7.1f}  {d.label}" for d in result.distances]
    lines += ["", "One-seventh marks", f"  {result.seventh_words}", "", "Conflicts"]
    lines += [part for f in result.conflicts for part in finding_lines(f)] or ["  none found"]
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


def as_data(result: JobLayout) -> dict:
    """Plain data for JSON; mm, degrees, grams."""
    return {
        **cautions.data_title(result.job),
        "distances": records(distance_table(result.distances)),
        "conflicts": [finding_data(f) for f in result.conflicts],
        "seat": records(result.view.seat.table()),
        "cut_list": records(result.cuts.table()),
        "blank_mm": {k: plain(1e3 * v) for k, v in vars(result.cuts.blank).items()},
        "mass_g": {k: plain(1e3 * v) for k, v in result.cuts.masses.items()},
        "spring_mm": plain(1e3 * result.view.seat.spring),
    }
