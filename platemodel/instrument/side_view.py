"""A bar from the side: its seat, its free edge and the blank it is cut from, true to size."""

from dataclasses import dataclass, replace

import numpy as np

from platemodel.instrument.bar import Bar
from platemodel.instrument.seat import SeatCurve, seat_curve
from platemodel.instrument.top import Top

# Common practice, no source; m.
ROUGHING = 1e-3  # left on the height until the bar is glued: 0.5 to 1 mm
CELLO_ROUGHING = 2e-3  # a bar twice as high comes down in steps twice as deep
OVERLENGTH = 10e-3  # of the blank beyond either end of the bar, for a violin
OVERWIDTH = 0.3e-3
SAW_ROOM = 0.5e-3  # between saw cut and seat, for the chalk fitting
_PITCH = 1e-3


@dataclass(frozen=True)
class Blank:
    """Smallest blank that holds the bar, its lower edge straight.

    Attributes
    ----------
    length, width, height : float
        m. The height is from the straight lower edge to the top of the seat's saw cut.
    """

    length: float
    width: float
    height: float


@dataclass(frozen=True, eq=False)
class SideView:
    """A bar seen from the bass side, lower end left, seat up.

    Points are (along, up) in m: along the chord of the seat from the bar's lower end, and up from the blank's
    straight lower edge, which is parallel to that chord.

    Attributes
    ----------
    bass, middle, treble : ndarray
        (n, 2) seat of the bar at both flanks and the middle line, spring taken off.
    rough_edge, final_edge : ndarray
        (n, 2) free edge after roughing and when finished.
    stations : ndarray
        (k, 3, 2) points of the seat's middle line, the rough edge and the final edge at the seat's stations.
    seat : SeatCurve
        With the stations.
    overlength : float
        Of the blank beyond either end, m.
    chord_angle : float
        Of the chord to the gluing plane, rad; positive when the upper end is higher.
    """

    bass: np.ndarray
    middle: np.ndarray
    treble: np.ndarray
    rough_edge: np.ndarray
    final_edge: np.ndarray
    stations: np.ndarray
    seat: SeatCurve
    bar: Bar
    blank: Blank
    overlength: float
    chord_angle: float

    @property
    def saw_lines(self) -> tuple[np.ndarray, np.ndarray]:
        """Saw cuts beside the seat at the bass and the treble flank: (n, 2) each."""
        return tuple(c + np.array([0.0, SAW_ROOM]) for c in (self.bass, self.treble))


def side_view(
    top: Top, bar: Bar, pitch: float = 20e-3, spring: float = 0.0, allowance: float = ROUGHING
) -> SideView:
    """Side view of a bar and its blank.

    Parameters
    ----------
    pitch : float
        Distance of stations, m.
    spring : float
        Gap at each end, m, see :func:`platemodel.instrument.seat.seat_curve`.
    allowance : float
        Height left over the final height after roughing, m.

    Raises
    ------
    GeometryError, ValueError
        As :func:`platemodel.instrument.seat.seat_curve`; allowance outside 0 to 5 mm.
    """
    if not 0 <= allowance <= 5e-3:
        msg = f"roughing allowance {1e3 * allowance:.4g} mm; allowed 0 to 5 mm"
        raise ValueError(msg)
    seat = seat_curve(top, bar, pitch, spring)
    fine = seat_curve(top, bar, _PITCH, spring)
    overlength = OVERLENGTH * top.outline.scale
    own = {name: getattr(fine, name) - fine.gap for name in ("bass", "middle", "treble")}
    height = bar.height(np.clip(fine.x, bar.x_start, bar.x_end))
    own["final_edge"] = own["middle"] - height
    own["rough_edge"] = own["final_edge"] - allowance
    angle = float(np.arctan2(own["middle"][-1] - own["middle"][0], fine.s[-1]))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    first = np.array([0.0, own["middle"][0]])
    curves = {name: (np.c_[fine.s, v] - first) @ turn for name, v in own.items()}
    floor = min(curves["rough_edge"][:, 1].min(), 0.0)
    curves = {name: c - [0.0, floor] for name, c in curves.items()}
    roof = max(curves["bass"][:, 1].max(), curves["treble"][:, 1].max()) + SAW_ROOM
    own_stations = [
        np.c_[seat.s, np.interp(seat.s, fine.s, own[n])] for n in ("middle", "rough_edge", "final_edge")
    ]
    stations = np.stack([(p - first) @ turn - [0.0, floor] for p in own_stations], axis=1)
    blank = Blank(float(curves["middle"][-1, 0] + 2 * overlength), bar.width + OVERWIDTH, float(roof))
    return SideView(
        stations=stations, seat=seat, bar=bar, blank=blank, overlength=overlength, chord_angle=angle, **curves
    )


def usual_roughing(top: Top) -> float:
    """Height usually left on a bar when it is glued, m; common practice, no source."""
    return CELLO_ROUGHING if top.kind == "cello" else ROUGHING


def roughed(bar: Bar, allowance: float = ROUGHING) -> Bar:
    """Return the bar as roughed out: higher by the allowance (m), section full."""
    return replace(bar, heights=bar.heights + allowance, section_fill=1.0)
