"""What the strings do to a top: sinking, tilt of the bridge, raised and sunken areas, margins."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
import pandas as pd

from platemodel.fem.rib_stress import rib_forces
from platemodel.fem.stress import shell_stresses
from platemodel.instrument.bar import Bar
from platemodel.instrument.strings import SetUp, foot_loads
from platemodel.study.top.answers import Bracket, TopSolver
from platemodel.study.top.edge_supports import RIMS
from platemodel.study.top.foot import foot_rows, load_rows
from platemodel.study.top.margins import Solved, strength_margins
from platemodel.study.top.model import TopModel
from platemodel.study.top.sampling import PlanGrid, plan_grid
from platemodel.wood.estimate import HALF_WIDTH
from platemodel.wood.species import spread_of_stiffness
from platemodel.wood.strength import k_def

UP = (0.0, 0.0, 1.0)


@dataclass(frozen=True, eq=False)
class LoadState:
    """The top under the strings, with or without bar, with or without sound post.

    Attributes
    ----------
    sinking_bass, sinking_treble : Bracket
        Mean sinking under a foot on the first day, m, down positive.
    tilt : Bracket
        Of the bridge, rad, positive when the bass foot lies deeper.
    bass_ends, treble_ends, tilt_ends : tuple of float
        Least and greatest of the same over both rims and the band of the post's stiffness.
    post_force : Bracket
        N on the post; 0 without.
    lift : Bracket of array (m,)
        Upright displacement at the grid's points, m, raised positive.
    margins : DataFrame
        See `study.top.margins.strength_margins`.
    bar_forces : Bracket of RibForces, or None
    top_stress : Bracket of ShellStress
    """

    bar: bool
    post: bool
    sinking_bass: Bracket
    sinking_treble: Bracket
    tilt: Bracket
    bass_ends: tuple[float, float]
    treble_ends: tuple[float, float]
    tilt_ends: tuple[float, float]
    post_force: Bracket
    lift: Bracket
    margins: pd.DataFrame
    bar_forces: Bracket | None
    top_stress: Bracket

    @property
    def label(self) -> str:
        """In words."""
        return f"{'with' if self.bar else 'without'} bar" + ("" if self.post else ", post out")

    @property
    def shape(self) -> np.ndarray:
        """Mean of the two rims' upright displacement at the grid's points, m: (m,)."""
        return self.lift.middle


@dataclass(frozen=True, eq=False)
class StringLoad:
    """A top under its strings.

    Attributes
    ----------
    bass, treble : float
        Loads on the feet, N.
    grid : PlanGrid
        Where the states' ``lift`` is sampled.
    states : tuple of LoadState
        With the bar before without; with the post before without.
    service_class : int
        Of EN 1995-1-1, for the margins.
    wood_spread : float
        Coefficient of variation of the wood's stiffness, for the band of the sinking.
    """

    model: TopModel
    bar: Bar | None
    set_up: SetUp
    bass: float
    treble: float
    grid: PlanGrid
    states: tuple[LoadState, ...]
    service_class: int
    wood_spread: float

    @property
    def downforce(self) -> float:
        """Load on the top, N."""
        return self.bass + self.treble

    def state(self, bar: bool = True, post: bool = True) -> LoadState:
        """One of the states.

        Raises
        ------
        KeyError
            It was not computed: no bar on this top, or no post in this set-up.
        """
        for one in self.states:
            if (one.bar, one.post) == (bar, post):
                return one
        msg = f"no state with bar={bar}, post={post}; there are {', '.join(s.label for s in self.states)}"
        raise KeyError(msg)

    @property
    def main(self) -> LoadState:
        """The state as set up: the first."""
        return self.states[0]

    def day_one(self, state: LoadState) -> tuple[float, float, float]:
        """Sinking under the bass foot on the first day, m: low, middle, high.

        The band runs from the stiffer rim with wood stiffer by its spread (5 to 95 %) to the softer rim with
        softer wood, and over the band of the post; sinking goes as one over the stiffness.
        """
        low, high = state.bass_ends
        spread = HALF_WIDTH * self.wood_spread
        return low / (1.0 + spread), state.sinking_bass.middle, high / max(1.0 - spread, 0.1)

    def long_term(self, state: LoadState) -> tuple[float, float, float]:
        """Sinking after years, m: low, middle, high.

        First deflection times 1 + k_def (EN 1995-1-1, solid timber, from memory): the middle in the given
        service class, the low end in class 1, the high end in class 3, which stands for damp and dry by
        turns.
        """
        factors = (1.0 + k_def(1), 1.0 + k_def(self.service_class), 1.0 + k_def(3))
        return tuple(f * v for f, v in zip(factors, self.day_one(state), strict=True))

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row a state: sinking, tilt, force on the post; mm, degrees, N."""
        rows = []
        for s in self.states:
            day, years = self.day_one(s), self.long_term(s)
            rows.append(
                {
                    "state": s.label,
                    **{
                        f"sink_bass_{n}_mm": 1e3 * v for n, v in zip(("low", "mid", "high"), day, strict=True)
                    },
                    "sink_bass_sliding_mm": 1e3 * s.sinking_bass.sliding,
                    "sink_bass_held_mm": 1e3 * s.sinking_bass.held,
                    "sink_treble_mm": 1e3 * s.sinking_treble.middle,
                    "sink_treble_low_mm": 1e3 * s.treble_ends[0],
                    "sink_treble_high_mm": 1e3 * s.treble_ends[1],
                    "tilt_deg": float(np.degrees(s.tilt.middle)),
                    "tilt_low_deg": float(np.degrees(s.tilt_ends[0])),
                    "tilt_high_deg": float(np.degrees(s.tilt_ends[1])),
                    **{f"years_{n}_mm": 1e3 * v for n, v in zip(("low", "mid", "high"), years, strict=True)},
                    "post_n": s.post_force.middle,
                    "lowest_mm": 1e3 * float(s.shape.min()),
                    "highest_mm": 1e3 * float(s.shape.max()),
                }
            )
        return pd.DataFrame(rows)


