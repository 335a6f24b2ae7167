"""Closed formulas for strips and plates: what a tap or a bend test says, and checks for the mechanics."""

from functools import cache

import numpy as np
from scipy.optimize import brentq

from platemodel.wood.orthotropic import Orthotropic


@cache
def free_beam_root(mode: int) -> float:
    """Root kL of cos(kL) cosh(kL) = 1 for a free beam; mode 1 is the first bending mode (4.730).

    Raises
    ------
    ValueError
        If mode is less than 1.
    """
    if mode < 1:
        msg = f"mode {mode}; bending modes of a free beam count from 1"
        raise ValueError(msg)
    middle = (mode + 0.5) * np.pi
    # Divided by cosh, so that high modes do not overflow the bracket.
    return brentq(lambda k: np.cos(k) - 1 / np.cosh(k), middle - 0.5, middle + 0.5, xtol=1e-14)


def modulus_from_tap(
    frequency: float, length: float, thickness: float, density: float, mode: int = 1
) -> float:
    """Young's modulus (Pa) of a free strip or plate from a bending frequency.

    Thin-beam formula E = 12 density (2 pi f)^2 L^4 / (h^2 (kL)^4), for mode 1 0.9464 density f^2 L^4/h^2. It
    reads low by :func:`shear_factor` in thick strips.

    Parameters
    ----------
    frequency : float
        Hz.
    length, thickness : float
        Free length and size in the direction of bending, m.
    density : float
        kg/m3.
    """
    w = 2 * np.pi * frequency
    return 12 * density * w**2 * length**4 / (thickness**2 * free_beam_root(mode) ** 4)


def tap_frequency(E: float, length: float, thickness: float, density: float, mode: int = 1) -> float:
    """Bending frequency (Hz) of a free thin strip, the inverse of :func:`modulus_from_tap`."""
    return free_beam_root(mode) ** 2 * thickness / (2 * np.pi * length**2) * np.sqrt(E / (12 * density))


def free_beam_frequency(stiffness: float, mass_per_length: float, length: float, mode: int = 1) -> float:
    """Bending frequency (Hz) of any free slender beam, (kL)^2/(2 pi L^2) sqrt(EI/m).

    Parameters
    ----------
    stiffness : float
        EI, N m2; for a glued pair from :func:`glued_stiffness`.
    mass_per_length : float
        m, kg/m.
    length : float
        L, m.

    Notes
    -----
    Rao, Mechanical Vibrations, ch. 8 (from memory).
    """
    return free_beam_root(mode) ** 2 / (2 * np.pi * length**2) * np.sqrt(stiffness / mass_per_length)


def shear_factor(slenderness: float, E_over_G: float, mode: int = 1, k: float = 5 / 6) -> float:
    """Factor by which shear and rotary inertia make the thin-beam modulus of a free strip read low.

    First order in (h/L)^2: 1 + (h/L)^2/12 (F1 + F2 E/(k G)), with F1 = t^2 + 6 t, F2 = t^2 - 2 t and
    t = kL (cosh - cos)/(sinh - sin) (Goens 1931; Brancheriau & Bailleres, Wood Sci. Technol. 2002).

    Parameters
    ----------
    slenderness : float
        L/h.
    E_over_G : float
        Modulus along the strip over the shear modulus in the plane of bending.
    k : float
        Shear coefficient of the section.
    """
    r = free_beam_root(mode)
    t = r * (np.cosh(r) - np.cos(r)) / (np.sinh(r) - np.sin(r))
    return 1 + (t**2 + 6 * t + (t**2 - 2 * t) * E_over_G / k) / (12 * slenderness**2)


def modulus_from_bend(force: float, deflection: float, span: float, width: float, thickness: float) -> float:
    """Young's modulus (Pa) from the middle deflection of a strip on two supports: F L^3 / (48 d I); SI."""
    return force * span**3 / (48 * deflection * width * thickness**3 / 12)


