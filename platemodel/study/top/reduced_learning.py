"""How the reduced model of a top learns: unit loads, samples of bars, and the model that teaches it."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from platemodel.fem.greedy import compress, weak_greedy
from platemodel.fem.kept import Kept
from platemodel.fem.reduced import ReducedShell
from platemodel.fem.reductor import Reductor
from platemodel.fem.rib import Rib
from platemodel.fem.seat import Seat
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_range import BarRange
from platemodel.study.top.answers import COUNT
from platemodel.study.top.edge_supports import rim_supports
from platemodel.study.top.meshed_top import MeshedTop, bar_rib

# The free plate with all its modes, and a leaner model for modes 1, 2 and 5 alone, for sliders.
ALL_MODES, NAMED_MODES = "free", "known"
NAMED_AMONG = 6  # modes among which 1, 2 and 5 are expected; beyond, the fuller models answer
SAMPLES = {ALL_MODES: 26, NAMED_MODES: 26, "sliding": 34, "held": 34}
# Of the tolerance, the estimated error to learn down to. Stresses err by the root of what the stiffness errs
# by, and the post pushes back most of what the feet press, so single loads are learnt further.
MODES_GOAL, LOADS_GOAL = 0.6, 0.1
SLENDER = (0.1, 0.2, 0.2, 0.1, 0.5)  # place in the range of the bar that residuals are measured by


@dataclass(frozen=True, eq=False)
class Teacher:
    """Teaches the reduced models of one top what they do not know yet.

    Attributes
    ----------
    bar : Bar
        Whose line the models are made for.
    loads : array (n_dofs, 4)
        See `platemodel.study.top.foot.unit_loads`.
    """

    model: MeshedTop
    bar: Bar
    range: BarRange
    tolerance: float
    loads: np.ndarray
    _reductors: Kept = field(default_factory=Kept, repr=False)

    @property
    def slender(self) -> Rib:
        """A rib at least as slender as nearly all of the range."""
        return bar_rib(self.model, self.range.bar(self.bar, self.model.top.bridge.x, SLENDER))

    def reductor(self, name: str) -> Reductor:
        """Factorised model that residuals of ``ALL_MODES`` or of a rim are answered with."""
        name = ALL_MODES if name == NAMED_MODES else name

        def made():
            if name == ALL_MODES:
                return Reductor(self.model.shell, self.slender, count=COUNT)
            return Reductor(self.model.shell, self.slender, rim_supports(self.model, name), self.loads)

        return self._reductors.get(name, made)

    def samples(self, name: str, bar: Bar, seat: Seat, share: float = 1.0) -> list[Rib]:
        """Ribs on a bar's seat, that one of the models learns from."""
        bars = self.range.samples(bar, self.model.top.bridge.x, int(share * SAMPLES[name]))
        return [bar_rib(self.model, one, seat) for one in bars]

    def taught(
        self, name: str, ribs: Sequence[Rib | None], start: ReducedShell | None = None
    ) -> ReducedShell:
        """Model that knows some ribs, of as few vectors as their answers are made of."""
        goal = self.tolerance * (MODES_GOAL if name in (ALL_MODES, NAMED_MODES) else LOADS_GOAL)
        return compress(weak_greedy(self.reductor(name), ribs, goal, start).rom, ribs, 1.6 * goal)

    def taught_one(self, name: str, rib: Rib, start: ReducedShell, steps: int) -> ReducedShell:
        """Model that knows one rib besides what it knew; not compressed."""
        return weak_greedy(self.reductor(name), [rib], 0.5 * self.tolerance, start, steps).rom
