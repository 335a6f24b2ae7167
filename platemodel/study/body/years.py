"""The closed body after years: creep by direction, moisture, the bar's spring, and what a sunk arch is."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.fem.initial_strain import bent_load, swelling_load
from platemodel.instrument.bar import Bar
from platemodel.study.body.sinking_band import CONSTANTS, SinkingBand, by_part, by_wood
from platemodel.study.body.statics import BodyLoad
from platemodel.study.top.meshed_top import bar_rib
from platemodel.wood.moisture import equilibrium_moisture, swelling_rates


@dataclass(frozen=True)
class Creep:
    """Growth of a deflection under a load that stays, over its first value, less 1.

    Attributes
    ----------
    along, across : float
        Of stress along the grain; of stress across it and of shear.
    """

    along: float
    across: float


#: Low, middle and high after years indoors. Along: k_def 0.6 of EN 1995-1-1, class 1 (from memory), its
#: spread a judgement. Across: deflections of 1.6 to 3 times the first are told of wood that also gets damp
#: and dry by turns (from memory; a band, not a measurement).
CREEP = (Creep(0.4, 0.6), Creep(0.6, 1.2), Creep(1.0, 2.0))
#: Share of the creep that comes back within weeks when the load is off: a judgement, from memory of tests
#: of creep and recovery; more with moisture, never all of it.
RECOVERED = (1.0 / 3.0, 0.5, 2.0 / 3.0)
DRY, DAMP = 0.35, 0.65  # relative humidity indoors, heated winter and summer; common practice, no source
#: How the sinking's share of a part is split between stress along the grain and the rest.
ALONG = {"ribs": 0.5, "blocks": 0.0, "post": 0.5, "neck": 1.0}
STEP = 1e-2


@dataclass(frozen=True, eq=False)
class BodyYears:
    """What becomes of the bass foot's place over the years.

    Attributes
    ----------
    first : SinkingBand
        Of the first day.
    shares : DataFrame
        One row a part: ``part``, ``along`` and ``across``, by how many per cent the foot sinks less when that
        part of the body is 1 % stiffer along the grain, or across it and in shear. They add up to 1.
    spring : float
        Even gap at each end of the bar when it was glued, m.
    spring_lift : float
        By how much it holds the foot up, m.
    moisture_lift : tuple of float
        How much higher the foot stands for each unit of moisture content (1 is 100 %), m: plates quarter
        sawn, and cut with lying rings.
    """

    first: SinkingBand
    shares: pd.DataFrame
    spring: float
    spring_lift: float
    moisture_lift: tuple[float, float]

    def growth(self, creep: Creep) -> float:
        """Sinking under the strings after years over that of the first day."""
        logs = np.log([1.0 + creep.along, 1.0 + creep.across])
        return float(np.exp(self.shares[["along", "across"]].to_numpy().sum(axis=0) @ logs))

    @property
    def years(self) -> tuple[float, float, float]:
        """Sinking under the strings after years, m: low, middle, high.

        The bands of the first day and of the creep are independent: logarithms added in squares.
        """
        low, middle, high = (self.growth(creep) for creep in CREEP)
        first = self.first
        down = np.hypot(np.log(first.middle / first.low), np.log(middle / low))
        up = np.hypot(np.log(first.high / first.middle), np.log(high / middle))
        sunk = middle * first.middle
        return float(sunk * np.exp(-down)), float(sunk), float(sunk * np.exp(up))

    @property
    def crept(self) -> float:
        """Part of it that is creep, m."""
        return self.years[1] - self.first.middle

    @property
    def back_later(self) -> tuple[float, float, float]:
        """What comes back within weeks of taking the strings off, besides what comes back at once, m."""
        return tuple(share * self.crept for share in RECOVERED)

    @property
    def stays(self) -> float:
        """What of the creep stays as set, m."""
        return (1.0 - RECOVERED[1]) * self.crept

    @property
    def swing(self) -> tuple[float, float]:
        """How much higher the foot stands in damp than in dry air (``DAMP``, ``DRY``), m: least and most."""
        change = equilibrium_moisture(DAMP) - equilibrium_moisture(DRY)
        low, high = sorted(change * lift for lift in self.moisture_lift)
        return low, high


def body_years(load: BodyLoad, first: SinkingBand, spring: float = 0.0) -> BodyYears:
    """Follow the bass foot of a strung body over the years.

    Parameters
    ----------
    load : BodyLoad
    first : SinkingBand
        Of its bass foot.
    spring : float
        Even gap at each end of the bar when it was glued, m; 0 is none.

    Returns
    -------
    BodyYears

    Notes
    -----
    Everything follows from two displacements that are there already: under the strings, u, and under a unit
    load along the sinking, a. A part's stiffness K_p counts by a'K_p u over the sinking; the sinking is then
    taken as the product of powers of the stiffnesses, exact where everything creeps alike (found: within
    0.5 % of the system solved anew with the moduli of years). Swelling and spring are loads f
    (`platemodel.fem.initial_strain`) that sink the foot by a'f. Plates swell, ribs along their grain do not;
    blocks go with the plates and are left out. With creep alike in bar and plate a spring keeps its shape,
    and its stress falls by the same factor.
    """
    model, n = load.model, load.model.joined.n_bare
    top, back = model.top_model.shell, model.back
    u, a = load.moved, load.adjoint[:, 0]
    places = {"top": slice(0, top.n_dofs), "back": slice(top.n_dofs, top.n_dofs + back.n_dofs)}
    rows = []
    scale = np.linalg.norm(a) / np.linalg.norm(u)
    for name, shell, wood in (("top", top, model.top.wood), ("back", back, model.body.back.wood)):
        part = places[name]
        by_log = -scale * by_wood(shell, wood, u[part], a[part] / scale)
        along = by_log[CONSTANTS.index("E_L")]
        whole = float(a[part] @ (shell.K @ u[part]))
        rows.append((name, along, whole - along))
    for name, share in ALONG.items():
        if name in model.parts:
            whole = -by_part(model, name, u[:n], a[:n])
            rows.append((name, share * whole, (1.0 - share) * whole))
    rib = None
    if load.bar is not None:
        rib = bar_rib(model.top_model, load.bar)
        whole, along = _by_bar(model, load.bar, rib, u, a)
        rows.append(("bar", along, whole - along))
    shares = pd.DataFrame(rows, columns=["part", "along", "across"])
    shares[["along", "across"]] /= load.sinking_bass
    lifted = 0.0
    if rib is not None and spring > 0:
        bent = bent_load(rib, -8.0 * spring / load.bar.length**2)
        lifted = -float(a[places["top"]] @ bent[: top.n_dofs] + a[n:] @ bent[top.n_dofs :])
    moist = []
    for lying in (False, True):
        grown = {}
        for name, shell, species in (("top", top, "spruce"), ("back", back, "maple")):
            rates = swelling_rates(species)
            grown[name] = swelling_load(shell, rates[[0, 2, 2]] if lying else rates)
        moist.append(-sum(float(a[places[name]] @ force) for name, force in grown.items()))
    return BodyYears(first, shares, spring, lifted, tuple(moist))


def _by_bar(model, bar: Bar, rib, u, a):
    """Work of a bar's stiffness between two displacements, all of it and what goes with E_L."""
    n = model.joined.n_bare

    def work(one):
        return float(a @ (one.stiffness(len(u), n) @ u))

    whole = work(rib)
    stiffer = replace(bar, wood=replace(bar.wood, E_L=(1.0 + STEP) * bar.wood.E_L))
    return whole, (work(bar_rib(model.top_model, stiffer, rib.seat)) - whole) / np.log1p(STEP)
