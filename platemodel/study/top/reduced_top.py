"""One top and one bar line in milliseconds: modes, stiffness under the bass foot, shapes, for any bar on it.

Full model and reduced model answer the same calls: `study.bar_answer`, `study.plate_modes` (free edge) and
`study.bass_foot_stiffness`. Where the reduced model's own estimate of its error is above its tolerance it
first learns the new line, length or width, and if that is not enough the full model answers.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np

from platemodel.fem.eigen import Modes
from platemodel.fem.greedy import compress, weak_greedy
from platemodel.fem.reduced import ReducedModes, ReducedShell
from platemodel.fem.reductor import Reductor
from platemodel.fem.rib import Rib
from platemodel.fem.seat import Seat
from platemodel.fem.supports import point_rows
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.top import Top
from platemodel.study.top.bar_response import COUNT, BarAnswer, full_answer
from platemodel.study.top.edge_supports import RIMS, rim_supports
from platemodel.study.top.foot import POST, FootStiffness, bass_foot_stiffness, foot_rows
from platemodel.study.top.model import TopModel, bar_rib, bar_seat
from platemodel.study.top.plate_modes import free_modes
from platemodel.study.top.recognise import ShapeBasis
from platemodel.study.top.sampling import PlanGrid, plan_grid

TOLERANCE = 1e-4  # relative, of the estimated error
BASS, TREBLE, POST_FOOT = range(3)  # unit loads of the static models
ROUGH = 0.05  # estimated error up to which a single bar is learnt
STEPS, MOST = 6, 2  # steps to learn a single bar; growth of the basis by such steps
# The free plate with all its modes, and a leaner model for modes 1, 2 and 5 alone, for sliders.
FREE, KNOWN = "free", "known"
SURE = 6  # modes among which 1, 2 and 5 are expected; beyond, the fuller models answer
KEPT = 12  # seats kept ready
SAMPLES = {FREE: 26, KNOWN: 26, "sliding": 34, "held": 34}


@dataclass(frozen=True, eq=False)
class ReducedTop:
    """A top with its bar's line, ready for any bar of a range; made by `reduced_top`.

    Attributes
    ----------
    fom : TopModel
        The full model that it stands for and falls back on.
    bar : Bar
        Whose line it was made for.
    range : BarRange
    tolerance : float
        Estimated relative error above which it learns or falls back.
    learn : bool
        Learn a new line, length or width when it is first asked for (about a second); else the full model
        answers.
    reductors, roms : dict
        By ``"free"``, ``"known"``, ``"sliding"``, ``"held"``.
    grid : PlanGrid
    """

    fom: TopModel
    bar: Bar
    range: BarRange
    tolerance: float
    learn: bool
    reductors: dict[str, Reductor]
    roms: dict[str, ReducedShell]
    grid: PlanGrid
    _rows: object = field(repr=False)
    _home: Seat | None = field(default=None, repr=False)
    _looks_of: dict = field(default_factory=dict, repr=False)
    _seats: dict = field(default_factory=dict, repr=False)
    _local: dict = field(default_factory=dict, repr=False)

    def __post_init__(self):
        if self._home is not None:
            self._seats[_place(self.bar)] = self._home

    def __repr__(self) -> str:
        sizes = ", ".join(f"{name} {rom.size}" for name, rom in self.roms.items())
        return (
            f"ReducedTop({self.top.name!r}, vectors: {sizes}; seats learnt besides: {len(self._seats) - 1})"
        )

    @property
    def top(self) -> Top:
        """The top."""
        return self.fom.top

    @property
    def shell(self):
        """The full model's shell."""
        return self.fom.shell

    @property
    def mass(self) -> float:
        """Mass of the top without bar, kg."""
        return self.fom.mass

    def rib(self, bar: Bar | None) -> Rib | None:
        """Put a bar on its seat, which is kept.

        Raises
        ------
        GeometryError
            The bar leaves the plate.
        """
        if bar is None:
            return None
        return bar_rib(self.fom, bar, self._seat(bar))

    def _seat(self, bar: Bar) -> Seat:
        key = _place(bar)
        if key not in self._seats:
            while len(self._seats) >= KEPT:
                old = self._seats.pop(next(k for k, s in self._seats.items() if s is not self._home))
                for name in self.roms:
                    self._local.pop((name, old), None)
                    self.roms[name].seats.pop(old, None)
            self._seats[key] = bar_seat(self.fom, bar)
        return self._seats[key]

    def _ask(self, name, rib, bar, ask):
        """Model to ask about a rib and its answer: the general one's, or that of one that has learnt more."""
        key = (name, None if rib is None else rib.seat)
        rom = self._local.get(key, self.roms[name])
        answer, error = ask(rom)
        if error < self.tolerance or not self.learn or rib is None:
            return rom, answer, error
        if key not in self._local and rib.seat is not self._home:
            start = replace(self.roms[FREE], sure=SURE) if name == KNOWN else rom
            ribs = _samples(self.fom, self.range, [(bar, rib.seat)], name, 0.5)
            rom = _train(self.reductors[name], [rib, *ribs], _goal(name, self.tolerance), start)
        elif error < ROUGH and rom.size < MOST * self.roms[name].size:
            rom = weak_greedy(self.reductors[name], [rib], 0.5 * self.tolerance, rom, STEPS).rom
        else:
            return rom, answer, error
        self._local[key] = rom
        return rom, *ask(rom)

    def modes(self, bar: Bar | None, count: int = COUNT) -> tuple[ReducedShell, ReducedModes]:
        """Modes of the free plate on the reduced basis, whatever their error, and their model."""
        return self._modes(self.rib(bar), bar, count)[:2]

    def _modes(self, rib, bar, count):
        def ask(rom):
            found = rom.modes(rib, count)
            return found, float(found.estimate.max())

        return self._ask(FREE, rib, bar, ask)

    def _known(self, rib, bar):
        """Modes and namings of 1, 2, 5, from the leaner model."""

        def ask(rom):
            found = rom.modes(rib)
            namings = self._looks(rom).recognise(found.coefficients)
            places = [naming.index for naming in namings]
            return (found, namings), float(found.estimate[places].max(initial=0.0))

        return self._ask(KNOWN, rib, bar, ask)

    def _static(self, rib, bar, rim, forces, post):
        """Deflections under the unit loads, and the share of each for forces on the feet and the post's."""

        def ask(rom):
            found = rom.static(rib)
            c = found.flexibility
            share = np.array([*forces, 0.0])
            if post:
                share[POST_FOOT] = -(c[POST_FOOT] @ share) / (c[POST_FOOT, POST_FOOT] + 1.0 / POST)
            lacks = share @ found.residual @ share / (share @ c @ share)
            return (found, share), float(lacks)

        return self._ask(rim, rib, bar, ask)

    def answer(self, bar: Bar | None) -> BarAnswer:
        """See `study.bar_answer`."""
        rib = self.rib(bar)
        _, (modes, namings), error = self._known(rib, bar)
        foot, doubt = self._foot(rib, bar, True)
        error = max(error, doubt)
        if not error < self.tolerance:
            return full_answer(self.fom, bar)
        mass = 0.0 if rib is None else rib.mass
        return BarAnswer(modes.frequencies, namings, foot, mass, self.mass + mass, error, "reduced")

    def free_modes(self, bar: Bar | None, count: int) -> tuple[Modes, float]:
        """Modes of the free plate in the shell's unknowns, and its mass; falls back as `answer` does."""
        rib = self.rib(bar)
        rom, found, error = self._modes(rib, bar, count)
        if len(found.omega2) < count or not error < self.tolerance:
            return free_modes(self.fom, bar, count)
        vectors = rom.reconstruct(found.coefficients)
        vectors = vectors * np.sign(vectors[np.abs(vectors).argmax(0), np.arange(count)])
        modes = Modes(found.omega2, vectors, np.zeros(0), error)
        return modes, self.mass + (0.0 if rib is None else rib.mass)

    def foot_stiffness(self, bar: Bar | None, post: bool = True) -> FootStiffness:
        """See `study.bass_foot_stiffness`."""
        foot, error = self._foot(self.rib(bar), bar, post)
        return foot if error < self.tolerance else bass_foot_stiffness(self.fom, bar, post)

    def _foot(self, rib, bar, post):
        out, error = {}, 0.0
        for rim in RIMS:
            _, (found, share), lacks = self._static(rib, bar, rim, (1.0, 0.0), post)
            out[rim] = float(1.0 / (found.flexibility[BASS] @ share))
            error = max(error, lacks)
        return FootStiffness(**out), error

    def deflection(self, bar: Bar | None, rim: str, bass: float, treble: float, post: bool = True):
        """Deflection under loads on the bridge's feet, N downwards; None where the estimate forbids it.

        Returns
        -------
        u : array (n_dofs of the shell,)
        own : array (n_own,)
            The bar's own shear field, as `platemodel.fem.rib_forces` takes it.
        """
        rom, (found, share), lacks = self._static(self.rib(bar), bar, rim, (-bass, -treble), post)
        if not lacks < self.tolerance:
            return None
        return rom.reconstruct(found.coefficients @ share), found.own @ share

    def shapes(self, bar: Bar | None, post: bool = True):
        """Shapes that `study.top.sensitivity` differentiates with; None where the estimate forbids it.

        Returns
        -------
        namings : tuple of Naming
        omega2 : array (k,)
            Of the named modes, 1/s2.
        modes : tuple of array (n_dofs of the shell, k), array (n_own, k)
        sinks : list of such pairs for one newton upwards under the bass foot, one a rim
        give : list of float
            m/N.
        """
        rib = self.rib(bar)
        rom, found, error = self._modes(rib, bar, COUNT)
        pushes = [self.deflection(bar, rim, -1.0, 0.0, post) for rim in RIMS]
        if not error < self.tolerance or any(p is None for p in pushes):
            return None
        namings = self._looks(rom).recognise(found.coefficients)
        picked = [naming.index for naming in namings]
        modes = rom.reconstruct(found.coefficients[:, picked]), found.own[:, picked]
        load = foot_rows(self.fom, self.top.bridge.bass_foot)
        give = [float(load @ u) for u, _ in pushes]
        return namings, found.omega2[picked], modes, pushes, give

    def unlearning(self, tolerance: float) -> "ReducedTop":
        """Return the same models without what they learnt on the way; they learn nothing more.

        Parameters
        ----------
        tolerance : float
            Estimated relative error above which the full model answers.
        """
        return replace(self, learn=False, tolerance=tolerance, _local={}, _seats={}, _looks_of={})

    def at_home(self) -> "ReducedTop":
        """Strip the models of what they need for other lines than their own: a tenth of the size.

        They answer bars of their line as before but cannot learn; do not ask them about other lines.
        """
        seat = self.rib(self.bar).seat
        _ = self.fom.mass  # kept by the model, so that nobody assembles a shell to know it
        roms, known = {}, {}
        for name, rom in self.roms.items():
            rows, looks = rom.on(seat), self._looks(rom)
            none = replace(rom.norm, probes=rom.norm.probes[:0])
            roms[name] = replace(rom, basis=rom.basis[:0], pushes=(), norm=none, seats={seat: rows})
            known[roms[name]] = looks
        return replace(self, roms=roms, learn=False, _rows=None, _looks_of=known, _seats={}, _local={})

    def _looks(self, rom):
        """Basis as `recognise` sees it."""
        if rom not in self._looks_of:
            while len(self._looks_of) >= KEPT:
                self._looks_of.pop(next(iter(self._looks_of)))
            self._looks_of[rom] = ShapeBasis.of(self.grid, rom.project_rows(self._rows))
        return self._looks_of[rom]


