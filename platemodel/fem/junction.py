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
        stretch, bend = self.cross[:, 0, 0], self.cross[:, 1, 1]
        # coupling is the mean of the two: round-off leaves a little difference
        coupling = 0.5 * (self.cross[:, 0, 1] + self.cross[:, 1, 0])
        share = coupling / stretch
        yield stretch, np.ones_like(share), share
        yield bend - coupling * share, np.zeros_like(share), np.ones_like(share)


def mean_sections(weights, width, plate, rib, thickness):
    """Ts that stand for a whole rib: one, or two where its wood changes along it.

    Parameters
    ----------
    weights, width : array (n,)
        Length of rib that each point stands for, and its width there, m.
    plate, rib : array (n, 6, 6)
        Compliances in the rib's axes t, b, n, 1/Pa.
    thickness : float
        Mean of the plate's, m.

    Returns
    -------
    tuple of (TSection, float)
        The T of the mean of a part, and the mean shear compliance (tb) of the rib there, 1/Pa.

    Notes
    -----
    The parts are where the rib shears least, and where it shears most, as grain that leaves the rib's line
    makes it.
    """
    wide = float(np.average(width, weights=weights))
    soft = rib[:, 5, 5]
    out = []
    for part in _parts(soft, weights):
        (plate_shear, plate_plane), (rib_shear, rib_plane) = (
            _section_constants(np.average(c[part], axis=0, weights=weights[part])) for c in (plate, rib)
        )
        section = TSection(thickness, wide, plate_shear, rib_shear, plate_plane, rib_plane)
        out.append((section, float(np.average(soft[part], weights=weights[part]))))
    return tuple(out)


def junction(sections, width, height, soft, stiff):
    """Junction terms along a rib.

    Parameters
    ----------
    sections : tuple of (TSection, float)
        See `mean_sections`.
    width, height : array (n,)
        Of the rib at each point, m.
    soft : array (n,)
        Shear compliance (tb) of the rib at each point, 1/Pa.
    stiff : Stiffness
        Of the plate at each point, in the rib's axes.

    Returns
    -------
    Junction

    Notes
    -----
    The T is solved at ``HEIGHTS``. A cubic spline over the height's logarithm runs through the answers, and a
    line in the shear compliance between the two parts; the cross terms then follow the plate's own stiffness
    from point to point.
    """
    at = np.log(np.clip(height / sections[0][0].thickness, HEIGHTS[0], HEIGHTS[-1]))
    terms = _over_heights(sections[0][0])(at).T
    if len(sections) == 2:
        (_, first), (other, second) = sections
        share = (soft - first) / (second - first)
        terms = (1.0 - share) * terms + share * _over_heights(other)(at).T
    twist, shear_relief, slide = np.exp(terms[0]), terms[1], terms[2]
    # the strip's stiffness is the inverse of what is left of its compliance; no coupling of the plate's own
    stretch, bend = stiff.membrane[:, 1, 1], stiff.bending[:, 1, 1]
    (a, b), (c, d) = terms[3:].reshape(2, 2, -1) / width
    a, d = 1.0 / stretch - a, 1.0 / bend - d
    scale = width / (a * d - b * c)
    cross = np.array([[scale * d - width * stretch, scale * b], [scale * c, scale * a - width * bend]])
    side = stiff.membrane[:, 2, 2]
    shear = width / (1.0 / side - shear_relief / width) - width * side
    eccentricity = -slide * (1.0 / width + side / shear)
    # the strip's own share of the twist's energy, which the torsion of the T already holds
    share = eccentricity**2 * shear * width * side / (shear + width * side)
    return Junction(twist - share, np.moveaxis(cross, 2, 0), shear, eccentricity)


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
