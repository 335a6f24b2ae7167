"""The working data of the job reader: checked input, and the problems and assumptions found so far."""

from dataclasses import dataclass, field

import numpy as np
import shapely

from platemodel.errors import Problem
from platemodel.instrument.dimensions import Dimensions
from platemodel.job.fields import Fields
from platemodel.job.tables import Table

MM = 1e-3


@dataclass
class Work:
    """Checked input of a job, and what was found wrong or assumed while its parts are built.

    Attributes
    ----------
    tables : dict of str to Table
        By the field that named the file; None stands for a table that was refused.
    problems, assumed, unused : list
        Filled while building.
    dims : Dimensions or None
        Usual figures scaled to this body.
    """

    fields: Fields
    tables: dict[str, Table | None]
    problems: list[Problem] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)
    dims: Dimensions | None = None

    def table(self, name: str) -> np.ndarray | None:
        """Values of a table in metres, or None when there is none."""
        table = self.tables.get(name)
        return None if table is None else table.values * MM

    def lacks(self, name: str) -> bool:
        """Whether a table was asked for but refused."""
        return name in self.tables and self.tables[name] is None

    def failed(self, section: str) -> bool:
        """Whether a field of a section was refused: its part is not built, and one slip gives one message."""
        return any(name.startswith(f"{section}.") for name in self.fields.failed)

    def usual(self, name: str, attribute: str, label: str) -> float:
        """Return a measured length (m), or the usual one and a line in the list of assumptions."""
        given = self.fields.get(name)
        if given is not None:
            return given
        value = getattr(self.dims, attribute)
        self.assume(
            f"{label} {value / MM:.1f} mm", f"usual {self.dims.kind}; {self.dims.status()[attribute]}"
        )
        return value

    def assume(self, what: str, why: str) -> None:
        """Note something that was not measured, and where the stand-in comes from."""
        self.assumed.append(f"{what} ({why})")

    def refuse(
        self, name: str, found: str, allowed: str, line: int | None = None, file: str | None = None
    ) -> None:
        """Append a problem about a field of job.toml, or about a line of a table."""
        at = line if file or line else self.fields.line(name)
        self.problems.append(Problem(file or self.fields.file, name, found, allowed, at))

    def attempt(self, name: str, make, /, *args, **kwargs):
        """Call a builder of the instrument room; a shape it refuses becomes a problem and None."""
        try:
            return make(*args, **kwargs)
        except (ValueError, ArithmeticError, shapely.errors.ShapelyError) as error:
            self.refuse(name, "a shape that cannot be", str(error))
            return None

    def set_aside(self, names: tuple[str, ...], reason: str) -> None:
        """Say which given fields have no effect, and why."""
        for name in names:
            if name in self.fields.values:
                self.unused.append(f"{name}: not used, because {reason}")
