"""Clamps for gluing a bar: how many, where, how hard, in which order, and where to support outside.

The bar with what lies on it is a beam; plate, bar and lining under it are an elastic seat. A clamp's push
reaches about one characteristic length to each side, so clamps further apart leave the glue line between
them without pressure.
"""

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import pandas as pd
import shapely
from scipy.optimize import linprog, nnls

from platemodel.instrument.bar import Bar
from platemodel.instrument.top import Top
from platemodel.study.gluing.closing import PAD, Closing, Limits
from platemodel.study.gluing.elastic_seat import Seated, SeatedBeam

#: Fewest and most clamps: common practice, no source.
COUNTS = {"violin": (5, 7), "viola": (7, 9), "cello": (9, 12)}
PRESSURE = 0.1e6  # Pa, mean of the glue line: "only to close the joint" in figures; our choice, no source
EVEN = 0.5  # least over greatest pressure that counts as even: our rule, no source
ELEMENTS = 108
LEAST_FORCE = 0.3  # of an even share: a clamp that hardly presses is none
END_STEPS = 7  # places tried for the clamp next to each end
CLEARANCE = 6e-3  # m between two clamps' pads, for the screws; common practice, no source


@dataclass(frozen=True)
class Lining:
    """Soft layer between the plate and the block or cradle outside.

    Attributes
    ----------
    thickness : float
        m.
    modulus : float
        Pa; cork 8 to 30 MPa (Gibson & Ashby, Cellular Solids, 1997, from memory).
    """

    thickness: float = 3e-3
    modulus: float = 15e6


@dataclass(frozen=True)
class Caul:
    """Strip laid on the bar to spread the clamps, not glued to it.

    Attributes
    ----------
    height, width : float
        m.
    modulus : float
        Along it, Pa; default a hardwood (from memory).
    """

    height: float
    width: float
    modulus: float = 12e9

    @property
    def bending_stiffness(self) -> float:
        """EI, N m2."""
        return self.modulus * self.width * self.height**3 / 12.0


@dataclass(frozen=True, eq=False)
class ClampPlan:
    """Where the clamps go.

    Attributes
    ----------
    beam : SeatedBeam
        The bar on its seat.
    closing : Closing or None
        What the clamps press out, of a bar that does not fit or is sprung.
    s, force : array (n,)
        Distance from the lower end of the bar (m) and force (N) of each clamp, from the lower end up.
    order : tuple of int
        Which clamp is set when: indices into ``s``, the middle first.
    pad : float
        Length of a clamp's pad, m.
    blocks : tuple of Block
        Outside, one against each clamp.
    tried : dict of int to float
        Best evenness found for each number of clamps.
    """

    bar: Bar
    beam: SeatedBeam
    closing: Closing | None
    s: np.ndarray
    force: np.ndarray
    order: tuple[int, ...]
    pad: float
    seated: Seated
    blocks: tuple = ()
    tried: dict = field(default_factory=dict)

    @property
    def count(self) -> int:
        """Number of clamps."""
        return len(self.s)

    @property
    def x(self) -> np.ndarray:
        """Places along the body, m: (n,)."""
        return self.bar.x_at(self.s)

    @property
    def pressure(self) -> np.ndarray:
        """Pressure of the glue line at ``seated.at``, Pa: (m,)."""
        return self.seated.line_pressure / self.bar.width_at(self.bar.x_at(self.seated.at))

    @property
    def limits(self) -> Limits:
        """What the bar's wood bears."""
        return Limits.of(self.bar.wood)

    @property
    def characteristic_length(self) -> tuple[float, float]:
        """Least and greatest along the bar, m."""
        length = self.beam.characteristic_length
        return float(length.min()), float(length.max())

    @property
    def evenness(self) -> float:
        """Least over greatest pressure; 0 where the bar lifts."""
        return float(self.pressure.min() / self.pressure.max())

    @property
    def even(self) -> bool:
        """Whether the glue line is pressed evenly enough by the rule of `EVEN`."""
        return self.evenness >= EVEN

    @property
    def pad_pressure(self) -> np.ndarray:
        """Pressure of each pad on the bar, Pa: (n,)."""
        return self.force / (self.pad * self.bar.width_at(self.x))

    @property
    def dents(self) -> bool:
        """Whether pads or glue line press harder than ``limits.dent``."""
        return bool(max(self.pad_pressure.max(), self.pressure.max()) > self.limits.dent)

    @property
    def table(self) -> pd.DataFrame:
        """One row a clamp, from the lower end up; mm, N, MPa."""
        turn = np.argsort(self.order) + 1
        notes = [b.note for b in self.blocks] or [""] * self.count
        return pd.DataFrame(
            {
                "set_as": turn,
                "s_mm": 1e3 * self.s,
                "x_mm": 1e3 * self.x,
                "y_mm": 1e3 * self.bar.at(self.x),
                "force_n": self.force,
                "pad_mpa": 1e-6 * self.pad_pressure,
                "block": notes,
            }
        )