def reduced_top(
    model: TopModel,
    bar: Bar,
    range: BarRange | None = None,
    others: tuple[Bar, ...] = (),
    tolerance: float = TOLERANCE,
    learn: bool = True,
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
    others : tuple of Bar
        Bars of other length, width or line to be ready for as well.
    tolerance : float
        Estimated relative error of frequencies and of the stiffness under the foot.
    learn : bool
        See `ReducedTop`.
    progress : callable, optional
        Told in words what is being learnt, from the threads that learn.

    Returns
    -------
    ReducedTop
    """
    span = range or BarRange.around(bar)
    shell, bridge = model.shell, model.top.bridge
    slender = bar_rib(model, span.bar(bar, bridge.x, (0.1, 0.2, 0.2, 0.1, 0.5)))
    post = point_rows(shell, np.reshape(bridge.treble_foot, (2, 1)), (0.0, 0.0, 1.0))
    loads = np.stack(
        [*(foot_rows(model, foot) for foot in (bridge.bass_foot, bridge.treble_foot)), post.toarray()[0]],
        axis=1,
    )
    grid = plan_grid(model.top)
    rows = normal_rows(model, grid.points)
    seats = [(b, bar_seat(model, b)) for b in (bar, *others)]

    tell = progress or (lambda _: None)

    def learnt(rim):
        tell("learning bars: " + ("free modes" if rim is None else f"push on the bass foot, rim {rim}"))
        if rim is None:
            name, reductor = FREE, Reductor(shell, slender, count=COUNT)
        else:
            name, reductor = rim, Reductor(shell, slender, rim_supports(model, rim), loads)
        return reductor, _train(reductor, [None, *_samples(model, span, seats, name)], _goal(name, tolerance))

    with ThreadPoolExecutor(2) as pool:  # factorisations and products let other threads work
        pairs = dict(zip((FREE, *RIMS), pool.map(learnt, (None, *RIMS)), strict=True))
    reductors, roms = ({name: pair[i] for name, pair in pairs.items()} for i in (0, 1))
    tell("learning bars: modes 1, 2 and 5")
    reductors[KNOWN] = reductors[FREE]
    lean = replace(roms[FREE], sure=SURE)
    roms[KNOWN] = compress(lean, [None, *_samples(model, span, seats, KNOWN)], 0.9 * tolerance)
    return ReducedTop(model, bar, span, tolerance, learn, reductors, roms, grid, rows, seats[0][1])


def _place(bar):
    """All that a bar's seat depends on."""
    trim = () if bar.trim is None else (*bar.trim.stations, *bar.trim.outer)
    return (bar.x_start, bar.y_start, bar.x_end, bar.y_end, bar.width, *trim)


def normal_rows(model: TopModel, points: np.ndarray):
    """Rows giving the displacement along the normal at points in plan (2, m): sparse (m, n_dofs)."""
    station = model.shell.locate(points)
    return model.shell.operator(station, station.axes[:, 2:3] @ station.displacement_rows())


def _goal(name, tolerance):
    """Estimated error to learn down to: stresses err by the root of what stiffness errs by."""
    return tolerance * (0.6 if name in (FREE, KNOWN) else 0.2)


def _train(reductor, ribs, goal, rom=None):
    """Learn some ribs, then keep what their answers are made of."""
    return compress(weak_greedy(reductor, ribs, goal, rom).rom, ribs, 1.6 * goal)


def _samples(model, span, seats, name, share=1.0):
    """Put samples of a range on some seats: ribs."""
    count, x_bridge = int(share * SAMPLES[name]), model.top.bridge.x
    return [bar_rib(model, b, seat) for bar, seat in seats for b in span.samples(bar, x_bridge, count)]
