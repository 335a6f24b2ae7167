"""How sure the sinking of a closed body is, and which measurement would narrow it most."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.fem.strains import PointMaterial, strains
from platemodel.instrument.dimensions import VIOLIN_BODY
from platemodel.study.body.statics import BodyLoad, string_forces
from platemodel.study.top.meshed_top import bar_rib
from platemodel.wood.estimate import CONSTANTS, HALF_WIDTH, WoodEstimate, species_estimate
from platemodel.wood.species import species_table

LIKE = "tonewood spruce"
# Standard deviations of logarithms of a part's stiffness where nothing was measured, and what would help:
# spread of wood (data/wood/species.csv) and of usual sizes together; common practice, no source.
PARTS = {
    "ribs": ("ribs and linings", 0.25, "thickness of ribs and linings"),
    "blocks": ("blocks", 0.30, "sizes of the blocks"),
    "post": ("sound post and its ends", 0.40, "fit of the post"),
    "neck": ("neck and fingerboard", 0.30, "sizes of the neck"),
    "back": ("back", 0.25, "thickness and weight of the back"),
}
BAR_SPREAD = 0.12  # E_L of a bar whose wood was not measured; between boards of one species at one density
# Standard deviations of lever heights that were not measured, m on a violin (common practice, no source).
LEVERS = {
    "bridge": ("height of the bridge", 1.0e-3, "bridge height from the top"),
    "saddle": ("height of the saddle", 0.7e-3, "saddle height"),
}


@dataclass(frozen=True, eq=False)
class SinkingBand:
    """Sinking of a foot with its band.

    Attributes
    ----------
    middle, low, high : float
        m; 5 to 95 % of cases.
    table : DataFrame
        One row a cause, the largest first: ``what``, ``effect`` (change of the logarithm for one standard
        deviation), ``share`` of the variance, ``measure``.
    """

    middle: float
    low: float
    high: float
    table: pd.DataFrame

    @property
    def spread(self) -> float:
        """High end over middle, less one."""
        return self.high / self.middle - 1.0

    @property
    def advice(self) -> str:
        """Which measurement would narrow the band most."""
        return str(self.table["measure"].iloc[0])


def sinking_band(
    load: BodyLoad, foot: int = 0, wood: WoodEstimate | None = None, measured: tuple[str, ...] = ()
) -> SinkingBand:
    """Band of a foot's sinking from what is not known of wood, construction and lever heights.

    Parameters
    ----------
    load : BodyLoad
    foot : {0, 1}
        Bass or treble.
    wood : WoodEstimate, optional
        The top's, as found from taps; default the spread of its species round the top's constants.
    measured : sequence of str
        Parts and levers that were measured; they leave the band.

    Returns
    -------
    SinkingBand

    Notes
    -----
    The derivative of the sinking by any stiffness is -a'(dK)u, u the displacement under the strings and a
    that under a unit load along the sinking, both there already; by a lever height it is a'(df). First
    order in logarithms, causes taken as independent but for the constants of the top's wood.
    """
    model, n = load.model, load.model.joined.n_bare
    sunk = (load.sinking_bass, load.sinking_treble)[foot]
    u, a = load.moved, load.adjoint[:, foot]
    scale = np.linalg.norm(a) / np.linalg.norm(u)
    a = a / scale  # of u's size, so that sums and differences of the two lose no digits
    rows = []

    def add(what, effect, measure):
        rows.append((what, effect, measure))

    wood = wood or _estimate(model.top.wood)
    gradient = by_wood(model.top_model.shell, model.top.wood, u, a) * scale / sunk
    add(
        "wood of the top",
        float(np.sqrt(gradient @ wood.log_cov @ gradient)),
        "taps or flexes of the loose top",
    )
    for name, (what, sd, measure) in PARTS.items():
        if name in measured or (name not in model.parts and name != "back"):
            continue
        add(what, sd * by_part(model, name, u[:n], a[:n]) * scale / sunk, measure)
    if load.bar is not None and "bar" not in measured:
        stiff = bar_rib(model.top_model, load.bar).stiffness(len(u), n)
        add("wood of the bar", -BAR_SPREAD * float(a @ (stiff @ u)) * scale / sunk, "tap of the bar's blank")
    size = model.top.outline.body_length / VIOLIN_BODY
    for name, (what, sd, measure) in LEVERS.items():
        if name in measured or getattr(model.body.levers, name) is None:
            continue
        add(what, _by_lever(load, name, size * sd, foot) / sunk, measure)
    table = pd.DataFrame(rows, columns=["what", "effect", "measure"])
    table["share"] = table["effect"] ** 2 / (table["effect"] ** 2).sum()
    table = table.reindex(table["effect"].abs().sort_values(ascending=False).index).reset_index(drop=True)
    wide = HALF_WIDTH * float(np.sqrt((table["effect"] ** 2).sum()))
    ends = sorted((sunk * np.exp(-wide), sunk * np.exp(wide)))
    return SinkingBand(sunk, *ends, table)


def _estimate(wood):
    name = wood.name if wood.name in species_table(None).index else LIKE
    constants = {c: getattr(wood, c) for c in CONSTANTS}
    return replace(species_estimate(name), wood=replace(wood, **constants))


def by_wood(shell, wood, u, a):
    """Differentiate -a'K u by the logarithms of ``CONSTANTS``: (10,)."""
    changes = wood.compliance_by_logs()
    n = shell.n_dofs
    pair = strains(shell, np.stack([u[:n] + a[:n], u[:n] - a[:n]], axis=1))
    found = pair.energy_by_compliance(PointMaterial(shell, wood.compliance()), list(changes.values()))
    by_name = dict(zip(changes, 0.25 * (found[:, 0] - found[:, 1]), strict=True))
    return np.array([-by_name.get(name, 0.0) for name in CONSTANTS])


def by_part(model, name, u, a):
    """Differentiate the sinking by the logarithm of a part's stiffness, in a's scale."""
    if name == "back":
        first = model.top_model.shell.n_dofs
        part = slice(first, first + model.back.n_dofs)
        return -float(a[part] @ (model.back.K @ u[part]))
    names = ("neck", "heel") if name == "neck" else (name,)
    out = 0.0
    for one in names:
        rows = model.parts[one].rows
        out -= float((rows @ a) @ (rows @ u))
    return out


def _by_lever(load, name, step, foot):
    """Change of the sinking by one standard deviation of a lever height."""
    model, levers = load.model, load.model.body.levers
    changed = replace(levers, **{name: getattr(levers, name) + step})
    other = replace(model, body=replace(model.body, levers=changed))
    whole, _, _ = string_forces(other)
    was, _, _ = string_forces(model)
    n = len(whole)
    return float(load.adjoint[:n, foot] @ (whole - was))
