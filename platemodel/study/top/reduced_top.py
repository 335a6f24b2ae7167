"""One top and one bar line in milliseconds: modes, stiffness under the bass foot, sinking and shapes.

The reduced model answers what the full one does (`platemodel.study.top.answers.TopSolver`). Where its own
estimate of its error is above its tolerance it first learns the new line, length or width, and if that is not
enough the full model answers.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np

from platemodel.fem.eigen import Modes
from platemodel.fem.greedy import compress
from platemodel.fem.kept import Kept
from platemodel.fem.reduced import ReducedModes, ReducedShell
from platemodel.fem.rib import Rib
from platemodel.fem.seat import Seat
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.strings import SetUp, foot_loads
from platemodel.instrument.top import Top
from platemodel.study.top.air import air_panels
from platemodel.study.top.answers import COUNT, BarResponse, FootStiffness, NamedShapes, TopSolver
from platemodel.study.top.edge_supports import RIMS
from platemodel.study.top.foot import RIGID_POST, foot_stiffness, post_force, sinking_from
from platemodel.study.top.meshed_top import bar_rib, bar_seat
from platemodel.study.top.model import TopModel
from platemodel.study.top.model_cache import keep_models, kept_models
from platemodel.study.top.recognise import ShapeBasis, recognise
from platemodel.study.top.reduced_learning import (
    ALL_MODES,
    BASS,
    NAMED_AMONG,
    NAMED_MODES,
    PIN,
    POST_END,
    TREBLE,
    Teacher,
    static_loads,
    usual_set_up,
)
from platemodel.study.top.sampling import PlanGrid, normal_rows, plan_grid

TOLERANCE = 1e-4  # relative, of the estimated error
# Estimated error of the sinking from which the full model is asked; the true one is far smaller.
SINKING_DOUBT = 1e-2
ROUGH = 0.05  # estimated error up to which a single bar is learnt
STEPS, MOST = 6, 2  # steps to learn a single bar; growth of the basis by such steps
# Relative, of a frequency: what a basis that was learnt in vacuum misses of the air. Up to 1.2e-5 against the
# full model, bars of the whole range on the usual violin.
AIR_DOUBT = 2e-5
SEATS = 12  # kept ready, besides the one it was made for
STRINGS = [BASS, TREBLE, POST_END]  # loads of the sinking, in the order of `foot.load_rows`


@dataclass(frozen=True, eq=False)
class ReducedTop:
    """A top with its bar's line, ready for any bar of a range; made by `reduced_top`.

    It can be asked by several threads at once: what it was made with never changes, and what it learns on the
    way is kept in stores that are locked.

    Attributes
    ----------
    full : TopModel
        The full model that it stands for and falls back on.
    bar : Bar
        Whose line it was made for.
    range : BarRange
    set_up : SetUp
        Whose sound post it was made with; the sinking under another post is answered by the full model.
    tolerance : float
        Estimated relative error above which it learns or falls back.
    roms : dict of str to ReducedShell
        By ``"free"``, ``"known"``, ``"sliding"``, ``"held"``.
    grid : PlanGrid
    home : Seat
        Of the bar's own line.
    teacher : Teacher or None
        Teaches a new line, length or width when it is first asked for (about a second); without one the full
        model answers.
    """

    full: TopModel
    bar: Bar
    range: BarRange
    set_up: SetUp
    tolerance: float
    roms: dict[str, ReducedShell]
    grid: PlanGrid
    home: Seat
    teacher: Teacher | None
    _rows: object = field(default=None, repr=False)
    _air_rows: object = field(default=None, repr=False)
    _seats: Kept = field(default_factory=lambda: Kept(SEATS), repr=False)
    _learnt: Kept = field(default_factory=lambda: Kept(4 * SEATS), repr=False)
    _looks: Kept = field(default_factory=lambda: Kept(SEATS), repr=False)

    def __repr__(self) -> str:
        sizes = ", ".join(f"{name} {rom.size}" for name, rom in self.roms.items())
        return f"ReducedTop({self.top.name!r}, vectors: {sizes}; lines learnt besides: {len(self._learnt)})"

    @property
    def top(self) -> Top:
        """The top."""
        return self.full.top

    @property
    def shell(self):
        """The full model's shell."""
        return self.full.shell

    @property
    def mass(self) -> float:
        """Mass of the top without bar, kg."""
        return self.full.mass

    @property
    def compact(self) -> bool:
        """Whether it has only what its own line needs, see `at_home`."""
        return len(self.roms[ALL_MODES].basis) == 0

    def rib(self, bar: Bar | None) -> Rib | None:
        """Put a bar on its seat, which is kept.

        Raises
        ------
        GeometryError
            The bar leaves the plate.
        """
        return None if bar is None else bar_rib(self.full, bar, self._seat(bar))

    def _seat(self, bar):
        if bar.footprint == self.bar.footprint:
            return self.home
        return self._seats.get(bar.footprint, lambda: bar_seat(self.full, bar))

    # ------------------------------------------------------------ asking, and learning where it must

    def _ask(self, name, rib, bar, ask):
        """Ask the model of a name: the model that answered, its answer and its estimated error."""
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

    def _modes(self, rib, bar, count):
        def ask(rom):
            found = self._free(rom, rib, count)
            return found, float(found.estimate.max())

        return self._ask(ALL_MODES, rib, bar, ask)

    def _named(self, rib, bar):
        """Modes and namings of 1, 2, 5, from the leaner model."""

        def ask(rom):
            found = self._free(rom, rib)
            namings = self._look(rom).recognise(found.coefficients)
            places = [naming.index for naming in namings]
            return (found, namings), float(found.estimate[places].max(initial=0.0))

        return self._ask(NAMED_MODES, rib, bar, ask)

    def _look(self, rom):
        """Basis as `recognise` sees it."""
        return self._looks.get(rom, lambda: ShapeBasis.of(self.grid, rom.project_rows(self._rows)))

    def _free(self, rom, rib, count=None):
        """Modes of the free plate in air."""
        found = rom.modes(rib, count, self._air(rom))
        return replace(found, estimate=found.estimate + AIR_DOUBT)

    def _air(self, rom):
        """Return the added mass of the basis."""

        def make():
            return air_panels(self.top).added_mass(rom.project_rows(self._air_rows))

        return self._looks.get((rom, "air"), make)

    def _static(self, rib, bar, rim, doubt):
        """Deflections under the unit loads; ``doubt(found)`` tells their error."""

        def ask(rom):
            found = rom.static(rib)
            return found, doubt(found)

        return self._ask(rim, rib, bar, ask)

    def _knows(self, set_up):
        """Whether the post stands where it stood when the model was made."""
        own, post, bridge = self.set_up.post, set_up.post, self.top.bridge
        return post.diameter == own.diameter and np.array_equal(post.place(bridge), own.place(bridge))

    # ------------------------------------------------------------ answers

    def modes(self, bar: Bar | None, count: int = COUNT) -> tuple[ReducedShell, ReducedModes]:
        """Modes of the free plate on the reduced basis, whatever their error, and their model."""
        return self._modes(self.rib(bar), bar, count)[:2]

    def response(self, bar: Bar | None, set_up: SetUp | None = None) -> BarResponse:
        """See `platemodel.study.top.answers.bar_response`."""
        if set_up is not None and not self._knows(set_up):
            return self.full.response(bar, set_up)
        rib = self.rib(bar)
        _, named, error = self._named(rib, bar)

        def doubt(found):
            lacks = _lacks(found, _pushed(found, True))
            if set_up is None:
                return lacks
            sunk = _lacks(found, _strung(found, set_up, self.top))
            return max(lacks, sunk * self.tolerance / SINKING_DOUBT)

        flexibility = {}
        for rim in RIMS:
            _, found, lacks = self._static(rib, bar, rim, doubt)
            error = max(error, lacks)
            flexibility[rim] = None if found is None else found.flexibility
        if not error < self.tolerance:
            return self.full.response(bar, set_up)
        foot = foot_stiffness({rim: _part(c, [BASS, PIN]) for rim, c in flexibility.items()})
        sunk = None
        if set_up is not None:
            pressed = {rim: _part(c, STRINGS) for rim, c in flexibility.items()}
            sunk = sinking_from(pressed, self.top.bridge, set_up)
        modes, namings = named
        mass = 0.0 if rib is None else rib.mass
        return BarResponse(modes.frequencies, namings, foot, mass, self.mass + mass, error, "reduced", sunk)

    def free_modes(self, bar: Bar | None, count: int) -> Modes:
        """Lowest modes of the free plate, in the shell's unknowns."""
        rom, found, error = self._modes(self.rib(bar), bar, count)
        if not error < self.tolerance or len(found.omega2) < count or self.compact:
            return self.full.free_modes(bar, count)
        vectors = rom.reconstruct(found.coefficients)
        vectors = vectors * np.sign(vectors[np.abs(vectors).argmax(0), np.arange(count)])
        return Modes(found.omega2, vectors, np.zeros(0), error)

    def foot_stiffness(self, bar: Bar | None, post: bool = True) -> FootStiffness:
        """See `platemodel.study.top.foot.bass_foot_stiffness`."""
        rib, out = self.rib(bar), {}
        for rim in RIMS:
            _, found, error = self._static(rib, bar, rim, lambda found: _lacks(found, _pushed(found, post)))
            if not error < self.tolerance:
                return self.full.foot_stiffness(bar, post)
            out[rim] = _part(found.flexibility, [BASS, PIN])
        return foot_stiffness(out, post)

    def moved(self, bar: Bar | None, rim: str, set_up: SetUp) -> np.ndarray:
        """Displacement under 1 N upwards along each of `platemodel.study.top.foot.load_rows`."""
        if self.compact or not self._knows(set_up):
            return self.full.moved(bar, rim, set_up)

        def doubt(found):
            return float((found.residual.diagonal() / found.flexibility.diagonal())[STRINGS].max())

        rom, found, error = self._static(self.rib(bar), bar, rim, doubt)
        if not error < self.tolerance:
            return self.full.moved(bar, rim, set_up)
        whole = np.concatenate([rom.reconstruct(found.coefficients), found.own])
        return whole[:, STRINGS]

    def named_shapes(self, bar: Bar | None, post: bool = True) -> NamedShapes:
        """Shapes of modes 1, 2 and 5 and of a push on the bass foot."""
        rib = self.rib(bar)
        rom, found, error = self._modes(rib, bar, COUNT)
        pushes, own, give = [], [], []
        for rim in RIMS:
            if self.compact or not error < self.tolerance:
                return self.full.named_shapes(bar, post)
            part, moved, error = self._static(rib, bar, rim, lambda one: _lacks(one, _pushed(one, post)))
            share = _pushed(moved, post)
            pushes.append(part.reconstruct(moved.coefficients @ share))
            own.append(moved.own @ share)
            give.append(moved.flexibility[BASS] @ share)
        if not error < self.tolerance:
            return self.full.named_shapes(bar, post)
        namings = self._look(rom).recognise(found.coefficients)
        picked = [naming.index for naming in namings]
        return NamedShapes(
            namings, found.omega2[picked],
            rom.reconstruct(found.coefficients[:, picked]), found.own[:, picked],
            np.column_stack(pushes), np.column_stack(own), np.array(give),
        )  # fmt: skip

    def drawn_shapes(self, bar: Bar | None) -> dict[int, np.ndarray]:
        """Shapes of modes 1, 2 and 5 by number at the points of `plan_grid`, whatever their error."""
        if self.compact:
            return self.full.drawn_shapes(bar)
        rom, modes = self.modes(bar)
        shapes = self._looks.get((rom, "drawn"), lambda: rom.project_rows(self._rows)) @ modes.coefficients
        return {n.number: shapes[:, n.index] for n in recognise(self.grid, shapes)}

    # ------------------------------------------------------------ the same with less

    def unlearning(self, tolerance: float) -> "ReducedTop":
        """Return the same models without what they learnt on the way; they learn nothing more.

        Parameters
        ----------
        tolerance : float
            Estimated relative error above which the full model answers.
        """
        return replace(
            self, teacher=None, tolerance=tolerance, _seats=Kept(SEATS), _learnt=Kept(), _looks=Kept(SEATS)
        )

    def at_home(self) -> "ReducedTop":
        """Return the same models with only what bars of their own line need: a tenth of the size.

        Other lines, and whatever needs whole shapes, are answered by the full model.
        """
        roms, looks = {}, Kept(SEATS)
        for name, rom in self.roms.items():
            seats = Kept(1)
            seats.put(self.home, rom.on(self.home))
            none = replace(rom.norm, probes=rom.norm.probes[:0])
            roms[name] = replace(rom, basis=rom.basis[:0], pushes=(), norm=none, seats=seats)
            looks.put(roms[name], self._look(rom))
            if name in (ALL_MODES, NAMED_MODES):
                looks.put((roms[name], "air"), self._air(rom))
        return replace(
            self,
            roms=roms,
            teacher=None,
            _rows=None,
            _air_rows=None,
            _seats=Kept(SEATS),
            _learnt=Kept(),
            _looks=looks,
        )


