"""The full model of a top: every bar solved with all unknowns."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np

from platemodel.fem.eigen import Modes
from platemodel.fem.supports import point_spring
from platemodel.fem.system import System
from platemodel.instrument.bar import Bar
from platemodel.instrument.presets import preset_bar
from platemodel.instrument.strings import SetUp
from platemodel.instrument.top import Top
from platemodel.study.top.air import modes_in_air
from platemodel.study.top.answers import COUNT, BarResponse, FootStiffness, NamedShapes
from platemodel.study.top.drawn_plate import drawn_plate
from platemodel.study.top.edge_supports import RIMS, rim_supports
from platemodel.study.top.foot import (
    RIGID_POST,
    flexibilities,
    foot_rows,
    foot_stiffness,
    load_rows,
    push_rows,
    sinking_from,
)
from platemodel.study.top.meshed_top import MeshedTop, mesh_top
from platemodel.study.top.recognise import recognise
from platemodel.study.top.sampling import normal_displacement, plan_grid


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
        ribs, feet = self._ribs(bar), push_rows(self)
        rows = [*feet, *(() if set_up is None else load_rows(self, set_up))]
        with ThreadPoolExecutor(2) as pool:  # factorisations let other threads work
            modes = pool.submit(self._modes, ribs, COUNT)
            found = flexibilities(self, ribs, rows, pool)
            modes = modes.result()
        n = len(feet)
        foot = foot_stiffness({rim: c[:n, :n] for rim, c in found.items()})
        sunk = None
        if set_up is not None:
            sunk = sinking_from({rim: c[n:, n:] for rim, c in found.items()}, self.top.bridge, set_up)
        mass = sum(rib.mass for rib in ribs)
        return BarResponse(modes.frequencies, self._named(modes), foot, mass, self.mass + mass, sinking=sunk)

    def _named(self, modes):
        grid = plan_grid(self.top)
        return recognise(grid, normal_displacement(self, grid.points, modes.vectors))

    def free_modes(self, bar: Bar | None, count: int) -> Modes:
        """Lowest modes of the free plate in air."""
        return self.modes(bar, count)

    def modes(self, bar: Bar | None, count: int, supports: tuple = ()) -> Modes:
        """Lowest modes with supports at will; in air where there are none."""
        return self._modes(self._ribs(bar), count, supports)

    def _modes(self, ribs, count, supports=()):
        system = System(self.shell, ribs, supports)
        return system.modes(count) if supports else modes_in_air(self, system, count)

    def foot_stiffness(self, bar: Bar | None, post: bool = True) -> FootStiffness:
        """See `platemodel.study.top.foot.bass_foot_stiffness`."""
        with ThreadPoolExecutor(len(RIMS)) as pool:
            return foot_stiffness(flexibilities(self, self._ribs(bar), push_rows(self), pool), post)

    def moved(self, bar: Bar | None, rim: str, set_up: SetUp) -> np.ndarray:
        """Displacement under 1 N upwards along each of `platemodel.study.top.foot.load_rows`."""
        system = System(self.shell, self._ribs(bar), rim_supports(self, rim))
        return system.solve(np.stack(load_rows(self, set_up), axis=1))

    def named_shapes(self, bar: Bar | None, post: bool = True) -> NamedShapes:
        """Shapes of modes 1, 2 and 5 and of a push on the bass foot."""
        ribs = self._ribs(bar)
        modes = self._modes(ribs, COUNT)
        namings = self._named(modes)
        load, pushes = foot_rows(self, self.top.bridge.bass_foot), []
        for rim in RIMS:
            supports = rim_supports(self, rim)
            if post:
                at = self.top.bridge.treble_foot
                supports += (point_spring(self.shell, at, (0.0, 0.0, 1.0), RIGID_POST),)
            pushes.append(System(self.shell, ribs, supports).solve(load))
        n, picked = self.shell.n_dofs, [naming.index for naming in namings]
        pushes, vectors = np.column_stack(pushes), modes.vectors[:, picked]
        give = load @ pushes[:n]
        return NamedShapes(
            namings, modes.omega2[picked], vectors[:n], vectors[n:], pushes[:n], pushes[n:], give
        )

    def drawn_shapes(self, bar: Bar | None) -> dict[int, np.ndarray]:
        """Shapes of modes 1, 2 and 5 by number at the points of `drawn_plate`."""
        modes, plate = self.free_modes(bar, COUNT), drawn_plate(self)
        return {n.number: plate.lift(modes.vectors[:, n.index]) for n in self._named(modes)}


def top_model(
    top: Top, fineness: float = 1.0, bar: Bar | None = None, shear: bool = True, edge_row: bool = True
) -> TopModel:
    """Mesh a top and assemble its shell.

    Parameters
    ----------
    top : Top
    fineness : float
        1 is the default mesh; 2 halves the triangles' sides.
    bar : Bar, optional
        Where slender triangles are laid for a bar; default the usual bar's line. Other bars may be put on the
        same model.
    shear : bool
        Transverse shear of the plate.
    edge_row : bool
        A row of slender triangles along outline and holes, for the twist's edge layer.

    Returns
    -------
    TopModel

    Raises
    ------
    ValueError
        A fineness that the mesher cannot do.
    """
    line = bar or preset_bar(top)
    return TopModel(top, mesh_top(top, fineness, line, shear, edge_row), fineness, line)


def with_wood(top: Top, **constants) -> Top:
    """Return the top with some constants of its wood replaced (Pa, kg/m3)."""
    return replace(top, wood=replace(top.wood, **constants))
