"""Loads under the feet of the bridge and the post, and how far the top gives way there."""

from collections.abc import Sequence
from concurrent.futures import Executor

import numpy as np

from platemodel.errors import GeometryError
from platemodel.fem.rib import Rib
from platemodel.fem.supports import point_rows
from platemodel.fem.system import System
from platemodel.instrument.bar import Bar
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.strings import SetUp, foot_loads
from platemodel.study.top.answers import Bracket, FootStiffness, TopSolver
from platemodel.study.top.edge_supports import RIMS, rim_supports
from platemodel.study.top.meshed_top import MeshedTop

RIGID_POST = 1e8  # N/m: a sound post that does not give
BASS, TREBLE, POST = range(3)  # places among `load_rows`


def bass_foot_stiffness(model: TopSolver, bar: Bar | None = None, post: bool = True) -> FootStiffness:
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
    return model.foot_stiffness(bar, post)


def push_rows(model: MeshedTop) -> list[np.ndarray]:
    """Upright displacement of the bass foot and of the sound post's place under the treble foot, as rows."""

    def made():
        bridge = model.top.bridge
        post = point_rows(model.shell, np.reshape(bridge.treble_foot, (2, 1)), (0.0, 0.0, 1.0))
        return [foot_rows(model, bridge.bass_foot), post.toarray()[0]]

    return model.kept.get("push rows", made)


def flexibilities(
    model: MeshedTop, ribs: tuple[Rib, ...], rows: Sequence[np.ndarray], pool: Executor
) -> dict[str, np.ndarray]:
    """Displacements along some rows under a unit load along each of them, for both rims.

    Parameters
    ----------
    model : MeshedTop
    ribs : tuple of Rib
    rows : sequence of l arrays (n_dofs of the shell,)
    pool : Executor
        Of threads, that the rims are shared out to.

    Returns
    -------
    dict of str to array (l, l)
        By rim, m/N.
    """
    loads = np.stack(rows, axis=1)

    def one(rim):
        moved = System(model.shell, ribs, rim_supports(model, rim)).solve(loads)
        return loads.T @ moved[: len(loads)]

    return dict(zip(RIMS, pool.map(one, RIMS), strict=True))


def foot_stiffness(found: dict[str, np.ndarray], post: bool = True) -> FootStiffness:
    """Stiffness under the bass foot from the flexibilities of `push_rows`; the post is a stiff spring."""
    out = {}
    for rim, c in found.items():
        give = c[0, 0] - (c[0, 1] ** 2 / (c[1, 1] + 1.0 / RIGID_POST) if post else 0.0)
        out[rim] = float(1.0 / give)
    return FootStiffness(**out)


def foot_rows(model: MeshedTop, foot: np.ndarray) -> np.ndarray:
    """Mean upright displacement under a foot, as a row over the shell's DOFs: (n_dofs,).

    Parameters
    ----------
    model : MeshedTop
    foot : array (2,)
        Middle of the foot in plan, m.
    """
    bridge = model.top.bridge
    return patch_rows(model, foot, bridge.foot_along, bridge.foot_length_across)


def patch_rows(model: MeshedTop, middle: np.ndarray, along: float, across: float) -> np.ndarray:
    """Mean upright displacement of a rectangle in plan, as a row over the shell's DOFs: (n_dofs,).

    Parameters
    ----------
    model : MeshedTop
    middle : array (2,)
        m.
    along, across : float
        Sides of the rectangle, m.
    """
    xi, weight = np.polynomial.legendre.leggauss(4)
    x, y = np.meshgrid(middle[0] + 0.5 * along * xi, middle[1] + 0.5 * across * xi, indexing="ij")
    rows = point_rows(model.shell, np.stack([x.ravel(), y.ravel()]), (0.0, 0.0, 1.0))
    return rows.T @ (0.25 * np.outer(weight, weight).ravel())


def load_rows(model: MeshedTop, set_up: SetUp) -> list[np.ndarray]:
    """Mean upright displacement under bass foot, treble foot and post, as rows over the shell's DOFs.

    Raises
    ------
    GeometryError
        The sound post stands off the plate.
    """
    bridge, post = model.top.bridge, set_up.post
    place = post.place(bridge)

    def made():
        feet = [foot_rows(model, foot) for foot in (bridge.bass_foot, bridge.treble_foot)]
        return [*feet, _post_rows(model, post, place)]

    return model.kept.get(("load rows", *place.tolist(), post.diameter), made)


def _post_rows(model, post, place):
    side = 0.5 * np.sqrt(np.pi) * post.diameter  # square of the same area
    try:
        return patch_rows(model, place, side, side)
    except GeometryError as error:
        x, y = 1e3 * place
        msg = f"the sound post at ({x:.1f}, {y:.1f}) mm is off the plate or under a sound hole; move it"
        raise GeometryError(msg) from error


def post_force(c: np.ndarray, loads: tuple[float, float], set_up: SetUp) -> float:
    """Force on the post, N, from flexibilities of `load_rows` and the loads on the two feet, N.

    The post is a spring or a pin and can only push.
    """
    post = set_up.post
    if not post.present:
        return 0.0
    return max(0.0, float(c[POST, :POST] @ loads / (c[POST, POST] + 1.0 / post.spring)))


def sinking_from(found: dict[str, np.ndarray], bridge: Bridge, set_up: SetUp) -> Bracket:
    """Mean sinking of the bass foot on the first day, m, from flexibilities of `load_rows` with both rims."""
    loads, out = foot_loads(set_up, bridge), {}
    for rim, c in found.items():
        out[rim] = float(c[BASS] @ np.array([*loads, -post_force(c, loads, set_up)]))
    return Bracket(**out)
