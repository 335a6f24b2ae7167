"""Plate modes of a top, with and without a bar."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.errors import PlatemodelError
from platemodel.fem.supports import clamp, edge_rotation, hold
from platemodel.instrument.bar import Bar
from platemodel.instrument.top import Top
from platemodel.progress import Progress, no_message
from platemodel.study.top.answers import TopSolver
from platemodel.study.top.meshed_top import LEAST_FINENESS, outer_facets
from platemodel.study.top.model import TopModel, top_model
from platemodel.study.top.recognise import KNOWN, Naming, follow, mac, recognise
from platemodel.study.top.sampling import PlanGrid, normal_displacement, plan_grid

EDGES = ("free", "hinged", "clamped")
COARSE = 0.5  # of the fineness: the second mesh, that the band is judged by
# Of the step from the coarse mesh. What is left after it is that step times 1 / (2^p - 1) where the error
# falls as (side)^p: 0.9 for p = 1.1, of sharp corners. 1.2, for p = 0.87, leaves room for meshes as fine as
# each other whose errors differ by a third.
BAND_FACTOR = 1.2
# At fineness 1, in proportion to the triangles' sides: both meshes may err alike, at corners of slots and
# beside bars (tests/benchmarks/mesh_band.py; theory 15 (g)).
BAND_LEAST = 0.004
REACH = 0.012  # of the body length: a finger neither holds nor taps nearer to an edge than this


@dataclass(frozen=True, eq=False)
class PlateModes:
    """Modes of one plate.

    Attributes
    ----------
    table : DataFrame
        A row a mode: ``mode`` (order of pitch, from 1), ``number`` (1, 2, 5 of the free-plate literature or
        missing), ``name``, ``f_hz``, ``band_hz`` (half width, discretisation only),
        ``modal_mass_g`` (of the mode as felt where to tap), ``hold_x_mm``, ``hold_y_mm``, ``tap_x_mm``,
        ``tap_y_mm``, ``remark``.
    shapes : array (m, k)
        Normal displacement at the grid's points, largest value 1.
    mass : float
        Of top and bar, kg.
    vectors : array (n_dofs, k)
        Mass-normalised shapes in the shell's DOFs.
    own : array (n_own, k)
        The same in the bar's own unknowns.
    """

    table: pd.DataFrame
    shapes: np.ndarray
    grid: PlanGrid
    namings: tuple[Naming, ...]
    model: TopModel
    bar: Bar | None
    edge: str
    mass: float
    vectors: np.ndarray
    own: np.ndarray

    def frequency(self, number: int) -> float:
        """Frequency in Hz of mode 1, 2 or 5; NaN where no mode looks like it."""
        for naming in self.namings:
            if naming.number == number:
                return float(self.table["f_hz"].iloc[naming.index])
        return float("nan")

    def with_band(self, relative: float) -> "PlateModes":
        """Return the same modes with a relative half width of the discretisation band known already."""
        return replace(self, table=self.table.assign(band_hz=relative * self.table["f_hz"]))

    @property
    def band_known(self) -> bool:
        """Whether a coarser mesh could judge the frequencies; else ``band_hz`` is NaN."""
        return bool(self.table["band_hz"].notna().all())

    def _repr_html_(self) -> str:
        return self.table.round(1).to_html(index=False, na_rep="")


def plate_modes(
    top: Top | TopSolver,
    bar: Bar | None = None,
    edge: str = "free",
    count: int = 8,
    band: bool = False,
    progress: Progress = no_message,
) -> PlateModes:
    """Low modes of a top, alone or with a bar.

    Parameters
    ----------
    top : Top, TopModel or ReducedTop
        A model may be used again for any number of bars.
    edge : {"free", "hinged", "clamped"}
        How the rim is held; free is the plate in the hand.
    band : bool
        Judge the discretisation by a coarser mesh as well, made and solved by a second thread. Where
        the coarse mesh cannot be solved the band stays unknown: ``band_hz`` is NaN.

    Raises
    ------
    ValueError
        Unknown edge or count below 1.
    GeometryError
        The bar leaves the plate.
    """
    if edge not in EDGES:
        msg = f"edge {edge!r}: allowed are {', '.join(EDGES)}"
        raise ValueError(msg)
    if count < 1:
        msg = f"count {count}: at least 1 mode"
        raise ValueError(msg)
    solver = top
    if isinstance(top, Top):
        progress("laying the mesh")
        solver = top_model(top, bar=bar)
    model = solver.full
    with ThreadPoolExecutor(1) as pool:  # the factorisations let other threads work
        coarse = pool.submit(_coarse_modes, model, bar, edge, count) if band else None
        progress("solving " + ("with the bar" if bar else "without bar"))
        modes, grid, w, mass = _solve(solver, bar, edge, count)
        half_band = _band(coarse and coarse.result(), w, modes.frequencies, model.fineness)
    namings = recognise(grid, w) if edge == "free" else ()
    peak = np.abs(w).max(axis=0)
    table = _table(grid, w, modes.frequencies, half_band, namings)
    vectors, own = np.split(modes.vectors, [model.shell.n_dofs])
    return PlateModes(table, w / peak, grid, namings, model, bar, edge, mass, vectors, own)


def _solve(solver, bar, edge, count):
    model = solver.full
    if edge == "free":
        modes = solver.free_modes(bar, count)
    else:
        modes = model.modes(bar, count, _supports(model, edge))
    grid, rib = plan_grid(model.top), solver.rib(bar)
    mass = solver.mass + (0.0 if rib is None else rib.mass)
    return modes, grid, normal_displacement(model, grid.points, modes.vectors), mass


def _supports(model, edge):
    """Rim supports: outer boundary only, the sound holes stay free."""
    if edge == "free":
        return ()
    shell = model.shell
    outer = outer_facets(model)
    held = (hold(shell, outer),)
    if edge == "hinged":
        return held
    stiff = 1e3 * shell.reference_stiffness / (0.05 * model.top.outline.body_length)
    return (*held, edge_rotation(shell, outer, stiff)) if shell.shear else (*held, clamp(shell, outer))


def _coarse_modes(model, bar, edge, count):
    """Frequencies and shapes on a coarser mesh, by which the discretisation is judged; None if it fails.

    It has no row along the edges: a layer that both meshes left out would not show in their difference.
    It only judges: a bar that is too short or too near an edge for it is no fault of the answer.
    """
    try:
        fineness = max(COARSE * model.fineness, LEAST_FINENESS)
        rough = top_model(model.top, fineness, bar=bar or model.line, edge_row=False)
        modes, _, shapes, _ = _solve(rough, bar, edge, count)
    except (PlatemodelError, ValueError, ArithmeticError, RuntimeError, np.linalg.LinAlgError):
        return None
    return modes.frequencies, shapes


def _band(coarse, shapes, frequencies, fineness):
    """Half width of the discretisation band: the step from the coarse mesh, matched by shape, or NaN."""
    if coarse is None:
        return np.full(len(frequencies), np.nan)
    found_hz, found = coarse
    step = np.abs(found_hz[follow(shapes, found)] / frequencies - 1.0)
    # a single mode's step can vanish by chance (two errors of opposite sign), the middle of all does not
    judged = BAND_FACTOR * np.maximum(step, np.median(step))
    return frequencies * np.maximum(judged, BAND_LEAST / fineness)


def _table(grid, w, frequencies, half_band, namings):
    known = {n.index: n for n in namings}
    shares = {n.rival: n for n in namings if n.rival is not None}
    x, y = grid.points
    reach = REACH * np.ptp(grid.x)
    rows = []
    for k, f in enumerate(frequencies):
        hold_at, tap_at = _hold(grid, w[:, k], reach), _tap(grid, w, k, frequencies, reach)
        remark = ""
        if k in known and known[k].rival is not None:
            remark = f"mixes with {frequencies[known[k].rival]:.1f} Hz"
        elif k in shares and k not in known:
            remark = f"shares the {KNOWN[shares[k].number]} pattern"
        rows.append(
            {
                "mode": k + 1,
                "number": known[k].number if k in known else None,
                "name": KNOWN[known[k].number] if k in known else "",
                "f_hz": f,
                "band_hz": half_band[k],
                "modal_mass_g": 1e3 / w[tap_at, k] ** 2,
                "hold_x_mm": 1e3 * x[hold_at],
                "hold_y_mm": 1e3 * y[hold_at],
                "tap_x_mm": 1e3 * x[tap_at],
                "tap_y_mm": 1e3 * y[tap_at],
                "remark": remark,
            }
        )
    table = pd.DataFrame(rows)
    table["number"] = table["number"].astype("Int64")
    return table


def _hold(grid, shape, reach):
    """Where fingers disturb the mode least: on a nodal line near the rim where little moves around."""
    near = (grid.rim_distance > 0.6 * reach) & (grid.edge_distance < 4 * reach)
    x, y = grid.points
    candidates = np.flatnonzero(near)
    scale = np.abs(shape).max()
    quiet = candidates[np.argsort(np.abs(shape[candidates]))[:60]]
    disc = (x[quiet, None] - x) ** 2 + (y[quiet, None] - y) ** 2 < reach**2
    energy = (disc * (shape / scale) ** 2).sum(axis=1) / disc.sum(axis=1)
    return int(quiet[np.argmin(energy)])


def _tap(grid, w, k, frequencies, reach):
    """Where a tap excites this mode strongly and its neighbours in pitch least."""
    level = np.abs(w) / np.abs(w).max(axis=0)
    strong = (level[:, k] > 0.75) & (grid.rim_distance > 0.6 * reach)
    if not strong.any():
        strong = level[:, k] > 0.6
    near = np.abs(np.log2(frequencies / frequencies[k])) < 0.6
    near[k] = False
    others = (level[:, near] ** 2).sum(axis=1)
    score = np.where(strong, level[:, k] ** 2 - 0.5 * others, -np.inf)
    return int(np.argmax(score))


def compare_modes(without: PlateModes, with_bar: PlateModes) -> pd.DataFrame:
    """Set the modes without and with a bar side by side.

    Parameters
    ----------
    without, with_bar : PlateModes
        On the same model.

    Returns
    -------
    DataFrame
        A row a mode of the plate without bar: ``mode``, ``name``, ``f_without_hz``, ``becomes_mode``,
        ``f_with_hz``, ``change_hz``, ``likeness`` (MAC of the two shapes, 1 for unchanged).
    """
    alike = mac(without.shapes, with_bar.shapes)
    pair = follow(without.shapes, with_bar.shapes)
    f0, f1 = without.table["f_hz"].to_numpy(), with_bar.table["f_hz"].to_numpy()[pair]
    return pd.DataFrame(
        {
            "mode": without.table["mode"],
            "name": without.table["name"],
            "f_without_hz": f0,
            "becomes_mode": pair + 1,
            "f_with_hz": f1,
            "change_hz": f1 - f0,
            "likeness": alike[np.arange(len(pair)), pair],
        }
    )
