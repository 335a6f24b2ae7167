"""One published check: a problem, where its answer comes from, and how it is computed here."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

STATUS = {
    "read": "the number was read in the source named",
    "from memory": "the number is quoted from memory and should be compared with the print once",
    "closed form": "a formula, evaluated",
    "computed independently": "computed by other means: a Ritz model that shares no code, or solid elements",
}
RITZ = (
    "conforming Ritz model (bicubic Hermite deflection, cubic in-plane displacements, Kirchhoff; bar joined "
    "along a "
    "line, Euler-Bernoulli with Saint-Venant torsion, no sideways bending)"
)
SOLIDS = "20-node solid elements (CalculiX, C3D20R)"


@dataclass(frozen=True)
class Case:
    """A check.

    Attributes
    ----------
    id, title : str
    source : str
        Author, title or journal, year, table where known.
    status : str
        A key of ``STATUS``.
    conditions : str
        Data, edges (in-plane too), and which model of the package is used.
    unit : str
        Of the values; empty for pure numbers.
    labels : tuple of str
    published : tuple of float
    compute : callable
        Returns the values, in the order of ``published``.
    tolerance : float or tuple of float
        Relative.
    reason : str
        Why the tolerance is what it is.
    """

    id: str
    title: str
    source: str
    status: str
    conditions: str
    unit: str
    labels: tuple
    published: tuple
    compute: Callable
    tolerance: float | tuple
    reason: str

    def __post_init__(self):
        if self.status not in STATUS:
            msg = f"{self.id}: status {self.status!r}; allowed are {', '.join(STATUS)}"
            raise ValueError(msg)
        if len(self.labels) != len(self.published):
            msg = f"{self.id}: {len(self.labels)} labels for {len(self.published)} values"
            raise ValueError(msg)

    @property
    def computed(self):
        """Values of the package, computed once: array."""
        return np.array(_compute(self))

    @property
    def deviation(self):
        """Computed over published, less 1: array."""
        return self.computed / np.array(self.published) - 1.0

    @property
    def allowed(self):
        """Tolerance of each value: array."""
        return np.broadcast_to(np.asarray(self.tolerance, dtype=float), len(self.published))

    def check(self):
        """Assert that every value lies within its tolerance, and tell all that do not."""
        missed = [
            f"{label}: {got:.6g}, published {want:.6g}, {100 * off:+.3f} %, allowed {100 * limit:.3g} %"
            for label, got, want, off, limit in zip(
                self.labels, self.computed, self.published, self.deviation, self.allowed, strict=True
            )
            if not abs(off) <= limit
        ]
        assert not missed, f"{self.id} {self.title}\n" + "\n".join(missed)


@cache
def _compute(case):
    values = np.asarray(case.compute(), dtype=float)
    if values.shape != (len(case.published),):
        msg = f"{case.id}: computed shape {values.shape} for {len(case.published)} published values"
        raise ValueError(msg)
    return tuple(values)


def modes(count, first=1):
    """Labels of consecutive modes."""
    return tuple(f"mode {first + i}" for i in range(count))
