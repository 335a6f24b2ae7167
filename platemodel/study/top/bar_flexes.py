"""How far a top sags in its flex tests with any bar on it, in milliseconds."""

from dataclasses import dataclass, field, replace

import numpy as np

from platemodel.fem.greedy import compress, weak_greedy
from platemodel.fem.kept import Kept
from platemodel.fem.reduced import ReducedShell
from platemodel.fem.reductor import Reductor
from platemodel.fem.seat import Seat
from platemodel.fem.supports import ground
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.bar_shape import scaled_wood
from platemodel.instrument.flex_test import KINDS, FlexTest, usual_flex_test
from platemodel.instrument.strings import KGF
from platemodel.study.top.flex import balanced_row
from platemodel.study.top.meshed_top import MeshedTop, bar_rib, bar_seat

# Relative, of the estimated error of a sag. The true one is a tenth of it; pegs, weight and gauge leave 2 %.
TOLERANCE = 1e-2
SAMPLES = 12
SEATS = 8  # other lines, lengths and widths that are kept
SLENDER = (0.1, 0.2, 0.2, 0.1, 0.5)  # place in the range of the bar that residuals are measured by
PER_WEIGHT = 0.1 * KGF  # N: sags are given for 100 g


@dataclass(frozen=True, eq=False)
class BarFlexes:
    """The flex tests of a top, ready for any bar; made by `bar_flexes`.

    Threads may ask at once. A bar on another line, or of another length or width, is learnt when it is first
    asked for.

    Attributes
    ----------
    tests : tuple of FlexTest
        One a kind; weight and gauge share one place in each.
    home : Seat
        Of the bar's line that it was made for.
    """

    model: MeshedTop
    tests: tuple[FlexTest, ...]
    reductor: Reductor
    rom: ReducedShell
    home: Seat
    _footprint: tuple
    _seats: Kept = field(default_factory=lambda: Kept(SEATS), repr=False)

    def flexibility(self, bar: Bar | None, softness: float = 1.0) -> dict[str, float]:
        """Sag per force by kind of test, m/N.

        Parameters
        ----------
        softness : float
            Factor on all moduli of the top's wood: a top s times as stiff under a bar is s times the top with
            a bar of 1/s.

        Raises
        ------
        GeometryError
            The bar leaves the plate.
        """
        if bar is not None and softness != 1.0:
            bar = _softer(bar, softness)
        rom, rib = self._rom(bar)
        sags = rom.static(rib).flexibility.diagonal() / softness
        return {test.kind: float(sag) for test, sag in zip(self.tests, sags, strict=True)}

    def sags_mm(self, bar: Bar | None, softness: float = 1.0) -> dict[str, float]:
        """Sag by kind of test, mm under 100 g."""
        return {k: 1e3 * PER_WEIGHT * c for k, c in self.flexibility(bar, softness).items()}

    def _rom(self, bar):
        if bar is None:
            return self.rom, None
        key = bar.footprint
        if key == self._footprint:
            return self.rom, bar_rib(self.model, bar, self.home)

        def learnt():
            seat = bar_seat(self.model, bar)
            rib = bar_rib(self.model, bar, seat)
            return seat, weak_greedy(self.reductor, [rib], TOLERANCE, self.rom).rom

        seat, rom = self._seats.get(key, learnt)
        return rom, bar_rib(self.model, bar, seat)


def _softer(bar, softness):
    return replace(bar, wood=scaled_wood(bar.wood, 1.0 / softness, 1.0))


def bar_flexes(model: MeshedTop, bar: Bar, range: BarRange | None = None) -> BarFlexes:
    """Ready the usual flex tests of a top for any bar on a bar's line; takes a few seconds.

    Parameters
    ----------
    range : BarRange, optional
        Heights to be ready for; default `BarRange.around` the bar.

    Notes
    -----
    A reduced model (`platemodel.fem.reduced`) of the plate on springs that take no force from loads that
    balance (`platemodel.fem.free_statics`). Its sags are slightly too small, by the square of the
    error of its shapes.
    """
    tests = tuple(usual_flex_test(model.top, kind) for kind in KINDS)
    shell, span, x_bridge = model.shell, range or BarRange.around(bar), model.top.bridge.x
    seat = bar_seat(model, bar)
    loads = np.stack([balanced_row(shell, test, test.load) for test in tests], axis=1)
    slender = bar_rib(model, span.bar(bar, x_bridge, SLENDER), seat)
    reductor = Reductor(shell, slender, (ground(shell),), loads)
    ribs = [None, bar_rib(model, bar, seat)]
    ribs += [bar_rib(model, one, seat) for one in span.samples(bar, x_bridge, SAMPLES)]
    rom = compress(weak_greedy(reductor, ribs, TOLERANCE).rom, ribs, 1.6 * TOLERANCE)
    return BarFlexes(model, tests, reductor, reductor.completed(rom), seat, bar.footprint)
