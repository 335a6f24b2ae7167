"""Elastic constants of wood as an orthotropic solid."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Orthotropic:
    """Density and the nine elastic constants of wood.

    L runs along the grain, R along the rays (across the annual rings), T along the rings. ``nu_LR`` is the
    contraction along R per stretch along L under tension along L; ``nu_RL`` follows by reciprocity and is
    never an input, because printed tables hold measured pairs that contradict each other.

    Attributes
    ----------
    density : float
        kg/m3.
    E_L, E_R, E_T : float
        Young's moduli, Pa.
    G_LR, G_LT, G_RT : float
        Shear moduli, Pa.
    nu_LR, nu_LT, nu_RT : float
        Major Poisson ratios.
    source : str
        Where the numbers come from.

    Raises
    ------
    ValueError
        If a modulus or the density is not positive, or the compliance is not positive definite.
    """

    name: str
    density: float
    E_L: float
    E_R: float
    E_T: float
    G_LR: float
    G_LT: float
    G_RT: float
    nu_LR: float
    nu_LT: float
    nu_RT: float
    source: str = ""

    def __post_init__(self):
        for field in ("density", "E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT"):
            value = getattr(self, field)
            if not (np.isfinite(value) and value > 0):
                msg = f"{self.name}: {field} = {value} must be positive"
                raise ValueError(msg)
        # Scaled to unit diagonal, so that the smallest eigenvalue is a plain number near 1 for sound data.
        s = self.compliance()
        d = 1 / np.sqrt(np.diag(s))
        lowest = np.linalg.eigvalsh(s * np.outer(d, d))[0]
        if lowest <= 1e-6:
            msg = (
                f"{self.name}: Poisson ratios nu_LR = {self.nu_LR}, nu_LT = {self.nu_LT}, nu_RT = "
                f"{self.nu_RT} do not fit the moduli (smallest eigenvalue of the scaled compliance "
                f"{lowest:.3g}, must be positive); lower the ratios or check the units of the moduli"
            )
            raise ValueError(msg)

    @classmethod
    def isotropic(cls, E: float, nu: float, density: float, name: str = "isotropic") -> "Orthotropic":
        """Isotropic material in the same form (E in Pa, density in kg/m3)."""
        G = E / (2 * (1 + nu))
        return cls(name, density, E, E, E, G, G, G, nu, nu, nu)

    @property
    def nu_RL(self) -> float:
        """Minor ratio nu_LR E_R / E_L."""
        return self.nu_LR * self.E_R / self.E_L

    @property
    def c_L(self) -> float:
        """Speed of sound along the grain in a thin bar, sqrt(E_L/density), m/s."""
        return float(np.sqrt(self.E_L / self.density))

    @property
    def c_R(self) -> float:
        """Speed of sound along the rays in a thin bar, sqrt(E_R/density), m/s."""
        return float(np.sqrt(self.E_R / self.density))

    @property
    def impedance(self) -> float:
        """Characteristic impedance along the grain, density c_L, kg/(m2 s)."""
        return self.density * self.c_L

    @property
    def radiation_ratio(self) -> float:
        """Radiation ratio along the grain, c_L/density, m4/(kg s)."""
        return self.c_L / self.density

    def compliance(self) -> np.ndarray:
        """Engineering compliance, (6, 6), 1/Pa, order LL, RR, TT, RT, LT, LR (shear strains doubled)."""
        s = np.zeros((6, 6))
        s[0, 0], s[1, 1], s[2, 2] = 1 / self.E_L, 1 / self.E_R, 1 / self.E_T
        s[0, 1] = s[1, 0] = -self.nu_LR / self.E_L
        s[0, 2] = s[2, 0] = -self.nu_LT / self.E_L
        s[1, 2] = s[2, 1] = -self.nu_RT / self.E_R
        s[3, 3], s[4, 4], s[5, 5] = 1 / self.G_RT, 1 / self.G_LT, 1 / self.G_LR
        return s

    def compliance_by_logs(self) -> dict[str, np.ndarray]:
        """Differentiate the compliance by the natural logarithms of the nine elastic constants.

        Returns
        -------
        dict of str to array (6, 6)
            1/Pa, keys ``E_L`` ... ``nu_RT``.
        """
        s = self.compliance()
        out = {}
        for name, places, sign in (
            ("E_L", ((0, 0), (0, 1), (0, 2)), -1.0),
            ("E_R", ((1, 1), (1, 2)), -1.0),
            ("E_T", ((2, 2),), -1.0),
            ("G_LR", ((5, 5),), -1.0),
            ("G_LT", ((4, 4),), -1.0),
            ("G_RT", ((3, 3),), -1.0),
            ("nu_LR", ((0, 1),), 1.0),
            ("nu_LT", ((0, 2),), 1.0),
            ("nu_RT", ((1, 2),), 1.0),
        ):
            change = np.zeros((6, 6))
            for i, j in places:
                change[i, j] = change[j, i] = sign * s[i, j]
            out[name] = change
        return out
