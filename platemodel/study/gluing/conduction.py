"""Heat that flows through layers: exact formulas for two bodies that meet, and finite volumes for slabs.

One direction only, square to the glue line: bar and plate are many times wider than heat gets in a minute.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import erfcx

from platemodel.errors import AccuracyError
from platemodel.wood.thermal import Thermal

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
    film, wood : Thermal
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
    material : Thermal
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
class Surface:
    """Outer face: heat flow into the air, W/m2, as a function of the face's temperature in degrees C.

    A face that lets no heat through has none: ``None`` instead of a `Surface`.
    """

    flow: Callable[[np.ndarray], np.ndarray]

    @classmethod
    def linear(cls, coefficient: float, air: float) -> "Surface":
        """Newton's law with a heat transfer coefficient, W/(m2 K), to air of a temperature, degrees C."""
        return cls(lambda t: coefficient * (t - air))


class Stack:
    """Layers one on the other, cut into cells.

    Parameters
    ----------
    layers : sequence of Layer
        From low to high.
    low, high : Surface or None
        Outer faces.
    temperature : array, optional
        Of the cells at the start; default the layers'.
    film : float, optional
        Thickness that the finest cells follow, m; default the thinnest layer's. Stacks with the same one cut
        the same layer alike.
    """

    def __init__(self, layers, low=None, high=None, temperature=None, film=None):
        self.layers, self.low, self.high = tuple(layers), low, high
        film = film or min(layer.thickness for layer in self.layers)
        sizes = [_cells(layer, film) for layer in self.layers]
        self.size = np.concatenate(sizes)
        self.of = np.repeat(np.arange(len(sizes)), [len(s) for s in sizes])
        each = [self.layers[i] for i in self.of]
        self.capacity = self.size * np.array([e.material.heat_capacity for e in each])
        half = 0.5 * self.size / np.array([e.material.conductivity for e in each])
        self.link = 1.0 / (half[1:] + half[:-1])
        self.half = half
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

    def heat(self, temperature) -> float:
        """Heat above 0 degrees C, J/m2."""
        return self.capacity @ temperature

    def rate(self, _, temperature):
        """Change of the cells' temperatures per second."""
        flow = self.link * np.diff(temperature)
        out = np.zeros_like(temperature)
        out[:-1] += flow
        out[1:] -= flow
        for end, face in ((0, self.low), (-1, self.high)):
            if face is not None:
                out[end] -= self._lost(face, temperature[end], self.half[end])
        return out / self.capacity

    def _lost(self, face, inside, half):
        """Flow out of the outermost cell: its face's temperature is such that both sides agree."""
        t = inside
        for _ in range(3):  # contracts by half-cell resistance times coefficient, below a hundredth
            t = inside - half * face.flow(t)
        return face.flow(t)

    def run(self, seconds: float, until: Callable | None = None, at=None):
        """Let time pass.

        Parameters
        ----------
        seconds : float
        until : callable, optional
            ``until(temperature)`` falls through zero when time is up.
        at : array, optional
            Times to keep, s.

        Returns
        -------
        times, temperatures : arrays (k,), (cells, k)
        reached : float
            When ``until`` fell through zero; infinite if it did not.

        Raises
        ------
        AccuracyError
            The integration failed.
        """
        from scipy.integrate import solve_ivp  # slow to load, and only the glue window needs it

        if until is not None and until(self.start) <= 0:
            return np.zeros(1), self.start[:, None], 0.0
        event = None
        if until is not None:

            def event(_, temperature):
                return until(temperature)

            event.terminal, event.direction = True, -1
        found = solve_ivp(
            self.rate,
            (0.0, seconds),
            self.start,
            method="LSODA",
            t_eval=at,
            events=event,
            rtol=TOLERANCE,
            atol=TOLERANCE,
            lband=1,
            uband=1,
        )
        if found.status < 0:
            msg = f"heat flow: {found.message}"
            raise AccuracyError(msg)
        reached = float(found.t_events[0][0]) if event is not None and len(found.t_events[0]) else np.inf
        return found.t, found.y, reached


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
