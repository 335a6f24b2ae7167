"""How stiff the top is under a bridge foot: one push, one deflection."""

from dataclasses import dataclass

import numpy as np

from platemodel.fem.supports import point_rows, point_spring
from platemodel.fem.system import System
from platemodel.instrument.bar import Bar
from platemodel.study.model import TopModel, bar_rib
from platemodel.study.rims import RIMS, rim_supports

PUSH = 1.0  # N; the answer is linear
POST = 1e8  # N/m: a sound post that does not give


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


def bass_foot_stiffness(model: TopModel, bar: Bar | None = None, post: bool = True) -> FootStiffness:
    """Push on the bass foot and see how far the top gives way there.

    Parameters
    ----------
    model : TopModel or ReducedTop
    bar : Bar, optional
    post : bool
        A rigid sound post under the treble foot.

    Returns
    -------
    FootStiffness

    Notes
    -----
    The rim is held upright all round and free to tilt (hinged); the push is spread over the foot. The ribs
    of a real body give as well: use it to compare bars, not as the stiffness of a body.
    """
    if not isinstance(model, TopModel):
        return model.foot_stiffness(bar, post)
    ribs = () if bar is None else (bar_rib(model, bar),)
    out = {rim: _push(model, ribs, rim, post) for rim in RIMS}
    return FootStiffness(**out)


def _push(model, ribs, rim, post):
    shell, bridge = model.shell, model.top.bridge
    supports = rim_supports(model, rim)
    if post:
        supports.append(point_spring(shell, bridge.treble_foot, (0.0, 0.0, 1.0), POST))
    load = foot_rows(model, bridge.bass_foot)
    u = System(shell, ribs, tuple(supports)).solve(-PUSH * load)
    return float(-PUSH / (load @ u[: shell.n_dofs]))


def foot_rows(model: TopModel, foot: np.ndarray) -> np.ndarray:
    """Mean upright displacement under a foot, as a row over the shell's DOFs: (n_dofs,).

    Parameters
    ----------
    model : TopModel
    foot : array (2,)
        Middle of the foot in plan, m.
    """
    bridge = model.top.bridge
    return patch_rows(model, foot, bridge.foot_along, bridge.foot_length_across)


def patch_rows(model: TopModel, middle: np.ndarray, along: float, across: float) -> np.ndarray:
    """Mean upright displacement of a rectangle in plan, as a row over the shell's DOFs: (n_dofs,).

    Parameters
    ----------
    model : TopModel
    middle : array (2,)
        m.
    along, across : float
        Sides of the rectangle, m.
    """
    xi, weight = np.polynomial.legendre.leggauss(4)
    x, y = np.meshgrid(middle[0] + 0.5 * along * xi, middle[1] + 0.5 * across * xi, indexing="ij")
    rows = point_rows(model.shell, np.stack([x.ravel(), y.ravel()]), (0.0, 0.0, 1.0))
    return rows.T @ (0.25 * np.outer(weight, weight).ravel())
