"""How long hot hide glue stays liquid on the bar and in the joint, and the time won by warming the wood."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.top import Top
from platemodel.study.gluing.conduction import AirFace, Layer, Stack, contact_temperature, run_together
from platemodel.wood.thermal import Thermal, glue_thermal, wood_thermal

#: Gel temperature by gram strength, degrees C, +- ``GEL_BAND`` (from memory; 30 to 38 over all grades).
GEL = {164: 31.0, 192: 33.0, 251: 36.0}
GEL_BAND = 2.0
FILM = (0.2e-3, 0.3e-3, 0.4e-3)  # m, freshly spread and wet: our estimate, no source
AIR = (5.0, 10.0, 15.0)  # W/(m2 K), still air and a moving room (Incropera & DeWitt, from memory: 2 to 25)
WET = (0.0, 0.5, 1.0)  # share of a free water surface's evaporation from glue that skins: our estimate
POT = (55.0, 63.0)  # degrees C, common practice, no source
POT_MOST = 65.0  # glue held above loses strength; common practice, no source
WARM_MOST = 40.0  # degrees C: above, old varnish may soften and old glue joints may give; common practice
WARMED = (30.0, 35.0, 40.0)
LONGEST = 600.0  # s: beyond this, drying and not cooling ends the window, and times are not told apart
ALLOWED = {"glue_c": (40.0, 75.0), "wood_c": (0.0, 50.0), "room_c": (0.0, 40.0), "lay_s": (0.0, 120.0)}


@dataclass(frozen=True)
class GlueConditions:
    """Glue, wood and room on the day.

    Attributes
    ----------
    glue_c, wood_c, room_c : float
        Degrees C of glue, of both woods when it is spread, of the air.
    moisture, humidity : float
        Of wood and air, fractions.
    gram : {164, 192, 251}
        Gram strength of the glue.
    lay_s : float
        From spreading to setting the bar on the plate, s.
    film : (float, float, float)
        Thickness of the spread film, m: thin, middle, thick.

    Raises
    ------
    ValueError
        A temperature, time, film or gram strength out of range.
    """

    glue_c: float = 60.0
    wood_c: float = 20.0
    room_c: float = 20.0
    moisture: float = 0.09
    humidity: float = 0.5
    gram: int = 192
    lay_s: float = 10.0
    film: tuple[float, float, float] = FILM

    def __post_init__(self):
        for name, (low, high) in ALLOWED.items():
            value = getattr(self, name)
            if not low <= value <= high:
                msg = f"{name} = {value}: allowed {low:g} to {high:g}"
                raise ValueError(msg)
        if self.gram not in GEL:
            msg = f"gram strength {self.gram}: allowed are {', '.join(map(str, GEL))}"
            raise ValueError(msg)
        film = self.film
        if not 0 < film[0] <= film[1] <= film[2] < 2e-3:
            msg = f"film {tuple(1e3 * f for f in film)} mm: three thicknesses, rising, below 2 mm"
            raise ValueError(msg)


@dataclass(frozen=True)
class Joint:
    """A bar, a film of glue and a plate, with their temperatures.

    Attributes
    ----------
    bar_thickness, film, plate_thickness : float
        m; the bar's height is its thickness here.
    glue_c, wood_c, room_c : float
        Degrees C. Both woods are at ``wood_c`` when the glue is spread.
    air : float
        Heat transfer to the air, W/(m2 K).
    wet : float
        Evaporation from the open film, as a share of water's.
    humidity : float
        Of the room's air, fraction.
    """

    bar: Thermal
    glue: Thermal
    plate: Thermal
    bar_thickness: float
    film: float
    plate_thickness: float
    glue_c: float
    wood_c: float
    room_c: float
    gel_c: float
    air: float = AIR[1]
    wet: float = WET[1]
    humidity: float = 0.5

    def _layers(self):
        """Bar, film and plate."""
        return (
            Layer(self.bar, self.bar_thickness, self.wood_c, "both"),
            Layer(self.glue, self.film, self.glue_c),
            Layer(self.plate, self.plate_thickness, self.wood_c, "both"),
        )

    @property
    def _dry(self):
        return AirFace(self.air, self.room_c)

    def open_stack(self) -> Stack:
        """Glue on the bar, air over it."""
        return Stack(self._layers()[:2], self._dry, replace(self._dry, wet=self.wet, humidity=self.humidity))

    def plate_stack(self) -> Stack:
        """Plate before the bar is set on it."""
        return Stack(self._layers()[2:], self._dry, self._dry, film=self.film)

    def closed_stack(self, bar_and_film: np.ndarray, plate: np.ndarray) -> Stack:
        """Bar, film and plate set together, at the temperatures (cells,) that they have come to."""
        return Stack(self._layers(), self._dry, self._dry, np.r_[bar_and_film, plate])


def gel_times(joints: Sequence[Joint], lay: float) -> tuple[np.ndarray, np.ndarray]:
    """Gel times of some joints, all computed in one run.

    Parameters
    ----------
    lay : float
        From spreading to setting the bar on the plate, s.

    Returns
    -------
    open, closed : array (n,)
        From spreading until the film left open gels, and until it gels with the bar set after ``lay``, s.
        Infinite where that takes longer than ``LONGEST``.
    """
    n = len(joints)
    first, plates = [j.open_stack() for j in joints], [j.plate_stack() for j in joints]
    open_at, bars, below = np.full(n, np.inf), [s.start for s in first], [s.start for s in plates]
    if lay > 0:
        clocks = [_clock(s, j) for s, j in zip(first, joints, strict=True)]
        found = run_together([*first, *plates], lay, [*clocks, *[None] * n], at=np.array([0.0, lay]))
        open_at = found.reached[:n]
        last = [t[:, -1] for t in found.temperatures]
        bars, below = last[:n], last[n:]
    closed_at = open_at.copy()
    left = [k for k in range(n) if not open_at[k] < lay]
    if left:
        later = []
        for k in left:
            one = joints[k]
            later.append((Stack(first[k].layers, first[k].low, first[k].high, bars[k]), one))
            later.append((one.closed_stack(bars[k], below[k]), one))
        found = run_together([s for s, _ in later], LONGEST, [_clock(*pair) for pair in later])
        open_at[left] = lay + found.reached[0::2]
        closed_at[left] = lay + found.reached[1::2]
    return np.where(open_at > LONGEST, np.inf, open_at), closed_at


def _clock(stack, joint):
    """Mean of the film above its gel temperature, K."""
    weight = np.where(stack.of == 1, stack.size, 0.0)
    weight /= weight.sum()
    return lambda t: weight @ t - joint.gel_c


@dataclass(frozen=True, eq=False)
class GlueWindow:
    """How long the glue stays liquid.

    Attributes
    ----------
    joint : Joint
        The middle case.
    contact_c : float
        Temperature at which glue and wood meet at first, degrees C.
    table : DataFrame
        One row a temperature of the wood: ``wood_c``, ``contact_c``, ``open_low_s``, ``open_mid_s``,
        ``open_high_s`` (glue on the bar, not yet set), ``closed_low_s`` ... (set after ``lay_s``, from
        spreading), ``times`` (open time over that of the wood as it is). Infinite: longer than ``LONGEST``.
    warnings : tuple of str
        What is wrong with the temperatures.
    """

    joint: Joint
    contact_c: float
    table: pd.DataFrame
    lay_s: float
    warnings: tuple[str, ...]


def glue_window(
    bar: Bar, top: Top, conditions: GlueConditions = GlueConditions(), warmed: tuple[float, ...] = WARMED
) -> GlueWindow:
    """Compute how long hot hide glue stays liquid between a bar and a top.

    Parameters
    ----------
    warmed : tuple of float
        Temperatures of the wood to compare, degrees C.

    Notes
    -----
    Conduction square to the joint through the bar's mean height, the film and the plate's mean thickness
    under the bar; outer faces to the room's air, the open film gives off water as well. The bands go from a
    thin film, moving air, free evaporation and a high gel temperature to a thick film, still air, none and
    a low one. No stirring, no heat of gelling, no drying: a window longer than minutes ends by drying.
    """
    x = np.linspace(bar.x_start, bar.x_end, 61)
    middle = Joint(
        bar=wood_thermal(bar.wood.density, conditions.moisture),
        glue=glue_thermal(),
        plate=wood_thermal(top.wood.density, conditions.moisture),
        bar_thickness=float(bar.height(x).mean()),
        film=conditions.film[1],
        plate_thickness=float(np.mean(top.thickness.value(x, bar.at(x)))),
        glue_c=conditions.glue_c,
        wood_c=conditions.wood_c,
        room_c=conditions.room_c,
        gel_c=GEL[conditions.gram],
        humidity=conditions.humidity,
    )
    wood = sorted({conditions.wood_c, *(w for w in warmed if w > conditions.wood_c)})
    table = _table(middle, wood, conditions)
    contact = contact_temperature(middle.glue, middle.glue_c, middle.bar, middle.wood_c)
    warnings = tuple(_warnings(conditions.glue_c, conditions.wood_c))
    return GlueWindow(middle, contact, table, conditions.lay_s, warnings)


def _table(middle, wood, conditions):
    """One row a temperature of the wood, see `GlueWindow`."""
    joints = [
        replace(
            middle,
            wood_c=t,
            film=conditions.film[k],
            gel_c=middle.gel_c + (1 - k) * GEL_BAND,
            air=AIR[2 - k],
            wet=WET[2 - k],
        )
        for t in wood
        for k in range(3)
    ]
    times = np.reshape(gel_times(joints, conditions.lay_s), (2, len(wood), 3))
    contact = [contact_temperature(middle.glue, middle.glue_c, middle.bar, t) for t in wood]
    columns = {"wood_c": wood, "contact_c": contact}
    for k, end in enumerate(("low", "mid", "high")):
        columns[f"open_{end}_s"], columns[f"closed_{end}_s"] = times[0, :, k], times[1, :, k]
    table = pd.DataFrame(columns)
    base = table["open_mid_s"].iloc[0]
    return table.assign(times=table["open_mid_s"] / base if np.isfinite(base) else np.nan)


def _warnings(glue_c, wood_c):
    if glue_c > POT_MOST:
        yield f"glue at {glue_c:g} degrees: held above {POT_MOST:g} it loses strength"
    elif not POT[0] <= glue_c <= POT[1]:
        yield f"glue at {glue_c:g} degrees: {POT[0]:g} to {POT[1]:g} in the pot is usual"
    if wood_c > WARM_MOST:
        yield f"wood at {wood_c:g} degrees: above {WARM_MOST:g} old varnish and old joints may soften"
