"""How long hot hide glue stays liquid on the bar and in the joint, and what warming the wood buys."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.top import Top
from platemodel.study.gluing.conduction import Layer, Stack, Surface, contact_temperature
from platemodel.wood.thermal import KELVIN, Thermal, glue_thermal, wood_thermal

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
LONGEST = 600.0  # s: longer is not told apart, drying and not cooling then ends the window
ALLOWED = {"glue_c": (40.0, 75.0), "wood_c": (0.0, 50.0), "room_c": (0.0, 40.0), "lay_s": (0.0, 120.0)}


def wet_air(coefficient: float, air: float, humidity: float, wet: float) -> Surface:
    """Face that gives heat to the air and water with it.

    Parameters
    ----------
    coefficient : float
        Heat transfer, W/(m2 K).
    air : float
        degrees C.
    humidity : float
        Of the air, fraction.
    wet : float
        Share of a free water surface's evaporation, 0 to 1.

    Notes
    -----
    Heat and vapour leave alike: h_m = h / (density c Le^(2/3)) (Lewis; Incropera & DeWitt, 6.7, from memory)
    with Le = 0.85 for vapour in air; vapour pressure after Magnus (Alduchov & Eskridge 1996, from memory).
    """
    carried = 2.4e6 / (1.2 * 1007.0 * 0.85 ** (2.0 / 3.0))  # J/kg over J/(m3 K): latent heat per h
    outside = humidity * vapour_density(air)

    def flow(t):
        return coefficient * (t - air + wet * carried * (vapour_density(t) - outside))

    return Surface(flow)


def vapour_density(t):
    """Density of saturated water vapour at a temperature in degrees C, kg/m3 (Magnus)."""
    pressure = 610.94 * np.exp(17.625 * t / (t + 243.04))
    return pressure / (461.5 * (t + KELVIN))


@dataclass(frozen=True)
class Joint:
    """A bar, a film of glue and a plate, with their temperatures.

    Attributes
    ----------
    bar, glue, plate : Thermal
    bar_thickness, film, plate_thickness : float
        m; the bar's height is its thickness here.
    glue_c, wood_c, room_c : float
        Degrees C. Both woods are at ``wood_c`` when the glue is spread.
    gel_c : float
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

    def open_stack(self) -> Stack:
        """Glue on the bar, air over it."""
        bar = Layer(self.bar, self.bar_thickness, self.wood_c, "both")
        film = Layer(self.glue, self.film, self.glue_c)
        dry = Surface.linear(self.air, self.room_c)
        return Stack([bar, film], dry, wet_air(self.air, self.room_c, self.humidity, self.wet))

    def open_time(self) -> float:
        """Time from spreading until the mean of the open film is at the gel temperature, s."""
        stack = self.open_stack()
        return stack.run(LONGEST, lambda t: stack.mean(t, 1) - self.gel_c)[2]

    def closed_time(self, lay: float) -> float:
        """Time from spreading until the film gels, the bar set on the plate ``lay`` seconds after, s."""
        first = self.open_stack()
        dry = Surface.linear(self.air, self.room_c)
        plate = Layer(self.plate, self.plate_thickness, self.wood_c, "both")
        alone = Stack([plate], dry, dry, film=self.film)
        if lay > 0:
            _, t, reached = first.run(lay, lambda t: first.mean(t, 1) - self.gel_c)
            if reached < lay:
                return reached
            below = alone.run(lay)[1][:, -1]
            above = t[:, -1]
        else:
            below, above = alone.start, first.start
        film = Layer(self.glue, self.film, self.glue_c)
        bar = first.layers[0]
        # Bar and film on top of the plate: the plate's cells come last, its outer face last of all.
        stack = Stack([bar, film, plate], dry, dry, np.r_[above, below])
        return lay + stack.run(LONGEST, lambda t: stack.mean(t, 1) - self.gel_c)[2]


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
    lay_s : float
    warnings : tuple of str
        What is wrong with the temperatures.
    """

    joint: Joint
    contact_c: float
    table: pd.DataFrame
    lay_s: float
    warnings: tuple[str, ...]


def glue_window(
    bar: Bar,
    top: Top,
    glue_c: float = 60.0,
    wood_c: float = 20.0,
    room_c: float = 20.0,
    moisture: float = 0.09,
    humidity: float = 0.5,
    gram: int = 192,
    lay_s: float = 10.0,
    film: tuple[float, float, float] = FILM,
    warmed: tuple[float, ...] = WARMED,
) -> GlueWindow:
    """Compute how long hot hide glue stays liquid between a bar and a top.

    Parameters
    ----------
    bar : Bar
    top : Top
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
    warmed : tuple of float
        Temperatures of the wood to compare, degrees C.

    Returns
    -------
    GlueWindow

    Raises
    ------
    ValueError
        A temperature, time or gram strength out of range.

    Notes
    -----
    Conduction square to the joint through the bar's mean height, the film and the plate's mean thickness
    under the bar; outer faces to the room's air, the open film gives off water as well. The bands go from a
    thin film, moving air, free evaporation and a high gel temperature to a thick film, still air, none and
    a low one. No stirring, no heat of gelling, no drying: a window longer than minutes ends by drying.
    """
    for name, value in (("glue_c", glue_c), ("wood_c", wood_c), ("room_c", room_c), ("lay_s", lay_s)):
        low, high = ALLOWED[name]
        if not low <= value <= high:
            msg = f"{name} = {value}: allowed {low:g} to {high:g}"
            raise ValueError(msg)
    if gram not in GEL:
        msg = f"gram strength {gram}: allowed are {', '.join(map(str, GEL))}"
        raise ValueError(msg)
    if not 0 < film[0] <= film[1] <= film[2] < 2e-3:
        msg = f"film {tuple(1e3 * f for f in film)} mm: three thicknesses, rising, below 2 mm"
        raise ValueError(msg)
    x = np.linspace(bar.x_start, bar.x_end, 61)
    middle = Joint(
        wood_thermal(bar.wood.density, moisture),
        glue_thermal(),
        wood_thermal(top.wood.density, moisture),
        float(bar.height(x).mean()),
        film[1],
        float(np.mean(top.thickness.value(x, bar.at(x)))),
        glue_c,
        wood_c,
        room_c,
        GEL[gram],
        humidity=humidity,
    )
    rows = [_row(middle, t, film, lay_s) for t in sorted({wood_c, *(w for w in warmed if w > wood_c)})]
    base = rows[0]["open_mid_s"]
    for row in rows:
        row["times"] = row["open_mid_s"] / base if np.isfinite(base) else np.nan
    contact = contact_temperature(middle.glue, glue_c, middle.bar, wood_c)
    return GlueWindow(middle, contact, pd.DataFrame(rows), lay_s, tuple(_warnings(glue_c, wood_c)))


def _row(middle, wood_c, film, lay):
    row = {
        "wood_c": wood_c,
        "contact_c": contact_temperature(middle.glue, middle.glue_c, middle.bar, wood_c),
    }
    for k, name in enumerate(("low", "mid", "high")):
        joint = replace(
            middle,
            wood_c=wood_c,
            film=film[k],
            gel_c=middle.gel_c + (1 - k) * GEL_BAND,
            air=AIR[2 - k],
            wet=WET[2 - k],
        )
        row[f"open_{name}_s"] = joint.open_time()
        row[f"closed_{name}_s"] = joint.closed_time(lay)
    return row


def _warnings(glue_c, wood_c):
    if glue_c > POT_MOST:
        yield f"glue at {glue_c:g} degrees: held above {POT_MOST:g} it loses strength"
    elif not POT[0] <= glue_c <= POT[1]:
        yield f"glue at {glue_c:g} degrees: {POT[0]:g} to {POT[1]:g} in the pot is usual"
    if wood_c > WARM_MOST:
        yield f"wood at {wood_c:g} degrees: above {WARM_MOST:g} old varnish and old joints may soften"
