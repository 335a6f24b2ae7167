"""Two small problems on the T-shaped section of plate and rib: torsion, and stretch and bend across.

Quadratic rectangles on half the section, which is symmetric. The rib's rows of rectangles are eliminated one
by one from its free edge to the joint, for many heights at once; the plate's part is eliminated once.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

# Plate counted on each side of the rib, in plate thicknesses; 8 changes no term by more than 0.6 %.
FLANGE = 4.0
ROWS = np.array([-0.5, -0.25, 0.0, 0.5])  # of rectangles in the plate, in its thickness
OUTSIDE = np.array([0.0, 0.08, 0.25, 0.55, 1.0])  # of rectangles beside the rib, in the flange's length
NEAR = np.array([0.0, 0.07, 0.2, 0.4, 0.7])  # of the rib next to the joint, in plate thicknesses
BELOW = np.array([0.2, 0.45, 0.7, 0.88, 0.97, 1.0])  # below them, in what is left of the rib's height


@dataclass(frozen=True)
class TSection:
    """A plate strip with a rib on its lower face; axes b across, n normal.

    Attributes
    ----------
    thickness, width : float
        Of plate and rib, m.
    plate_shear, rib_shear : tuple of float
        (G_tb, G_tn), Pa.
    plate_plane, rib_plane : tuple of float
        Plane-strain stiffness (C_bb, C_bn, C_nn, C_shear) in the b, n plane, Pa.
    """

    thickness: float
    width: float
    plate_shear: tuple
    rib_shear: tuple
    plate_plane: tuple
    rib_plane: tuple


@dataclass(frozen=True)
class SolvedSections:
    """What Ts of k heights differ by from the plain strip.

    Attributes
    ----------
    torsion : array (k,)
        N m2.
    relief : array (k, 2, 2)
        Compliance (of membrane strain and curvature across) that the plate loses, integrated over the strip.
    shear_relief : array (k,)
        The same for in-plane shear, m per N/m.
    slide : array (k,)
        Relative displacement along the rib of the strip's two sides for a unit twist, m2.
    """

    torsion: np.ndarray
    relief: np.ndarray
    shear_relief: np.ndarray
    slide: np.ndarray


def t_sections(section: TSection, heights: tuple) -> SolvedSections:
    """Solve a T section for several heights of the rib.

    Parameters
    ----------
    section : TSection
    heights : tuple of float
        m.

    Returns
    -------
    SolvedSections
    """
    flange = FLANGE * section.thickness
    length = section.width + 2 * flange
    twist = torsion(section, flange, heights) - torsion(section, flange)
    plain, stiff = across(section, flange), across(section, flange, heights)
    relief = length * (np.linalg.inv(plain) - np.linalg.inv(stiff))
    bare, rib = lengthwise(section, flange), lengthwise(section, flange, heights)
    return SolvedSections(
        twist,
        0.5 * (relief + np.swapaxes(relief, -1, -2)),
        length**2 * (1.0 / bare[0, 0] - 1.0 / rib[:, 0, 0]),
        -length * rib[:, 0, 1] / rib[:, 0, 0],
    )


def torsion(section, flange, heights=None):
    """Saint-Venant torsional stiffness, N m2, from the warping function (upper bound, converged to 0.4 %).

    Parameters
    ----------
    section : TSection
    flange : float
        Plate on each side of the rib, m.
    heights : tuple of k floats, optional
        Of the rib, m; default the plate alone.

    Returns
    -------
    float, or array (k,)
    """
    plate, _ = _plate_along(section.thickness, section.width, section.plate_shear, flange)
    if heights is None:
        return 2.0 * float(condense(plate, 1)[0, 0])
    return 2.0 * condense(plate + _rib(_rib_along, section, section.rib_shear, heights), 1)[:, 0, 0]


def lengthwise(section, flange, heights=None):
    """Stiffness for mean in-plane shear and twist, per length of rib: (2, 2) or (k, 2, 2).

    The ends of the strip move along the rib by u_t = g b - a n b, g the shear strain and a the twist; see
    `torsion` for the parameters.
    """
    _, plate = _plate_along(section.thickness, section.width, section.plate_shear, flange)
    if heights is None:
        return 2.0 * condense(plate, 2)
    whole = np.repeat(plate[None], len(heights), axis=0)
    whole[:, 1:, 1:] += _rib(_rib_along, section, section.rib_shear, heights)
    return 2.0 * condense(whole, 2)


def across(section, flange, heights=None):
    """Stiffness of the strip for mean membrane strain and curvature across, per length: (2, 2) or (k, 2, 2).

    N = K00 e + K01 k and M = K10 e + K11 k with u_b = e b - k n b at the two ends; see `torsion` for the
    parameters.
    """
    plate = _plate_across(section.thickness, section.width, section.plate_plane, flange)
    half = 0.5 * section.width + flange
    if heights is None:
        return condense(plate, 2) / half
    whole = np.repeat(plate[None], len(heights), axis=0)
    whole[:, 2:, 2:] += _rib(_rib_across, section, section.rib_plane, heights)
    return condense(whole, 2) / half


@lru_cache(maxsize=64)
def _plate_along(thickness, width, shear, flange):
    """`_warping` of the plate, condensed to twist and joint (5, 5); also to shear of its ends (6, 6)."""
    line, levels = _places(width, flange), _line(thickness * ROWS)
    free = _warping(line, levels, shear)
    joint = np.arange(1, 5)
    ends = (len(line.x) - 1) * np.arange(1, len(levels.x) + 1)
    inner = np.setdiff1d(np.arange(1, len(free)), [*joint, *ends])
    tie = np.zeros((len(free), 6 + len(inner)))
    tie[ends, 0], tie[ends, 1], tie[0, 1] = line.x[-1], -levels.x * line.x[-1], 1.0
    tie[[*joint, *inner], np.arange(2, tie.shape[1])] = 1.0
    return condense(free, 5), condense(tie.T @ free @ tie, 6)


@lru_cache(maxsize=64)
def _plate_across(thickness, width, stiff, flange):
    """`_plane` of the plate, condensed to strain and curvature of the ends and the joint: (11, 11)."""
    line, levels = _places(width, flange), _line(thickness * ROWS)
    free = _plane(line, levels, stiff)
    m = len(line.x)
    first = (2 * m - 1) * np.arange(len(levels.x))
    ends = first + m - 2
    pin = first[np.argmin(np.abs(levels.x))] + 2 * m - 2  # the ends are held upright at their middle
    joint = np.array([*range(4), *range(m - 1, m + 4)])
    inner = np.setdiff1d(np.arange(len(free)), [*joint, *ends, pin])
    tie = np.zeros((len(free), 11 + len(inner)))
    tie[ends, 0], tie[ends, 1] = line.x[-1], -levels.x * line.x[-1]
    tie[[*joint, *inner], np.arange(2, tie.shape[1])] = 1.0
    return condense(tie.T @ free @ tie, 11)


def _rib(condensed, section, stiff, heights):
    """Condensed ribs: as many times stiffer as their wood, so that only its ratios need be solved for."""
    ratios = tuple(float(f"{c / stiff[0]:.12g}") for c in stiff)  # round-off must not make them new ones
    return stiff[0] * condensed(section.thickness, section.width, ratios, heights)


@lru_cache(maxsize=64)
def _rib_along(thickness, width, shear, heights):
    """`_warping` of ribs, condensed to twist and joint: (k, 5, 5)."""
    return _from_free_edge(_warping(_under(width), _rib_rows(thickness, heights), shear), 1)


@lru_cache(maxsize=64)
def _rib_across(thickness, width, plane, heights):
    """`_plane` of ribs, condensed to the joint: (k, 9, 9)."""
    return _from_free_edge(_plane(_under(width), _rib_rows(thickness, heights), plane), 0)


@dataclass(frozen=True)
class _Line:
    """Quadratic elements on lines: nodes (..., m); integrals of N_i N_j, N_i' N_j', N_i N_j' (..., m, m)."""

    x: np.ndarray
    mass: np.ndarray
    stiff: np.ndarray
    mixed: np.ndarray