@dataclass(frozen=True)
class Block:
    """Protecting block outside, against a clamp: soft-lined and shaped to the arch.

    Attributes
    ----------
    x, y : float
        Middle, m.
    along, across : float
        Sides, m.
    note : str
        What it must be trimmed clear of; empty if nothing.
    """

    x: float
    y: float
    along: float
    across: float
    note: str = ""


def seated_bar(bar: Bar, top: Top, lining: Lining | None = None, caul: Caul | None = None) -> SeatedBeam:
    """Bar on its seat.

    Parameters
    ----------
    lining : Lining, optional
        Default 3 mm of cork along the whole bar.
    caul : Caul, optional
        On the bar; default none.

    Notes
    -----
    Seat, per width: half the bar's height and the plate's thickness across the grain along the rings (E_T),
    and the lining, one behind the other. The glue film is thin and full of water: it counts as stiff.
    """
    lining = lining or Lining()
    bridge = bar.s_at(top.bridge.x)
    s = np.linspace(0.0, bar.length, ELEMENTS + 1)
    s[np.abs(s - np.clip(bridge, s[1], s[-2])).argmin()] = np.clip(bridge, s[1], s[-2])
    middle = 0.5 * (s[1:] + s[:-1])
    x = bar.x_at(middle)
    height, width = bar.height(x), bar.width_at(x)
    bending = bar.wood.E_L * bar.section_fill * width * height**3 / 12.0
    if caul is not None:
        bending = bending + caul.bending_stiffness
    plate = top.thickness.value(x, bar.at(x))
    soft = 0.5 * height / bar.wood.E_T + plate / top.wood.E_T + lining.thickness / lining.modulus
    return SeatedBeam(s, bending, width / soft)


def clamp_plan(
    bar: Bar,
    top: Top,
    count: int | None = None,
    pressure: float = PRESSURE,
    closing: Closing | None = None,
    lining: Lining | None = None,
    caul: Caul | None = None,
) -> ClampPlan:
    """Find the fewest clamps within the trade's range that press the glue line evenly, and where.

    Parameters
    ----------
    count : int, optional
        A number of clamps to use; default the fewest of ``COUNTS`` with evenness ``EVEN``, else the most.
    pressure : float
        Mean pressure of the glue line, Pa.
    closing : Closing, optional
        Of a bar that does not fit or is sprung: its bend is then pressed out by the same clamps.
    lining, caul : optional
        See `seated_bar`.

    Raises
    ------
    ValueError
        Count or pressure not usable.

    Notes
    -----
    One clamp stands at the bridge line, the others evenly to both sides, with every sharing-out of their
    number and several distances from the ends tried. Forces by non-negative least squares against an even
    pressure; for the best layout the ratio of least to greatest pressure is then made as large as it can be
    (linear programming). The result is solved anew with a seat that cannot pull.
    """
    low, high = COUNTS[top.kind] if count is None else (count, count)
    pad = PAD * bar.width
    most = int((bar.length - pad) / (pad + CLEARANCE)) + 1
    if not 3 <= low <= most:
        msg = f"{low} clamps: allowed 3 to {most} on a bar of {1e3 * bar.length:.0f} mm"
        raise ValueError(msg)
    if not 0 < pressure < np.inf:
        msg = f"glue-line pressure {pressure} Pa must be positive"
        raise ValueError(msg)
    beam = seated_bar(bar, top, lining, caul)
    reach = _Reach(beam, bar, pad, closing)
    bridge = bar.s_at(top.bridge.x)
    bridge = float(np.clip(bridge, 2.0 * pad, bar.length - 2.0 * pad))
    tried, found = {}, None
    for n in range(low, min(high, most) + 1):
        layout = max(
            (reach.snap(at) for at in _layouts(bar.length, bridge, n, pad)),
            key=lambda at: reach.fit(at, pressure)[1],
            default=None,
        )
        if layout is None:
            continue
        force, even = reach.best(layout, pressure)
        tried[n] = max(even, 0.0)
        if found is None or even > found[2]:
            found = (layout, force, even)
        if even >= EVEN:
            break
    if found is None:
        msg = f"{low} clamps do not fit on a bar of {1e3 * bar.length:.0f} mm"
        raise ValueError(msg)
    at, force, _ = found
    seated = beam.solve(beam.load(at, force, pad).sum(axis=1), reach.gap)
    plan = ClampPlan(bar, beam, closing, at, force, _order(at, bridge), pad, seated, tried=tried)
    return replace(plan, blocks=_blocks(plan, top))


