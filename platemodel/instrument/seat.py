"""The seat of a bar: the curve of the inside surface along both of its flanks, and the bevel between them."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.interpolate import CubicSpline

from platemodel.errors import GeometryError
from platemodel.instrument.bar import Bar
from platemodel.instrument.top import Top

MOST_SPRING = 5e-3  # m at each end; older teaching goes to 3 mm (common practice, no source)
_FINE = 0.5e-3  # m, pitch for lengths and slopes


@dataclass(frozen=True, eq=False)
class SeatCurve:
    """Inside surface under a bar, in the bar's own plane: along its axis, and up its sides.

    Heights count from the gluing plane, up the bar's sides (upright unless the bar leans; a leaning bar is
    taken flat-sided and turned about the middle of its seat at the bridge line).

    Attributes
    ----------
    x : ndarray
        (n,) stations from the lower edge of the body, m.
    s : ndarray
        (n,) the same from the lower end of the bar, along its axis, m.
    bass, middle, treble : ndarray
        (n,) height of the inside surface at the bass flank, the middle line and the treble flank, m.
    gap : ndarray
        (n,) by how much the seat is hollowed for an even spring, m; 0 in the middle of the bar.
    width : ndarray
        (n,) width of the seat, m.
    bevel : ndarray
        (n,) angle of the seat out of square to the bar's sides, rad; positive: higher on the treble side.
    slope : ndarray
        (n,) rise of the surface along the middle line towards the upper end, rad.
    lengths : tuple of float
        Lengths along the curve at the bass flank, the middle line and the treble flank, m.
    spring : float
        Gap at each end, m.
    """

    x: np.ndarray
    s: np.ndarray
    bass: np.ndarray
    middle: np.ndarray
    treble: np.ndarray
    gap: np.ndarray
    width: np.ndarray
    bevel: np.ndarray
    slope: np.ndarray
    lengths: tuple[float, float, float]
    spring: float = 0.0

    @property
    def chord(self) -> np.ndarray:
        """(n,) straight line between both ends of the bar's own seat (spring taken off), m."""
        a, b = self.middle[0] - self.gap[0], self.middle[-1] - self.gap[-1]
        return a + (b - a) * self.s / self.s[-1]

    @property
    def above_chord(self) -> np.ndarray:
        """(n,) height of the bar's own seat over its chord, middle line, m."""
        return self.middle - self.gap - self.chord

    @property
    def crown(self) -> float:
        """Greatest height of the seat over its chord at the stations, m."""
        return float(self.above_chord.max())

    @property
    def flank_difference(self) -> float:
        """Greatest difference between the curves of the two flanks at the stations, m."""
        return float(np.abs(self.treble - self.bass).max())

    def table(self) -> pd.DataFrame:
        """One row a station; mm and degrees, to 0.01 mm and 0.1 degrees."""
        mm = {
            "x_mm": self.x,
            "from_lower_end_mm": self.s,
            "bass_flank_mm": self.bass,
            "middle_mm": self.middle,
            "treble_flank_mm": self.treble,
            "spring_gap_mm": self.gap,
            "seat_over_chord_mm": self.above_chord,
        }
        out = pd.DataFrame({k: np.round(1e3 * v, 2) for k, v in mm.items()})
        out["bevel_deg"] = np.round(np.degrees(self.bevel), 1)
        out["slope_deg"] = np.round(np.degrees(self.slope), 1)
        return out + 0.0  # no minus before a zero