_MASS = np.array([[4.0, 2.0, -1.0], [2.0, 16.0, 2.0], [-1.0, 2.0, 4.0]]) / 30.0
_STIFF = np.array([[7.0, -8.0, 1.0], [-8.0, 16.0, -8.0], [1.0, -8.0, 7.0]]) / 3.0
_MIXED = np.array([[-3.0, 4.0, -1.0], [-4.0, 0.0, 4.0], [1.0, -4.0, 3.0]]) / 6.0


def _line(points):
    """Elements between consecutive points (..., n + 1)."""
    size = np.diff(points)
    nodes = np.repeat(points, 2, axis=-1)[..., :-1]
    nodes[..., 1::2] += 0.5 * size
    parts = [np.zeros((*nodes.shape, nodes.shape[-1])) for _ in range(3)]
    for e in range(size.shape[-1]):
        own = slice(2 * e, 2 * e + 3)
        h = size[..., e, None, None]
        for whole, part in zip(parts, (h * _MASS, _STIFF / h, _MIXED), strict=True):
            whole[..., own, own] += part
    return _Line(nodes, *parts)


def _places(width, flange):
    """Half the plate strip across, from the middle: two rectangles on the rib, four beside it."""
    return _line(np.concatenate([[0.0, 0.25 * width], 0.5 * width + flange * OUTSIDE]))


