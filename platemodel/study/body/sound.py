"""What a bar does to the sound: body tones with the air, mobility at the feet, motion along the bar, flow."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from platemodel.fem.cavity import AirModes, couple
from platemodel.instrument.bar import Bar
from platemodel.instrument.dimensions import VIOLIN_BODY
from platemodel.study.body.reduced import ReducedAnswer, ReducedBody

# Loss factors of strung bodies, low, middle and high: Q of 25 to 100 of signature modes (Woodhouse,
# Rep. Prog. Phys. 77, 2014, from memory); the air mode some 0.02 to 0.06 (radiation and the holes; from
# memory).
WALL_LOSS = (0.010, 0.018, 0.040)
AIR_LOSS = (0.02, 0.03, 0.06)
BAND = (196.0, 700.0)  # Hz on a violin: its lowest note to where single modes can still be told apart
STEP = 1.0  # Hz


@dataclass(frozen=True, eq=False)
class BodySound:
    """A body with one bar and its air.

    Attributes
    ----------
    answer : ReducedAnswer
    modes : AirModes
    """

    answer: ReducedAnswer
    modes: AirModes

    @property
    def walls(self) -> int:
        """Coordinates of the walls; the holes come after them."""
        return self.answer.shapes.shape[1]

    @cached_property
    def frequencies(self) -> np.ndarray:
        """Tones above the free motions, Hz."""
        return self.modes.frequencies[self.elastic]

    @cached_property
    def elastic(self) -> np.ndarray:
        """Places of the tones above the free motions among `modes`."""
        return np.flatnonzero(self.modes.omega2 > (2.0 * np.pi * 20.0) ** 2)

    def loss(self, which: int = 1) -> np.ndarray:
        """Loss factor of each mode, shared between walls and air; 0, 1, 2: low, middle, high."""
        return WALL_LOSS[which] * (1.0 - self.modes.air) + AIR_LOSS[which] * self.modes.air

    def force(self, row: np.ndarray) -> np.ndarray:
        """Return a force along a row of the walls' coordinates, over all coordinates."""
        return np.concatenate([row, np.zeros(len(self.modes.walls) - len(row))])

    @cached_property
    def flow_row(self) -> np.ndarray:
        """Volume that leaves the body's outside per unit of each coordinate: walls and holes, m3."""
        holes = np.linalg.solve(self.modes.root.T, np.eye(len(self.modes.root))).sum(axis=0)
        return np.concatenate([self.answer.row("swept"), holes])

    def along_bar(self) -> tuple[np.ndarray, np.ndarray]:
        """Places along the bar's line, m: (41,), and the upright motion there: (41, walls)."""
        body = self.answer.body
        bar, shell = body.bar, body.model.top_model.shell
        x = np.linspace(bar.x_start + 2e-3, bar.x_end - 2e-3, 41)
        station = shell.locate(np.stack([x, bar.at(x)]))
        rows = shell.operator(station, station.displacement_rows()[:, 2:])
        return x, rows @ (body.vectors[: shell.n_dofs] @ self.answer.shapes)

    @cached_property
    def table(self):
        """One row a tone up to 700 Hz on a violin (scaled to the body): see `tone_table`."""
        return tone_table(self)


@dataclass(frozen=True, eq=False)
class FootAnswer:
    """How freely the feet move over a range of frequencies, and what follows from it.

    Attributes
    ----------
    frequencies : array (f,)
        Hz.
    bass, treble, cross : array (f,)
        Velocity per force of a foot driven alone, and of the treble foot when the bass foot is driven;
        complex, s/kg.
    flow : array (f,)
        Volume flow out of the body per force on the bass foot, m3/s per N.
    x : array (k,)
        Along the bar, m.
    along : array (k,)
        Root mean square of the velocity there per force on the bass foot, s/kg.
    """

    frequencies: np.ndarray
    bass: np.ndarray
    treble: np.ndarray
    cross: np.ndarray
    flow: np.ndarray
    x: np.ndarray
    along: np.ndarray

    def mean(self, name: str = "bass") -> float:
        """Root mean square of one of the answers over the range."""
        return float(np.sqrt(np.mean(np.abs(getattr(self, name)) ** 2)))

    def ends(self, x_bridge: float) -> tuple[float, float]:
        """Motion of the bar's lower and upper end over that at the bridge line."""
        middle = float(np.interp(x_bridge, self.x, self.along))
        return float(self.along[0] / middle), float(self.along[-1] / middle)


