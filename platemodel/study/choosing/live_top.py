"""Figures and shapes of the bar under a set of sliders, quick enough to follow them."""

from dataclasses import dataclass

import numpy as np

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import OF_THE_LINE, ON_THE_LINE, shaped_bar
from platemodel.study.choosing.line_sensitivity import LineSensitivity
from platemodel.study.top.drawn_plate import DrawnPlate, drawn_plate
from platemodel.wood import Orthotropic


@dataclass(frozen=True)
class BarState:
    """Where the sliders stand.

    Attributes
    ----------
    values : tuple of (str, float)
        Of ``height``, ``ends``, ``power``, ``length``, ``width``, ``position``; m, the exponent without unit.
    softness : float
        Factor on the moduli of the top's wood.
    wood : Orthotropic or None
        Of the bar; None is its own.
    """

    values: tuple[tuple[str, float], ...] = ()
    softness: float = 1.0
    wood: Orthotropic | None = None


@dataclass(frozen=True, eq=False)
class LiveAnswer:
    """What the sliders say.

    Attributes
    ----------
    shapes : dict of int to array (m,)
        Normal displacement of modes 1, 2 and 5 at the plate's points, the largest 1; of the line that the bar
        began on, since a few millimetres of it move no nodal line as far as the eye would see.
    error : float
        Estimated, relative, of the reduced model.
    read : bool
        Some figures are read from `LineSensitivity`.
    """

    bar: Bar
    figures: dict[str, float]
    shapes: dict[int, np.ndarray]
    error: float
    read: bool


@dataclass(frozen=True, eq=False)
class LiveTop:
    """A top ready to follow sliders.

    Attributes
    ----------
    effects : LineSensitivity
        On a reduced model.
    """

    effects: LineSensitivity

    @property
    def bar(self) -> Bar:
        """The bar to begin with."""
        return self.effects.bar

    @property
    def plate(self) -> DrawnPlate:
        """Points at which shapes are given."""
        return drawn_plate(self.effects.figures.model.full)

    def answer(self, state: BarState) -> LiveAnswer:
        """Figures and shapes for a state of the sliders.

        Raises
        ------
        ValueError
            A bar that cannot be.
        GeometryError
            A bar that leaves the plate or meets a sound hole.
        """
        values = dict(state.values)
        one = shaped_bar(self.bar, wood=state.wood, **{k: v for k, v in values.items() if k in ON_THE_LINE})
        line = {k: v for k, v in values.items() if k in OF_THE_LINE and self._differs(k, v)}
        figures = self.effects.figures.softer(state.softness)
        found = figures.response(one)
        out = figures.read(found, one)
        if line:
            out = self.effects.applied(out, one, line, state.softness)
        shapes = self._shapes(figures.as_if(one))
        return LiveAnswer(shaped_bar(one, **line), out, shapes, found.error, bool(line))

    def _differs(self, name, value):
        return abs(value - (0.0 if name == "position" else getattr(self.bar, name))) > 1e-9

    def _shapes(self, bar):
        found = self.effects.figures.model.drawn_shapes(bar)
        return {k: v / np.abs(v).max() for k, v in found.items()}
