"""Cut list of a bar: heights and widths at stations, roughing, ends, blank, mass at each stage."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.side_view import ROUGHING, Blank, SideView, roughed, side_view
from platemodel.instrument.top import Top

END_RUN = 20e-3  # m for a violin: the last stretch, over which an end's fall is given


@dataclass(frozen=True)
class EndShape:
    """How a bar ends.

    Attributes
    ----------
    name : str
        ``lower`` or ``upper``.
    height : float
        At the very end, m over the plate.
    run : float
        Length of the last stretch, m.
    run_height : float
        Height where that stretch begins, m.
    """

    name: str
    height: float
    run: float
    run_height: float

    @property
    def fall(self) -> float:
        """Mean slope of the free edge against the plate over the last stretch, rad."""
        return float(np.arctan2(self.run_height - self.height, self.run))


@dataclass(frozen=True, eq=False)
class CutList:
    """What to cut a bar to, stage by stage.

    Heights count from the plate, up the bar's sides; the free edge is square to them, so that the bar is a
    little higher at one flank than at the other where the seat is bevelled.

    Attributes
    ----------
    x : ndarray
        (n,) stations from the lower edge of the body, m.
    s : ndarray
        (n,) from the lower end of the bar along it, m.
    width : ndarray
        (n,) at the seat, m.
    rough, final : ndarray
        (n,) height over the plate at the middle line after roughing and when finished, m.
    final_bass, final_treble : ndarray
        (n,) final height at the bass and the treble flank, before the section is rounded, m.
    plate : ndarray
        (n,) thickness of the plate under the middle line, m.
    length : float
        Of the bar along its axis, m.
    x_bridge : float
        Bridge line, m.
    allowance : float
        Roughing height over final height, m.
    ends : tuple of EndShape
        Lower, upper.
    masses : dict
        Stage to mass, kg: ``blank`` (rectangular), ``rough`` (seat fitted, roughing height, square section),
        ``profiled`` (final height, square section), ``final`` (section rounded).
    """

    x: np.ndarray
    s: np.ndarray
    width: np.ndarray
    rough: np.ndarray
    final: np.ndarray
    final_bass: np.ndarray
    final_treble: np.ndarray
    plate: np.ndarray
    length: float
    x_bridge: float
    allowance: float
    blank: Blank
    ends: tuple[EndShape, EndShape]
    masses: dict[str, float]

    @property
    def places(self) -> list[str]:
        """Name of each station that has one: both ends and the bridge line; else an empty text."""
        names = np.full(self.x.size, "", dtype=object)
        names[0], names[-1] = "lower end", "upper end"
        names[int(np.abs(self.x - self.x_bridge).argmin())] = "bridge line"
        return list(names)

    def table(self) -> pd.DataFrame:
        """One row a station, mm to 0.01."""
        bridge = self.s[self.places.index("bridge line")]
        mm = {
            "x_mm": self.x,
            "from_lower_end_mm": self.s,
            "from_upper_end_mm": self.length - self.s,
            "from_bridge_line_mm": self.s - bridge,
            "width_mm": self.width,
            "rough_height_mm": self.rough,
            "final_height_mm": self.final,
            "final_bass_flank_mm": self.final_bass,
            "final_treble_flank_mm": self.final_treble,
            "plate_thickness_mm": self.plate,
        }
        out = pd.DataFrame({k: np.round(1e3 * v, 2) + 0.0 for k, v in mm.items()})
        out.insert(0, "place", self.places)
        return out


def cut_list(
    top: Top,
    bar: Bar,
    pitch: float = 20e-3,
    spring: float = 0.0,
    allowance: float = ROUGHING,
    view: SideView | None = None,
) -> CutList:
    """Cut list of a bar on its top.

    Parameters
    ----------
    pitch : float
        Distance of stations from the lower end, m; bridge line and both ends are always among them.
    spring : float
        Gap at each end, m; it changes the blank, not the heights over the plate.
    allowance : float
        Height left after roughing, m; 0.5 to 1 mm is common practice, no source.
    view : SideView, optional
        Of the same top, bar, pitch, spring and allowance, if it is there already.

    Raises
    ------
    GeometryError, ValueError
        As :func:`platemodel.instrument.side_view.side_view`.
    """
    view = view or side_view(top, bar, pitch, spring, allowance)
    seat, rough = view.seat, roughed(bar, allowance)
    x, final = seat.x, bar.height(np.clip(seat.x, bar.x_start, bar.x_end))
    run = END_RUN * top.outline.scale
    reach = run / np.hypot(1, bar.slope)
    ends = tuple(
        EndShape(name, float(bar.height(at)), run, float(bar.height(inside)))
        for name, at, inside in (
            ("lower", bar.x_start, bar.x_start + reach),
            ("upper", bar.x_end, bar.x_end - reach),
        )
    )
    blank = view.blank
    masses = {
        "blank": bar.wood.density * blank.length * blank.width * blank.height,
        "rough": rough.mass(),
        "profiled": replace(bar, section_fill=1.0).mass(),
        "final": bar.mass(),
    }
    return CutList(
        x=x,
        s=seat.s,
        width=seat.width,
        rough=final + allowance,
        final=final,
        final_bass=final + seat.bass - seat.middle,
        final_treble=final + seat.treble - seat.middle,
        plate=top.thickness.value(x, bar.at(x)),
        length=bar.length,
        x_bridge=top.bridge.x,
        allowance=allowance,
        blank=blank,
        ends=ends,
        masses=masses,
    )
