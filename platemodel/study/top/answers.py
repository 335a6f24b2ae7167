"""What can be asked of a top with any bar on it: the answers, and the protocol that each model fulfils.

There are two models: the full one (`TopModel`, seconds an answer) and the reduced one (`ReducedTop`,
milliseconds). Whatever asks them asks through `TopSolver` and need not know which of the two it has.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from platemodel.fem.eigen import Modes
from platemodel.fem.rib import Rib
from platemodel.instrument.bar import Bar
from platemodel.instrument.strings import SetUp
from platemodel.instrument.top import Top
from platemodel.study.top.meshed_top import MeshedTop
from platemodel.study.top.recognise import Naming

COUNT = 8  # modes looked at for 1, 2 and 5


@dataclass(frozen=True)
class Bracket:
    """A value with the rim sliding in its plane and held there; the glued ribs lie between the two."""

    sliding: float
    held: float

    @property
    def middle(self) -> float:
        """Mean of the two."""
        return 0.5 * (self.sliding + self.held)

    @property
    def ends(self) -> tuple[float, float]:
        """The smaller and the larger."""
        return min(self.sliding, self.held), max(self.sliding, self.held)


@dataclass(frozen=True)
class FootStiffness:
    """Stiffness under the bass foot of the bridge.

    Attributes
    ----------
    sliding, held : float
        N/m, the rim free to slide in its plane or held there; the glued ribs lie between the two.
    """

    sliding: float
    held: float

    @property
    def middle(self) -> float:
        """Geometric mean of the two, N/m."""
        return float(np.sqrt(self.sliding * self.held))


@dataclass(frozen=True, eq=False)
class BarResponse:
    """What a bar does to a top.

    Attributes
    ----------
    frequencies : array (k,)
        Of the free plate, Hz; of those above mode 5 the reduced model is less sure.
    namings : tuple of Naming
        Which of them are modes 1, 2 and 5.
    foot : FootStiffness
        Under the bass foot.
    bar_mass, plate_mass : float
        kg; the plate's with the bar.
    error : float
        Estimated relative error of modes 1, 2, 5 and of the stiffness against the full model (0 from the full
        model); an estimate, not a bound.
    source : {"full", "reduced"}
    sinking : Bracket or None
        Mean sinking of the bass foot under the strings on the first day, m, down positive; None if it was
        not asked for.
    """

    frequencies: np.ndarray
    namings: tuple[Naming, ...]
    foot: FootStiffness
    bar_mass: float
    plate_mass: float
    error: float = 0.0
    source: str = "full"
    sinking: Bracket | None = None

    def frequency(self, number: int) -> float:
        """Frequency in Hz of mode 1, 2 or 5; NaN where no mode looks like it."""
        for naming in self.namings:
            if naming.number == number:
                return float(self.frequencies[naming.index])
        return float("nan")


@dataclass(frozen=True, eq=False)
class NamedShapes:
    """Shapes of modes 1, 2 and 5 and of a push on the bass foot, to differentiate with.

    Attributes
    ----------
    omega2 : array (k,)
        Of the named modes, 1/s2.
    modes : array (n_dofs of the shell, k)
        Mass-normalised.
    modes_own : array (n_own, k)
        The bar's own shear field in them.
    pushes : array (n_dofs of the shell, 2)
        Deflection under one newton upwards under the bass foot, one a rim.
    pushes_own : array (n_own, 2)
    give : array (2,)
        Of the bass foot, m/N.
    """

    namings: tuple[Naming, ...]
    omega2: np.ndarray
    modes: np.ndarray
    modes_own: np.ndarray
    pushes: np.ndarray
    pushes_own: np.ndarray
    give: np.ndarray


class TopSolver(Protocol):
    """A model of a top that answers for any bar on it; every answer is right to the model's tolerance.

    Threads may ask one model at once.
    """

    @property
    def top(self) -> Top:
        """The top."""

    @property
    def mass(self) -> float:
        """Mass of the top without bar, kg."""

    @property
    def full(self) -> MeshedTop:
        """The full model: itself, or the one it stands for."""

    def rib(self, bar: Bar | None) -> Rib | None:
        """Put a bar on the top; None stays None."""

    def response(self, bar: Bar | None, set_up: SetUp | None = None) -> BarResponse:
        """See `bar_response`."""

    def free_modes(self, bar: Bar | None, count: int) -> Modes:
        """Lowest modes of the free plate, their vectors in the shell's unknowns at least."""

    def foot_stiffness(self, bar: Bar | None, post: bool = True) -> FootStiffness:
        """See `platemodel.study.top.foot.bass_foot_stiffness`."""

    def moved(self, bar: Bar | None, rim: str, set_up: SetUp) -> np.ndarray:
        """Displacement under 1 N upwards along each of `platemodel.study.top.foot.load_rows`.

        Returns
        -------
        array (n_dofs of the shell and of the bar's own shear, 3)
        """

    def named_shapes(self, bar: Bar | None, post: bool = True) -> NamedShapes:
        """Shapes of modes 1, 2 and 5 and of a push on the bass foot."""

    def drawn_shapes(self, bar: Bar | None) -> dict[int, np.ndarray]:
        """Shapes of modes 1, 2 and 5 by number at the points of `drawn_plate`, good enough to draw."""


def bar_response(model: TopSolver, bar: Bar | None, set_up: SetUp | None = None) -> BarResponse:
    """Ask a model what a bar does.

    Parameters
    ----------
    model : TopModel or ReducedTop
        The full model takes seconds, the reduced one milliseconds.
    bar : Bar or None
        None is the top without bar.
    set_up : SetUp, optional
        Strings, for the sinking.
    """
    return model.response(bar, set_up)