def string_load(
    model: TopSolver,
    bar: Bar | None,
    set_up: SetUp,
    load: float | tuple[float, float] | None = None,
    service_class: int = 1,
    compare: bool = True,
) -> StringLoad:
    """Press a top with its strings.

    Parameters
    ----------
    model : TopModel or ReducedTop
        Stresses of a reduced model are within 1 % of the greatest; in doubt it asks the full one.
    load : float or (float, float), optional
        A downforce (N) put in directly, shared out on the feet by the rule of the lever, or the loads on bass
        and treble foot; default the set-up's.
    service_class : {1, 2, 3}
        Of EN 1995-1-1: 1 indoors.
    compare : bool
        Compute the top without its bar as well; False halves the time.

    Raises
    ------
    ValueError
        A load that is not positive; unknown service class.
    GeometryError
        The sound post or the bar stands off the plate.

    Notes
    -----
    Rim held upright all round and free to tilt, in its plane once sliding and once held. The feet press
    upright and evenly; the post is a spring on the mean displacement of its end, and can only push. Where its
    stiffness was not measured the answer is for the middle of the usual band and the bands run over all of
    it. Linear: no buckling, and nothing of the strings' pull along the body (`study.body` has it).
    """
    k_def(service_class)
    solver, model = model, model.full
    bass, treble = _loads(set_up, model, load)
    wood_spread = spread_of_stiffness(model.top.wood)
    grid = plan_grid(model.top)
    lift = _lift_rows(model, grid)
    states = []
    for one in (None,) if bar is None else (bar, None) if compare else (bar,):
        rib = solver.rib(one)
        with ThreadPoolExecutor(len(RIMS)) as pool:
            found = pool.map(partial(_unit, solver, one, set_up), RIMS)
            unit = dict(zip(RIMS, found, strict=True))
        for post in (True, False) if set_up.post.present else (False,):
            solved, *ends = (
                {rim: unit[rim].under(bass, treble, spring, post) for rim in RIMS}
                for spring in (set_up.post.spring, *set_up.post.spring_ends)
            )
            loads = (bass, treble)
            states.append(_state(model, one, rib, set_up, solved, ends, post, lift, loads, service_class))
    states.sort(key=lambda s: (not s.bar, not s.post))
    return StringLoad(model, bar, set_up, bass, treble, grid, tuple(states), service_class, wood_spread)


