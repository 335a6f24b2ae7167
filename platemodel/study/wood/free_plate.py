"""A free flat rectangular plate or strip: its tones, its shapes, and its answer to a tap."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.errors import GeometryError
from platemodel.fem.mesh import rectangle
from platemodel.fem.section import Section, constant
from platemodel.fem.shell import Shell
from platemodel.fem.supports import point_rows
from platemodel.fem.surface import flat
from platemodel.fem.system import System
from platemodel.study.wood.plate_constants import beam_shape
from platemodel.taps import FINGER, Recording, contact_weight, ring
from platemodel.wood.orthotropic import Orthotropic

POINTS = 61  # of the drawing grid, along
MOST_LINES = 6  # nodal lines looked for in each direction
NAMED = 0.6  # least likeness to a product of beam shapes for a mode to be named by its nodal lines
UPRIGHT = 0.1  # share of the greatest mass-normalised motion below which a mode lies in the plane
SOUND_RATE = 16000.0  # Hz, of made sounds
LOSS = 0.012  # loss factor of spruce in between along and across; common practice, no source


@dataclass(frozen=True, eq=False)
class FreePlate:
    """Bending and twisting modes of a flat plate that nothing holds.

    Attributes
    ----------
    length, width, thickness : float
        m; x along the length from 0, y along the width from 0.
    grain : float
        Angle from x to the grain, rad.
    frequencies : array (k,)
        Hz, lowest first.
    lines : tuple of (int, int) or None
        Nodal lines across the length and across the width; None where the pattern is not a plain grid.
    x, y : array (nx,), (ny,)
        Drawing grid, m, edges included.
    shapes : array (nx, ny, k)
        Motion square to the plate, largest value 1.
    vectors : array (n_dofs, k)
        Mass-normalised shapes in the shell's DOFs.
    """

    length: float
    width: float
    thickness: float
    wood: Orthotropic
    grain: float
    frequencies: np.ndarray
    lines: tuple
    x: np.ndarray
    y: np.ndarray
    shapes: np.ndarray
    shell: Shell
    vectors: np.ndarray

    @property
    def mass(self) -> float:
        """Mass, kg."""
        return self.shell.mass

    def index(self, lines: tuple[int, int]) -> int:
        """Position of the mode with these nodal lines across the length and the width.

        Raises
        ------
        ValueError
            No computed mode has them.
        """
        if tuple(lines) not in self.lines:
            known = ", ".join(str(one) for one in self.lines if one)
            msg = f"no mode with nodal lines {tuple(lines)}; there are {known or 'none'}; ask for more modes"
            raise ValueError(msg)
        return self.lines.index(tuple(lines))

    def at(self, place: tuple[float, float]) -> np.ndarray:
        """Mass-normalised motion of each mode at a place (x, y) in m, 1/sqrt(kg): (k,).

        Raises
        ------
        GeometryError
            The place is not on the plate.
        """
        x, y = place
        if not (0 <= x <= self.length and 0 <= y <= self.width):
            msg = (
                f"place ({1e3 * x:g}, {1e3 * y:g}) mm: allowed 0 to {1e3 * self.length:g} along, 0 to "
                f"{1e3 * self.width:g} across"
            )
            raise GeometryError(msg)
        return (point_rows(self.shell, [[x], [y]], (0.0, 0.0, 1.0)) @ self.vectors)[0]


def free_plate(
    wood: Orthotropic,
    length: float,
    width: float,
    thickness: float,
    count: int = 6,
    grain: float = 0.0,
    cells: tuple[int, int] | None = None,
    shear: bool = True,
) -> FreePlate:
    """Solve a free rectangular plate of even thickness.

    Parameters
    ----------
    wood : Orthotropic
        Rings upright: T through the plate.
    length, width, thickness : float
        m.
    count : int
        Modes wanted; those that move in the plane of the plate are left out.
    grain : float
        Angle from the length to the grain, rad; pi/2 lays the rays along the length.
    cells : (int, int), optional
        Of the mesh along and across; by default about square, 8 along the longer side.
    shear : bool
        Transverse shear of the plate; False is the thin plate of the handbooks.

    Raises
    ------
    ValueError
        A size that is not positive, or count below 1.
    """
    for name, value in (("length", length), ("width", width), ("thickness", thickness)):
        if not (np.isfinite(value) and value > 0):
            msg = f"{name} {1e3 * value:g} mm must be positive"
            raise ValueError(msg)
    if count < 1:
        msg = f"count {count}: at least 1 mode"
        raise ValueError(msg)
    c, s = np.cos(grain), np.sin(grain)
    axes = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    section = Section(constant(thickness), wood.compliance(), wood.density, axes)
    shell = Shell(rectangle(length, width, *(cells or _cells(length, width))), flat(), section, shear=shear)
    found = System(shell).modes(count + 4)
    vectors = found.vectors[: shell.n_dofs]
    x = np.linspace(0.0, length, POINTS)
    y = np.linspace(0.0, width, max(9, round(POINTS * min(1.0, width / length))))
    grid = np.stack([g.ravel() for g in np.meshgrid(x, y, indexing="ij")])
    # Exact ends of the grid may fall outside the mesh by a rounding error.
    grid = np.clip(grid, 1e-9 * length, None)
    grid = np.minimum(grid, (1 - 1e-9) * np.array([[length], [width]]))
    shapes = point_rows(shell, grid, (0.0, 0.0, 1.0)) @ vectors
    peak = np.abs(shapes).max(axis=0)
    keep = np.flatnonzero(peak * np.sqrt(shell.mass) > UPRIGHT)[:count]
    shapes = (shapes[:, keep] / peak[keep]).reshape(len(x), len(y), len(keep))
    return FreePlate(
        length,
        width,
        thickness,
        wood,
        grain,
        found.frequencies[keep],
        tuple(_lines(shapes[..., k], x / length, y / width) for k in range(len(keep))),
        x,
        y,
        shapes,
        shell,
        vectors[:, keep],
    )


def _cells(length, width):
    longer, shorter = max(length, width), min(length, width)
    few = max(2, round(8 * shorter / longer))
    return (8, few) if length >= width else (few, 8)


def _lines(shape, x, y):
    """Nodal lines by the product of beam shapes that a shape is most like."""
    best, found = NAMED, None
    for m in range(MOST_LINES + 1):
        for n in range(MOST_LINES + 1):
            pattern = np.outer(beam_shape(m, x), beam_shape(n, y))
            like = (pattern * shape).sum() ** 2 / (pattern**2).sum() / (shape**2).sum()
            if m + n > 1 and like > best:
                best, found = like, (m, n)
    return found


def plate_tap(
    plate: FreePlate,
    tap: tuple[float, float],
    pickup: tuple[float, float] | None = None,
    contact_seconds: float = FINGER,
) -> pd.DataFrame:
    """List the modes that a tap on a free plate excites, as picked up by a weightless sensor on it.

    Parameters
    ----------
    tap : (x, y)
        m.
    pickup : (x, y), optional
        m; default the corner at the origin, where every mode moves.
    contact_seconds : float
        Length of the tap.

    Returns
    -------
    DataFrame
        A row a mode: ``mode``, ``lines``, ``f_hz``, ``strength`` (velocity per impulse of a very short tap,
        1/kg), ``level_db`` (with this tap; 0 for the strongest mode of any place's tap that is as long).

    Raises
    ------
    GeometryError
        A place is not on the plate.
    """
    corner = (1e-9 * plate.length, 1e-9 * plate.width)
    heard = plate.at(pickup or corner)
    strength = plate.at(tap) * heard
    weight = contact_weight(plate.frequencies, contact_seconds)
    peak = np.abs(plate.at(corner) ** 2) * weight
    level = 20.0 * np.log10(np.maximum(np.abs(strength) * weight, 1e-4 * peak.max()) / peak.max())
    return pd.DataFrame(
        {
            "mode": 1 + np.arange(len(strength)),
            "lines": plate.lines,
            "f_hz": plate.frequencies,
            "strength": strength,
            "level_db": level,
        }
    )


def plate_sound(
    plate: FreePlate,
    tap: tuple[float, float],
    pickup: tuple[float, float] | None = None,
    loss: float = LOSS,
    seconds: float = 1.0,
    contact_seconds: float = FINGER,
) -> Recording:
    """Make the sound of a tap on a free plate, as a pickup on it hears it.

    Parameters
    ----------
    tap, pickup : (x, y)
        m; see `plate_tap`.
    loss : float
        Loss factor of every mode.
    seconds, contact_seconds : float
        Of the recording, and of the tap.

    Returns
    -------
    Recording
        Scaled to a highest sample of 0.5. The air, what holds the plate, and tones that no such recording can
        hold (above half its rate) are left out.
    """
    table = plate_tap(plate, tap, pickup, contact_seconds)
    table = table[table["f_hz"] < SOUND_RATE / 2]
    return ring(
        table["f_hz"].to_numpy(),
        loss,
        table["strength"].to_numpy(),
        rate=SOUND_RATE,
        seconds=seconds,
        contact_seconds=contact_seconds,
        lead_seconds=0.05,
        source="made from the model",
    )
