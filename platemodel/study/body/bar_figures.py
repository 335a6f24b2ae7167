"""Figures of the closed body for any bar on one line, by the names of `study.top.figures.FIGURES`."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from platemodel.instrument.bar import Bar
from platemodel.study.body.reduced import ReducedBody
from platemodel.study.body.sound import bass_mobility, body_sound
from platemodel.study.top.figures import BODY_FIGURES
from platemodel.wood.estimate import CONSTANTS

STEP = 1e-3  # of a logarithm: forward differences of what is smooth, and still many digits


@dataclass(frozen=True, eq=False)
class BodyFigures:
    """How far the bass foot sinks in the closed body, and how freely it moves; some 20 ms a bar.

    Attributes
    ----------
    body : ReducedBody
    """

    body: ReducedBody

    @cached_property
    def top_stiffness(self) -> np.ndarray:
        """Stiffness of the top's plate alone in the body's coordinates: (r, r)."""
        shell = self.body.model.top_model.shell
        return _projected(shell.K, self._plate)

    @property
    def _plate(self):
        return self.body.vectors[: self.body.model.top_model.shell.n_dofs]

    def of(self, bar: Bar | None, softness: float = 1.0) -> dict[str, float]:
        """Figures of a bar.

        Parameters
        ----------
        bar : Bar or None
            On the line that the body was learnt for.
        softness : float
            Factor on all moduli of the top's plate; its edge on the rim and under the post stay as they are.

        Raises
        ------
        ValueError
            A bar on another line, or of another length or width.
        """
        change = None
        if softness != 1.0:
            change = ((softness - 1.0) * self.top_stiffness, 0.0)
        return self._read(bar, change)

    def _read(self, bar, change):
        sound = body_sound(self.body, bar, change)
        found = (1e3 * sound.answer.sinking()[0], bass_mobility(sound))
        return dict(zip(BODY_FIGURES, found, strict=True))

    @cached_property
    def _by_constant(self):
        """Change of stiffness and mass by the logarithm of each of ``CONSTANTS``: pairs of (r, r)."""
        shell, wood, plate = self.body.model.top_model.shell, self.body.model.top.wood, self._plate
        base = self.top_stiffness
        out = {"density": (0.0, _projected(shell.M, plate))}
        for name, change in wood.compliance_by_logs().items():
            other = shell.with_material(wood.compliance() + STEP * change, wood.density)
            out[name] = ((_projected(other.K, plate) - base) / STEP, 0.0)
        return out

    def by_top_wood(self, bar: Bar | None, softness: float = 1.0) -> dict[str, list[float]]:
        """Differentiate the logarithms of the figures by those of the constants of the top's wood.

        Returns
        -------
        dict of str to list of float
            By figure; one number each of ``wood.CONSTANTS``.
        """
        soft = (softness - 1.0) * self.top_stiffness
        base = self._read(bar, (soft, 0.0))
        out: dict[str, list[float]] = {name: [] for name in base}
        for constant in CONSTANTS:
            stiff, mass = self._by_constant[constant]
            moved = self._read(bar, (soft + STEP * softness * stiff, STEP * mass))
            for name, value in moved.items():
                out[name].append(float(np.log(value / base[name]) / STEP))
        return out


def _projected(matrix, vectors):
    found = vectors.T @ (matrix @ vectors)
    return 0.5 * (found + found.T)
