"""How stiff the top is under a bridge foot: one push, one deflection."""

from collections.abc import Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from platemodel.fem.supports import point_rows
from platemodel.fem.system import System
from platemodel.instrument.bar import Bar
from platemodel.study.top.edge_supports import RIMS, rim_supports
from platemodel.study.top.model import TopModel, bar_rib

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
    with ThreadPoolExecutor(len(RIMS)) as pool:
        return foot_stiffness(flexibilities(model, bar, push_rows(model), pool), post)


def push_rows(model: TopModel) -> list[np.ndarray]:
    """Upright displacement of the bass foot and of the sound post's place under the treble foot, as rows."""
    bridge = model.top.bridge
    post = point_rows(model.shell, np.reshape(bridge.treble_foot, (2, 1)), (0.0, 0.0, 1.0))
    return [foot_rows(model, bridge.bass_foot), post.toarray()[0]]


def flexibilities(
    model: TopModel, bar: Bar | None, rows: Sequence[np.ndarray], pool: Executor
) -> dict[str, np.ndarray]:
    """Displacements along some rows under a unit load along each of them, for both rims.

    Parameters
    ----------
    model : TopModel
    bar : Bar or None
    rows : sequence of l arrays (n_dofs of the shell,)
    pool : Executor
        Of threads, that the rims are shared out to.

    Returns
    -------
    dict of str to array (l, l)
        By rim, m/N.
    """
    ribs, loads = () if bar is None else (bar_rib(model, bar),), np.stack(rows, axis=1)

    def one(rim):
        moved = System(model.shell, ribs, rim_supports(model, rim)).solve(loads)
        return loads.T @ moved[: len(loads)]

    return dict(zip(RIMS, pool.map(one, RIMS), strict=True))


def foot_stiffness(found: dict[str, np.ndarray], post: bool = True) -> FootStiffness:
    """Stiffness under the bass foot from the flexibilities of `push_rows`; the post is a stiff spring."""
    out = {}
    for rim, c in found.items():
        give = c[0, 0] - (c[0, 1] ** 2 / (c[1, 1] + 1.0 / POST) if post else 0.0)
        out[rim] = float(1.0 / give)
    return FootStiffness(**out)


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
