"""Loads under the feet of the bridge and the post, and how far the top gives way there."""

import numpy as np

from platemodel.errors import GeometryError
from platemodel.fem.supports import point_rows
from platemodel.instrument.bar import Bar
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.strings import Post, SetUp, foot_loads
from platemodel.instrument.top import Top
from platemodel.study.top.answers import Bracket, FootStiffness, TopSolver
from platemodel.study.top.meshed_top import MeshedTop

RIGID_POST = 1e8  # N/m: a sound post that does not give
# Places among `unit_loads`: both feet of the bridge, the end of the sound post (for the sinking), and a pin
# under the treble foot (for the stiffness under the bass foot).
BASS, TREBLE, POST_END, PIN = range(4)
STRINGS = [BASS, TREBLE, POST_END]  # those of the sinking


def bass_foot_stiffness(model: TopSolver, bar: Bar | None = None, post: bool = True) -> FootStiffness:
    """Push on the bass foot and see how far the top gives way there.

    Parameters
    ----------
    model : TopModel or ReducedTop
    post : bool
        A rigid sound post under the treble foot.

    Notes
    -----
    The rim is held upright all round and free to tilt (hinged); the push is spread over the foot. The ribs
    of a real body give as well: use it to compare bars, not as the stiffness of a body.
    """
    return model.foot_stiffness(bar, post)


def foot_rows(model: MeshedTop, foot: np.ndarray) -> np.ndarray:
    """Mean upright displacement under a foot, as a row over the shell's DOFs: (n_dofs,).

    Parameters
    ----------
    foot : array (2,)
        Middle of the foot in plan, m.
    """
    bridge = model.top.bridge
    return patch_rows(model, foot, bridge.foot_along, bridge.foot_length_across)


def patch_rows(model: MeshedTop, middle: np.ndarray, along: float, across: float) -> np.ndarray:
    """Mean upright displacement of a rectangle in plan, as a row over the shell's DOFs: (n_dofs,).

    Parameters
    ----------
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
        return [*feet, post_row(model, post, place)]

    return model.kept.get(("load rows", *place.tolist(), post.diameter), made)


def post_row(model: MeshedTop, post: Post, place: np.ndarray) -> np.ndarray:
    """Mean upright displacement under a post's end at a place, m: a row (n_dofs,).

    Raises
    ------
    GeometryError
        The place is off the plate.
    """
    side = 0.5 * np.sqrt(np.pi) * post.diameter  # square of the same area
    try:
        return patch_rows(model, place, side, side)
    except GeometryError as error:
        x, y = 1e3 * place
        msg = f"the sound post at ({x:.1f}, {y:.1f}) mm is off the plate or under a sound hole; move it"
        raise GeometryError(msg) from error


def usual_set_up(top: Top) -> SetUp:
    """Return the strings and post that are usual on this kind of instrument."""
    return SetUp.usual(top.kind, top.outline.body_length)


def unit_loads(model: MeshedTop, set_up: SetUp) -> np.ndarray:
    """Stack unit loads upwards at the places ``BASS``, ``TREBLE``, ``POST_END``, ``PIN``: (n_dofs, 4).

    Every answer of a top at rest is a sum of what these four do.

    Raises
    ------
    GeometryError
        The sound post stands off the plate.
    """
    return np.stack([*load_rows(model, set_up), pin_row(model)], axis=1)


def pin_row(model: MeshedTop) -> np.ndarray:
    """Upright displacement of the sound post's place under the treble foot, as a row: (n_dofs,)."""

    def made():
        place = np.reshape(model.top.bridge.treble_foot, (2, 1))
        return point_rows(model.shell, place, (0.0, 0.0, 1.0)).toarray()[0]

    return model.kept.get("pin row", made)


def pushed_shares(c: np.ndarray, post: bool = True) -> np.ndarray:
    """Share of each unit load for one newton upwards on the bass foot and what a rigid post answers: (4,).

    Parameters
    ----------
    c : array (4, 4)
        Flexibilities of `unit_loads`, m/N.
    post : bool
        A rigid sound post under the treble foot.
    """
    share = np.zeros(len(c))
    share[BASS] = 1.0
    if post:
        share[PIN] = -c[PIN, BASS] / (c[PIN, PIN] + 1.0 / RIGID_POST)
    return share


def strung_shares(c: np.ndarray, set_up: SetUp, bridge: Bridge) -> np.ndarray:
    """Share of each unit load for the strings' load and what the post of the set-up answers, N: (4,)."""
    loads, share = foot_loads(set_up, bridge), np.zeros(len(c))
    share[STRINGS] = *loads, -post_force(c, loads, set_up)
    return share


def foot_stiffness(found: dict[str, np.ndarray], post: bool = True) -> FootStiffness:
    """Stiffness under the bass foot from the flexibilities of `unit_loads` with both rims."""
    return FootStiffness(**{rim: float(1.0 / (c[BASS] @ pushed_shares(c, post))) for rim, c in found.items()})


def post_force(c: np.ndarray, loads: tuple[float, float], set_up: SetUp) -> float:
    """Force on the post, N, from flexibilities of `unit_loads` and the loads on the two feet, N.

    The post is a spring or a pin and can only push.
    """
    post = set_up.post
    if not post.present:
        return 0.0
    give = c[POST_END, POST_END] + 1.0 / post.spring
    return max(0.0, float(c[POST_END, [BASS, TREBLE]] @ np.asarray(loads) / give))


def sinking_from(found: dict[str, np.ndarray], bridge: Bridge, set_up: SetUp) -> Bracket:
    """Mean sinking of the bass foot on the first day, m, from flexibilities of `unit_loads`, both rims."""
    return Bracket(**{rim: float(c[BASS] @ strung_shares(c, set_up, bridge)) for rim, c in found.items()})
