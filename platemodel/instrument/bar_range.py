"""The bars that a reduced model is made for, and samples of them to learn from."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_cuts import bridge_line
from platemodel.instrument.bar_shape import scaled_wood
from platemodel.instrument.profile import height_profile

PITCH = 80  # stations of a sampled bar


@dataclass(frozen=True)
class BarRange:
    """Ranges of heights and wood of a bar on its line; (least, most) each.

    Attributes
    ----------
    height : tuple of float
        Greatest height, under the bridge, m.
    ends : tuple of float
        Height of the ends, m.
    power : tuple of float
        Exponent of the height profile.
    stiffness, density : tuple of float
        Factors on all moduli and on the density of the bar's wood.
    few : tuple of array (n,)
        Heights of the only bars that will be asked for, evenly spaced along the line, m: learnt sooner than
        a whole range. Empty for the range.
    """

    height: tuple[float, float]
    ends: tuple[float, float]
    power: tuple[float, float] = (1.0, 4.0)
    stiffness: tuple[float, float] = (0.7, 1.4)
    density: tuple[float, float] = (0.8, 1.25)
    few: tuple[tuple[float, ...], ...] = ()

    @classmethod
    def of(cls, bars: Sequence[Bar]) -> "BarRange":
        """Range of a few bars of one line and wood, which is learnt for these alone."""
        tops = [float(bar.heights.max()) for bar in bars]
        ends = [float(bar.heights[[0, -1]].min()) for bar in bars]
        high = 1.01 * max(tops)
        few = tuple(tuple(b.height(np.linspace(b.x_start, b.x_end, PITCH)).tolist()) for b in bars)
        return cls((0.99 * min(tops), high), (0.99 * min(ends), high), (1.0, 3.0), (1, 1), (1, 1), few)

    @classmethod
    def around(cls, bar: Bar) -> "BarRange":
        """Height from 0.5 to 1.4 times the bar's, ends from 0.15 to 0.4 times its height."""
        top = float(bar.heights.max())
        return cls((0.5 * top, 1.4 * top), (0.15 * top, 0.4 * top))

    def bar(self, like: Bar, x_bridge: float, share) -> Bar:
        """One bar of the range.

        Parameters
        ----------
        like : Bar
            Its line, length, width and wood.
        x_bridge : float
            Place of the greatest height, m; the middle of the bar is taken where the bridge is beyond it.
        share : array (5,)
            0 to 1 in the ranges of height, ends, power, stiffness, density.
        """
        height, ends, power, stiff, heavy = (
            low + s * (high - low)
            for (low, high), s in zip(
                (self.height, self.ends, self.power, self.stiffness, self.density), share, strict=True
            )
        )
        middle = bridge_line(like, x_bridge)
        x = np.linspace(like.x_start, like.x_end, PITCH)
        heights = height_profile(
            x, middle, like.x_start, like.x_end, height, min(ends, height), min(ends, height), power
        )
        return replace(like, stations=x, heights=heights, wood=scaled_wood(like.wood, stiff, heavy))

    def samples(self, like: Bar, x_bridge: float, count: int, seed: int = 1) -> list[Bar]:
        """Corners of the range, then random bars: at least the 8 corners of height, ends and power.

        Of a range of a few bars it is these.
        """
        if self.few:
            x = np.linspace(like.x_start, like.x_end, PITCH)
            return [replace(like, stations=x, heights=np.array(heights)) for heights in self.few]
        corners = np.array(np.meshgrid([0, 1], [0, 1], [0, 1], [0, 1])).reshape(4, -1).T
        corners = corners[:: 1 if count >= 24 else 2]
        density = 1.0 - corners[:, 3:]
        shares = np.hstack([corners, density])
        random = np.random.default_rng(seed).random((max(count - len(shares), 0), 5))
        return [self.bar(like, x_bridge, s) for s in np.vstack([shares, random])]
