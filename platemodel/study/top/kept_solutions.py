"""What the full model of a top has solved, kept in the user's cache folder for the next run of the same top.

A maker asks again and again about one top, with another bar: the plate without bar, the old bar and the
coarse mesh that judges the band are the same each time. As in `platemodel.study.top.model_cache` a file is
named by a hash of everything that goes into it, holds numbers only and carries a checksum.
"""

import hashlib
import os
import re
from collections.abc import Callable
from contextlib import suppress

import numpy as np
import scipy

from platemodel.instrument.bar import Bar
from platemodel.study.top.array_files import read_arrays, tidy, write_arrays
from platemodel.study.top.cache_folder import cache_folder, code_hash
from platemodel.study.top.meshed_top import MeshedTop

MOST_BYTES = 400_000_000  # of all together; a bar on the default mesh has some 4 MB
_NAME = re.compile(r"solved_[0-9a-f]{64}\.npz")


def kept_solution(
    model: MeshedTop,
    bar: Bar | None,
    asked: tuple[object, ...],
    make: Callable[[], dict[str, np.ndarray]],
) -> dict[str, np.ndarray]:
    """Arrays that were solved in an earlier run, or are solved now and kept.

    Parameters
    ----------
    model : MeshedTop
        Made for a top, not with another wood put on afterwards: those are passing trials, and nothing of
        them is kept.
    asked : tuple
        What else they depend on: words, numbers, arrays.
    make : callable
        Solves them.
    """
    folder = cache_folder() if model.lasting else None
    if folder is None:
        return make()
    key = _key(model, bar, asked)
    path = folder / f"solved_{key}.npz"
    try:
        arrays = read_arrays(path, key, MOST_BYTES)
    except Exception:  # whatever is wrong with the file: it is passed over, and solved anew
        arrays = make()
        with suppress(OSError):
            write_arrays(path, key, arrays)
            tidy(folder, [p for p in folder.iterdir() if _NAME.fullmatch(p.name)], MOST_BYTES)
        return arrays
    with suppress(OSError):
        os.utime(path)  # asked for just now: others go first
    return arrays


def hashed(*parts: object) -> str:
    """Hash of words, numbers and arrays."""
    out = hashlib.sha256()
    for part in parts:
        if isinstance(part, np.ndarray):
            out.update(f"{part.dtype.str} {part.shape}".encode())
            out.update(np.ascontiguousarray(part))
        else:
            out.update(repr(float(part) if isinstance(part, np.floating) else part).encode() + b";")
    return out.hexdigest()


def _key(model, bar, asked):
    top = model.answers.get("fingerprint", lambda: _fingerprint(model))
    return hashed(top, *_told(bar), *asked)


def _fingerprint(model):
    """Hash of a top's matrices and of what else its answers come from."""
    shell, top = model.shell, model.top
    edges = [loop.points for loop in (top.outline, *top.sound_holes)]  # which the rim and the air follow
    matrices = (shell.K.data, shell.K.indices, shell.M.data)
    return hashed(code_hash(), scipy.__version__, shell.mesh.p, shell.mesh.t, *matrices, *edges)


def _told(bar):
    """All that a bar's answers depend on."""
    if bar is None:
        return (None,)
    return (*bar.footprint, bar.stations, bar.heights, bar.wood, bar.lean, bar.section_fill)
