"""What the glued width of a rib does to the plate: two small problems on the T-shaped section.

A rib joined along a mere line misses two things. The T twists less than plate and rib apart (the junction's
corner is massive), so its torsion is solved as Saint-Venant's problem on the T. And the strip under the rib
cannot freely bend or stretch across; the relief is solved as a plane problem of the strip with the rib on it.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from skfem import Basis, BilinearForm, ElementQuad2, ElementVector, MeshQuad, asm, condense, solve

FLANGE = (
    4.0  # plate counted on each side of the rib, in plate thicknesses; 8 changes no term by more than 0.6 %
)


@dataclass(frozen=True)
class Junction:
    """Stiffness that the rib adds besides stretching and bending along itself, at n points.

    Attributes
    ----------
    torsion : array (n,)
        N m2: acts on the twist; torsion of the T less torsion of the plate alone.
    cross : array (n, 2, 2)
        Acts on the plate's membrane strain and curvature across the rib, per metre of rib; N, N m, N m2.
    shear : array (n,)
        Acts on the plate's in-plane shear strain plus ``eccentricity`` times the twist, per metre of rib; N.
    eccentricity : array (n,)
        m: in-plane shear that a twist of the T causes in the strip under the rib.
    """

    torsion: np.ndarray
    cross: np.ndarray
    shear: np.ndarray
    eccentricity: np.ndarray

    def mirrored(self):
        """Return the junction of a rib on the other face: what couples bending with stretch changes sign."""
        cross = self.cross * np.array([[1.0, -1.0], [-1.0, 1.0]])
        return Junction(self.torsion, cross, self.shear, -self.eccentricity)

    def squares(self):
        """Yield weight w and factors a, b of strain and curvature: w (a e + b k)^2 sums to the cross term."""
        value, vector = np.linalg.eigh(self.cross)
        for k in range(2):
            yield value[:, k], vector[:, 0, k], vector[:, 1, k]


HEIGHTS = np.array([0.25, 0.5, 0.75, 1.0, 1.5, 2.2, 3.3, 5.0, 8.0, 15.0])


def junction(weights, thickness, width, height, plate, rib, stiff):
    """Junction terms along a rib.

    Parameters
    ----------
    weights : array (n,)
        Length of rib that each point stands for, m.
    thickness, width, height : array (n,)
        Of plate and rib at each point, m.
    plate, rib : array (n, 6, 6)
        Compliances in the rib's axes t, b, n, 1/Pa.
    stiff : Stiffness
        Of the plate at each point, in the same axes.

    Returns
    -------
    Junction

    Notes
    -----
    The T is solved at a few heights (multiples ``HEIGHTS`` of the mean plate thickness) for mean width and
    wood, and interpolated; the cross terms then follow the plate's own stiffness from point to point.
    """
    mean = float(_round(np.average(thickness, weights=weights)))
    wide = float(_round(np.average(width, weights=weights)))
    woods = [_section_constants(np.average(c, axis=0, weights=weights)) for c in (plate, rib)]
    ratio = np.clip(height / mean, HEIGHTS[0], HEIGHTS[-1])
    first = max(np.searchsorted(HEIGHTS, ratio.min(), side="right") - 1, 0)
    last = min(np.searchsorted(HEIGHTS, ratio.max()), len(HEIGHTS) - 1)
    nodes = np.arange(max(min(first, last - 1), 0), last + 1)
    solved = [
        t_section(
            TSection(
                mean, wide, float(_round(mean * HEIGHTS[k])), *(w[0] for w in woods), *(w[1] for w in woods)
            )
        )
        for k in nodes
    ]
    at, where = np.log(HEIGHTS[nodes]), np.log(ratio)

    def between(values):
        return np.interp(where, at, values)

    twist = np.exp(between(np.log([s.torsion for s in solved])))
    relief = np.array([s.relief for s in solved])
    relief = np.stack([[between(relief[:, i, j]) for j in range(2)] for i in range(2)]).transpose(2, 0, 1)
    plain = np.zeros((len(thickness), 2, 2))
    plain[:, 0, 0], plain[:, 1, 1] = stiff.membrane[:, 1, 1], stiff.bending[:, 1, 1]
    strip = width[:, None, None]
    cross = strip * (np.linalg.inv(np.linalg.inv(plain) - relief / strip) - plain)
    plate_shear = stiff.membrane[:, 2, 2]
    shear = (
        width / (1.0 / plate_shear - between([s.shear_relief for s in solved]) / width) - width * plate_shear
    )
    slide = between([s.slide for s in solved])
    eccentricity = -slide * (1.0 / width + plate_shear / shear)
    # the strip's own share of the twist's energy, which the torsion of the T already holds
    share = eccentricity**2 * shear * width * plate_shear / (shear + width * plate_shear)
    return Junction(twist - share, cross, shear, eccentricity)


def _round(value):
    """Round to steps of 1 %, so that equal sections, and the same bar on another mesh, are solved once."""
    value = np.asarray(value, dtype=float)
    return np.sign(value) * np.exp(0.01 * np.round(100.0 * np.log(np.abs(value))))


def _section_constants(mean):
    """Shear moduli (tb, tn) and plane-strain stiffness in b, n from a mean compliance (6, 6)."""
    c = np.linalg.inv(mean)
    shear = tuple(float(v) for v in _round([1.0 / mean[5, 5], 1.0 / mean[4, 4]]))
    return shear, tuple(float(v) for v in _round([c[1, 1], c[1, 2], c[2, 2], c[3, 3]]))


@dataclass(frozen=True)
class TSection:
    """A plate strip with a rib on its lower face; axes b across, n normal.

    Attributes
    ----------
    thickness, width, height : float
        m.
    plate_shear, rib_shear : tuple of float
        (G_tb, G_tn), Pa.
    plate_plane, rib_plane : tuple of float
        Plane-strain stiffness (C_bb, C_bn, C_nn, C_shear) in the b, n plane, Pa.
    """

    thickness: float
    width: float
    height: float
    plate_shear: tuple
    rib_shear: tuple
    plate_plane: tuple
    rib_plane: tuple


def _mesh(section, flange, web):
    """Quadrilaterals of the flange alone or of the T, the flange centred on n = 0."""
    h = section.thickness
    w, depth = section.width / h, section.height / h  # in plate thicknesses, where points merge reliably
    outside = w / 2 + flange / h * np.array([0.0, 0.08, 0.25, 0.55, 1.0])
    b = np.round(np.concatenate([-outside[::-1], w * np.array([-0.25, 0.0, 0.25]), outside]), 7)
    mesh = MeshQuad.init_tensor(b, np.array([-0.5, -0.25, 0.0, 0.5]))
    if web:
        near = min(1.0, depth)
        n = np.unique(np.round(np.append([0.1 * near, 0.3 * near], np.linspace(0.0, depth, 6)), 7))
        mesh = mesh + MeshQuad.init_tensor(b[np.abs(b) <= w / 2 + 1e-6], -0.5 - n[::-1])
    return mesh.scaled(h)


def torsion(section, flange, web):
    """Saint-Venant torsional stiffness, N m2, from the warping function (upper bound, converged to 0.4 %)."""
    _, matrix, load, polar = _warping(section, flange, web)
    warp = solve(*condense(matrix, load, D=np.array([0])))
    return float(polar - load @ warp)


def lengthwise(section, flange, web):
    """Stiffness for mean in-plane shear and twist: (2, 2), per length of rib.

    The ends of the strip move along the rib by u_t = g b - a n b, g the shear strain and a the twist.
    """
    basis, matrix, load, polar = _warping(section, flange, web)
    half = section.width / 2 + flange
    ends = basis.get_dofs(lambda p: np.abs(np.abs(p[0]) - half) < 1e-9).all()
    b, n = basis.doflocs[:, ends]
    given = np.zeros((2, basis.N))
    given[0, ends], given[1, ends] = b, -n * b
    u = np.array(
        [
            solve(*condense(matrix, x=given[0], D=ends)),
            solve(*condense(matrix, load, x=given[1], D=ends)),
        ]
    )
    out = u @ (matrix @ u.T)
    out[1] -= u @ load
    out[:, 1] -= u @ load
    out[1, 1] += polar
    return out


def _warping(section, flange, web):
    """Antiplane problem: basis, stiffness, load of a unit twist on the warping, energy of the twist alone."""
    basis = Basis(_mesh(section, flange, web), ElementQuad2(), intorder=4)
    x = basis.global_coordinates()
    in_web = x[1] < -section.thickness / 2
    g_b = np.where(in_web, section.rib_shear[0], section.plate_shear[0])
    g_n = np.where(in_web, section.rib_shear[1], section.plate_shear[1])

    @BilinearForm
    def stiffness(u, v, p):
        return p.g_b * u.grad[0] * v.grad[0] + p.g_n * u.grad[1] * v.grad[1]

    load = np.zeros(basis.N)
    for i in range(basis.Nbfun):
        grad = basis.basis[i][0].grad
        term = (g_b * x[1] * grad[0] - g_n * x[0] * grad[1]) * basis.dx
        np.add.at(load, basis.element_dofs[i], term.sum(1))
    polar = float(((g_b * x[1] ** 2 + g_n * x[0] ** 2) * basis.dx).sum())
    return basis, asm(stiffness, basis, g_b=g_b, g_n=g_n), load, polar


def across(section, flange, web):
    """Stiffness of the strip for mean membrane strain and mean curvature across the rib: (2, 2), per length.

    N = K00 e + K01 k and M = K10 e + K11 k with u_b = e b - k n b at the two ends.
    """
    basis = Basis(_mesh(section, flange, web), ElementVector(ElementQuad2()), intorder=4)
    x = basis.global_coordinates()
    in_web = x[1] < -section.thickness / 2
    c = [np.where(in_web, r, p) for r, p in zip(section.rib_plane, section.plate_plane, strict=True)]

    @BilinearForm
    def stiffness(u, v, p):
        e, f = u.grad, v.grad
        direct = p.bb * e[0, 0] * f[0, 0] + p.nn * e[1, 1] * f[1, 1]
        cross = p.bn * (e[0, 0] * f[1, 1] + e[1, 1] * f[0, 0])
        return direct + cross + p.g * (e[0, 1] + e[1, 0]) * (f[0, 1] + f[1, 0])

    matrix = asm(stiffness, basis, bb=c[0], bn=c[1], nn=c[2], g=c[3])
    half = section.width / 2 + flange
    ends = basis.get_dofs(lambda p: np.abs(np.abs(p[0]) - half) < 1e-9)
    held = ends.all("u^1")
    where = basis.doflocs[:, held]
    pin = basis.get_dofs(lambda p: np.hypot(np.abs(p[0]) - half, p[1]) < 1e-9).all("u^2")
    dofs = np.concatenate([held, pin])
    out = []
    for strain in ((1.0, 0.0), (0.0, 1.0)):
        given = np.zeros(basis.N)
        given[held] = strain[0] * where[0] - strain[1] * where[1] * where[0]
        out.append(solve(*condense(matrix, x=given, D=dofs)))
    out = np.array(out)
    return out @ (matrix @ out.T) / (2 * half)


@dataclass(frozen=True)
class SolvedSection:
    """What a T differs by from the plain strip.

    Attributes
    ----------
    torsion : float
        N m2.
    relief : array (2, 2)
        Compliance (of membrane strain and curvature across) that the plate loses, integrated over the strip.
    shear_relief : float
        The same for in-plane shear, m per N/m.
    slide : float
        Relative displacement along the rib of the strip's two sides for a unit twist, m2.
    """

    torsion: float
    relief: np.ndarray
    shear_relief: float
    slide: float


@lru_cache(maxsize=512)
def t_section(section):
    """Solve a T section.

    Parameters
    ----------
    section : TSection

    Returns
    -------
    SolvedSection
    """
    flange = FLANGE * section.thickness
    length = section.width + 2 * flange
    twist = torsion(section, flange, True) - torsion(section, flange, False)
    plain, stiff = across(section, flange, False), across(section, flange, True)
    relief = length * (np.linalg.inv(plain) - np.linalg.inv(stiff))
    bare, rib = lengthwise(section, flange, False), lengthwise(section, flange, True)
    return SolvedSection(
        twist,
        0.5 * (relief + relief.T),
        length**2 * (1.0 / bare[0, 0] - 1.0 / rib[0, 0]),
        -length * rib[0, 1] / rib[0, 0],
    )