def _part(flexibility, places):
    return flexibility[np.ix_(places, places)]


def _pushed(found, post):
    """Share of each unit load for one newton upwards on the bass foot and what the rigid post answers."""
    c, share = found.flexibility, np.zeros(len(found.flexibility))
    share[BASS] = 1.0
    if post:
        share[PIN] = -c[PIN, BASS] / (c[PIN, PIN] + 1.0 / RIGID_POST)
    return share


def _strung(found, set_up, top):
    """Share of each unit load for the strings' load and what the post of the set-up answers."""
    loads, share = foot_loads(set_up, top.bridge), np.zeros(len(found.flexibility))
    share[STRINGS] = *loads, -post_force(_part(found.flexibility, STRINGS), loads, set_up)
    return share


def _lacks(found, share):
    """Estimated relative error of the work of a load."""
    return float(share @ found.residual @ share / (share @ found.flexibility @ share))


def reduced_top(
    model: TopModel,
    bar: Bar,
    range: BarRange | None = None,
    set_up: SetUp | None = None,
    tolerance: float = TOLERANCE,
    learn: bool = True,
    keep: bool = True,
    progress: Callable[[str], None] | None = None,
) -> ReducedTop:
    """Make the reduced model of a top with a bar's line.

    Parameters
    ----------
    model : TopModel
    bar : Bar
        Its line, length and width; the middle of the range.
    range : BarRange, optional
        Heights and wood to be ready for; default `BarRange.around` the bar. Bars outside are answered too,
        by the full model where the estimate says so.
    set_up : SetUp, optional
        Strings and post under which the sinking will be asked for; default the usual ones of the kind. Other
        strings are answered as well, another place of the post by the full model.
    tolerance : float
        Estimated relative error of frequencies and of the stiffness under the foot.
    learn : bool
        Learn a new line, length or width when it is first asked for; else the full model answers.
    keep : bool
        Keep it in the user's cache folder for later runs, and take it from there if it was learnt before; see
        `platemodel.study.top.model_cache`.
    progress : callable, optional
        Called with a short message when a part is begun, from the threads that learn.

    Returns
    -------
    ReducedTop

    Raises
    ------
    GeometryError
        The bar leaves the plate, or the sound post stands off it.
    """
    tell = progress or (lambda _: None)
    span, set_up = range or BarRange.around(bar), set_up or usual_set_up(model.top)
    teacher = Teacher(model, bar, span, tolerance, static_loads(model, set_up))
    grid, home = plan_grid(model.top), bar_seat(model, bar)

    roms = kept_models(teacher) if keep else None
    if roms is None:
        roms = _learnt(teacher, bar, home, tell)
        if keep:
            keep_models(teacher, roms)
    else:
        tell("learning bars: known from an earlier run")
    teacher = teacher if learn else None
    rows = [normal_rows(model, points) for points in (grid.points, air_panels(model.top).middles)]
    return ReducedTop(model, bar, span, set_up, tolerance, roms, grid, home, teacher, *rows)


