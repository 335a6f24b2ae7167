"""Pictures of flat plates: nodal lines as sand shows them, and the modes that a tap excites."""

import numpy as np
from matplotlib.axes import Axes

from platemodel.bench.kit.colours import DUST, INK, WOOD
from platemodel.bench.kit.plots import SIDES
from platemodel.study.wood.free_plate import FreePlate, plate_tap


def draw_plate_mode(
    plate: FreePlate, index: int, ax: Axes, sand: bool = False, tap: tuple[float, float] | None = None
) -> Axes:
    """One mode of a flat plate: which parts move together, and its nodal lines.

    Parameters
    ----------
    index : int
        From 0.
    sand : bool
        Draw scattered sand on the still places in place of shades.
    tap : (x, y), optional
        m; a filled ring there.
    """
    x, y, shape = 1e3 * plate.x, 1e3 * plate.y, plate.shapes[..., index].T
    if sand:
        ax.set_facecolor(WOOD)
        ax.plot(*_sand(plate, index), ".", ms=1.6, color=DUST)
    else:
        ax.contourf(x, y, shape, levels=np.linspace(-1, 1, 15), cmap=SIDES, extend="both")
        ax.contour(x, y, shape, levels=[0.0], colors=[INK], linewidths=2.2)
    if tap is not None:
        ax.plot(1e3 * tap[0], 1e3 * tap[1], "o", ms=9, mfc=INK, mec="white", mew=1.2, zorder=6)
    ax.set_xlim(x[0], x[-1])
    ax.set_ylim(y[0], y[-1])
    ax.set_aspect("equal")
    lines = plate.lines[index]
    name = f"{lines[0]} across the length,\n{lines[1]} across the width" if lines else "(no plain grid)\n"
    ax.set_title(f"{plate.frequencies[index]:.0f} Hz\n{name}", fontsize=9)
    ax.set_xlabel("along, mm")
    ax.set_ylabel("across, mm")
    ax.label_outer()
    return ax


def _sand(plate, index, grains=1500):
    """Grains thrown at random stay where the mode moves little: x, y in mm, each (n,)."""
    from scipy.interpolate import RegularGridInterpolator

    rng = np.random.default_rng(index)
    thrown = rng.random((20 * grains, 2)) * (plate.length, plate.width)
    move = np.abs(RegularGridInterpolator((plate.x, plate.y), plate.shapes[..., index])(thrown))
    stay = thrown[rng.random(len(thrown)) < np.exp(-((move / 0.05) ** 2))]
    return 1e3 * stay[:grains].T


def draw_tap_levels(plate: FreePlate, tap: tuple[float, float], ax: Axes) -> Axes:
    """How strongly a tap at a place excites each mode, dB under the strongest any tap can do.

    Parameters
    ----------
    tap : (x, y)
        m.
    """
    table = plate_tap(plate, tap)
    floor = -60.0
    ax.vlines(table["f_hz"], floor, np.maximum(table["level_db"], floor), color=INK, lw=3)
    ax.plot(table["f_hz"], np.maximum(table["level_db"], floor), "o", color=INK)
    for row in table.itertuples():
        ax.annotate(f"{row.mode}", (row.f_hz, max(row.level_db, floor)), (0, 6), textcoords="offset points",
                    ha="center", fontsize=9)  # fmt: skip
    ax.set_ylim(floor, 8)
    ax.set_xlim(0, 1.1 * plate.frequencies.max())
    ax.set_xlabel("frequency, Hz (figure: number of the mode)")
    ax.set_ylabel("level, dB")
    ax.grid(alpha=0.3)
    return ax
