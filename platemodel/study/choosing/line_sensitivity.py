"""What another length, width or place of the bar does, read smoothly between a few bars solved in full.

A reduced model knows its own line to many digits and another line hardly at all, because the plate bends
sharply beside the bar. The figures themselves move little and smoothly with the line.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from platemodel.errors import GeometryError
from platemodel.fem.kept import Kept
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import OF_THE_LINE, shaped_bar
from platemodel.study.top.figures import BODY_FIGURES, TopFigures, strip_stiffness
from platemodel.study.top.meshed_top import bar_seat

#: How far the line is changed to either side: of length and width, and of the body length for the place.
REACH = {"length": 0.05, "width": 0.15, "position": 2.0 / 355.0}
SPREAD = 1.2  # the higher of the two bars solved over the bar itself, and the bar over the lower
#: Figures that are closed formulas, computed as they are.
CLOSED = ("strip_n_m2", "height_mm")
ONE_LINE = (
    "the closed body answers for one line of the bar, so length, width and place stay as they are; height, "
    "ends and power may change"
)


def reach_of(bar: Bar, body_length: float) -> dict[str, float]:
    """How far each figure of the line may change to either side, m."""
    scale = {"length": bar.length, "width": bar.width, "position": body_length}
    return {name: REACH[name] * scale[name] for name in OF_THE_LINE}


@dataclass(frozen=True, eq=False)
class LineSensitivity:
    """Factors on a top's figures for bars beside the line of a reference bar.

    Length, width and place act each by itself: the logarithm of a figure is quadratic in the change, with
    coefficients linear in the logarithm of the height. Bars for one of the three are solved, in full, when it
    is first asked for; a thread that asks for what another is solving waits for it.

    Attributes
    ----------
    figures : TopFigures
        On either model; other lines are solved by the full one.
    bar : Bar
        Reference.
    """

    figures: TopFigures
    bar: Bar
    _known: Kept = field(default_factory=Kept, repr=False)

    @property
    def reach(self) -> dict[str, float]:
        """How far each figure of the line may change to either side, m."""
        return reach_of(self.bar, self.figures.top.outline.body_length)

    def learn(self, name: str) -> None:
        """Solve the four bars for ``length``, ``width`` or ``position``, unless they are known.

        Raises
        ------
        GeometryError
            The bar leaves the plate to either side.
        """
        self._learnt(name)

    def _learnt(self, name):
        return self._known.get(name, lambda: self._solved(name))

    def _solved(self, name):
        plain = replace(self.figures, softness=1.0, body=None)
        height, rows = float(self.bar.heights.max()), []
        for h in (height / SPREAD, height * SPREAD):
            base = plain.of(shaped_bar(self.bar, height=h))
            steps, logs = self._steps(name), []
            for step in steps:
                found = plain.full.of(shaped_bar(self.bar, height=h, **{name: self._value(name, step)}))
                logs.append([np.log(found[k] / base[k]) for k in base if k not in CLOSED])
            rows.append(np.linalg.solve(np.array([[s, s**2] for s in steps]), np.array(logs)))
        return np.array(rows)  # (2 heights, 2 powers, figures)

    def _steps(self, name):
        """Two changes to solve, of the reach: to both sides, or twice to the one where there is room."""
        free = [s for s in (-1.0, 1.0) if self._seated(shaped_bar(self.bar, **{name: self._value(name, s)}))]
        if not free:
            msg = f"the bar's {name} can change to neither side: it would leave the plate or meet a hole"
            raise GeometryError(msg)
        return free if len(free) == 2 else [0.5 * free[0], free[0]]

    def _seated(self, bar):
        try:
            bar_seat(self.figures.model.full, bar)
        except GeometryError:
            return False
        return True

    def _value(self, name, step=0.0):
        return step * self.reach[name] + (0.0 if name == "position" else getattr(self.bar, name))

    def of(self, bar: Bar, changes: dict[str, float], softness: float = 1.0) -> dict[str, float]:
        """Figures of a bar of the reference's line, as if its line were changed.

        Parameters
        ----------
        bar : Bar
            On the reference's line; its height, profile and wood count.
        changes : dict of str to float
            ``length`` and ``width`` themselves, ``position`` as the distance moved, m.
        softness : float
            See `TopFigures`.

        Raises
        ------
        GeometryError
            A change that reaches further than twice what was solved, or off the plate.
        """
        return self.applied(self.figures.softer(softness).of(bar), bar, changes, softness)

    def applied(
        self, found: dict[str, float], bar: Bar, changes: dict[str, float], softness: float = 1.0
    ) -> dict[str, float]:
        """Change figures of a bar of the reference's line, that are there already, as `of` does."""
        moved = shaped_bar(bar, **changes)
        if not self._seated(moved):
            msg = "the bar leaves the plate or meets a sound hole there; move it back or shorten it"
            raise GeometryError(msg)
        factor = self.factors(found, float(bar.heights.max()), changes)
        out = {name: value * factor.get(name, 1.0) for name, value in found.items()}
        out["strip_n_m2"] = strip_stiffness(self.figures.top, moved, softness)
        out["ratio_5_2"] = out["f5_hz"] / out["f2_hz"]
        return out

    def factors(self, found: dict[str, float], height: float, changes: dict[str, float]) -> dict[str, float]:
        """Factor on each figure for a change of the line at a height of the bar (m)."""
        if changes and any(k in BODY_FIGURES for k in found):
            raise ValueError(ONE_LINE)
        names = [k for k in found if k not in CLOSED]
        t = 0.5 + 0.5 * np.log(height / self.bar.heights.max()) / np.log(SPREAD)
        logs = np.zeros(len(names))
        for name, value in changes.items():
            step = (value - self._value(name)) / self.reach[name]
            if abs(step) < 1e-9:
                continue
            if abs(step) > 2.0:
                msg = (
                    f"bar {name} changed by {1e3 * step * self.reach[name]:+.1f} mm; at most "
                    f"{2e3 * self.reach[name]:.1f} mm either way, else lay out another bar"
                )
                raise GeometryError(msg)
            lower, higher = self._learnt(name)
            linear, square = (1.0 - t) * lower + t * higher
            logs += step * linear + step**2 * square
        return dict(zip(names, np.exp(logs).tolist(), strict=True))
