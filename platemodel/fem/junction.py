"""What the glued width of a rib does to the plate: two small problems on the T-shaped section.

A rib joined along a mere line misses two things. The T twists less than plate and rib apart (the junction's
corner is massive), so its torsion is solved as Saint-Venant's problem on the T. And the strip under the rib
cannot freely bend or stretch across; the relief is solved as a plane problem of the strip with the rib on it.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicSpline

from platemodel.fem.t_section import TSection, t_sections

# Heights at which the T is solved, in mean plate thicknesses; the spline between is within 5e-4 of the T.
HEIGHTS = np.geomspace(0.25, 15.0, 14)


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


def junction(weights, thickness, width, height, plate, rib, stiff, mean=None):
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
    mean : float, optional
        Plate thickness of the T, m; default the mean of ``thickness``.

    Returns
    -------
    Junction

    Notes
    -----
    The T is solved at ``HEIGHTS`` for mean width and for two woods: the mean of the part where the rib shears
    least, and of the part where it shears most, as grain that leaves the rib's line makes it. A cubic spline
    over the height's logarithm runs through the answers, and a line in the shear compliance between the two;
    the cross terms then follow the plate's own stiffness from point to point.
    """
    mean = float(np.average(thickness, weights=weights) if mean is None else mean)
    wide = float(np.average(width, weights=weights))
    at = np.log(np.clip(height / mean, HEIGHTS[0], HEIGHTS[-1]))
    soft = rib[:, 5, 5]
    between, places = [], []
    for part in _parts(soft, weights):
        (plate_shear, plate_plane), (rib_shear, rib_plane) = (
            _section_constants(np.average(c[part], axis=0, weights=weights[part])) for c in (plate, rib)
        )
        section = TSection(mean, wide, plate_shear, rib_shear, plate_plane, rib_plane)
        between.append(_over_heights(section)(at).T)
        places.append(np.average(soft[part], weights=weights[part]))
    if len(places) == 2:
        share = (soft - places[0]) / (places[1] - places[0])
        between = [(1.0 - share) * between[0] + share * between[1]]
    between = between[0]
    twist, shear_relief, slide = np.exp(between[0]), between[1], between[2]
    relief = between[3:].T.reshape(-1, 2, 2)
    plain = np.zeros((len(thickness), 2, 2))
    plain[:, 0, 0], plain[:, 1, 1] = stiff.membrane[:, 1, 1], stiff.bending[:, 1, 1]
    strip = width[:, None, None]
    cross = strip * (np.linalg.inv(np.linalg.inv(plain) - relief / strip) - plain)
    side = stiff.membrane[:, 2, 2]
    shear = width / (1.0 / side - shear_relief / width) - width * side
    eccentricity = -slide * (1.0 / width + side / shear)
    # the strip's own share of the twist's energy, which the torsion of the T already holds
    share = eccentricity**2 * shear * width * side / (shear + width * side)
    return Junction(twist - share, cross, shear, eccentricity)


def _parts(values, weights):
    """Points below and above the weighted middle of the values; all in one part where they hardly differ."""
    if np.ptp(values) < 1e-3 * values.mean():
        return [slice(None)]
    low = values <= np.average(values, weights=weights)
    return [low, ~low]


@lru_cache(maxsize=128)
def _over_heights(section):
    """Spline over the logarithm of the height: log torsion, shear relief, slide, the four reliefs."""
    solved = t_sections(section, tuple(float(h) for h in section.thickness * HEIGHTS))
    columns = [np.log(solved.torsion), solved.shear_relief, solved.slide, solved.relief.reshape(-1, 4)]
    return CubicSpline(np.log(HEIGHTS), np.column_stack(columns))


def _section_constants(mean):
    """Shear moduli (tb, tn) and plane-strain stiffness in b, n from a mean compliance (6, 6)."""
    c = np.linalg.inv(mean)
    shear = float(1.0 / mean[5, 5]), float(1.0 / mean[4, 4])
    return shear, tuple(float(c[i, j]) for i, j in ((1, 1), (1, 2), (2, 2), (3, 3)))