def line_pressures(beam: SeatedBeam, width, places, pad: float, gap=None) -> tuple[np.ndarray, np.ndarray]:
    """Pressure of a glue line of some widths at the beam's points (m,), Pa, from a seat that pulls as well.

    Per newton of clamps at places (n,), of pads of some length: (m, n); and without clamps: (m,).
    """
    unit = beam.pushes(beam.load(places, 1.0, pad)) / width[:, None]
    return unit, beam.pushes(np.zeros((2 * len(beam.s), 1)), gap)[:, 0] / width


class _Reach:
    """Pressure along the glue line per force of a clamp at any node, the seat taken to pull as well."""

    def __init__(self, beam, bar, pad, closing):
        self.gap = None if closing is None else closing.gap_pressed
        s = beam.s
        self.nodes = s[(s >= pad / 2 - 1e-9) & (s <= s[-1] - pad / 2 + 1e-9)]
        width = bar.width_at(bar.x_at(beam.points))
        self.area = width * beam.lengths
        self.unit, self.base = line_pressures(beam, width, self.nodes, pad, self.gap)

    def snap(self, at):
        """Nearest nodes."""
        return self.nodes[np.abs(self.nodes - np.asarray(at)[:, None]).argmin(axis=1)]

    def _columns(self, at):
        return self.unit[:, np.searchsorted(self.nodes, at - 1e-12)]

    def fit(self, at, pressure):
        """Find the forces nearest to an even pressure, and their evenness."""
        a, root = self._columns(at), np.sqrt(self.area)
        force, _ = nnls(a * root[:, None], (pressure - self.base) * root)
        p = a @ force + self.base
        return force, float(p.min() / p.max())

    def best(self, at, pressure):
        """Find the forces of the greatest evenness at the mean pressure, and that evenness."""
        a = self._columns(at) * (self.area.sum() / len(at))  # per share of an even force
        n, one = a.shape[1], np.ones((len(a), 1))
        # least and greatest pressure, in units of the mean, are unknowns beside the forces
        rows = np.block([[-a, one, 0 * one], [a, 0 * one, -one]])
        base = self.base / pressure
        mean = np.r_[self.area @ a, 0.0, 0.0][None] / self.area.sum()
        found = linprog(
            np.r_[np.zeros(n), -1.0, EVEN],
            rows,
            np.r_[base, -base],
            mean,
            [1.0 - self.area @ base / self.area.sum()],
            bounds=[(LEAST_FORCE, None)] * n + [(None, None), (0, None)],
        )
        if not found.success:
            return self.fit(at, pressure)
        p = a @ found.x[:n] + base
        return found.x[:n] * pressure * self.area.sum() / n, float(p.min() / p.max())


def _layouts(length, bridge, count, pad):
    """Places of clamps: one at the bridge line, the others evenly to both sides."""
    least = pad + CLEARANCE
    for below in range(1, count - 1):
        above = count - 1 - below
        for low in _end_places(bridge, below, pad):
            for high in _end_places(length - bridge, above, pad):
                at = np.r_[
                    np.linspace(low, bridge, below + 1), np.linspace(bridge, length - high, above + 1)[1:]
                ]
                if np.diff(at).min() >= least - 1e-9:
                    yield at


def _end_places(side, count, pad):
    """Distances of the outermost clamp from the end: from the pad flush with it to half a spacing."""
    return np.linspace(pad / 2, max(pad / 2, 0.6 * side / (count + 0.5)), END_STEPS)


def _order(at, bridge):
    """From the middle outwards, to both sides in turn; the outermost two last."""
    middle = int(np.abs(at - bridge).argmin())
    below, above = list(range(middle - 1, -1, -1)), list(range(middle + 1, len(at)))
    ends = [i for i in (0, len(at) - 1) if i != middle]
    inner = [[i for i in side if i not in ends] for side in (below, above)]
    order = [middle]
    for k in range(max(map(len, inner))):
        order += [side[k] for side in inner if k < len(side)]
    return tuple(order + ends)


def _blocks(plan, top):
    """Blocks three bar widths across, as long as the spacing leaves room, clear of each other."""
    x, bar = plan.x, plan.bar
    spacing = min((b - a for a, b in pairwise(x)), default=plan.pad)
    along, across = min(1.5 * plan.pad, spacing - 1e-3), 3.0 * bar.width
    out = []
    for place in x:
        y = float(bar.at(place))
        box = shapely.box(place - along / 2, y - across / 2, place + along / 2, y + across / 2)
        note = ""
        for hole in top.sound_holes:
            if box.intersects(hole.polygon):
                note = f"trim it clear of the {hole.side} sound hole"
        if not top.outline.polygon.contains(box):
            note = "trim it to the edge"
        out.append(Block(float(place), y, along, across, note))
    return tuple(out)