def body_sound(body: ReducedBody, bar: Bar | None, change: tuple | None = None) -> BodySound:
    """Tones of a body with a bar and its air; ``change`` as in `ReducedBody.solved`."""
    answer = body.solved(bar, change)
    pumped = answer.shapes.T @ body.rows["pumped"]
    omega2 = answer.omega2.copy()
    omega2[:6] = 0.0
    return BodySound(answer, couple(omega2, pumped, body.air.cavity, body.air.holes))


def foot_answer(sound: BodySound, loss: int = 1, band=None) -> FootAnswer:
    """Drive the feet of the bridge.

    Parameters
    ----------
    sound : BodySound
    loss : {0, 1, 2}
        Low, middle or high losses.
    band : (float, float), optional
        Hz; default `BAND` scaled to the body's length.
    """
    top = sound.answer.body.model.top
    frequencies = _swept(band or sound_band(top))
    eta, walls = sound.loss(loss), sound.walls
    bass, treble = sound.answer.row("bass"), sound.answer.row("treble")
    driven, other = (sound.modes.response(frequencies, sound.force(row), eta) for row in (bass, treble))
    x, along = sound.along_bar()
    moved = along @ driven[:walls]
    return FootAnswer(
        frequencies, bass @ driven[:walls], treble @ other[:walls], treble @ driven[:walls],
        sound.flow_row @ driven, x, np.sqrt(np.mean(np.abs(moved) ** 2, axis=1)),
    )  # fmt: skip


def bass_mobility(sound: BodySound) -> float:
    """Root mean square of the velocity per force of the bass foot over `sound_band`, s/kg."""
    bass = sound.answer.row("bass")
    frequencies = _swept(sound_band(sound.answer.body.model.top))
    driven = sound.modes.response(frequencies, sound.force(bass), sound.loss(1))
    return float(np.sqrt(np.mean(np.abs(bass @ driven[: sound.walls]) ** 2)))


def _swept(band):
    low, high = band
    return np.arange(low, high, STEP * low / BAND[0])


def sound_band(top) -> tuple[float, float]:
    """Range of frequencies that is averaged over, Hz: that of a violin, down with the body's length."""
    scale = VIOLIN_BODY / top.outline.body_length
    return BAND[0] * scale, BAND[1] * scale


def tone_table(sound: BodySound):
    """Tones with their kind.

    Returns
    -------
    DataFrame
        ``f_hz``, ``air`` (share of the elastic energy in the air), ``bass``, ``treble`` (motion of the feet,
        1/sqrt(kg)), ``flow`` (volume flow of the tone, m3/s per unit), ``kind`` in words.
    """
    import pandas as pd

    highest = sound_band(sound.answer.body.model.top)[1]
    chosen = [k for k in sound.elastic if sound.modes.frequencies[k] <= highest]
    walls, motion = sound.walls, sound.modes.motion
    bass, treble = (sound.answer.row(name) @ motion[:walls] for name in ("bass", "treble"))
    swept = sound.answer.row("swept") @ motion[:walls]
    flow = (sound.flow_row @ motion) * np.sqrt(np.maximum(sound.modes.omega2, 0.0))
    rows = []
    for k in chosen:
        w = np.sqrt(sound.modes.omega2[k])
        rows.append({
            "f_hz": sound.modes.frequencies[k], "air": sound.modes.air[k], "bass": w * bass[k],
            "treble": w * treble[k], "flow": flow[k], "swept": w * swept[k],
        })  # fmt: skip
    table = pd.DataFrame(rows)
    loud = np.abs(table["flow"]) / np.abs(table["flow"]).max()
    table["kind"] = [_kind(air, share) for air, share in zip(table["air"], loud, strict=True)]
    return table


def _kind(air, loud):
    if air > 0.3 and loud > 0.3:
        return "breathing of the air"
    if air > 0.3:
        return "air to and fro"
    return "breathing of the plates" if loud > 0.3 else "bending of the body"
