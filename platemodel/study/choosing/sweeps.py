"""Many bars on one top: grids and samples, on as many processes as there are, taken up again after a stop."""

import hashlib
import itertools
import os
import pickle
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import replace

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import OF_THE_LINE, shaped_bar
from platemodel.instrument.strings import SetUp
from platemodel.study.choosing.line_sensitivity import LineSensitivity
from platemodel.study.choosing.sweep_file import SweepFile
from platemodel.study.top.answers import TopSolver
from platemodel.study.top.figures import FIGURES, TopFigures, strip_stiffness
from platemodel.study.top.meshed_top import bar_seat
from platemodel.study.top.process_pool import pack
from platemodel.study.top.reduced_top import as_reduced
from platemodel.wood import Orthotropic

#: Columns of a grid: what of `shaped_bar` they change, and the SI value of 1.
COLUMNS = {
    "height_mm": ("height", 1e-3),
    "ends_mm": ("ends", 1e-3),
    "power": ("power", 1.0),
    "length_mm": ("length", 1e-3),
    "width_mm": ("width", 1e-3),
    "position_mm": ("position", 1e-3),
    "stiffness": ("stiffness", 1.0),
    "density": ("density", 1.0),
}
SOFTNESS, WOOD = "softness", "wood"
TOLERANCE = 1e-3  # of the reduced model, when this module makes it
IN_FULL = 5.0  # of the reduced model's tolerance: estimated error from which a bar is solved in full
CHUNK = 125  # rows to a task


def sweep(
    model: TopSolver,
    bar: Bar,
    grid: Mapping[str, Sequence] | pd.DataFrame,
    woods: Mapping[str, Orthotropic] | Sequence[Orthotropic] | None = None,
    set_up: SetUp | None = None,
    exact: bool = False,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
    file: str | os.PathLike | None = None,
    chunk: int = CHUNK,
    effects: LineSensitivity | None = None,
) -> pd.DataFrame:
    """Compute the figures of many bars on one top.

    Parameters
    ----------
    model : TopModel or ReducedTop
        Of a full model the reduced one is made first.
    bar : Bar
        All that the grid does not change.
    grid : mapping of column to values, or DataFrame
        A mapping gives all combinations, a DataFrame its rows. Columns: ``height_mm``, ``ends_mm``,
        ``power``, ``length_mm``, ``width_mm``, ``position_mm`` (moved towards the treble side),
        ``stiffness`` and ``density`` (factors on the bar's wood), ``softness`` (factor on all moduli of the
        top), ``wood`` (names in ``woods``, or places in its list).
    woods : mapping or sequence of Orthotropic, optional
        Bar woods, for example from `wood_samples`.
    set_up : SetUp, optional
        Strings, for ``sink_mm``.
    exact : bool
        Solve each bar of another length, width or place in full (seconds a bar) instead of reading it from
        `LineSensitivity` (to some 0.2 %).
    executor : concurrent.futures.Executor, optional
        Where to compute; its ``submit`` is used and nothing else. `study.local_workers` for this
        machine, the pool of a cluster for more. Default here and now.
    progress : callable, optional
        Called with (rows done, all).
    file : path, optional
        ``.csv`` or ``.parquet``: rows are kept there as they come, and those that are there are not computed
        again.
    chunk : int
        Rows to a task, and to a write.
    effects : LineSensitivity, optional
        Ready ones of this model, bar and set-up, to save the making.

    Returns
    -------
    DataFrame
        A row a bar: ``row``, the grid's columns, the figures of `study.top.figures.FIGURES`,
        ``foot_sliding_n_per_mm``, ``foot_held_n_per_mm``, ``source`` (reduced, full, or read from a line's
        effects) and ``error`` (estimated, relative, of the reduced model). The same whatever computes it.

    Raises
    ------
    ValueError
        Unknown columns or woods, a bar that cannot be, a file of another sweep.
    GeometryError
        A bar that leaves the plate, or a line further away than it can be read.
    """
    table = _table(grid, woods)
    if effects is None:
        model = as_reduced(model, bar, set_up, tolerance=TOLERANCE)
        effects = LineSensitivity(TopFigures(model, set_up), bar)
    figures = effects.figures
    woods = dict(enumerate(woods)) if woods is not None and not isinstance(woods, Mapping) else (woods or {})
    asked = [_asked(row, woods, bar) for row in table.to_dict("records")]
    # no learning on the way: it would make a row depend on those before it
    plain = figures.model.unlearning(IN_FULL * figures.model.tolerance)
    if not exact:
        plain = plain.at_home()
    figures = replace(figures, flexes=None, body=None)
    effects = replace(effects, figures=replace(figures, model=plain))
    _check_bars(effects, bar, asked, exact)
    columns = ["row", *(c for c in table if c not in FIGURES), *figures.names]
    columns += ["foot_sliding_n_per_mm", "foot_held_n_per_mm", "source", "error"]
    store, done = None, pd.DataFrame(columns=columns)
    if file is not None:
        store = SweepFile(file, _key(figures, bar, table, woods, exact), columns)
        done = store.read()
        if WOOD in table:
            done[WOOD] = table[WOOD].iloc[done["row"].astype(int)].to_numpy()
    known = set(done["row"])
    # bars that share a seat, or an answer of the reduced model, together
    order = sorted(
        (i for i in range(len(asked)) if i not in known), key=lambda i: (_alike(asked[i], exact), i)
    )
    tasks = [[(i, *asked[i]) for i in order[k : k + chunk]] for k in range(0, len(order), chunk)]
    parts = [done] if len(done) else []
    count = len(done)
    if progress:
        progress(count, len(asked))
    for rows in _run(effects, bar, exact, tasks, executor):
        part = pd.DataFrame(rows)
        part = table.drop(columns=[c for c in table if c in FIGURES]).merge(
            part, left_index=True, right_on="row"
        )
        part = part[columns]
        if store:
            store.append(part)
        parts.append(part)
        count += len(part)
        if progress:
            progress(count, len(asked))
    out = pd.concat(parts).sort_values("row", ignore_index=True) if parts else done
    if store:
        store.finish(out)
    return out