def _learnt(teacher, bar, home, tell):
    """Models by name, learnt from samples on the bar's own seat."""

    def learnt(name):
        tell("learning bars: " + ("free modes" if name == ALL_MODES else f"push on the feet, rim {name}"))
        return teacher.taught(name, [None, *teacher.samples(name, bar, home)])

    with ThreadPoolExecutor(2) as pool:  # factorisations and products let other threads work
        names = (ALL_MODES, *RIMS)
        roms = dict(zip(names, pool.map(learnt, names), strict=True))
    tell("learning bars: modes 1, 2 and 5")
    lean = replace(roms[ALL_MODES], sure=NAMED_AMONG)
    ribs = [None, *teacher.samples(NAMED_MODES, bar, home)]
    roms[NAMED_MODES] = compress(lean, ribs, 0.9 * teacher.tolerance)
    return roms


def as_reduced(
    model: TopSolver,
    bar: Bar,
    set_up: SetUp | None = None,
    range: BarRange | None = None,
    tolerance: float = TOLERANCE,
    progress: Callable[[str], None] | None = None,
) -> ReducedTop:
    """Return a model that is reduced already as it is, and of a full one make the reduced one.

    The parameters are those of `reduced_top`, and count only where one is made.
    """
    if isinstance(model, ReducedTop):
        return model
    return reduced_top(model.full, bar, range, set_up, tolerance, progress=progress)
