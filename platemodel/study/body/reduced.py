"""The body in a hundred coordinates: learnt with one bar and without, it answers for others in no time."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.linalg import eigh

from platemodel.fem.eigen import orthonormal
from platemodel.fem.massless import massless_condensed
from platemodel.fem.own_rows import own_rows
from platemodel.fem.rib import MOTIONS, ROWS, STRAINS
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.study.body.air import BodyAir
from platemodel.study.body.model import BodyModel
from platemodel.study.body.statics import foot_sinking, string_forces
from platemodel.study.top.foot import load_rows
from platemodel.study.top.kept_solutions import kept_solution
from platemodel.study.top.meshed_top import bar_rib, bar_seat

MODES = 36  # learnt from each bar: up to about 1.4 kHz on a violin
ASIDE = (0.65, 1.35)  # heights of bars towards which it is learnt, times the given bar's
FOLLOWED = 12  # modes whose change towards those is learnt: up to some 600 Hz on a violin
PUMPS = 6  # shapes of the air whose push on the walls is learnt too
_RANK = 1e-9  # relative size below which a direction is left out


@dataclass(frozen=True, eq=False)
class ReducedBody:
    """A body learnt for the bars of one line.

    Attributes
    ----------
    model : BodyModel
    air : BodyAir
    bar : Bar
        Gives line, length and width.
    vectors : array (n, r)
        Mass-orthonormal without bar.
    stiffness : array (r, r)
        Without bar; the mass is one.
    """

    model: BodyModel
    air: BodyAir
    bar: Bar
    vectors: np.ndarray
    stiffness: np.ndarray

    @cached_property
    def _seat(self):
        return bar_seat(self.model.top_model, self.bar)

    @cached_property
    def _under(self):
        """Rows of the top under the bar that its stiffness and its mass ask for: two of (n, rows, r)."""
        top = self.vectors[: self.model.top_model.shell.n_dofs]
        return [self._seat.project(top, names) for names in ROWS]

    @cached_property
    def rows(self) -> dict[str, np.ndarray]:
        """Rows that are needed again and again, in the reduced coordinates."""
        model, v = self.model, self.vectors
        whole, alone, _ = string_forces(model)
        feet = [model.wide(row) for row in load_rows(model.top_model, model.set_up)]
        sunk = foot_sinking(model)
        out = {"strings": whole, "upright": alone, "bass": feet[0], "treble": feet[1],
               "sink_bass": sunk[0], "sink_treble": sunk[1], "swept": self.air.swept}  # fmt: skip
        if model.post is not None:
            out["post"] = model.post[0]
        return {name: row @ v for name, row in out.items()} | {"pumped": v.T @ self.air.pumped}

    def matrices(self, bar: Bar | None):
        """Stiffness and mass with a bar, in the coordinates and its own shear and slip: two dense arrays."""
        r = self.stiffness.shape[0]
        if bar is None:
            return self.stiffness.copy(), np.eye(r)
        if bar.footprint != self.bar.footprint:
            msg = (
                "the closed body was learnt for one line of the bar: its length, width and place must "
                "stay; learn it anew for another"
            )
            raise ValueError(msg)
        rib = bar_rib(self.model.top_model, bar, self._seat)
        out = []
        for names, factors, rows, base in zip(
            (STRAINS, MOTIONS), rib.factors, self._under, (self.stiffness, np.eye(r)), strict=True
        ):
            plain = rows.shape[1]
            under = factors[:, :, :plain] @ rows
            own = own_rows(rib, names)
            flat, mixed = under.reshape(-1, r), own.times(under[:, : own.terms])
            out.append(np.block([[base + flat.T @ flat, mixed.T], [mixed, own.gram]]))
        return massless_condensed(*out)

    def on_line_of(self, bar: Bar) -> "ReducedBody":
        """Return the same coordinates for the bars of another line, length and width, nothing learnt anew.

        Bending close to that bar is missing, so that some millimetres off the line sinkings come out 1 to 3 %
        and the motion of the bass foot 1 to 2 % too small, tones up to 0.3 % high.

        Raises
        ------
        GeometryError
            That bar leaves the plate.
        """
        bar_seat(self.model.top_model, bar)
        return replace(self, bar=bar)

    def solved(self, bar: Bar | None, change: tuple | None = None) -> "ReducedAnswer":
        """Elastic coordinates with a bar.

        Parameters
        ----------
        bar : Bar or None
        change : (array (r, r), array (r, r)), optional
            Added to stiffness and mass, as of another wood of the top.
        """
        stiff, mass = self.matrices(bar)
        if change is not None:
            r = len(self.stiffness)
            stiff[:r, :r] += change[0]
            mass[:r, :r] += change[1]
        values, shapes = eigh(stiff, mass)
        return ReducedAnswer(self, bar, np.maximum(values, 0.0), shapes[: self.stiffness.shape[0]])


@dataclass(frozen=True, eq=False)
class ReducedAnswer:
    """A body with one bar, in its own modes.

    Attributes
    ----------
    omega2 : array (m,)
        The first six are rigid motions.
    shapes : array (r, m)
        In the coordinates.
    """

    body: ReducedBody
    bar: Bar | None
    omega2: np.ndarray
    shapes: np.ndarray

    @property
    def frequencies(self):
        """Of the elastic modes without air, Hz."""
        return np.sqrt(self.omega2[6:]) / (2.0 * np.pi)

    def row(self, name: str) -> np.ndarray:
        """One of the rows of `ReducedBody.rows` in the modes."""
        return self.body.rows[name] @ self.shapes

    def static(self, load: str) -> np.ndarray:
        """Elastic modes' displacement under a load, (m - 6,); rigid motion left out."""
        return self.row(load)[6:] / self.omega2[6:]

    def sinking(self, load: str = "strings") -> tuple[float, float]:
        """Sinking of bass and treble foot against the rim's mean plane, m."""
        moved = self.static(load)
        return float(self.row("sink_bass")[6:] @ moved), float(self.row("sink_treble")[6:] @ moved)