def _table(grid, woods):
    if isinstance(grid, pd.DataFrame):
        table = grid.reset_index(drop=True)
    else:
        rows = itertools.product(*(list(v) for v in grid.values()))
        table = pd.DataFrame(rows, columns=list(grid))
    unknown = [c for c in table if c not in (*COLUMNS, SOFTNESS, WOOD)]
    if unknown or not len(table.columns) or not len(table):
        what = f"unknown columns {', '.join(map(str, unknown))}" if unknown else "nothing in it"
        msg = f"grid with {what}; allowed are {', '.join((*COLUMNS, SOFTNESS, WOOD))}"
        raise ValueError(msg)
    if (WOOD in table) != (woods is not None):
        msg = "a grid with a column 'wood' needs woods=, and woods= needs that column"
        raise ValueError(msg)
    numbers = table.drop(columns=[WOOD], errors="ignore").to_numpy(dtype=float)
    if not np.isfinite(numbers).all():
        msg = f"row {int(np.flatnonzero(~np.isfinite(numbers).all(axis=1))[0])} of the grid has an empty cell"
        raise ValueError(msg)
    return table


def _asked(row, woods, bar):
    """Split a row: changes of the bar on its line, changes of the line (both SI), softness of the top."""
    changes = {COLUMNS[c][0]: float(v) * COLUMNS[c][1] for c, v in row.items() if c in COLUMNS}
    if WOOD in row:
        if row[WOOD] not in woods:
            msg = f"no wood {row[WOOD]!r}; there are {', '.join(map(str, list(woods)[:12]))}"
            raise ValueError(msg)
        changes["wood"] = woods[row[WOOD]]
    line = {k: changes.pop(k) for k in OF_THE_LINE if k in changes}
    own = {"length": bar.length, "width": bar.width, "position": 0.0}
    line = {k: v for k, v in line.items() if abs(v - own[k]) > 1e-9}
    return changes, line, float(row.get(SOFTNESS, 1.0))


def _line_of(line):
    return tuple(sorted(line.items()))


def _alike(asked, exact):
    changes, line, softness = asked
    return repr(_line_of(line) if exact else (softness, sorted(changes.items())))


