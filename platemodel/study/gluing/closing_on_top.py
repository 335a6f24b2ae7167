"""Gap and spring on the top itself: how the plate yields along the bar, and what stays locked in.

Two ways of holding a top while the bar is clamped on bracket what a workshop does. *Held*: a cradle that fits
keeps the plate from moving; when the glue is dry and the top comes out, bar and plate spring back together.
*Free*: clamps with pads squeeze bar and plate, the plate gives, and nothing moves when they come off.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.errors import GeometryError
from platemodel.fem.rib_stress import rib_forces
from platemodel.fem.stress import shell_stress
from platemodel.fem.supports import ALONG, hold_point
from platemodel.fem.system import System
from platemodel.instrument.bar import Bar
from platemodel.instrument.gaps import Gaps
from platemodel.study.gluing.closing import FILM, Closing, close_gaps
from platemodel.study.top.foot import foot_rows, patch_rows
from platemodel.study.top.meshed_top import bar_rib, outer_facets
from platemodel.study.top.model import TopModel
from platemodel.wood.strength import k_def

HOLDINGS = ("held", "free")
SPOTS = (1.0, 0.6, 0.3)  # of the bar's width


@dataclass(frozen=True, eq=False)
class LockedIn:
    """What a bar that was closed by force leaves in bar and plate.

    Attributes
    ----------
    holding : {"held", "free"}
        How the top lay while the glue dried.
    lift : array (n,)
        Upright change of the plate along the bar's line at the stations, against the plane of the rim, m;
        outwards positive.
    lift_foot : float
        The same under the bass foot.
    sagitta : float
        Change of the arch over the bar: at the bridge line, less the line through the bar's ends, m.
    bar_stress : float
        Largest stress along the bar on the first day, Pa, its size.
    plate_stress : float
        Largest stress along the grain of the plate beside the bar, Pa, its size.
    peel_end : float
        Pull across the joint at the worse end by spring-back of bar and plate together, Pa; 0 when pressed,
        and for a free top, where the closing's own ``peel`` stands alone.
    foot_load : float
        Load on the bass foot that sinks it by as much as the spring lifts it in the body, N.
    """

    holding: str
    closing: Closing
    lift: np.ndarray
    lift_foot: float
    sagitta: float
    bar_stress: float
    plate_stress: float
    peel_end: float
    foot_load: float

    def after_years(self, stress: float) -> tuple[float, float]:
        """Return what is left of a locked-in stress after years, Pa: low and high.

        The bend is held by the joint, so with creep alike in bar and plate the shape stays and the stress
        falls as one over 1 + k_def (EN 1995-1-1, table 3.2, from memory; classes 3 and 1).
        """
        return stress / (1.0 + k_def(3)), stress / (1.0 + k_def(1))


def _rows(model, bar, s):
    """Mean upright displacement of a spot of the bar's width at each station: (n_dofs, n)."""
    x = bar.x_at(s)
    places = np.stack([x, bar.at(x)], axis=1)
    return np.stack([_spot(model, p, bar.width) for p in places], axis=1)


def _spot(model, place, width):
    """Rows of a square spot; a smaller one where a sound hole leaves no room for it.

    What is asked is the mean upright motion; how wide the spot is changes it by the plate's own dent only.
    """
    for share in SPOTS[:-1]:
        try:
            return patch_rows(model, place, share * width, share * width)
        except GeometryError:
            continue
    return patch_rows(model, place, SPOTS[-1] * width, SPOTS[-1] * width)


def _balanced(model):
    """Three vertices of the rim that hold a free top without any reaction to balanced forces."""
    shell, length = model.shell, model.top.outline.body_length
    vertices = np.unique(shell.mesh.facets[:, outer_facets(model)])
    p = shell.mesh.p[:, vertices]
    lower, upper = p[:, p[0].argmin()], p[:, p[0].argmax()]
    side = p[:, (p[1] - 1e-3 * np.abs(p[0] - 0.25 * length)).argmax()]
    return (hold_point(shell, lower), hold_point(shell, upper, ALONG[1:]), hold_point(shell, side, ALONG[2:]))


def line_compliance(model: TopModel, bar: Bar, s: np.ndarray) -> np.ndarray:
    """How the free top without bar yields along the bar's line, m/N, up to rigid motions.

    Parameters
    ----------
    s : array (n,)
        Stations, distance from the bar's lower end, m.

    Returns
    -------
    array (n, n)
        Upright displacement at one station per upright force at another, each over a square of the bar's
        width.
    """
    return _line(model, bar, s).soft


@dataclass(frozen=True, eq=False)
class _Line:
    """What a free top answers to upright forces along a bar's line, without and with the bar glued on.

    ``rows`` (n_dofs, n) are the loads, ``bare`` and ``glued`` the displacements under them.
    """

    rows: np.ndarray
    bare: np.ndarray
    glued: np.ndarray | None

    @property
    def soft(self):
        """Yield of the bare top, m/N: (n, n)."""
        return self.rows.T @ self.bare


def _line(model, bar, s, rib=None):
    """Solve for a bar's line; kept, as one gap after another is closed on it."""

    def made():
        rows, supports = _rows(model, bar, s), _balanced(model)
        glued = None if rib is None else System(model.shell, (rib,), supports).solve(rows)
        return _Line(rows, System(model.shell, (), supports).solve(rows), glued)

    return model.answers.get((bar, "line", rib is None, *np.asarray(s).tolist()), made)


