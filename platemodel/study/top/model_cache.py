"""Learnt reduced models kept in the user's cache folder, so that the next run of the same top need not learn.

A file is named by a hash of everything that the model was learnt from, holds numbers only (a NumPy archive,
read without pickle) and carries a checksum. What is damaged, of another top or version, or does not agree
with the matrices of this top is passed over, and the model is learnt anew.
"""

import hashlib
import os
import re
from contextlib import suppress
from dataclasses import replace

import numpy as np

from platemodel import __version__
from platemodel.fem.reduced import RIGID, ReducedShell
from platemodel.fem.residual_norm import LUCK, PROBES, Norm
from platemodel.study.top.answers import COUNT
from platemodel.study.top.array_files import read_arrays, tidy, write_arrays
from platemodel.study.top.cache_folder import cache_folder
from platemodel.study.top.edge_supports import RIMS
from platemodel.study.top.reduced_learning import (
    ALL_MODES,
    LOADS_GOAL,
    MODES_GOAL,
    NAMED_AMONG,
    NAMED_MODES,
    SAMPLES,
    Teacher,
)

FORM = "6"  # of the files; raise it when what is written or how it is learnt changes
MOST_BYTES = 500_000_000  # of all files together; a model of the default mesh has some 35 MB
_NAME = re.compile(r"[0-9a-f]{64}\.npz")
_CHECKED = 1e-8  # relative: the basis must have the energy that was written beside it


def fingerprint(teacher: Teacher) -> str:
    """Hash of all that a reduced model is learnt from: matrices, loads, line, range, tolerance, version."""
    shell, bar, slender = teacher.model.shell, teacher.bar, teacher.slender
    trim = () if bar.trim is None else (*bar.trim.stations, *bar.trim.outer)
    words = (
        FORM, __version__, SAMPLES, COUNT, NAMED_AMONG, MODES_GOAL, LOADS_GOAL, PROBES, LUCK,
        teacher.range, teacher.tolerance, bar.wood, bar.lean, bar.section_fill,
        *(float(v) for v in (bar.x_start, bar.y_start, bar.x_end, bar.y_end, bar.width, *trim)),
    )  # fmt: skip
    out = hashlib.sha256(repr(words).encode())
    numbers = (shell.mesh.p, shell.mesh.t, shell.K.data, shell.K.indices, shell.M.data, teacher.loads)
    for array in (*numbers, *slender.factors):
        out.update(str((array.dtype, array.shape)).encode())
        out.update(np.ascontiguousarray(array))
    return out.hexdigest()


def kept_models(teacher: Teacher) -> dict[str, ReducedShell] | None:
    """Models learnt in an earlier run, by name; None where there are none to be trusted."""
    folder = cache_folder()
    if folder is None:
        return None
    key = fingerprint(teacher)
    path = folder / f"{key}.npz"
    try:
        arrays = read_arrays(path, key, MOST_BYTES)
        models = {name: _model(arrays, name) for name in (ALL_MODES, *RIMS)}
        for name, model in models.items():
            _check(model, teacher, name)
        whole, turn = models[ALL_MODES], arrays[f"{NAMED_MODES}.turn"]
        models[NAMED_MODES] = replace(whole, sure=NAMED_AMONG).restricted(turn)
    except Exception:  # whatever is wrong with the file: it is passed over, and the model learnt anew
        return None
    with suppress(OSError):
        os.utime(path)  # asked for just now: others go first
    return models


def keep_models(teacher: Teacher, models: dict[str, ReducedShell]) -> None:
    """Write models for later runs; a folder that cannot be written to is no fault of the run."""
    folder = cache_folder()
    if folder is None:
        return
    arrays = {}
    for name in (ALL_MODES, *RIMS):
        one = models[name]
        parts = {"basis": one.basis, "stiffness": one.stiffness, "mass": one.mass, "loads": one.loads}
        parts |= {"probes": one.norm.probes, "give": one.give}
        parts["scalars"] = np.array([one.norm.shift, one.count, one.sure], dtype=float)
        arrays |= {f"{name}.{part}": value for part, value in parts.items()}
    whole = models[ALL_MODES]
    weighted = whole.pushes[0] + whole.norm.shift * whole.pushes[1]  # in which the basis is orthonormal
    arrays[f"{NAMED_MODES}.turn"] = weighted.T @ models[NAMED_MODES].basis
    with suppress(OSError):
        key = fingerprint(teacher)
        write_arrays(folder / f"{key}.npz", key, arrays)
        tidy(folder, [p for p in folder.iterdir() if _NAME.fullmatch(p.name)], MOST_BYTES)


def _model(arrays, name):
    parts = ("basis", "stiffness", "mass", "loads", "probes", "give")
    basis, stiffness, mass, loads, probes, give = (arrays[f"{name}.{part}"] for part in parts)
    shift, count, sure = arrays[f"{name}.scalars"].tolist()
    return ReducedShell(basis, (), stiffness, mass, loads, Norm(probes, shift), give, int(count), int(sure))


def _check(model, teacher, name):
    """Refuse a model that does not go with the matrices of this top.

    Raises
    ------
    ValueError
    """
    n, k = model.basis.shape
    count = 0 if name == ALL_MODES else teacher.loads.shape[1]
    shapes = ((n, k), (k + PROBES, k), (k + PROBES, k), (k + PROBES, count), (n, PROBES))
    found = (model.basis, model.stiffness, model.mass, model.loads, model.norm.probes)
    good = n == teacher.model.shell.n_dofs and k > RIGID
    good &= all(a.shape == s and np.isfinite(a).all() for a, s in zip(found, shapes, strict=True))
    if good:
        z = np.random.default_rng(2).standard_normal(k)
        v = model.basis @ z
        pairs = [(v @ (teacher.model.shell.M @ v), z @ model.mass[:k] @ z)]
        if name == ALL_MODES:  # a rim has springs besides
            pairs.append((v @ (teacher.model.shell.K @ v), z @ model.stiffness[:k] @ z))
        else:
            pairs += zip(teacher.loads.T @ v, model.loads[:k].T @ z, strict=True)
        good = all(abs(a - b) <= _CHECKED * max(abs(a), abs(b)) for a, b in pairs)
    if not good:
        msg = f"the kept model {name!r} does not belong to this top"
        raise ValueError(msg)
