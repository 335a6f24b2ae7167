"""The reduced models of one top by name: each answers with its estimated error, and learns where it must."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np

from platemodel.fem.greedy import compress
from platemodel.fem.kept import Kept
from platemodel.fem.reduced import ReducedModes, ReducedShell, ReducedStatic
from platemodel.fem.rib import Rib
from platemodel.fem.seat import Seat
from platemodel.instrument.bar import Bar
from platemodel.study.top.air import air_panels
from platemodel.study.top.drawn_plate import drawn_plate
from platemodel.study.top.edge_supports import RIMS
from platemodel.study.top.meshed_top import MeshedTop, bar_rib, bar_seat
from platemodel.study.top.model_cache import keep_models, kept_models
from platemodel.study.top.recognise import Naming, ShapeBasis
from platemodel.study.top.reduced_learning import ALL_MODES, NAMED_AMONG, NAMED_MODES, Teacher
from platemodel.study.top.sampling import PlanGrid, normal_rows, plan_grid

ROUGH = 0.05  # estimated error up to which a single bar is learnt
STEPS, MOST = 6, 2  # steps to learn a single bar; growth of the basis by such steps
# Relative, of a frequency: what a basis that was learnt in vacuum misses of the air. Up to 1.2e-5 against the
# full model, bars of the whole range on the usual violin.
AIR_DOUBT = 2e-5
SEATS = 12  # kept ready, besides the one it was made for


@dataclass(frozen=True, eq=False)
class TaughtModels:
    """Models by name, with what they learn on the way; made by `taught_models`.

    Threads may ask at once: what they were made with never changes, and what they learn is kept in stores
    that are locked.

    Attributes
    ----------
    bar : Bar
        Whose line they were made for.
    home : Seat
        Of that line.
    roms : dict of str to ReducedShell
        By ``"free"``, ``"known"``, ``"sliding"``, ``"held"``.
    tolerance : float
        Estimated relative error above which they learn.
    teacher : Teacher or None
        Teaches a new line, length or width when it is first asked for (about a second).
    grid : PlanGrid
        Points at which shapes are recognised.
    rows, air_rows : sparse array
        Motion at the grid's points and at the panels of air, from the shell's unknowns; None for models
        `at_home`.
    """

    model: MeshedTop
    bar: Bar
    home: Seat
    roms: dict[str, ReducedShell]
    tolerance: float
    teacher: Teacher | None
    grid: PlanGrid
    rows: object = field(default=None, repr=False)
    air_rows: object = field(default=None, repr=False)
    _seats: Kept = field(default_factory=lambda: Kept(SEATS), repr=False)
    _learnt: Kept = field(default_factory=lambda: Kept(4 * SEATS), repr=False)
    _looks: Kept = field(default_factory=lambda: Kept(SEATS), repr=False)

    def __repr__(self) -> str:
        sizes = ", ".join(f"{name} {rom.size}" for name, rom in self.roms.items())
        return f"vectors: {sizes}; lines learnt besides: {len(self._learnt)}"

    @property
    def compact(self) -> bool:
        """Whether they have only what their own line needs, see `at_home`."""
        return len(self.roms[ALL_MODES].basis) == 0

    def rib(self, bar: Bar | None) -> Rib | None:
        """Put a bar on its seat, which is kept.

        Raises
        ------
        GeometryError
            The bar leaves the plate.
        """
        if bar is None:
            return None
        if bar.footprint == self.bar.footprint:
            return bar_rib(self.model, bar, self.home)
        return bar_rib(self.model, bar, self._seats.get(bar.footprint, lambda: bar_seat(self.model, bar)))

    def modes(
        self, rib: Rib | None, bar: Bar | None, count: int
    ) -> tuple[ReducedShell | None, ReducedModes | None, float]:
        """Modes of the free plate in air: the model that answered, its answer, its estimated error."""

        def ask(rom):
            found = self._free(rom, rib, count)
            return found, float(found.estimate.max())

        return self._ask(ALL_MODES, rib, bar, ask)

    def named(
        self, rib: Rib | None, bar: Bar | None
    ) -> tuple[ReducedShell | None, tuple[ReducedModes, tuple[Naming, ...]] | None, float]:
        """Modes and namings of 1, 2, 5, from the leaner model; returned as by `modes`."""

        def ask(rom):
            found = self._free(rom, rib)
            namings = self.shape_basis(rom).recognise(found.coefficients)
            places = [naming.index for naming in namings]
            return (found, namings), float(found.estimate[places].max(initial=0.0))

        return self._ask(NAMED_MODES, rib, bar, ask)

    def static(
        self, rib: Rib | None, bar: Bar | None, rim: str, doubt: Callable[[ReducedStatic], float]
    ) -> tuple[ReducedShell | None, ReducedStatic | None, float]:
        """Deflections under the unit loads, whose error ``doubt`` estimates; returned as by `modes`."""

        def ask(rom):
            found = rom.static(rib)
            return found, doubt(found)

        return self._ask(rim, rib, bar, ask)

    def shape_basis(self, rom: ReducedShell) -> ShapeBasis:
        """Basis of a model as `recognise` sees it."""
        return self._looks.get(rom, lambda: ShapeBasis.of(self.grid, rom.project_rows(self.rows)))

    def drawn_rows(self, rom: ReducedShell) -> np.ndarray:
        """Motion at the points of the `drawn_plate` from the coefficients of a model."""
        return self._looks.get((rom, "drawn"), lambda: rom.project_rows(drawn_plate(self.model).rows))

    def _ask(self, name, rib, bar, ask):
        """Ask the model of a name, and let it learn where its estimated error is too large."""
        if self.compact and rib is not None and rib.seat is not self.home:
            return None, None, np.inf
        key = (name, None if rib is None else rib.seat)
        rom = self._learnt.peek(key, self.roms[name])
        answer, error = ask(rom)
        if error < self.tolerance or self.teacher is None or rib is None:
            return rom, answer, error
        away = rib.seat is not self.home
        if away and key not in self._learnt:
            rom = self._learnt.get(key, lambda: self._line(name, rib, bar))
        elif error < ROUGH and rom.size < MOST * self.roms[name].size:
            rom = self.teacher.taught_one(name, rib, rom, STEPS)
            self._learnt.put(key, rom)
        else:
            return rom, answer, error
        return rom, *ask(rom)

    def _line(self, name, rib, bar):
        """Model of a line that is new, taught by this bar and samples on its seat."""
        start = self.roms[name]
        if name == NAMED_MODES:
            start = replace(self.roms[ALL_MODES], sure=NAMED_AMONG)
        return self.teacher.taught(name, [rib, *self.teacher.samples(name, bar, rib.seat, 0.5)], start)

    def _free(self, rom, rib, count=None):
        found = rom.modes(rib, count, self._air(rom))
        return replace(found, estimate=found.estimate + AIR_DOUBT)

    def _air(self, rom):
        """Return the added mass of the basis."""

        def make():
            return air_panels(self.model.top).added_mass(rom.project_rows(self.air_rows))

        return self._looks.get((rom, "air"), make)

    def unlearning(self, tolerance: float) -> "TaughtModels":
        """Return the same models without what they learnt on the way; they learn nothing more."""
        return replace(
            self, teacher=None, tolerance=tolerance, _seats=Kept(SEATS), _learnt=Kept(), _looks=Kept(SEATS)
        )

    def at_home(self) -> "TaughtModels":
        """Return the same models with only what bars of their own line need: a third of the size."""
        roms, looks = {}, Kept(SEATS)
        for name, rom in self.roms.items():
            seats = Kept(1)
            seats.put(self.home, rom.on(self.home))
            none = replace(rom.norm, probes=rom.norm.probes[:0])
            roms[name] = replace(rom, basis=rom.basis[:0], pushes=(), norm=none, seats=seats)
            looks.put(roms[name], self.shape_basis(rom))
            if name in (ALL_MODES, NAMED_MODES):
                looks.put((roms[name], "air"), self._air(rom))
        plain = replace(self.unlearning(self.tolerance), roms=roms, rows=None, air_rows=None)
        return replace(plain, _looks=looks)


def taught_models(teacher: Teacher, learn: bool, keep: bool, tell: Callable[[str], None]) -> TaughtModels:
    """Models of a teacher's bar line, learnt from samples on it or taken from the cache folder.

    Parameters
    ----------
    learn : bool
        Learn a new line, length or width when it is first asked for.
    keep : bool
        Use the cache folder, see `platemodel.study.top.model_cache`.
    tell : callable
        Called with a short message when a part is begun, from the threads that learn.
    """
    model, bar = teacher.model, teacher.bar
    grid, home = plan_grid(model.top), bar_seat(model, bar)
    roms = kept_models(teacher) if keep else None
    if roms is None:
        roms = _learn(teacher, home, tell)
        if keep:
            keep_models(teacher, roms)
    else:
        tell("learning bars: known from an earlier run")
    rows = [normal_rows(model, points) for points in (grid.points, air_panels(model.top).middles)]
    return TaughtModels(model, bar, home, roms, teacher.tolerance, teacher if learn else None, grid, *rows)


def _learn(teacher, home, tell):
    """Models by name, learnt from samples on the bar's own seat."""

    def learnt(name):
        tell("learning bars: " + ("free modes" if name == ALL_MODES else f"push on the feet, rim {name}"))
        return teacher.taught(name, [None, *teacher.samples(name, teacher.bar, home)])

    with ThreadPoolExecutor(2) as pool:  # factorisations and products let other threads work
        names = (ALL_MODES, *RIMS)
        roms = dict(zip(names, pool.map(learnt, names), strict=True))
    tell("learning bars: modes 1, 2 and 5")
    lean = replace(roms[ALL_MODES], sure=NAMED_AMONG)
    ribs = [None, *teacher.samples(NAMED_MODES, teacher.bar, home)]
    roms[NAMED_MODES] = compress(lean, ribs, 0.9 * teacher.tolerance)
    return roms
