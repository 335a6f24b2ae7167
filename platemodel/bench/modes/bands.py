"""Bands of modes 1, 2 and 5 in words: mesh, wood, readings, and which reading to repeat."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from platemodel.study.top.tone_bands import ToneBands

MEANING = (
    "How sure: Hz to either side, for 90 of 100 tops known as well as this one. In the sum wood and readings "
    "add by squares; the mesh, a bound, comes on top. Weighing, tapping and flexing tell more of the wood."
)


def band_lines(bands: ToneBands) -> Iterator[str]:
    """Table for the terminal, a line a mode, with a head."""
    yield "  mode            Hz   sum  mesh  wood  readings   what to know better first"
    for row in bands.table.itertuples():
        mesh = f"{row.mesh_hz:6.1f}" if np.isfinite(row.mesh_hz) else "     ?"
        yield (
            f"  {f'{row.number} {row.name}':10s} {row.f_hz:8.1f}{row.sum_hz:6.1f}{mesh}{row.wood_hz:6.1f}"
            f"{row.readings_hz:10.1f}   {first_to_know(bands, row)}"
        ).rstrip()


def band_phrase(bands: ToneBands, number: int) -> str:
    """Return the sum of a mode's bands with its parts, as ``± 9 Hz (mesh 0.5, wood 6, readings 7)``."""
    rows = bands.table[bands.table["number"] == number]
    for row in rows.itertuples():
        mesh = f"mesh {row.mesh_hz:.1f}, " if np.isfinite(row.mesh_hz) else ""
        return f"± {row.sum_hz:.0f} Hz ({mesh}wood {row.wood_hz:.1f}, readings {row.readings_hz:.1f})"
    return ""


def first_to_know(bands: ToneBands, row: NamedTuple) -> str:
    """Name what widens a mode's band most.

    Parameters
    ----------
    row : tuple
        Of its table.
    """
    where = bands.where[row.number]
    if row.wood_hz < row.readings_hz or not where:
        return where
    return f"wood, then {where}"
