"""The bridge, as far as it matters to the top: two feet."""

from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon, box


@dataclass(frozen=True)
class Bridge:
    """Bridge feet on the top.

    Attributes
    ----------
    x : float
        Bridge line, metres from the lower edge of the body.
    foot_span_outer : float
        Distance over the outer edges of both feet, across, m.
    foot_length_across, foot_along : float
        Size of one foot across and along the strings, m.
    y : float
        Middle of the bridge, m from the instrument's axis.
    """

    x: float
    foot_span_outer: float
    foot_length_across: float
    foot_along: float
    y: float = 0.0

    def __post_init__(self):
        if not 0 < 2 * self.foot_length_across < self.foot_span_outer:
            msg = (
                f"foot width across {self.foot_length_across * 1000:.4g} mm does not fit twice into the span "
                f"over both feet {self.foot_span_outer * 1000:.4g} mm"
            )
            raise ValueError(msg)
        if self.foot_along <= 0:
            msg = f"foot size along the strings {self.foot_along * 1000:.4g} mm must be positive"
            raise ValueError(msg)

    @property
    def bass_edge(self) -> float:
        """Outer edge of the bass foot, y in m."""
        return self.y - self.foot_span_outer / 2

    @property
    def bass_foot(self) -> np.ndarray:
        """Middle of the bass foot, (2,)."""
        return np.array([self.x, self.y - (self.foot_span_outer - self.foot_length_across) / 2])

    @property
    def treble_foot(self) -> np.ndarray:
        """Middle of the treble foot, (2,)."""
        return np.array([self.x, self.y + (self.foot_span_outer - self.foot_length_across) / 2])

    def feet(self) -> tuple[Polygon, Polygon]:
        """Bass and treble foot as rectangles."""
        a, b = self.foot_along / 2, self.foot_length_across / 2
        return tuple(box(cx - a, cy - b, cx + a, cy + b) for cx, cy in (self.bass_foot, self.treble_foot))
