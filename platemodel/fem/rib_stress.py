"""Section forces of a solved rib, stresses at its edges, and what its glue line carries.

The rib is cut free from the plate: all it gets, it gets through the glue line. So the change of its axial
force along the length is the shear flow of the joint, and the couple that this flow makes with the rib's
middle, together with the rib's own bending moment, must be held by pull and push across the joint.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse

from platemodel.fem.arrays import Floats
from platemodel.fem.rib import Coefficients, Rib
from platemodel.fem.seat import OWN_FIELDS
from platemodel.fem.section import compliance_in

LEAST_WINDOW = 2.0  # elements of the rib's shear field over which slopes are taken
END_FIT = 3.0  # load-transfer lengths over which the forces near an end are averaged


@dataclass(frozen=True, eq=False)
class RibForces:
    """Forces of a rib's sections at its n Gauss points, from start to end.

    Every force is the value of a straight line fitted to what lies within ``reach`` about the point, since a
    section plane means little than the rib is high, and the plate's curvature jumps at the mesh's sides.

    Attributes
    ----------
    s : array (n,)
        Distance from the start along the seat, m.
    axial : array (n,)
        N, tension positive.
    moment : array (n,)
        Upright bending about the rib's middle, N m; positive stretches the face away from the normal.
    shear : array (n,)
        Upright, N, positive where the moment about the glue line grows with s (for a rib on the inside).
    free, seat : array (n,)
        Stress along the rib at the free edge and at the glued face, middle of the width, Pa.
    sideways : array (n,)
        What bending sideways adds at the flanks, Pa, its size.
    shear_stress : array (n,)
        Greatest shear stress of the section, 3/2 of the mean for a rectangle, Pa, its size.
    glue_shear : array (n,)
        Shear along the glue line, N/m2, averaged over ``window``; the ends are in `ends`.
    reach, window : float
        m.
    ends : tuple of EndLoad
        Start and end.
    """

    s: np.ndarray
    axial: np.ndarray
    moment: np.ndarray
    shear: np.ndarray
    free: np.ndarray
    seat: np.ndarray
    sideways: np.ndarray
    shear_stress: np.ndarray
    glue_shear: np.ndarray
    reach: float
    window: float
    ends: tuple


@dataclass(frozen=True)
class EndLoad:
    """What the glue line carries at an end of the rib.

    Attributes
    ----------
    length : float
        Load-transfer length, m, over which the end's forces go into the plate.
    axial, couple : float
        Axial force (N) and moment about the glue line (N m) in the rib one such length from the end.
    shear : float
        Mean shear over the length, Pa, its size.
    peel : float
        Pull across the joint at the very end, Pa; positive opens it.
    """

    length: float
    axial: float
    couple: float
    shear: float
    peel: float


def rib_forces(rib: Rib, u: ArrayLike, own: ArrayLike) -> RibForces:
    """Recover a rib's section forces.

    Parameters
    ----------
    rib : Rib
    u : array (shell n_dofs,)
        The shell's displacements.
    own : array (n_own,)
        The rib's own fields; empty for a rib without.

    Returns
    -------
    RibForces

    Notes
    -----
    Forces are the derivatives of the energy in `Rib.terms` and so consistent with it (`Rib.blade`).
    Shear flow of the glue line dN/ds, in a beam V Q / I (Jourawski; Timoshenko & Gere, Mechanics of
    Materials). At an end: load-transfer length 1 / lambda with lambda^2 = k (1/EA + 1/EA'), k = w /
    (h/3G + h'/3G') from the shear of rib and plate (Volkersen 1938, with the adherends' shear as in
    Tsai, Oplinger & Morton 1998; from memory), mean shear N / (w length), and peel 6 C / (w length^2) -
    2 V / (w length): the pressure, linear along the length, that holds the couple C and the force V of
    the cut end. The model does not resolve the singular corner itself.
    """
    seat, ds = rib.seat, rib.seat.weights
    rows, mine = seat.rows, seat.own_rows
    u = np.asarray(u, dtype=float)[: seat.shell.n_dofs]
    full = np.zeros(len(OWN_FIELDS) * seat.n_field)
    full[: rib.n_own] = np.asarray(own, dtype=float)[: rib.n_own]
    known = {k: r @ u for k, r in rows.items() if sparse.issparse(r)}
    known |= {k: r @ full for k, r in mine.items()}

    def sums(parts: Sequence[Coefficients]) -> list[Floats]:
        return [sum(factor * known[name] for name, factor in part.items()) for part in parts]

    flat = sums(rib.section_strains())[2]
    strains = np.stack(sums(rib.blade_strains()), axis=1)[:, :, None]
    forces = np.linalg.solve(rib.blade, strains)[:, :, 0].T
    compliance = compliance_in(seat.axes, rib.wood.compliance, rib.wood.axes)
    modulus = 1.0 / compliance[:, 0, 0]
    # the moment of a blade stretches its free edge
    axial, moment = forces[0], -seat.side * forces[1]
    shear: Floats = np.zeros(len(ds))
    if rib.shear:  # with what stress running along the free edge bears
        shear = -seat.side * (forces[2] + rib.taper * (0.5 * axial + forces[1] / rib.height))
    bent = 6.0 * forces[1] / (rib.area * rib.height)
    half = 0.5 * rib.height
    s = seat.fraction * seat.length
    couple = axial * half * rib.cosine - seat.side * moment
    ends = tuple(_end(rib, s, ds, axial, couple, compliance, at) for at in (0, -1))
    coarse = 2.5 * float(np.diff(s).max())  # holds two points at the ends even on a coarse mesh
    reach = max(float(rib.height.max()), coarse)
    window = max(LEAST_WINDOW * seat.length / seat.elements, coarse)
    flow = _fit(s, axial, ds, window)[1]
    smooth = [_fit(s, v, ds, reach)[0] for v in (axial, moment, shear, axial / rib.area, bent, flat)]
    axial, moment, shear, even, bent, flat = smooth
    return RibForces(
        s,
        axial,
        moment,
        shear,
        free=even + bent,
        seat=even - bent,
        sideways=np.abs(modulus * 0.5 * rib.thickness * flat),
        shear_stress=1.5 * np.abs(shear) / rib.area,
        glue_shear=flow / seat.width,
        reach=reach,
        window=window,
        ends=ends,
    )


def _fit(s: Floats, values: Floats, weights: Floats, window: float) -> tuple[Floats, Floats]:
    """Value and slope of the least-squares line through what lies within half a window of each point."""
    w = (np.abs(s[:, None] - s) <= 0.5 * window) * weights
    total = w.sum(axis=1)
    middle, mean = w @ s / total, w @ values / total
    slope = (w @ (s * values) / total - middle * mean) / (w @ s**2 / total - middle**2)
    return mean + slope * (s - middle), slope


def _end(
    rib: Rib, s: Floats, ds: Floats, axial: Floats, couple: Floats, compliance: Floats, at: int
) -> EndLoad:
    seat, section = rib.seat, rib.seat.shell.section
    plate = compliance_in(seat.axes[[at]], section.compliance, section.axes)[0]
    h, thick, width = rib.height[at], seat.thickness[at], seat.width[at]
    soft = h * compliance[at, 4, 4] / 3.0 + thick * plate[4, 4] / 3.0
    rate = width / soft * (1.0 / rib.axial[at] + plate[0, 0] / (thick * width))
    length = float(min(1.0 / np.sqrt(rate), 0.25 * seat.length))
    distance = s if at == 0 else seat.length - s
    reach = min(END_FIT * length, 0.5 * seat.length)
    near = distance <= max(reach, seat.length / seat.elements)
    force, _ = _line(distance[near], axial[near], ds[near], length)
    moment, push = _line(distance[near], couple[near], ds[near], length)
    peel = 6.0 * moment / (width * length**2) - 2.0 * push / (width * length)
    return EndLoad(length, float(force), float(moment), float(abs(force) / (width * length)), float(peel))


def _line(x: Floats, values: Floats, weights: Floats, at: float) -> tuple[float, float]:
    """Value at a place, and slope, of the least-squares line through some points."""
    slope, value = np.polyfit(x - at, values, 1, w=np.sqrt(weights))
    return value, slope