def _loads(set_up, model, load):
    if load is not None and not np.isscalar(load):
        bass, treble = (float(v) for v in load)
    else:
        bass, treble = foot_loads(set_up, model.top.bridge)
        if load is not None:
            share = float(load) / (bass + treble)
            bass, treble = share * bass, share * treble
    if not (bass >= 0 and treble >= 0 and 0 < bass + treble < np.inf):
        msg = f"loads on the feet {bass:.4g} and {treble:.4g} N: give positive numbers, down on the top"
        raise ValueError(msg)
    return bass, treble


@dataclass(frozen=True, eq=False)
class _Unit:
    """Displacements under 1 N down on the bass foot, the treble foot and the post's place: (n_dofs, 3).

    ``post`` is the row of the mean displacement of the post's end.
    """

    moved: np.ndarray
    post: np.ndarray

    def under(self, bass, treble, stiffness, post):
        """Displacement under two loads, and the force on the post."""
        free = bass * self.moved[:, 0] + treble * self.moved[:, 1]
        if not post:
            return free, 0.0
        n = len(self.post)
        give = -self.post @ self.moved[:n, 2]
        force = max(0.0, -self.post @ free[:n] / (give + 1.0 / stiffness))
        return free - force * self.moved[:, 2], float(force)


def _unit(solver, bar, set_up, rim):
    return _Unit(-solver.moved(bar, rim, set_up), load_rows(solver.full, set_up)[2])


def _lift_rows(model, grid):
    station = model.shell.locate(grid.points)
    rows = np.einsum("c,ncj->nj", np.array(UP), station.displacement_rows())[:, None]
    return model.shell.operator(station, rows)


def _state(model, bar, rib, set_up, solved, ends, post, lift, loads, service_class):
    shell, bridge = model.shell, model.top.bridge
    n = shell.n_dofs
    feet = [foot_rows(model, foot) for foot in (bridge.bass_foot, bridge.treble_foot)]
    apart = bridge.treble_foot[1] - bridge.bass_foot[1]

    def both(value):
        return Bracket(*(value(*solved[rim]) for rim in RIMS))

    bass, treble = (both(lambda u, _, f=f: float(-f @ u[:n])) for f in feet)
    sunk = np.array([[-f @ u[:n] for f in feet] for part in (solved, *ends) for u, _ in part.values()])
    leans = np.arctan2(sunk[:, 0] - sunk[:, 1], apart)
    stress = Bracket(*shell_stresses(shell, np.column_stack([solved[rim][0] for rim in RIMS])))
    forces = None if rib is None else both(lambda u, _: rib_forces(rib, u, u[n:]))
    post_force = both(lambda _, force: force)
    result = Solved(model, bar, set_up, loads, stress, forces, post_force)
    return LoadState(
        bar=bar is not None,
        post=post,
        sinking_bass=bass,
        sinking_treble=treble,
        tilt=Bracket(
            *(
                float(np.arctan2(a - b, apart))
                for a, b in zip((bass.sliding, bass.held), (treble.sliding, treble.held), strict=True)
            )
        ),
        bass_ends=(float(sunk[:, 0].min()), float(sunk[:, 0].max())),
        treble_ends=(float(sunk[:, 1].min()), float(sunk[:, 1].max())),
        tilt_ends=(float(leans.min()), float(leans.max())),
        post_force=post_force,
        lift=both(lambda u, _: lift @ u[:n]),
        margins=strength_margins(result, service_class),
        bar_forces=forces,
        top_stress=stress,
    )
