"""What the strings do to the closed body: sinking, tilt, force on the post, and what each depends on."""

from dataclasses import dataclass

import numpy as np

from platemodel.fem.face import rigid_at
from platemodel.instrument.bar import Bar
from platemodel.instrument.strings import foot_loads
from platemodel.study.body.model import BodyModel, StringLine, string_line
from platemodel.study.top.foot import foot_rows, load_rows
from platemodel.study.top.kept_solutions import kept_solution


@dataclass(frozen=True, eq=False)
class BodyLoad:
    """The closed body under its strings.

    Attributes
    ----------
    moved : array (n_dofs,)
        Displacement under the whole string load, rigid motion taken out.
    sinking_bass, sinking_treble : float
        Mean sinking of a foot against the rim's mean plane, m, down positive.
    tilt : float
        Of the bridge against the rim's mean plane, rad, positive when the bass foot lies deeper.
    post_force : float
        N on the post, positive when pressed.
    upright : tuple of float
        Sinking of bass and treble foot under the push of the bridge alone, held up at the two ends, m.
    """

    model: BodyModel
    bar: Bar | None
    moved: np.ndarray
    adjoint: np.ndarray
    line: StringLine
    sinking_bass: float
    sinking_treble: float
    tilt: float
    post_force: float
    upright: tuple[float, float]


def string_forces(model: BodyModel) -> tuple[np.ndarray, np.ndarray, StringLine]:
    """Put together the loads of the strings on the body, as generalised forces.

    Returns
    -------
    whole : array (n,)
        Feet, nut and saddle; balanced.
    upright : array (n,)
        The push on the feet alone, balanced upright at the two blocks.
    line : StringLine

    Notes
    -----
    The strings run straight from nut to bridge and from bridge to saddle (the tailpiece weighs nothing),
    all of them in the plane of their resultant. With total pull T (the one that goes with the push on the
    top) they pull nut and saddle along themselves, and press the bridge with what the kink leaves. The
    bridge stands so that this force passes through its feet; upright the feet share it by the rule of the
    lever.
    """
    top, set_up = model.top, model.set_up
    line = string_line(top, model.body, set_up)
    front, back = np.arctan(line.slope_front), np.arctan(line.slope_back)
    feet = foot_loads(set_up, top.bridge)
    push = sum(feet)
    pull = push / (np.sin(front) + np.sin(back))
    ahead = pull * (np.cos(front) - np.cos(back))  # on the bridge, towards the nut
    rows = [model.wide(row) for row in load_rows(model.top_model, set_up)]
    across = float(np.dot(feet, [top.bridge.bass_foot[1], top.bridge.treble_foot[1]]) / push)
    whole = sum(
        -share * row + ahead * share / push * along
        for share, row, along in zip(feet, rows, _feet_along(model), strict=False)
    )
    # the bridge's top stands back so far that the push goes through the feet
    shift = -ahead / push * model.body.levers.bridge
    nut = np.array([line.nut[0] + shift, across, line.nut[1]])
    saddle = np.array([line.saddle[0] + shift, across, line.saddle[1]])
    whole = whole + np.array([-pull * np.cos(front), 0.0, pull * np.sin(front)]) @ model.nut_rows(nut)
    whole = whole + np.array([pull * np.cos(back), 0.0, pull * np.sin(back)]) @ rigid_at(*model.lower, saddle)
    upper, lower = model.upper[1][0], model.lower[1][0]
    share = (top.bridge.x - lower) / (upper - lower)
    ends = share * model.upper[0][2] + (1.0 - share) * model.lower[0][2]
    alone = push * ends - sum(f * row for f, row in zip(feet, rows, strict=False))
    return whole, alone, line


def _feet_along(model):
    """Mean displacement of bass and treble foot along the body, as rows: two of (n,)."""
    # the third component's unknowns follow the first's by two times as many as a component has
    back, bridge = -2 * model.top_model.shell.n_c1, model.top.bridge
    feet = (bridge.bass_foot, bridge.treble_foot)
    return [np.roll(model.wide(foot_rows(model.top_model, foot)), back) for foot in feet]


def body_load(model: BodyModel, bar: Bar | None) -> BodyLoad:
    """Press and pull a body with its strings.

    Parameters
    ----------
    model : BodyModel
    bar : Bar or None

    Returns
    -------
    BodyLoad
    """
    whole, alone, line = string_forces(model)
    sunk = foot_sinking(model)
    loads = np.stack([whole, alone, *sunk], axis=1)

    def solve():
        return {"moved": model.with_bar(bar).solve(loads)}

    found = kept_solution(model.top_model, bar, ("body", model.fingerprint, loads), solve)["moved"]
    n = model.joined.n_bare
    moved, pushed = found[:n, 0], found[:n, 1]
    bass, treble = (float(row @ moved) for row in sunk)
    bridge = model.top.bridge
    apart = bridge.treble_foot[1] - bridge.bass_foot[1]
    return BodyLoad(
        model, bar, found[:, 0], found[:, 2:], line, bass, treble, float(np.arctan2(bass - treble, apart)),
        _post_carries(model, moved), tuple(float(row @ pushed) for row in sunk),
    )  # fmt: skip


def foot_sinking(model: BodyModel) -> list[np.ndarray]:
    """Sinking of bass and treble foot against the rim's mean plane, as rows."""
    bridge, rows = model.top.bridge, load_rows(model.top_model, model.set_up)
    return [
        model.sinking_rows(place, row)
        for place, row in zip((bridge.bass_foot, bridge.treble_foot), rows, strict=False)
    ]


def _post_carries(model: BodyModel, moved: np.ndarray) -> float:
    """Force on the post, N; 0 without one."""
    if model.post is None:
        return 0.0
    row, stiffness = model.post
    return float(-stiffness * row @ moved[: len(row)])