def reduced_body(model: BodyModel, air: BodyAir, bar: Bar, heights=ASIDE, count: int = MODES) -> ReducedBody:
    """Learn a body from its bar, and from none, for the bars of its line.

    Parameters
    ----------
    model : BodyModel
    air : BodyAir
    bar : Bar
    heights : sequence of float
        Of the bars towards which it is learnt, times this bar's.
    count : int
        Modes learnt from each.

    Returns
    -------
    ReducedBody

    Notes
    -----
    Of the body with its bar, and without any: the lowest modes, and what the strings, each foot, the post
    and the air's push move on (K + shift M), which the modes turn into statics. How these change towards
    bars of other heights is found with the same factors, to first order of the change of shape; to second
    order energies, and so tones and sinkings, are right without it.
    """
    n = model.joined.n_bare
    whole, alone, _ = string_forces(model)
    feet = [model.wide(row) for row in load_rows(model.top_model, model.set_up)]
    loads = np.stack([whole, alone, *feet, *foot_sinking(model)], axis=1)
    loads = np.concatenate([loads, air_loads(air)], axis=1)
    stiffness, mass = model.joined.matrices  # once, before threads ask for it

    def learn(one):
        system = model.with_bar(one)
        wide = np.concatenate([loads, np.zeros((system.n_dofs - n, loads.shape[1]))])
        modes, moved = system.modes(count).vectors, system.factors.solve(wide)
        found = [modes, moved]
        if one is not None:
            followed = np.concatenate([moved, modes[:, :FOLLOWED]], axis=1)
            found += [system.factors.solve(push @ followed) for push in _pushes(model, one, heights)]
        return [part[:n] for part in found]

    def solve():
        with ThreadPoolExecutor(2) as pool:
            found = [part for parts in pool.map(learn, (bar, None)) for part in parts]
        model.systems.clear()  # their factors are large, and were for this
        return {"basis": _orthonormal(np.concatenate([model.joined.rigid_motions(), *found], axis=1), mass)}

    asked = ("body's basis", model.fingerprint, loads, count, FOLLOWED, *heights)
    basis = kept_solution(model.top_model, bar, asked, solve)["basis"]
    reduced = basis.T @ (stiffness @ basis)
    return ReducedBody(model, air, bar, basis, 0.5 * (reduced + reduced.T))


def _pushes(model, bar, heights):
    """Return what bars of other heights add to K + shift M beyond this one: a sparse matrix each."""
    seat, shift, n = bar_seat(model.top_model, bar), model.joined.shift(), model.joined.n_bare
    top, sums = float(bar.heights.max()), []
    for one in (bar, *(bar_of_height(bar, share * top) for share in heights)):
        rib = bar_rib(model.top_model, one, seat)
        stiffness, mass = rib.matrices(n + rib.n_own, n)
        sums.append(stiffness + shift * mass)
    return [other - sums[0] for other in sums[1:]]


def _orthonormal(vectors, mass):
    """Mass-orthonormal basis of what vectors span: (n, r)."""
    gram = vectors.T @ (mass @ vectors)
    scale = 1.0 / np.sqrt(np.diag(gram))
    size, turn = np.linalg.eigh(scale[:, None] * gram * scale)
    keep = size > _RANK * size[-1]
    basis = vectors @ (scale[:, None] * turn[:, keep] / np.sqrt(size[keep]))
    return orthonormal(basis, mass)  # what was nearly dependent is so to rounding only


def air_loads(air: BodyAir) -> np.ndarray:
    """Push of the lowest shapes of the air on the walls, as loads: (n, PUMPS)."""
    return air.pumped[:, :PUMPS] / np.linalg.norm(air.pumped[:, 0])