def plate_stiffness(wood: Orthotropic, thickness: float) -> tuple[float, float, float, float]:
    """Bending stiffness D11, D12, D22, D66 (N m) of a quarter-sawn plate, 1 along L and 2 along R."""
    mu = 1 - wood.nu_LR * wood.nu_RL
    h = thickness**3 / 12
    return wood.E_L * h / mu, wood.nu_LR * wood.E_R * h / mu, wood.E_R * h / mu, wood.G_LR * h


def supported_plate_frequency(
    wood: Orthotropic, a: float, b: float, thickness: float, m: int, n: int
) -> float:
    """Frequency (Hz) of mode (m, n) of a simply supported thin plate, a along L and b along R, m.

    Exact; Leissa, Vibration of Plates, NASA SP-160, 1969, ch. 9.
    """
    d11, d12, d22, d66 = plate_stiffness(wood, thickness)
    p, q = m / a, n / b
    s = d11 * p**4 + 2 * (d12 + 2 * d66) * p**2 * q**2 + d22 * q**4
    return np.pi / 2 * np.sqrt(s / (wood.density * thickness))


def corner_lift(force: float, a: float, b: float, thickness: float, G: float) -> float:
    """Lift (m) of one corner over the plane of the other three under forces +-F at alternate corners.

    Exact for a free rectangular thin plate, whatever the Young's moduli: 3 F a b / (G h^3) (Timoshenko &
    Woinowsky-Krieger, Theory of Plates and Shells, art. 11).
    """
    return 3 * force * a * b / (G * thickness**3)


def shear_modulus_from_twist(frequency: float, a: float, b: float, thickness: float, density: float) -> float:
    """In-plane shear modulus (Pa) from the twist mode of a free plate: pi^2/12 density f^2 a^2 b^2/h^2.

    From the trial shape w = x y, so it reads high in frequency and low in G; a start for a fit, not an answer
    (McIntyre & Woodhouse, Acta Metall. 36, 1988, give the same form, from memory).
    """
    return np.pi**2 / 12 * density * (frequency * a * b / thickness) ** 2


def off_axis_modulus(wood: Orthotropic, angle: float) -> float:
    """Young's modulus (Pa) at an angle (rad) from L towards R.

    1/E = c^4/E_L + s^4/E_R + s^2 c^2 (1/G_LR - 2 nu_LR/E_L) (Jones, Mechanics of Composite Materials).
    """
    c2, s2 = np.cos(angle) ** 2, np.sin(angle) ** 2
    return 1 / (c2**2 / wood.E_L + s2**2 / wood.E_R + s2 * c2 * (1 / wood.G_LR - 2 * wood.nu_LR / wood.E_L))


def shear_modulus_from_slant(E_L: float, E_45: float, E_R: float, nu_LR: float) -> float:
    """In-plane shear modulus (Pa) from the moduli along, at 45 degrees and across: `off_axis_modulus` solved.

    Raises
    ------
    ValueError
        Moduli that no shear modulus joins: the slanted strip is stiffer than the two others allow.
    """
    compliance = 4 / E_45 - 1 / E_L - 1 / E_R + 2 * nu_LR / E_L
    if not compliance > 0:
        msg = (
            f"stiffness along {E_L / 1e9:.2f}, at 45 degrees {E_45 / 1e9:.2f}, across {E_R / 1e9:.2f} GPa: "
            "the slanted strip is too stiff for the two others; look again at its reading and its angle"
        )
        raise ValueError(msg)
    return 1 / compliance


def glued_stiffness(
    bar_E: float, width: float, height: float, plate_E: float, plate_width: float, thickness: float
) -> float:
    """Bending stiffness EI (N m2) of a bar glued on a strip of plate, by the transformed section; SI."""
    bar, plate = bar_E * width * height, plate_E * plate_width * thickness
    own = bar * height**2 / 12 + plate * thickness**2 / 12
    return own + bar * plate / (bar + plate) * ((height + thickness) / 2) ** 2
