"""Constants of wood from taps on a free rectangular plate, by inversion of the shell model."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag
from scipy.optimize import linear_sum_assignment

from platemodel.errors import AccuracyError
from platemodel.fem.mesh import rectangle
from platemodel.fem.section import Section, constant, plane_stress
from platemodel.fem.shell import Shell
from platemodel.fem.supports import point_rows
from platemodel.fem.surface import flat
from platemodel.fem.system import System
from platemodel.wood import CONSTANTS, Orthotropic, WoodEstimate
from platemodel.wood.bayes import most_probable
from platemodel.wood.closed_form import (
    free_beam_root,
    modulus_from_tap,
    shear_modulus_from_twist,
    tap_frequency,
)
from platemodel.wood.piece_fit import (
    CALIPER,
    FREQUENCY,
    RULER,
    PieceFit,
    Reading,
    as_prior,
    piece_fit,
    uninformed,
    weighing_sd,
)

NAMES = {(1, 1): "twist", (2, 0): "bends along", (0, 2): "bends across"}
CELLS = (8, 4)  # of the mesh, along and across; 12 x 8 moves the twist of a 3 mm plate by 0.2 %, others less
GRID = (21, 15)
MIXED = 0.7  # likeness below which a mode is said to mix with another
# What a real plate is off an even one in a frequency (unevenness of wood and thickness). With their published
# constants the tones of four measured plates (Badiane et al., JASA 2023) scatter about the computed ones by
# 1.4 %, reading them to 0.5 Hz included.
UNEVEN = 0.01
CLOSED = 0.08  # relative sd of a constant from a closed form
SPARE = 6  # modes solved for beyond those a thin plate would need


@dataclass(frozen=True)
class PlateTaps:
    """A flat rectangular plate of even thickness, quarter-sawn, tapped free.

    Attributes
    ----------
    length, width, thickness : float
        Along the grain, along the rays, through the plate, m.
    mass : float
        kg.
    taps : mapping of (int, int) to float
        Frequency in Hz by the number of nodal lines that cross the length and the width: (1, 1) twist, (2, 0)
        bends along the grain, (0, 2) bends across it, (2, 1), (3, 0) and so on.
    sd_size, sd_thickness : float
        Standard deviations, m; the thickness by many caliper readings.
    sd_mass : float, optional
        kg; default 0.1 g or 0.5 %, whichever is more.
    sd_frequency, sd_even : float
        Relative, of a tap as read, and of the plate from an even one in a frequency; taken together.

    Raises
    ------
    ValueError
        A size, weight or frequency that is not positive, no tap, or nodal lines of a rigid motion.
    """

    length: float
    width: float
    thickness: float
    mass: float
    taps: Mapping[tuple[int, int], float]
    sd_size: float = RULER
    sd_thickness: float = CALIPER
    sd_mass: float | None = None
    sd_frequency: float = FREQUENCY
    sd_even: float = UNEVEN

    def __post_init__(self):
        object.__setattr__(self, "taps", dict(self.taps))
        for name in ("length", "width", "thickness", "mass"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0):
                msg = f"plate {name} {value}: must be a positive number in SI units"
                raise ValueError(msg)
        if not self.taps:
            msg = "no taps; at least one of (1, 1) twist, (2, 0) along, (0, 2) across is needed"
            raise ValueError(msg)
        for lines, value in self.taps.items():
            if min(lines) < 0 or max(lines) > 4 or (max(lines) < 2 and tuple(lines) != (1, 1)):
                msg = f"mode {lines}: nodal lines 0 to 4 each way, (1, 1) the least; no rigid motion"
                raise ValueError(msg)
            if not (np.isfinite(value) and value > 0):
                msg = f"tap {lines}: {value} Hz must be positive"
                raise ValueError(msg)


@dataclass(frozen=True, eq=False)
class PlateTones:
    """Modes of a free plate, named by their nodal lines.

    Attributes
    ----------
    frequencies : array (m,)
        Hz, in the order asked for.
    likeness : array (m,)
        Squared correlation with the product of two beam shapes, 1 for equal.
    rows : array (m, 13)
        Derivatives of the logarithms of the frequencies by those of ``CONSTANTS``, length, width, thickness.
    """

    frequencies: np.ndarray
    likeness: np.ndarray
    rows: np.ndarray


def plate_tones(
    wood: Orthotropic,
    length: float,
    width: float,
    thickness: float,
    lines: list[tuple[int, int]],
    shear: bool = True,
) -> PlateTones:
    """Tones of a free rectangular plate and their derivatives.

    Parameters
    ----------
    length, width, thickness : float
        m; L along the length, R along the width.
    lines : list of (int, int)
        Nodal lines across the length and the width of the modes wanted.
    shear : bool
        Transverse shear of the plate.

    Raises
    ------
    AccuracyError
        A mode that no computed shape resembles.

    Notes
    -----
    The derivatives are exact but for those of rotary inertia, which is left out of them: with mass-normalised
    shapes d(omega^2)/dp = x' K' x - omega^2 x' M' x, and on a flat plate the strain energy is a sum of
    products of section stiffness and strains squared, each with its own power of length and width.
    """
    shell = Shell(
        rectangle(length, width, *CELLS),
        flat(),
        Section(constant(thickness), wood.compliance(), wood.density),
        shear=shear,
    )
    modes = System(shell).modes(_count(wood, length, width, thickness, lines))
    x, y = np.linspace(0.01, 0.99, GRID[0]), np.linspace(0.01, 0.99, GRID[1])
    grid = np.stack([g.ravel() for g in np.meshgrid(length * x, width * y, indexing="ij")])
    shapes = point_rows(shell, grid, (0.0, 0.0, 1.0)) @ modes.vectors[: shell.n_dofs]
    likeness = np.array([_likeness(shapes, np.outer(beam_shape(m, x), beam_shape(n, y))) for m, n in lines])
    order, found = linear_sum_assignment(-likeness)
    found = found[np.argsort(order)]
    alike = likeness[np.arange(len(lines)), found]
    if alike.min() < 0.3:
        lost = lines[int(alike.argmin())]
        msg = f"no computed mode has {lost[0]} and {lost[1]} nodal lines (best likeness {alike.min():.2f})"
        raise AccuracyError(msg)
    rows = _rows(shell, wood, thickness, modes.vectors[:, found], modes.omega2[found])
    return PlateTones(modes.frequencies[found], alike, rows)


def _count(wood, length, width, thickness, lines):
    """Modes to solve for: those that a plate without coupling has below the highest wanted, and spare."""
    beams = [[0.0, 0.0], [0.0, 0.0]]
    for k, (E, size) in enumerate(((wood.E_L, length), (wood.E_R, width))):
        beams[k] += [tap_frequency(E, size, thickness, wood.density, m - 1) for m in range(2, 9)]
    twist = np.sqrt(12 * wood.G_LR * thickness**2 / (np.pi**2 * wood.density)) / (length * width)
    rough = {
        (m, n): np.sqrt(beams[0][m] ** 2 + beams[1][n] ** 2 + (m * n * twist) ** 2)
        for m in range(9)
        for n in range(9)
        if m + n > 1
    }
    highest = max(rough[tuple(p)] for p in lines)
    return sum(f <= highest for f in rough.values()) + SPARE


def beam_shape(nodes: int, s: np.ndarray) -> np.ndarray:
    """Shape of a free beam with a number of nodes, 0 and 1 being its rigid motions; s from 0 to 1."""
    if nodes < 2:
        return (np.ones_like(s), 2 * s - 1)[nodes]
    k = free_beam_root(nodes - 1)
    ratio = (np.cosh(k) - np.cos(k)) / (np.sinh(k) - np.sin(k))
    return np.cosh(k * s) + np.cos(k * s) - ratio * (np.sinh(k * s) + np.sin(k * s))


def _likeness(shapes, pattern):
    pattern = pattern.ravel()
    return (pattern @ shapes) ** 2 / (pattern @ pattern) / (shapes**2).sum(axis=0)


def section_stiffness(wood: Orthotropic, thickness: float) -> np.ndarray:
    """D11, D12, D22, D66 (N m) and the shear stiffness G13 h, G23 h (N/m, without factor): (6,)."""
    q, g, _ = plane_stress(wood.compliance()[None])
    bend = thickness**3 / 12 * q[0]
    return np.array(
        [bend[0, 0], bend[0, 1], bend[1, 1], bend[2, 2], thickness * g[0, 0, 0], thickness * g[0, 1, 1]]
    )


def _rows(shell, wood, thickness, vectors, omega2):
    """Log frequencies by log unknowns, (m, 13), from the share of each stiffness in the strain energy."""
    station, area = shell.quadrature, shell.area_weights
    vectors = vectors[: shell.n_dofs]
    n, m = len(area), vectors.shape[1]
    k = (shell.operator(station, shell.bending_rows(station)) @ vectors).reshape(n, 3, m)
    pairs = [k[:, 0] ** 2, 2 * k[:, 0] * k[:, 1], k[:, 1] ** 2, k[:, 2] ** 2]
    stiff = section_stiffness(wood, thickness)
    shares = [d * (area @ p) / omega2 for d, p in zip(stiff[:4], pairs, strict=True)]
    if shell.shear:
        padded = np.zeros((n, 2, 75))
        padded[:, :, 63:] = station.shear_rows()
        s = (shell.operator(station, padded) @ vectors).reshape(n, 2, m)
        shares += [5 / 6 * stiff[4 + i] * (area @ s[:, i] ** 2) / omega2 for i in range(2)]
    else:
        shares += [np.zeros(m)] * 2
    shares = np.array(shares)  # (6, m), sum 1
    by_wood = np.zeros((6, len(CONSTANTS)))
    logs = np.log([getattr(wood, c) for c in CONSTANTS])
    step = 1e-5
    for i in range(1, len(CONSTANTS)):
        ends = []
        for sign in (1, -1):
            moved = logs.copy()
            moved[i] += sign * step
            ends.append(np.log(section_stiffness(_wood(wood, moved), thickness)))
        by_wood[:, i] = (ends[0] - ends[1]) / (2 * step)
    rows = np.zeros((m, len(CONSTANTS) + 3))
    rows[:, : len(CONSTANTS)] = 0.5 * shares.T @ by_wood
    rows[:, 0] = -0.5  # density
    powers = np.array([[-4, 0, 3], [-2, -2, 3], [0, -4, 3], [-2, -2, 3], [-2, 0, 1], [0, -2, 1]])
    rows[:, len(CONSTANTS) :] = 0.5 * shares.T @ powers
    rows[:, -1] -= 0.5  # mass grows with thickness
    return rows


def _wood(wood, logs):
    return Orthotropic(wood.name, *np.exp(logs).tolist(), wood.source)


def plate_fit(species: str | WoodEstimate, plate: PlateTaps, shear: bool = True) -> PieceFit:
    """Find the constants of a wood from taps on a rectangular plate.

    Parameters
    ----------
    species : str or WoodEstimate
        What is known beforehand.
    shear : bool
        Transverse shear of the plate in the model.

    Returns
    -------
    PieceFit
        Its readings have the remark ``mixes`` where two modes share the pattern.

    Raises
    ------
    AccuracyError
        A tap far from anything the wood can do.

    Notes
    -----
    Unknowns are the logarithms of the constants and of the plate's true sizes; weight and taps are readings
    of them. The closed forms (`closed_form_start`) only start the search: they neglect how bending along,
    across and twist share a mode, and are 1 to 4 % off in frequency.
    """
    prior = as_prior(species)
    lines = list(plate.taps)
    sizes = np.log([plate.length, plate.width, plate.thickness])
    sd = np.array([plate.sd_size, plate.sd_size, plate.sd_thickness]) / np.exp(sizes)
    mean = np.concatenate([prior.logs, sizes])
    wood_cov, directions = uninformed(prior, ["density", *_measured(lines)])
    cov = block_diag(wood_cov, np.diag(sd**2))
    n = len(CONSTANTS)
    weight_row = np.zeros((1, n + 3))
    weight_row[0, [0, n, n + 1, n + 2]] = 1.0

    def predict(logs):
        tones = plate_tones(_wood(prior.wood, logs[:n]), *np.exp(logs[n:]), lines, shear=shear)
        fitted = np.concatenate([[logs[0] + logs[n:].sum()], np.log(tones.frequencies)])
        return fitted, np.concatenate([weight_row, tones.rows])

    readings = [Reading("weight", "g", 1e3, plate.mass, weighing_sd(plate.mass, plate.sd_mass))]
    doubt = float(np.hypot(plate.sd_frequency, plate.sd_even))
    for pair, f in plate.taps.items():
        name = f", {NAMES[pair]}" if pair in NAMES else ""
        readings.append(Reading(f"tap ({pair[0]}, {pair[1]}){name}", "Hz", 1.0, f, doubt))
    start = closed_form_start(prior, plate)
    fit = most_probable(
        mean,
        cov,
        predict,
        np.log([r.value for r in readings]),
        np.array([r.sd for r in readings]),
        np.concatenate([directions, np.zeros((3, directions.shape[1]))]),
        start=np.concatenate([start.logs, sizes]),
        tolerance=3e-4,
    )
    tones = plate_tones(_wood(prior.wood, fit.mean[:n]), *np.exp(fit.mean[n:]), lines, shear=shear)
    for i, like in enumerate(tones.likeness, start=1):
        if like < MIXED:
            r = readings[i]
            remark = f"mixes with another mode (likeness {like:.2f})"
            readings[i] = Reading(r.label, r.unit, r.per_si, r.value, r.sd, remark)
    return piece_fit(prior, fit, readings, "; ".join(["plate: weight", *(r.label for r in readings[1:])]))


def _measured(lines):
    """Constants that a plate's tones mostly depend on."""
    kinds = {"E_L": lambda m, n: n == 0, "E_R": lambda m, n: m == 0, "G_LR": lambda m, n: m == n == 1}
    return [c for c, made_of in kinds.items() if any(made_of(*pair) for pair in lines)]


def closed_form_start(prior: WoodEstimate, plate: PlateTaps) -> WoodEstimate:
    """Constants by the closed forms of the twist and of the two beams, others by the species' ratios.

    Notes
    -----
    E_L = 0.946 density f20^2 a^4/h^2, E_R likewise, G_LR = 0.822 density (f11 a b/h)^2 (McIntyre & Woodhouse,
    Acta Metall. 36, 1988, in this form from memory). The band covers what they are off by, 4 % in frequency;
    beside a fit they are a check, no more.
    """
    a, b, h = plate.length, plate.width, plate.thickness
    density = plate.mass / (a * b * h)
    found = {"density": density}
    if (1, 1) in plate.taps:
        found["G_LR"] = shear_modulus_from_twist(plate.taps[1, 1], a, b, h, density)
    for name, size, along in (("E_L", a, True), ("E_R", b, False)):
        for nodes in (3, 2):
            pair = (nodes, 0) if along else (0, nodes)
            if pair in plate.taps:
                found[name] = modulus_from_tap(plate.taps[pair], size, h, density, nodes - 1)
    cov, _ = uninformed(prior, list(found))
    return WoodEstimate(prior.wood, cov, prior.source).measured(CLOSED, "closed forms", **found)
