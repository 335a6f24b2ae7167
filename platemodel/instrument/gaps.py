"""Gaps between a bar and the plate, as feelers or chalk find them before gluing."""

from dataclasses import dataclass

import numpy as np

from platemodel.errors import GeometryError

FEWEST = 3  # two ends and a place between: fewer say nothing about bending


@dataclass(frozen=True, eq=False)
class Gaps:
    """Gaps at places along a bar that lies on the plate by its own weight.

    Attributes
    ----------
    s : ndarray
        (n,) distance from the bar's lower end, m, increasing, n at least 3.
    gap : ndarray
        (n,) gap in the middle of the width, m; 0 where they touch.
    uneven : ndarray
        (n,) inner flank's gap less outer flank's, m; 0 where one was read.
    on_purpose : bool
        A spring that was planed on, not a fault of the fit.

    Raises
    ------
    GeometryError
        Fewer than 3 places, places that do not increase, or a gap below zero.
    """

    s: np.ndarray
    gap: np.ndarray
    uneven: np.ndarray | None = None
    on_purpose: bool = False

    def __post_init__(self):
        uneven = np.zeros(np.shape(self.s)) if self.uneven is None else self.uneven
        for name, value in (("s", self.s), ("gap", self.gap), ("uneven", uneven)):
            a = np.array(value, dtype=float)
            a.flags.writeable = False
            object.__setattr__(self, name, a)
        if (
            self.s.ndim != 1
            or self.s.size < FEWEST
            or not self.s.shape == self.gap.shape == self.uneven.shape
        ):
            msg = f"gaps need at least {FEWEST} places with one gap each; found {self.s.size}"
            raise GeometryError(msg)
        if not np.isfinite([self.s, self.gap, self.uneven]).all():
            msg = "a place or a gap is no finite number"
            raise GeometryError(msg)
        if (np.diff(self.s) <= 0).any():
            i = int(np.argmin(np.diff(self.s)))
            msg = (
                f"places must increase; {1e3 * self.s[i]:.4g} mm is followed by {1e3 * self.s[i + 1]:.4g} mm"
            )
            raise GeometryError(msg)
        if self.gap.min() < 0:
            at = 1e3 * self.s[self.gap.argmin()]
            msg = f"gap {1e3 * self.gap.min():.4g} mm at {at:.4g} mm is below zero; 0 where they touch"
            raise GeometryError(msg)

    @classmethod
    def even_spring(cls, length: float, end_gap: float, count: int = 13) -> "Gaps":
        """Even spring: a parabola that touches in the middle and stands off by the same at both ends.

        Parameters
        ----------
        length : float
            Of the bar, m.
        end_gap : float
            At each end, m.
        count : int
            Places.
        """
        s = np.linspace(0.0, length, count)
        return cls(s, end_gap * (2.0 * s / length - 1.0) ** 2, on_purpose=True)
