"""What a tap on a top sounds like: modal loss, strength in the air, and a recording that can be played."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.errors import GeometryError
from platemodel.study.top.plate_modes import PlateModes
from platemodel.study.top.sampling import normal_displacement
from platemodel.study.top.strain_energy import energy_shares
from platemodel.taps import FINGER, Recording, contact_weight, ring

AIR_DENSITY, AIR_SPEED = 1.20, 343.0  # kg/m3, m/s, at 20 degrees C
GRIP = 1.0  # N s/m: resistance of two light fingers where the plate is held; common practice, no source
HEIGHT = (
    0.06  # m of the microphone over the gluing plane: near, or the low modes are lost behind the high ones
)
_RIM_STEP = 0.01  # of the body length, between rim points round which the back is heard


@dataclass(frozen=True)
class WoodLoss:
    """Loss factors (tan delta) that go with the moduli of wood.

    The defaults are middling for spruce: along the grain 0.006 to 0.009, across 0.016 to 0.022, twist
    0.013 to 0.02 (common practice, and McIntyre & Woodhouse, Acta Metall. 36, 1988, from memory).

    Attributes
    ----------
    along, across, shear : float
        With E_L; with E_R and E_T; with G_LR and the transverse shear moduli.
    """

    along: float = 0.007
    across: float = 0.020
    shear: float = 0.017

    def __post_init__(self):
        for name in ("along", "across", "shear"):
            value = getattr(self, name)
            if not 0 < value < 0.5:
                msg = f"loss factor {name} = {value}: allowed above 0, below 0.5; spruce has 0.006 to 0.022"
                raise ValueError(msg)


@dataclass(frozen=True)
class Tapping:
    """How a plate is held, tapped and heard.

    Attributes
    ----------
    place, hold : (x, y) or None
        Where it is tapped and where it is held, m in plan; None for ``hold`` holds it nowhere.
    grip : float
        Resistance of the fingers that hold, N s/m.
    height : float
        Of the microphone over the gluing plane, m, above the place that is tapped.
    contact_seconds : float
        Length of the tap.
    """

    place: tuple[float, float] | None = None
    hold: tuple[float, float] | None = None
    loss: WoodLoss = WoodLoss()
    grip: float = GRIP
    height: float = HEIGHT
    contact_seconds: float = FINGER


@dataclass(frozen=True)
class Take:
    """The recording that is made; see `platemodel.taps.ring`.

    Attributes
    ----------
    seconds, rate : float
        Length of it and samples per second.
    """

    seconds: float = 1.0
    rate: float = 16000.0
    taps: int = 1
    levels_db: float | Sequence[float] = 0.0
    noise_db: float | None = None
    seed: int = 0


def modal_losses(
    modes: PlateModes,
    loss: WoodLoss = WoodLoss(),
    hold: tuple[float, float] | None = None,
    grip: float = GRIP,
) -> np.ndarray:
    """Loss factor of each mode from the wood and from the fingers that hold the plate: (k,).

    Parameters
    ----------
    hold : (x, y), optional
        Where the plate is held, m in plan; None holds it nowhere.
    grip : float
        Resistance of the fingers, N s/m.

    Raises
    ------
    GeometryError
        The place is not on the plate.

    Notes
    -----
    Wood: the loss factors of the moduli weighted by their shares of the strain energy (McIntyre & Woodhouse
    1988, from memory); a bar counts as wood along its grain. Fingers: a resistance c at a place where the
    mass-normalised shape is w adds c w^2 / omega. Left out: sound radiated, air pumped through the sound
    holes, varnish, glue.
    """
    f = modes.table["f_hz"].to_numpy()
    shares = energy_shares(modes.model, modes.vectors, f)
    out = (
        loss.along * (shares["E_L"] + shares["bar"])
        + loss.across * (shares["E_R"] + shares["E_T"])
        + loss.shear * (shares["G_LR"] + shares["G_LT"] + shares["G_RT"])
    ).to_numpy()
    if hold is not None:
        out = out + grip * shape_at(modes, hold) ** 2 / (2.0 * np.pi * f)
    return out


def shape_at(modes: PlateModes, place: tuple[float, float]) -> np.ndarray:
    """Mass-normalised normal displacement of each mode at a place in plan (m), 1/sqrt(kg): (k,)."""
    return normal_displacement(modes.model, np.reshape(place, (2, 1)), modes.vectors)[0]


def heard_strength(modes: PlateModes, microphone: tuple[float, float, float]) -> np.ndarray:
    r"""Sound pressure of each mode at a point in the air, per unit of its modal velocity: complex (k,).

    Parameters
    ----------
    microphone : (x, y, z)
        m; x, y in plan, z over the gluing plane, above the plate.

    Returns
    -------
    array (k,)
        Pa per m sqrt(kg)/s, at the mode's frequency.

    Raises
    ------
    GeometryError
        The microphone is not above the plate.

    Notes
    -----
    Rayleigh's integral over the face that is seen, i omega rho/(2 pi) times the sum of w exp(-ikr)/r over the
    plan, less the other face, which moves the other way and is heard round the nearest edge of outline or
    sound hole, on the longer way r + d. At low frequencies the two nearly cancel: the plate is a dipole. For
    a thin rigid disc heard on its axis from afar this gives pi/4 (-2.1 dB) of the exact dipole, whose
    force comes from the added mass 8/3 rho a^3 (Lamb, Hydrodynamics, section 102, from memory). Left out:
    spreading at the edge, the room, the hands, the arching's own shape.
    """
    x, y, z = microphone
    top, grid = modes.model.top, modes.grid
    points = grid.points
    level = top.arching.value(*points)
    if not z > level.max() + 0.01:
        msg = (
            f"the microphone {1e3 * z:.0f} mm over the gluing plane: it must be 10 mm above the plate, whose "
            f"arch is {1e3 * level.max():.0f} mm high"
        )
        raise GeometryError(msg)
    direct = np.sqrt((points[0] - x) ** 2 + (points[1] - y) ** 2 + (z - level) ** 2)
    detour = _round_the_edge(top, points, level, np.array([x, y, z]))
    return _pressure(
        2.0 * np.pi * modes.table["f_hz"].to_numpy(),
        normal_displacement(modes.model, points, modes.vectors),
        grid.area,
        direct,
        detour,
    )


def _pressure(omega, shapes, area, direct, detour):
    """Both faces at once; per unit modal velocity, hence one factor omega."""
    k = (omega / AIR_SPEED)[None, :]
    seen = np.exp(-1j * k * direct[:, None]) / direct[:, None]
    back = np.exp(-1j * k * detour[:, None]) / detour[:, None]
    return 1j * omega * AIR_DENSITY / (2.0 * np.pi) * area * ((seen - back) * shapes).sum(axis=0)


def _round_the_edge(top, points, level, ear):
    """Shortest way from under the plate round an edge to the ear: (m,)."""
    step = _RIM_STEP * top.outline.body_length
    rim = np.concatenate([_thinned(loop.points, step) for loop in (top.outline, *top.sound_holes)])
    edge = top.arching.value(*rim.T)
    last = np.sqrt(((rim - ear[:2]) ** 2).sum(axis=1) + (edge - ear[2]) ** 2)
    best = np.full(points.shape[1], np.inf)
    for (px, py), z, rest in zip(rim, edge, last, strict=True):
        way = np.sqrt((points[0] - px) ** 2 + (points[1] - py) ** 2 + (level - z) ** 2) + rest
        np.minimum(best, way, out=best)
    return best


def _thinned(points, step):
    gone = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    _, first = np.unique((gone // step).astype(int), return_index=True)
    return points[first]


def tap_table(modes: PlateModes, tapping: Tapping) -> pd.DataFrame:
    """List the modes that a tap excites, and how strongly.

    Parameters
    ----------
    tapping : Tapping
        With a place.

    Returns
    -------
    DataFrame
        A row a mode: ``mode``, ``number``, ``name``, ``f_hz``, ``loss``, ``level_db`` (heard; 0 for the
        strongest), ``strength`` (complex pressure per unit of impulse of a very short tap, Pa/(N s)).

    Raises
    ------
    GeometryError
        A place is not on the plate, or the microphone not above it.
    """
    place = tapping.place
    strength = heard_strength(modes, (*place, tapping.height)) * shape_at(modes, place)
    table = modes.table[["mode", "number", "name", "f_hz"]].copy()
    table["loss"] = modal_losses(modes, tapping.loss, tapping.hold, tapping.grip)
    size = np.abs(strength) * contact_weight(table["f_hz"], tapping.contact_seconds)
    table["level_db"] = 20.0 * np.log10(np.maximum(size, 1e-12 * size.max()) / size.max())
    table["strength"] = strength
    return table


def tap_sound(
    modes: PlateModes, number: int | None = None, tapping: Tapping = Tapping(), take: Take = Take()
) -> Recording:
    """Make the sound of tapping a top.

    Parameters
    ----------
    modes : PlateModes
        Of the free plate; ask for a dozen modes or more, what lies above them is missing in the sound.
    number : int, optional
        Mode 1, 2 or 5: held and tapped where this mode is best heard.
    tapping : Tapping
        Its place and hold stand in place of those of the mode.

    Returns
    -------
    Recording
        Scaled to a highest sample of 0.5; how loud it is in the room is not known.

    Raises
    ------
    ValueError
        Neither a mode nor a place to tap, or no mode with this number.
    GeometryError
        A place is not on the plate.
    """
    if tapping.place is None and number is None:
        msg = "nothing to tap: give the number of a mode (1, 2 or 5), or the place to tap"
        raise ValueError(msg)
    if number is not None:
        place, hold = place_of(modes, number)
        tapping = replace(tapping, place=tapping.place or place, hold=tapping.hold or hold)
    table = tap_table(modes, tapping)
    return ring(
        table["f_hz"].to_numpy(),
        table["loss"].to_numpy(),
        table["strength"].to_numpy(),
        seconds=take.seconds,
        rate=take.rate,
        contact_seconds=tapping.contact_seconds,
        taps=take.taps,
        levels_db=take.levels_db,
        noise_db=take.noise_db,
        seed=take.seed,
        source="made from the model",
    )


def place_of(modes: PlateModes, number: int) -> tuple[tuple[float, float], tuple[float, float]]:
    """Where to tap and where to hold for mode 1, 2 or 5, m in plan.

    Raises
    ------
    ValueError
        No mode has this number.
    """
    rows = modes.table[modes.table["number"].eq(number).fillna(False).astype(bool)]
    if len(rows) == 0:
        known = ", ".join(str(n) for n in modes.table["number"].dropna())
        msg = f"no mode looks like mode {number}; modes recognised by their shape here: {known or 'none'}"
        raise ValueError(msg)
    row = rows.iloc[0]
    return (
        (1e-3 * row["tap_x_mm"], 1e-3 * row["tap_y_mm"]),
        (1e-3 * row["hold_x_mm"], 1e-3 * row["hold_y_mm"]),
    )