def _under(width):
    """Half the rib across."""
    return _line(0.5 * width * np.array([0.0, 0.5, 1.0]))


def _rib_rows(thickness, heights):
    """Rows of rectangles of the ribs, from the free edge upwards: lines of shape (k, rows)."""
    depth = np.asarray(heights, dtype=float)[:, None]
    near = NEAR * np.minimum(thickness, depth)
    below = near[:, -1:] + (depth - near[:, -1:]) * BELOW
    level = -0.5 * thickness - np.concatenate([near, below], axis=1)[:, ::-1]
    return _line(np.stack([level[:, :-1], level[:, 1:]], axis=-1))


def _kron(outer, inner):
    """Kronecker products of matrices (..., p, p) and (q, q): (..., p q, p q)."""
    size = outer.shape[-1] * inner.shape[-1]
    product = outer[..., :, None, :, None] * inner[:, None, :]
    return product.reshape(*outer.shape[:-2], size, size)


def _warping(b, n, shear):
    """Energy (half the section, doubled) of twist and warping on rectangles: (..., 1 + nodes, 1 + nodes).

    The twist comes first, then the nodes level by level; warping is odd in b and has no node at b = 0.
    """
    g_b, g_n = shear
    odd = slice(1, None)
    moment = (n.mass @ n.x[..., None])[..., 0]
    load = g_b * moment[..., None] * b.mixed.sum(0)[odd]
    load = load - g_n * n.mixed.sum(-2)[..., None] * (b.mass @ b.x)[odd]
    load = load.reshape(*load.shape[:-2], -1)
    polar = g_b * b.mass.sum() * (moment * n.x).sum(-1) + g_n * (b.x @ b.mass @ b.x) * n.mass.sum((-2, -1))
    out = np.empty((*polar.shape, load.shape[-1] + 1, load.shape[-1] + 1))
    out[..., 0, 0] = polar
    out[..., 0, 1:] = out[..., 1:, 0] = -load
    out[..., 1:, 1:] = g_b * _kron(n.mass, b.stiff[odd, odd]) + g_n * _kron(n.stiff, b.mass[odd, odd])
    return out


def _plane(b, n, stiff):
    """Plane-strain stiffness of rectangles: (..., N, N), level by level u_b (odd in b, none at 0), u_n."""
    bb, bn, nn, g = stiff
    m = len(b.x)
    zero = np.zeros((m - 1, m))

    def direct(first, second):
        return np.block([[first[1:, 1:], zero], [zero.T, second]])

    def coupling(first, second):
        return np.block([[np.zeros((m - 1, m - 1)), first[1:]], [second[:, 1:], np.zeros((m, m))]])

    return (
        _kron(n.mass, direct(bb * b.stiff, g * b.stiff))
        + _kron(n.stiff, direct(g * b.mass, nn * b.mass))
        + _kron(n.mixed, coupling(bn * b.mixed.T, g * b.mixed.T))
        + _kron(np.swapaxes(n.mixed, -1, -2), coupling(g * b.mixed, bn * b.mixed))
    )


def _from_free_edge(rows, shared):
    """Condense rows of rectangles to the joint, beginning at the free edge.

    Parameters
    ----------
    rows : array (k, rows, N, N)
        Unknowns: the shared ones, then three levels upwards.
    shared : int
    """
    level = (rows.shape[-1] - shared) // 3
    common, lower = np.arange(shared), shared + np.arange(level)
    order = np.concatenate([common, lower + 2 * level, lower, lower + level])
    rows = rows[..., order[:, None], order]
    own = np.concatenate([common, lower + level])
    rest = 0.0
    for e in range(rows.shape[1]):
        rows[:, e, own[:, None], own] += rest
        rest = condense(rows[:, e], shared + level)
    return rest


def condense(matrix, kept):
    """Eliminate all unknowns but the first ones (Schur complement): (..., kept, kept)."""
    across = matrix[..., kept:, :kept]
    give = np.linalg.solve(matrix[..., kept:, kept:], across)
    return matrix[..., :kept, :kept] - np.swapaxes(across, -1, -2) @ give