def locked_in(model: TopModel, bar: Bar, gaps: Gaps, film: float = FILM) -> tuple[LockedIn, LockedIn]:
    """Close a gap on a top in both ways of holding, glue, take the clamps off.

    Parameters
    ----------
    film : float
        Gap that the glue may fill, m.

    Returns
    -------
    (held, free) : LockedIn

    Raises
    ------
    GeometryError
        The bar leaves the plate, or stations off the bar.

    Notes
    -----
    Held: the clamps and the cradle hold the bar's closing forces; taken off, they act the other way round on
    bar and plate glued together (spring-back of a laminated member). Free: bar and plate are in balance under
    the closing forces already, so the plate's own deflection stays. Linear and elastic.
    """
    rib = bar_rib(model, bar)  # first: it says where a bar leaves the plate
    line, n = _line(model, bar, gaps.s, rib), model.shell.n_dofs
    closed = {
        "held": close_gaps(bar, gaps, film),
        "free": close_gaps(bar, gaps, film, 0.5 * (line.soft + line.soft.T)),
    }
    moved = {"held": -line.glued @ closed["held"].force, "free": -line.bare @ closed["free"].force}
    # Loads that give the glued top these shapes when free; in the body the same loads meet the ribs.
    glued = System(model.shell, (rib,))
    loads = np.zeros((glued.n_dofs, 3))
    foot = foot_rows(model, model.top.bridge.bass_foot)
    loads[:n, 0] = -line.rows @ closed["held"].force
    loads[:, 1] = glued.matrices[0] @ np.r_[moved["free"], np.zeros(rib.n_own)]
    loads[:n, 2] = -foot
    body = model.pushed(bar, "sliding") @ loads  # of the foot: what it does to a load the load does to it
    return tuple(
        _state(model, bar, rib, line.rows, foot, h, closed[h], moved[h], float(-body[k] / body[2]))
        for k, h in enumerate(HOLDINGS)
    )


def _state(model, bar, rib, rows, foot, holding, closing, u, foot_load):
    n = model.shell.n_dofs
    upright = rows.T @ u[:n]
    plane = _rim_plane(model, u[:n])
    x = closing.beam.x(closing.beam.s)
    lift = upright - plane(np.stack([x, bar.at(x)]))
    bridge = float(np.clip(model.top.bridge.x, bar.x_start, bar.x_end))
    at_bridge = np.interp(bridge, x, lift)
    chord = np.interp(bridge, x[[0, -1]], lift[[0, -1]])
    s = bar.s_at(bridge)
    middle, _ = closing.beam.grid
    first = closing.stress
    stress = closing.peak_stress
    peel = 0.0
    if holding == "held":
        forces = rib_forces(rib, u, u[n:])
        free = np.interp(middle, forces.s * bar.length / rib.seat.length, forces.free)
        seat = np.interp(middle, forces.s * bar.length / rib.seat.length, forces.seat)
        stress = max(np.abs(first + free).max(), np.abs(-first + seat).max())
        peel = max(0.0, *(end.peel for end in forces.ends))
    inside = np.clip(np.r_[closing.beam.s, s], 1.5 * bar.width, bar.length - 1.5 * bar.width)
    places = bar.x_at(inside)
    beside = shell_stress(model.shell, u, model.shell.locate(np.stack([places, bar.at(places)])))
    plate = max(np.abs(face[:, 0, 0]).max() for face in (beside.outer, beside.inner))
    return LockedIn(
        holding,
        closing,
        lift,
        float(foot @ u[:n] - plane(model.top.bridge.bass_foot)),
        float(at_bridge - chord),
        float(stress),
        float(plate),
        float(peel),
        foot_load,
    )


def _rim_plane(model, u):
    """Plane through the rim's upright displacements (least squares), as a function of places (2, n)."""
    mesh = model.shell.mesh
    ends = mesh.facets[:, outer_facets(model)]
    length = np.hypot(*(mesh.p[:, ends[0]] - mesh.p[:, ends[1]]))
    vertices, place = np.unique(ends, return_inverse=True)
    weight = np.sqrt(np.bincount(place.ravel(), np.tile(length, 2)))
    dofs = [model.shell.vertex_dofs(v)[0] + 2 * model.shell.n_c1 for v in vertices]
    p = mesh.p[:, vertices]
    design = np.stack([np.ones(p.shape[1]), *p], axis=1) * weight[:, None]
    a, b, c = np.linalg.lstsq(design, u[dofs] * weight, rcond=None)[0]
    return lambda places: a + b * places[0] + c * places[1]


def locked_in_table(states: tuple[LockedIn, ...]) -> pd.DataFrame:
    """One row a way of holding; mm, MPa, N."""
    return pd.DataFrame(
        [
            {
                "holding": s.holding,
                "clamps_n": s.closing.total,
                "plate_share": s.closing.plate_share,
                "sagitta_mm": 1e3 * s.sagitta,
                "lift_foot_mm": 1e3 * s.lift_foot,
                "lower_end_mm": 1e3 * s.lift[0],
                "upper_end_mm": 1e3 * s.lift[-1],
                "bar_mpa": 1e-6 * s.bar_stress,
                "bar_years_low_mpa": 1e-6 * s.after_years(s.bar_stress)[0],
                "bar_years_high_mpa": 1e-6 * s.after_years(s.bar_stress)[1],
                "plate_mpa": 1e-6 * s.plate_stress,
                "peel_mpa": 1e-6 * max(s.peel_end, float(s.closing.peel.max())),
                "foot_load_n": s.foot_load,
            }
            for s in states
        ]
    )
