"""The full model of a top: every bar solved with all unknowns."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from platemodel.errors import GeometryError
from platemodel.fem.eigen import Modes
from platemodel.fem.kept import Kept
from platemodel.fem.system import System
from platemodel.instrument.bar import Bar
from platemodel.instrument.presets import preset_bar
from platemodel.instrument.strings import SetUp
from platemodel.instrument.top import Top
from platemodel.study.top.air import modes_in_air
from platemodel.study.top.answers import COUNT, BarResponse, FootStiffness, NamedShapes
from platemodel.study.top.drawn_plate import drawn_plate
from platemodel.study.top.edge_supports import RIMS, rim_system
from platemodel.study.top.foot import (
    BASS,
    STRINGS,
    foot_rows,
    foot_stiffness,
    pin_row,
    pushed_shares,
    sinking_from,
    unit_loads,
)
from platemodel.study.top.kept_solutions import kept_solution
from platemodel.study.top.meshed_top import MeshedTop, mesh_top
from platemodel.study.top.recognise import recognise
from platemodel.study.top.sampling import normal_displacement, plan_grid

FREE_SYSTEMS = 3  # whose factors are kept, some 200 MB each: without bar, with the bar, with the old bar


class TopModel(MeshedTop):
    """A top meshed and assembled, ready for any bar; see `platemodel.study.top.answers.TopSolver`.

    Made by `top_model`.
    """

    @property
    def full(self) -> "TopModel":
        """The model itself."""
        return self

    def _ribs(self, bar):
        return () if bar is None else (self.rib(bar),)

    def response(self, bar: Bar | None, set_up: SetUp | None = None) -> BarResponse:
        """See `platemodel.study.top.answers.bar_response`."""
        with ThreadPoolExecutor(2) as pool:  # factorisations let other threads work
            modes = pool.submit(self.free_modes, bar, COUNT)
            found = self._flexibilities(bar, set_up, pool)
            modes = modes.result()
        sunk = None if set_up is None else sinking_from(found, self.top.bridge, set_up)
        rib = self.rib(bar)
        mass = 0.0 if rib is None else rib.mass
        foot = foot_stiffness(found)
        return BarResponse(modes.frequencies, self._named(modes), foot, mass, self.mass + mass, sinking=sunk)

    def _named(self, modes):
        grid = plan_grid(self.top)
        return recognise(grid, normal_displacement(self, grid.points, modes.vectors))

    def free_system(self, bar: Bar | None) -> System:
        """Return the free plate, whose modes and flex tests share factors; the last bars are kept."""
        systems = self.answers.get("free systems", lambda: Kept(FREE_SYSTEMS))
        return systems.get(bar, lambda: System(self.shell, self._ribs(bar)))

    def free_modes(self, bar: Bar | None, count: int) -> Modes:
        """Lowest modes of the free plate in air; those of the last bars are kept."""
        most = max(count, COUNT)

        def solve():
            return vars(modes_in_air(self, self.free_system(bar), most))

        def make():
            found = kept_solution(self, bar, ("modes in air", most), solve)
            return Modes(found["omega2"], found["vectors"], found["rigid"], float(found["residual"]))

        return self.answers.get((bar, "modes", most), make).lowest(count)

    def modes(self, bar: Bar | None, count: int, supports: tuple = ()) -> Modes:
        """Lowest modes with supports at will; in air where there are none."""
        if not supports:
            return self.free_modes(bar, count)
        return System(self.shell, self._ribs(bar), supports).modes(count)

    def foot_stiffness(self, bar: Bar | None, post: bool = True) -> FootStiffness:
        """See `platemodel.study.top.foot.bass_foot_stiffness`."""
        with ThreadPoolExecutor(len(RIMS)) as pool:
            return foot_stiffness(self._flexibilities(bar, None, pool), post)

    def _flexibilities(self, bar, set_up, pool):
        """Displacements along the unit loads under each of them, by rim: arrays (4, 4), m/N."""
        found = pool.map(lambda rim: self._at_rest(bar, rim, set_up), RIMS)
        return {rim: one.flexibility for rim, one in zip(RIMS, found, strict=True)}

    def moved(self, bar: Bar | None, rim: str, set_up: SetUp) -> np.ndarray:
        """Displacement under 1 N upwards along each of `platemodel.study.top.foot.load_rows`."""
        return self._at_rest(bar, rim, set_up).moved[:, STRINGS]

    def pushed(self, bar: Bar | None, rim: str) -> np.ndarray:
        """Displacement under 1 N upwards on the bass foot, without post: (n_dofs of shell and bar's own,)."""
        return self._at_rest(bar, rim, None).moved[:, BASS]

    def _at_rest(self, bar, rim, set_up):
        """Press with the unit loads; kept, so that a rim is factorised once a bar."""
        key, place = (bar, rim), _post_key(self, set_up)
        kept = self.answers.peek(key)
        if kept is not None and place not in (None, kept.place):
            return self._pressed(bar, rim, set_up, place)  # another post: not what is asked for as a rule
        return self.answers.get(key, lambda: self._pressed(bar, rim, set_up, place))

    def _pressed(self, bar, rim, set_up, place):
        if set_up is None:
            loads, place = _loads_at_hand(self)
        else:
            loads = unit_loads(self, set_up)

        def solve():
            return {"moved": rim_system(self, rim, self._ribs(bar)).solve(loads)}

        moved = kept_solution(self, bar, ("at rest", rim, loads), solve)["moved"]
        return _AtRest(moved, loads.T @ moved[: len(loads)], place)

    def named_shapes(self, bar: Bar | None, post: bool = True) -> NamedShapes:
        """Shapes of modes 1, 2 and 5 and of a push on the bass foot."""
        modes, n = self.free_modes(bar, COUNT), self.shell.n_dofs
        namings, pushes, give = self._named(modes), [], []
        for rim in RIMS:
            one = self._at_rest(bar, rim, None)
            share = pushed_shares(one.flexibility, post)
            pushes.append(one.moved @ share)
            give.append(one.flexibility[BASS] @ share)
        picked, pushes = [naming.index for naming in namings], np.column_stack(pushes)
        vectors = modes.vectors[:, picked]
        return NamedShapes(
            namings, modes.omega2[picked], vectors[:n], vectors[n:], pushes[:n], pushes[n:], np.array(give)
        )

    def drawn_shapes(self, bar: Bar | None) -> dict[int, np.ndarray]:
        """Shapes of modes 1, 2 and 5 by number at the points of `drawn_plate`."""
        modes, plate = self.free_modes(bar, COUNT), drawn_plate(self)
        return {n.number: plate.lift(modes.vectors[:, n.index]) for n in self._named(modes)}


@dataclass(frozen=True, eq=False)
class _AtRest:
    """What the unit loads do: displacements (n_dofs, 4), flexibilities (4, 4), and the post's place."""

    moved: np.ndarray
    flexibility: np.ndarray
    place: tuple[float, ...] | None


def _post_key(model, set_up):
    """Place and size of a set-up's post; None without a set-up."""
    if set_up is None:
        return None
    return (*set_up.post.place(model.top.bridge).tolist(), set_up.post.diameter)


def _loads_at_hand(model):
    """Stack unit loads where only feet and pin are asked for, with the post that is likely asked for next."""
    try:
        if model.set_up is not None:
            return unit_loads(model, model.set_up), _post_key(model, model.set_up)
    except GeometryError:  # no place for that post, which was not asked for
        pass
    pin, bridge = pin_row(model), model.top.bridge
    feet = [foot_rows(model, foot) for foot in (bridge.bass_foot, bridge.treble_foot)]
    return np.stack([*feet, pin, pin], axis=1), None


def top_model(
    top: Top,
    fineness: float = 1.0,
    bar: Bar | None = None,
    shear: bool = True,
    edge_row: bool = True,
    set_up: SetUp | None = None,
) -> TopModel:
    """Mesh a top and assemble its shell.

    Parameters
    ----------
    fineness : float
        1 is the default mesh; 2 halves the triangles' sides.
    bar : Bar, optional
        Where slender triangles are laid for a bar; default the usual bar's line. Other bars may be put on the
        same model.
    shear : bool
        Transverse shear of the plate.
    edge_row : bool
        A row of slender triangles along outline and holes, for the twist's edge layer.
    set_up : SetUp, optional
        Strings that will be asked about: saves a second solution where the stiffness under a foot is asked
        for first. Other strings may be asked about as well.

    Raises
    ------
    ValueError
        A fineness that the mesher cannot do.
    """
    line = bar or preset_bar(top)
    return TopModel(top, mesh_top(top, fineness, line, shear, edge_row), fineness, line, set_up=set_up)


def with_wood(top: Top, **constants) -> Top:
    """Return the top with some constants of its wood replaced (Pa, kg/m3)."""
    return replace(top, wood=replace(top.wood, **constants))