def inner_height(top: Top, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Height of the inside surface over the gluing plane at plan places, m.

    It is the outer surface less the thickness along its normal; the foot of each normal is found by iteration
    (theory as for :meth:`Top.midsurface`, with the whole thickness in place of half).

    Parameters
    ----------
    x, y : array_like
        Plan places, m; broadcast.

    Raises
    ------
    GeometryError
        If a place lies outside the measured field.
    """
    x, y = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    top.arching.value(x, y)  # refuses places off the field; the feet below are kept inside it
    x0, y0, x1, y1 = top.arching.box
    u, v = x, y
    for _ in range(12):
        z, z_x, z_y = top.arching.gradient(u, v)
        drop = top.thickness.value(u, v) / np.sqrt(1 + z_x**2 + z_y**2)
        u, v = np.clip(x - drop * z_x, x0, x1), np.clip(y - drop * z_y, y0, y1)
    return z - drop


def bar_stations(bar: Bar, x_bridge: float, pitch: float) -> np.ndarray:
    """Distances of stations from the lower end along the bar, m: (n,).

    Multiples of the pitch, the bridge line, and both ends. A multiple closer than a quarter of the pitch to
    the bridge line or the upper end is left out.

    Raises
    ------
    GeometryError
        If the bar does not pass the bridge line.
    ValueError
        If the pitch is not between 0.5 mm and half the bar.
    """
    if not bar.x_start < x_bridge < bar.x_end:
        msg = (
            f"bar from {1000 * bar.x_start:.4g} to {1000 * bar.x_end:.4g} mm does not pass the bridge line "
            f"at {1000 * x_bridge:.4g} mm; move it, or check the stop length"
        )
        raise GeometryError(msg)
    length = bar.length
    if not 0.5e-3 <= pitch <= length / 2:
        msg = f"pitch of stations {1e3 * pitch:.4g} mm; allowed 0.5 to {500 * length:.0f} mm"
        raise ValueError(msg)
    bridge = (x_bridge - bar.x_start) * np.hypot(1, bar.slope)
    regular = pitch * np.arange(1, int(length / pitch) + 1)
    far = (np.abs(regular - bridge) > pitch / 4) & (length - regular > pitch / 4)
    return np.sort(np.r_[0.0, regular[far], bridge, length])


def seat_curve(top: Top, bar: Bar, pitch: float = 20e-3, spring: float = 0.0) -> SeatCurve:
    """Curve of the inside surface under a bar.

    Parameters
    ----------
    bar : Bar
        Its trim, if it has one, is followed by the bass flank.
    pitch : float
        Distance of stations, m; see :func:`bar_stations`.
    spring : float
        Gap wanted at either end while the bar touches in its middle, m: a parabola.

    Raises
    ------
    GeometryError
        If the bar does not pass the bridge line or leaves the measured surface.
    ValueError
        If the spring is outside 0 to 5 mm, or the pitch unusable.
    """
    if not 0 <= spring <= MOST_SPRING:
        msg = f"spring {1e3 * spring:.4g} mm at each end; allowed 0 to {1e3 * MOST_SPRING:.0f} mm, 0 for none"
        raise ValueError(msg)
    s = bar_stations(bar, top.bridge.x, pitch)
    bridge = (top.bridge.x - bar.x_start) * np.hypot(1, bar.slope)
    fine = np.linspace(0.0, bar.length, max(3, round(bar.length / _FINE) + 1))
    curves = _flank_heights(top, bar, np.union1d(fine, s), bridge)
    at = np.union1d(fine, s)
    place = np.searchsorted(at, s)
    bass, middle, treble = (c[place] for c in curves)
    lengths = tuple(float(np.hypot(np.diff(at), np.diff(c)).sum()) for c in curves)
    slope = np.arctan(CubicSpline(fine, curves[1][np.searchsorted(at, fine)]).derivative()(s))
    x = bar.x_start + s / np.hypot(1, bar.slope)
    width = bar.width_at(x)
    gap = spring * (2 * s / bar.length - 1) ** 2
    bevel = np.arctan2(treble - bass, width)
    return SeatCurve(x, s, bass, middle, treble, gap, width, bevel, slope, lengths, spring)


def _flank_heights(top, bar, s, bridge):
    """Heights up the bar's sides at bass flank, middle line and treble flank for distances s: 3 of (n,)."""
    along = np.array([1.0, bar.slope]) / np.hypot(1, bar.slope)
    across = np.array([-along[1], along[0]])  # towards the treble side
    start = np.array([bar.x_start, bar.y_start])
    origin = float(inner_height(top, *(start + bridge * along)))
    sin, cos = np.sin(bar.lean), np.cos(bar.lean)
    x_axis = bar.x_start + s * along[0]
    out = []
    for t in (-bar.outer_at(x_axis), np.zeros_like(s), np.full_like(s, bar.width / 2)):
        up = np.zeros_like(s)  # from the seat at the bridge line, up the leaning side
        for _ in range(1 if bar.lean == 0 else 8):
            off = t * cos - up * sin
            x, y = (start[k] + s * along[k] + off * across[k] for k in (0, 1))
            up = (inner_height(top, x, y) - origin - t * sin) / cos
        out.append(origin + up)
    return out
