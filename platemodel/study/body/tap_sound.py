"""A tap on the bridge of the closed body as a sound, and the tones that were heard against the model's."""

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import pandas as pd

from platemodel.fem.cavity import DENSITY
from platemodel.instrument.dimensions import VIOLIN_BODY
from platemodel.study.body.sound import BodySound
from platemodel.taps import FINGER, Recording, contact_weight, ring

HIGHEST = 1400.0  # Hz on a violin: the body's modes are known to about there
DISTANCE = 1.0  # m from the body to the ear
TRUSTED = (
    0.08  # relative, of a body tone: what the spread of usual woods, plates and ribs leaves; a judgement
)


@dataclass(frozen=True, eq=False)
class BodyTap:
    """A tap on the bass foot of a closed body.

    Attributes
    ----------
    table : DataFrame
        A row a tone: ``f_hz``, ``loss``, ``level_db`` (heard; 0 for the strongest), ``strength`` (pressure
        per impulse of a very short tap, complex, Pa/(N s)).
    loudness : float
        Energy of the sound at the ear for a tap of unit impulse, Pa2 s/(N s)2.
    """

    table: pd.DataFrame
    loudness: float


def body_tap(sound: BodySound) -> BodyTap:
    """Tap the bridge of a closed body over its bass foot.

    Notes
    -----
    A finger's tap, and losses in the middle of their band. An impulse leaves every mode swinging with the
    velocity omega^2 m (m'f) of its coordinates (`AirModes`).
    Heard is the volume that top, back and holes pump together, as from a small source in the open: p = i
    omega rho/(4 pi r) times the flow. That holds while the body is small against the wave, on a violin to
    some 500 Hz; above, the sound is the model's only in its pitches and its losses. No room, no strings.
    """
    modes, walls = sound.modes, sound.walls
    scale = VIOLIN_BODY / sound.answer.body.model.top.outline.body_length
    tones = sound.elastic[modes.frequencies[sound.elastic] < HIGHEST * scale]
    omega = np.sqrt(modes.omega2[tones])
    motion = modes.motion[:, tones]
    flow = (sound.flow_row @ motion) * omega**2 * (sound.answer.row("bass") @ motion[:walls])
    strength = 1j * omega * DENSITY / (4.0 * np.pi * DISTANCE) * flow
    f, eta = omega / (2.0 * np.pi), sound.loss(1)[tones]
    size = np.abs(strength) * contact_weight(f, FINGER)
    level = 20.0 * np.log10(np.maximum(size, 1e-12 * size.max()) / size.max())
    table = pd.DataFrame({"f_hz": f, "loss": eta, "level_db": level, "strength": strength})
    return BodyTap(table, float(np.sum(size**2 / (2.0 * eta * omega))))


def body_tap_sounds(taps: list[BodyTap]) -> list[Recording]:
    """Make taps with different bars into sounds that may be compared: the louder one is louder.

    Returns
    -------
    list of Recording
        The highest sample of all is 0.5; how loud they are in the room is not known.
    """
    made = [
        ring(
            tap.table["f_hz"].to_numpy(), tap.table["loss"].to_numpy(), tap.table["strength"].to_numpy(),
            rate=22050.0, taps=2, source="made from the model",
        ) for tap in taps
    ]  # fmt: skip
    sizes = [np.sqrt(tap.loudness / np.sum(one.samples**2)) for tap, one in zip(taps, made, strict=True)]
    most = max(size * np.abs(one.samples).max() for size, one in zip(sizes, made, strict=True))
    return [
        replace(one, samples=0.5 * size / most * one.samples) for size, one in zip(sizes, made, strict=True)
    ]


@dataclass(frozen=True)
class HeardTones:
    """Strong body tones that were heard from the closed instrument, each beside the model's.

    Attributes
    ----------
    heard, model : tuple of float
        Hz.
    """

    heard: tuple[float, ...]
    model: tuple[float, ...]

    @property
    def off(self) -> np.ndarray:
        """Model over heard, less one."""
        return np.array(self.model) / np.array(self.heard) - 1.0

    @property
    def trusted(self) -> bool:
        """Whether all lie as near as a usual body may."""
        return bool(np.all(np.abs(self.off) <= TRUSTED))

    @property
    def text(self) -> str:
        """In words."""
        pairs = ", ".join(
            f"{h:.0f} Hz (model {m:.0f}, {100 * d:+.0f} %)"
            for h, m, d in zip(self.heard, self.model, self.off, strict=True)
        )
        says = (
            "as near as a usual body comes, so its tones bear this body out"
            if self.trusted
            else f"further off than the {100 * TRUSTED:.0f} % of a usual body: trust what differs from "
            "bar to bar, not the figures by themselves"
        )
        return f"Body tones heard {pairs}: {says}."


def heard_tones(sound: BodySound, heard: tuple[float, ...]) -> HeardTones:
    """Set heard body tones beside the model's loud ones, in their order.

    Parameters
    ----------
    sound : BodySound
        With the bar that was in it.
    heard : tuple of float
        Strong tones above the air tone, Hz.

    Notes
    -----
    Loud are the tones that pump air, "breathing of the plates"; of them as many as were heard are taken so
    that the ratios are nearest to 1, the lower with the lower.
    """
    table = sound.table
    loud = sorted(table.loc[table["kind"] == "breathing of the plates", "f_hz"])
    heard = tuple(sorted(heard))
    if len(loud) < len(heard):
        loud = sorted(table.loc[table["air"] < 0.3, "f_hz"])
    chosen = min(combinations(loud, len(heard)), key=lambda some: np.sum(np.log(np.divide(some, heard)) ** 2))
    return HeardTones(heard, tuple(float(f) for f in chosen))