def _check_bars(effects, bar, asked, exact):
    """Refuse whatever can be refused before the computing starts, and learn the lines that the rows need."""
    lines = {}
    for i, (changes, line, softness) in enumerate(asked):
        if not softness > 0:
            msg = f"row {i}: softness {softness}; a positive factor on the top's moduli, 1 as measured"
            raise ValueError(msg)
        try:
            lines.setdefault(_line_of(line), shaped_bar(shaped_bar(bar, **changes), **line))
        except ValueError as error:
            msg = f"row {i}: {error}"
            raise type(error)(msg) from error
    for line, changed in lines.items():
        bar_seat(effects.figures.model.full, changed)  # raises if it leaves the plate
        if not exact and line:
            names = [n for n in effects.figures.of(bar) if n != "height_mm"]
            effects.factors(dict.fromkeys(names, 1.0), float(bar.heights.max()), dict(line))


def _run(effects, bar, exact, tasks, executor):
    """Rows of each task as they are done."""
    if not tasks:
        return
    parcel = pack((effects, bar))
    token = hashlib.sha256(parcel).hexdigest()
    if executor is None:
        for task in tasks:
            yield compute_rows(token, parcel, task, exact)
        _OPENED.pop(token, None)
        return
    futures = [executor.submit(compute_rows, token, parcel, task, exact) for task in tasks]
    try:
        for future in as_completed(futures):
            yield future.result()
    finally:
        for future in futures:
            future.cancel()


_OPENED: dict = {}  # the last parcel of this process, opened


def compute_rows(token: str, parcel: bytes, rows: list, exact: bool) -> list[dict]:
    """Compute some rows of a sweep; what an executor runs.

    Parameters
    ----------
    token : str
        Tells whether the parcel was opened before.
    parcel : bytes
        From `study.top.process_pool.pack`: `LineSensitivity` and the bar.
    rows : list of (row, changes, line, softness)
    exact : bool
        See `sweep`.
    """
    if token not in _OPENED:
        _OPENED.clear()
        _OPENED[token] = pickle.loads(parcel)
    effects, bar = _OPENED[token]
    out, last, answer = [], None, None
    for i, changes, line, softness in rows:
        one = shaped_bar(bar, **changes)
        if exact:
            one = shaped_bar(one, **line)
        alike = _alike((changes, line, softness), False)
        if exact or alike != last:
            answer, last = _answer(effects.figures.softer(softness), one), alike
        out.append({"row": i, **_on_line(effects, one, {} if exact else line, softness, answer)})
    return out


def _answer(figures, bar):
    found = figures.response(bar)
    foot = {f"foot_{rim}_n_per_mm": 1e-3 * getattr(found.foot, rim) for rim in ("sliding", "held")}
    return figures.read(found, bar), foot, {"source": found.source, "error": found.error}


def _on_line(effects, bar, line, softness, answer):
    """Figures of a bar, read for another line."""
    out, foot, how = answer
    if line:
        factor = effects.factors(out, float(bar.heights.max()), line)
        out = {k: v * factor.get(k, 1.0) for k, v in out.items()}
        foot = {k: v * factor["foot_n_per_mm"] for k, v in foot.items()}
        out["strip_n_m2"] = strip_stiffness(effects.figures.top, shaped_bar(bar, **line), softness)
        out["ratio_5_2"] = out["f5_hz"] / out["f2_hz"]
        how = how | {"source": "read"}
    return {**out, **foot, **how}


def _key(figures, bar, table, woods, exact):
    """Hash of all that the rows depend on; figures of the top to nine digits, so that machines agree."""
    top = figures.top
    model = figures.model.full
    mesh = model.shell.mesh
    places = np.round([top.thickness.value(*mesh.p), top.midsurface().value(*mesh.p)], 12)
    wood = [(w, repr(woods[w])) for w in woods]
    bar_parts = (repr(replace(bar, stations=(0.0, 1.0), heights=(1.0, 1.0), x_start=0.0, x_end=1.0)),)
    parts = (
        "1",
        table.to_csv(index=False),
        *bar_parts,
        repr([np.round(a, 12).tolist() for a in (bar.stations, bar.heights)]),
        repr(np.round(mesh.p, 12).tolist()),
        repr(places.tolist()),
        repr((top.wood, top.grain_angle, top.ring_angle, top.run_out, top.bridge, model.fineness)),
        repr((figures.set_up, figures.softness, figures.model.tolerance, exact)),
        repr(wood),
    )
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:32]
