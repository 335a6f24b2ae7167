"""Heat that flows through layers: exact formulas for two bodies that meet, and finite volumes for slabs.

One direction only, square to the glue line: bar and plate are many times wider than heat gets in a minute.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import erfcx

from platemodel.errors import AccuracyError
from platemodel.wood.thermal import KELVIN, Thermal

GROWTH = 1.12  # of neighbouring cells, away from a joint
FILM_CELLS = 10
FINEST = 400  # first cell of a slab, as its share of the film or of the slab
TOLERANCE = 1e-6


def contact_temperature(a: Thermal, t_a: float, b: Thermal, t_b: float) -> float:
    """Temperature of the faces of two thick bodies the moment they meet; it stays until an end is felt.

    (e_a T_a + e_b T_b)/(e_a + e_b) with the effusivities e: Carslaw & Jaeger, Conduction of Heat in Solids,
    1959, 2.15; Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 5.7 (from memory).
    """
    return (a.effusivity * t_a + b.effusivity * t_b) / (a.effusivity + b.effusivity)


def film_decay(film: Thermal, thickness: float, wood: Thermal, time, sides: int = 2):
    """Share of its first excess over the wood that a thin film of even temperature keeps on thick wood.

    exp(x^2) erfc(x), x = sides e_wood sqrt(t) / (heat capacity of the film): Carslaw & Jaeger, 12.4, a
    well-stirred layer in contact with a half-space (from memory). It gives the law of the glue film in one
    line: time to a given temperature goes as the square of the film's thickness.

    Parameters
    ----------
    thickness : float
        m.
    time : float or array
        s.
    sides : {1, 2}
        Wood on one or on both sides.
    """
    return erfcx(sides * wood.effusivity * np.sqrt(time) / (film.heat_capacity * thickness))


@dataclass(frozen=True)
class Layer:
    """A layer of even material.

    Attributes
    ----------
    thickness : float
        m.
    temperature : float
        At the start, degrees C.
    fine : {"both", "low", "high", "even"}
        Where its cells are small: at which of its faces a neighbour has another temperature.
    """

    material: Thermal
    thickness: float
    temperature: float
    fine: str = "even"


@dataclass(frozen=True)
class AirFace:
    """Outer face that gives heat to the air and, where it is wet, water with it.

    Attributes
    ----------
    coefficient : float or array
        Heat transfer, W/(m2 K); 0 for a face that lets no heat through.
    air : float or array
        degrees C.
    wet : float or array
        Share of a free water surface's evaporation, 0 to 1.
    humidity : float or array
        Of the air, fraction.

    Notes
    -----
    Heat and vapour leave alike: h_m = h / (density c Le^(2/3)) (Lewis; Incropera & DeWitt, 6.7, from memory)
    with Le = 0.85 for vapour in air; vapour pressure after Magnus (Alduchov & Eskridge 1996, from memory).
    """

    coefficient: float
    air: float
    wet: float = 0.0
    humidity: float = 0.0

    def flow(self, t):
        """Heat flow into the air, W/m2, at temperatures of the face in degrees C."""
        dry = t - self.air
        if not np.any(self.wet):
            return self.coefficient * dry
        vapour = vapour_density(t) - self.humidity * vapour_density(self.air)
        return self.coefficient * (dry + self.wet * CARRIED * vapour)


INSULATED = AirFace(0.0, 0.0)
CARRIED = 2.4e6 / (1.2 * 1007.0 * 0.85 ** (2.0 / 3.0))  # J/kg over J/(m3 K): latent heat per coefficient


def vapour_density(t):
    """Density of saturated water vapour at a temperature in degrees C, kg/m3 (Magnus)."""
    pressure = 610.94 * np.exp(17.625 * t / (t + 243.04))
    return pressure / (461.5 * (t + KELVIN))


class Stack:
    """Layers one on the other, cut into cells.

    Parameters
    ----------
    layers : sequence of Layer
        From low to high.
    low, high : AirFace
        Outer faces.
    temperature : array, optional
        Of the cells at the start; default the layers'.
    film : float, optional
        Thickness that the finest cells follow, m; default the thinnest layer's. Stacks with the same one cut
        the same layer alike.
    """

    def __init__(self, layers, low=INSULATED, high=INSULATED, temperature=None, film=None):
        self.layers, self.low, self.high = tuple(layers), low, high
        film = film or min(layer.thickness for layer in self.layers)
        sizes = [_cells(layer, film) for layer in self.layers]
        self.size = np.concatenate(sizes)
        self.of = np.repeat(np.arange(len(sizes)), [len(s) for s in sizes])
        each = [self.layers[i] for i in self.of]
        self.capacity = self.size * np.array([e.material.heat_capacity for e in each])
        self.half = 0.5 * self.size / np.array([e.material.conductivity for e in each])
        start = np.array([e.temperature for e in each], dtype=float)
        self.start = start if temperature is None else np.asarray(temperature, dtype=float)

    @property
    def depth(self) -> np.ndarray:
        """Middles of the cells from the low face, m."""
        return np.cumsum(self.size) - 0.5 * self.size

    def mean(self, temperature, layer: int):
        """Mean temperature of a layer; temperatures (cells, ...)."""
        inside = self.of == layer
        return np.tensordot(self.size[inside], temperature[inside], 1) / self.size[inside].sum()

    def run(self, seconds: float, at=None):
        """Let time pass in this stack alone: times (k,), temperatures (cells, k); see `run_together`."""
        found = run_together([self], seconds, at=at)
        return found.times, found.temperatures[0]


@dataclass(frozen=True, eq=False)
class Run:
    """Temperatures of some stacks over time.

    Attributes
    ----------
    times : array (k,)
        s.
    temperatures : tuple of array (cells, k)
        Of each stack, degrees C.
    reached : array (stacks,)
        When each stack's clock fell through zero, s; infinite if it did not, or has none.
    """

    times: np.ndarray
    temperatures: tuple[np.ndarray, ...]
    reached: np.ndarray


def run_together(stacks, seconds: float, clocks=None, at=None) -> Run:
    """Let time pass in several separate stacks, solved as one system of equations.

    Parameters
    ----------
    stacks : sequence of Stack
    clocks : sequence of callable or None, optional
        For each stack ``clock(temperature)``, which falls through zero when its time is up. The run ends when
        all have. None: a stack without a clock.
    at : array, optional
        Times to keep, s; default all steps.

    Raises
    ------
    AccuracyError
        The integration failed.
    """
    from scipy.integrate import solve_ivp  # slow to load, and only the glue window needs it

    ends = np.cumsum([len(s.size) for s in stacks])
    first = np.r_[0, ends[:-1]]
    inside = [slice(a, b) for a, b in zip(first, ends, strict=True)]
    start = np.concatenate([s.start for s in stacks])
    reached = np.full(len(stacks), np.inf)
    waiting = []
    for k, clock in enumerate(clocks or ()):
        if clock is None:
            continue
        if clock(stacks[k].start) <= 0:
            reached[k] = 0.0
        else:
            waiting.append((k, clock))
    if clocks is not None and not waiting and at is None:
        return Run(np.zeros(1), tuple(s.start[:, None] for s in stacks), reached)

    def event(k, clock):
        return lambda _, t: clock(t[inside[k]])

    events = [event(k, clock) for k, clock in waiting]
    for one in events:
        one.direction = -1
    if events and at is None:

        def last(_, t):
            return max(clock(t[inside[k]]) for k, clock in waiting)

        last.terminal, last.direction = True, -1
        events.append(last)
    found = solve_ivp(
        _rate(stacks, first, ends - 1),
        (0.0, seconds),
        start,
        method="LSODA",
        t_eval=at,
        events=events or None,
        rtol=TOLERANCE,
        atol=TOLERANCE,
        lband=1,
        uband=1,
    )
    if found.status < 0:
        msg = f"heat flow: {found.message}"
        raise AccuracyError(msg)
    for i, (k, _) in enumerate(waiting):
        if len(found.t_events[i]):
            reached[k] = found.t_events[i][0]
    return Run(found.t, tuple(found.y[one] for one in inside), reached)


def _rate(stacks, first, last):
    """Change of all cells' temperatures per second; the stacks follow one another, nothing flows between."""
    capacity = np.concatenate([s.capacity for s in stacks])
    half = np.concatenate([s.half for s in stacks])
    link = 1.0 / (half[1:] + half[:-1])
    link[last[:-1]] = 0.0
    outer = np.r_[first, last]
    faces = [s.low for s in stacks] + [s.high for s in stacks]
    face = AirFace(
        *(np.array([getattr(f, n) for f in faces]) for n in ("coefficient", "air", "wet", "humidity"))
    )

    def rate(_, temperature):
        flow = link * np.diff(temperature)
        out = np.zeros_like(temperature)
        out[:-1] += flow
        out[1:] -= flow
        lost = face_flow(face, temperature[outer], half[outer])
        out[first] -= lost[: len(first)]
        out[last] -= lost[len(first) :]
        return out / capacity

    return rate


def face_flow(face: AirFace, inside, half):
    """Flow out of outermost cells, W/m2: the faces' temperatures are such that both sides agree.

    Parameters
    ----------
    inside : float or array
        Temperature of the cell, degrees C.
    half : float or array
        Resistance of half the cell, m2 K/W.
    """
    t = inside
    for _ in range(3):  # contracts by half-cell resistance times coefficient, below a hundredth
        t = inside - half * face.flow(t)
    return face.flow(t)


def _cells(layer, film):
    """Cell sizes of a layer, low to high."""
    if layer.fine == "even":
        return np.full(FILM_CELLS, layer.thickness / FILM_CELLS)
    span = layer.thickness / (2.0 if layer.fine == "both" else 1.0)
    first = min(film / FILM_CELLS, span / FINEST)
    count = max(4, int(np.ceil(np.log(1.0 + span / first * (GROWTH - 1.0)) / np.log(GROWTH))))
    sizes = GROWTH ** np.arange(count)
    sizes *= span / sizes.sum()
    return {"low": sizes, "high": sizes[::-1], "both": np.r_[sizes, sizes[::-1]]}[layer.fine]
