"""Sinking under the strings for any bar on a line, in milliseconds."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from platemodel.fem.greedy import compress, weak_greedy
from platemodel.fem.reduced import ReducedShell
from platemodel.fem.reductor import Reductor
from platemodel.instrument.bar import Bar
from platemodel.instrument.strings import SetUp, foot_loads
from platemodel.study.top.edge_supports import RIMS, rim_supports
from platemodel.study.top.foot import flexibilities
from platemodel.study.top.model import TopModel, bar_rib
from platemodel.study.top.reduced_top import ReducedTop
from platemodel.study.top.string_load import Bracket, load_rows

BASS, TREBLE, POST = range(3)
SAMPLES = 24  # bars learnt from
# Of the tolerance: the post pushes back most of what the feet press, so single loads are learnt further.
GOAL = 0.1
DOUBT = 1e-2  # estimated relative error from which the full model is asked; the true one is far smaller


@dataclass(frozen=True, eq=False)
class Sinking:
    """Sinking of the bass foot under a set-up, for bars on the line of a reduced top.

    Attributes
    ----------
    model : ReducedTop
    set_up : SetUp
    loads : tuple of float
        On bass and treble foot, N.
    roms : dict of str to ReducedShell
        By rim.
    """

    model: ReducedTop
    set_up: SetUp
    loads: tuple[float, float]
    roms: dict[str, ReducedShell]

    def under(self, bar: Bar | None) -> tuple[Bracket, float]:
        """Mean sinking of the bass foot on the first day, m, down positive, and its estimated error.

        Returns
        -------
        sinking : Bracket
        error : float
            Relative; an estimate, not a bound.
        """
        rib = self.model.rib(bar)
        out, error = {}, 0.0
        for rim, rom in self.roms.items():
            found = rom.static(rib)
            share = np.array([*self.loads, -_force(found.flexibility, self.loads, self.set_up)])
            out[rim] = float(found.flexibility[BASS] @ share)
            error = max(error, float(share @ found.residual @ share / (share @ found.flexibility @ share)))
        return Bracket(**out), error

    def moved(self, bar: Bar | None, rim: str) -> np.ndarray | None:
        """Displacement under 1 N upwards along each of `load_rows`; None where the estimate forbids it.

        Returns
        -------
        array (n_dofs of the shell and of the bar's own shear, 3)
        """
        rom = self.roms[rim]
        found = rom.static(self.model.rib(bar))
        doubt = (found.residual.diagonal() / found.flexibility.diagonal()).max()
        if not doubt < self.model.tolerance:
            return None
        return np.concatenate([rom.reconstruct(found.coefficients), found.own])


def _force(c, loads, set_up):
    """Force on the post, N: the post is a spring or a pin and can only push."""
    post = set_up.post
    if not post.present:
        return 0.0
    return max(0.0, float(c[POST, :POST] @ loads / (c[POST, POST] + 1.0 / post.stiffness)))


def reduced_sinking(reduced: ReducedTop, set_up: SetUp) -> Sinking:
    """Make a reduced top ready for the sinking under a set-up.

    Parameters
    ----------
    reduced : ReducedTop
        Gives the top, the bar's line, the range of bars and the tolerance.
    set_up : SetUp
    """
    model, bar, x_bridge = reduced.fom, reduced.bar, reduced.top.bridge.x
    middle = bar_rib(model, reduced.range.bar(bar, x_bridge, (0.2, 0.4, 0.3, 0.3, 0.5)))
    rows = load_rows(model, set_up)
    ribs = [None, *(reduced.rib(b) for b in reduced.range.samples(bar, x_bridge, SAMPLES))]
    goal = GOAL * reduced.tolerance

    def learnt(rim):
        reductor = Reductor(model.shell, middle, rim_supports(model, rim), np.stack(rows, axis=1))
        return compress(weak_greedy(reductor, ribs, goal).rom, ribs, 1.5 * goal)

    with ThreadPoolExecutor(len(RIMS)) as pool:
        roms = dict(zip(RIMS, pool.map(learnt, RIMS), strict=True))
    return Sinking(reduced, set_up, foot_loads(set_up, reduced.top.bridge), roms)


def full_sinking(model: TopModel, bar: Bar | None, set_up: SetUp) -> Bracket:
    """Mean sinking of the bass foot on the first day by the full model, m; as in `string_load`."""
    with ThreadPoolExecutor(len(RIMS)) as pool:
        found = flexibilities(model, bar, load_rows(model, set_up), pool)
    return sinking_from(found, model, set_up)


def sinking_from(found: dict[str, np.ndarray], model: TopModel, set_up: SetUp) -> Bracket:
    """Tell the same from the flexibilities of `load_rows`, for both rims."""
    loads = foot_loads(set_up, model.top.bridge)
    return Bracket(
        **{rim: float(c[BASS] @ np.array([*loads, -_force(c, loads, set_up)])) for rim, c in found.items()}
    )
