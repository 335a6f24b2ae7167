"""Named errors of the package; the only module that every room may import."""

from dataclasses import dataclass
from math import nan


class PlatemodelError(Exception):
    """Base of every error raised on purpose."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong in a job folder.

    Attributes
    ----------
    file : str
        File name inside the job folder.
    field : str
        Dotted name of the field, or the column of a table.
    value : str
        What was found there.
    allowed : str
        What is allowed, and what to do next.
    line : int or None
        Line number in the file, counted from 1, where it is known.
    """

    file: str
    field: str
    value: str
    allowed: str
    line: int | None = None

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        what = f"{place}: {self.field}" if self.field else place
        return f"{what}: found {self.value}; {self.allowed}"


class JobError(PlatemodelError):
    """A job folder cannot be used; carries every problem found in it.

    Attributes
    ----------
    problems : tuple of Problem
    """

    def __init__(self, problems):
        self.problems = tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


class AccuracyError(PlatemodelError):
    """A computed result failed its own check (residual, rigid-body modes, mesh quality)."""


class GeometryError(PlatemodelError, ValueError):
    """A shape cannot be used: self-crossing outline, hole across the edge, bar off the plate."""


class NeedleError(GeometryError):
    """A mesh has a triangle too flat to compute with.

    Attributes
    ----------
    place : (float, float)
        Its middle in the plan, m.
    """

    def __init__(self, message: str, place: tuple[float, float] = (nan, nan)):
        super().__init__(message)
        self.place = place


class RecordingError(PlatemodelError, ValueError):
    """A sound recording cannot be used: not a WAV file, empty, silent, too short, clipped, no tap in it."""


class RecordError(PlatemodelError, ValueError):
    """An entry cannot go into a job's history, or the history cannot be opened."""
