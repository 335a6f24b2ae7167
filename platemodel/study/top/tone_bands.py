"""How far the tones of modes 1, 2 and 5 are in doubt: by the mesh, the wood, the readings of the shape."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from platemodel.fem.gradients import rib_shapes
from platemodel.fem.strains import PointMaterial, strains
from platemodel.instrument.shape_errors import ShapeErrors
from platemodel.study.top.meshed_top import bar_rib
from platemodel.study.top.plate_modes import PlateModes
from platemodel.study.top.shape_scatter import PARTS, ShapeScatter, shape_scatter
from platemodel.wood.estimate import CONSTANTS, HALF_WIDTH, WoodEstimate

BAR_CONSTANTS = ("E_L", "E_R", "G_LR", "G_LT", "G_RT")  # of the bar; the others move no tone by a thousandth
STEP = 1e-3  # of a logarithm of them, for the difference of closed formulas
REGIONS = ((0.36, "lower bout"), (0.62, "waist"), (9.0, "upper bout"))  # up to this share of the body length
WORTH = 0.5  # of the readings' share of the variance: from there one region is named


@dataclass(frozen=True, eq=False)
class TopDoubt:
    """How far a top is known.

    Attributes
    ----------
    top_wood, bar_wood : WoodEstimate or None
        About the woods of top and bar; None has no doubt.
    """

    shape: ShapeErrors = field(default_factory=ShapeErrors)
    top_wood: WoodEstimate | None = None
    bar_wood: WoodEstimate | None = None


@dataclass(frozen=True, eq=False)
class ToneBands:
    """Half widths of the bands of modes 1, 2 and 5, 90 % of cases unless said otherwise.

    Attributes
    ----------
    table : DataFrame
        A row a mode: ``number``, ``name``, ``f_hz``; ``mesh_hz`` (bound of the discretisation, not a share of
        cases; NaN where it is not known), ``wood_hz``, ``readings_hz`` with its parts ``thickness_hz``,
        ``arching_hz``, ``outline_hz``; ``sum_hz``: wood and readings by squares, the mesh on top.
    where : dict of int to str
        Of each mode, the reading worth repeating: the part that widens its band most, and the bout in
        which most of that lies, if one does.
    """

    table: pd.DataFrame
    where: dict[int, str]

    @property
    def doubts(self) -> dict[int, float]:
        """Relative standard deviations by mode whose bands are those of ``sum_hz``."""
        sd = self.table["sum_hz"] / self.table["f_hz"] / HALF_WIDTH
        return dict(zip(self.table["number"].tolist(), sd.tolist(), strict=True))


def tone_bands(
    plates: Sequence[PlateModes],
    errors: ShapeErrors,
    top_wood: WoodEstimate | None = None,
    bar_wood: WoodEstimate | None = None,
) -> tuple[ToneBands, ...]:
    """Bands of modes 1, 2 and 5 of one top, to first order by exact derivatives.

    Parameters
    ----------
    plates : sequence of PlateModes
        Of the free plate on one mesh, without and with a bar, or one of the two.
    errors : ShapeErrors
        Of the readings.
    top_wood, bar_wood : WoodEstimate, optional
        Doubt of the woods about their middles; None has none. The two woods are taken to err independently.

    Returns
    -------
    tuple of ToneBands
        One a plate.
    """
    model = plates[0].model
    picked = [[naming.index for naming in modes.namings] for modes in plates]
    ends = np.cumsum([0, *map(len, picked)])
    parts = [slice(*ends[i : i + 2]) for i in range(len(plates))]
    vectors = np.column_stack([modes.vectors[:, at] for modes, at in zip(plates, picked, strict=True)])
    f = np.concatenate([m.table["f_hz"].to_numpy()[at] for m, at in zip(plates, picked, strict=True)])
    omega2 = (2.0 * np.pi * f) ** 2
    # all plates at once: what is worked out at the points of the mesh is the same for all
    scatter = shape_scatter(model, model.shell, vectors, omega2, plates[-1].mass, errors)
    wood = np.zeros(len(f))
    if top_wood is not None:
        wood = _variance(_by_top_wood(model, vectors, omega2), top_wood)
    for modes, at, part in zip(plates, picked, parts, strict=True):
        if bar_wood is not None and modes.bar is not None:
            whole = np.concatenate([modes.vectors, modes.own])[:, at]
            wood[part] += _variance(_by_bar_wood(modes, whole, omega2[part]), bar_wood)
    return tuple(
        _bands(modes, at, wood[part], scatter.of_modes(part))
        for modes, at, part in zip(plates, picked, parts, strict=True)
    )


def _bands(modes, places, wood, scatter):
    """Bands of one plate from the variance of its logarithms by the woods and the scatter by the readings."""
    f, mesh = (modes.table[name].to_numpy()[places] for name in ("f_hz", "band_hz"))
    by = {part: np.sqrt(np.diag(scatter.covariance(part))[:-1]) for part in PARTS}
    readings = np.sqrt(sum(sd**2 for sd in by.values()))
    random = HALF_WIDTH * np.sqrt(wood + readings**2) * f
    table = pd.DataFrame(
        {
            "number": [naming.number for naming in modes.namings],
            "name": modes.table["name"].to_numpy()[places],
            "f_hz": f,
            "mesh_hz": mesh,
            "wood_hz": HALF_WIDTH * np.sqrt(wood) * f,
            "readings_hz": HALF_WIDTH * readings * f,
            **{f"{part}_hz": HALF_WIDTH * sd * f for part, sd in by.items()},
            "sum_hz": random + np.nan_to_num(mesh),
        }
    )
    length = modes.model.top.outline.body_length
    where = {
        naming.number: _worth_repeating(scatter, by, i, length) for i, naming in enumerate(modes.namings)
    }
    return ToneBands(table, where)


def _variance(rows, estimate):
    """Variance of the logarithms from derivatives (k, 10)."""
    return np.einsum("ki,ij,kj->k", rows, estimate.log_cov, rows)


def _by_top_wood(model, vectors, omega2):
    """Differentiate the logarithms of the frequencies by those of the constants: (k, 10)."""
    shell, wood = model.shell, model.top.wood
    material = PointMaterial(shell, wood.compliance())
    energy = strains(shell, vectors).energy_by_compliance(material, list(wood.compliance_by_logs().values()))
    share = (vectors * (shell.M @ vectors)).sum(axis=0)
    return np.column_stack([-0.5 * share, (0.5 * energy / omega2).T])


def _by_bar_wood(modes, vectors, omega2):
    """Compute the same by the bar's wood, from its energies with the shapes held."""
    model, bar = modes.model, modes.bar
    n, rib = model.shell.n_dofs, bar_rib(model, bar)
    at = rib_shapes(rib.seat, vectors[:n], vectors[n:], omega2)
    whole = at.energies(rib).sum(axis=0)
    heavy = replace(at, omega2=np.zeros(len(omega2))).energies(rib).sum(axis=0) - whole
    rows = np.zeros((len(omega2), len(CONSTANTS)))
    rows[:, CONSTANTS.index("density")] = -0.5 * heavy / omega2
    for name in BAR_CONSTANTS:
        wood = replace(bar.wood, **{name: getattr(bar.wood, name) * np.exp(STEP)})
        other = at.energies(bar_rib(model, replace(bar, wood=wood), rib.seat)).sum(axis=0)
        rows[:, CONSTANTS.index(name)] = 0.5 * (other - whole) / STEP / omega2
    return rows


def _worth_repeating(scatter: ShapeScatter, by, i, length):
    """Name the part that widens a mode's band most, with its bout if one holds most of it; "" for none."""
    part = max(PARTS, key=lambda p: by[p][i])
    if by[part][i] == 0.0:
        return ""
    squares = scatter.effects[part][:, i] ** 2
    at, first = scatter.at[part][0] / length, -np.inf
    for limit, name in REGIONS:
        if squares[(at >= first) & (at < limit)].sum() > WORTH * squares.sum():
            return f"{part}, {name}"
        first = limit
    return part
