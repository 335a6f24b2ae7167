"""A tapered beam on an elastic seat that can press but not pull (Winkler), by cubic beam elements."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from platemodel.errors import AccuracyError

MOST_ROUNDS = 60
_XI, _WEIGHT = np.polynomial.legendre.leggauss(4)
_XI, _WEIGHT = 0.5 * (_XI + 1.0), 0.5 * _WEIGHT


@dataclass(frozen=True, eq=False)
class SeatedBeam:
    """A beam of bending stiffness EI(s) on a seat of stiffness k(s).

    Attributes
    ----------
    s : array (n,)
        Nodes, m, increasing.
    bending : array (n - 1,)
        EI of the elements, N m2.
    seat : array (n - 1,)
        Force per length and deflection of the seat under each element, N/m2.
    """

    s: np.ndarray
    bending: np.ndarray
    seat: np.ndarray

    @property
    def characteristic_length(self) -> np.ndarray:
        """(4 EI/k)^(1/4) of each element, m: how far a clamp's push reaches (Hetenyi's 1/lambda)."""
        return (4.0 * self.bending / self.seat) ** 0.25

    def load(self, place, force, spread=0.0) -> np.ndarray:
        """Nodal loads of forces, each even over a length: (2 n, m).

        Parameters
        ----------
        place, force : array (m,)
            m, N.
        spread : float
            Length over which a force is even, m; 0 for a point. What hangs over an end is pressed
            on the rest.
        """
        out = np.zeros((2 * len(self.s), len(np.atleast_1d(place))))
        force = np.broadcast_to(force, np.shape(np.atleast_1d(place)))
        for k, (p, f) in enumerate(zip(np.atleast_1d(place), force, strict=True)):
            low, high = max(p - spread / 2, self.s[0]), min(p + spread / 2, self.s[-1])
            if high - low < 1e-9:
                at, weight = np.array([np.clip(p, self.s[0], self.s[-1])]), np.array([f])
            else:
                cut = np.r_[low, self.s[(self.s > low) & (self.s < high)], high]
                step = np.diff(cut)
                at = (cut[:-1, None] + step[:, None] * _XI).ravel()
                weight = f * (step[:, None] * _WEIGHT).ravel() / (high - low)
            self._spread(out[:, k], at, weight)
        return out

    def _spread(self, out, at, weight):
        e = np.clip(np.searchsorted(self.s, at, side="right") - 1, 0, len(self.s) - 2)
        h = self.s[e + 1] - self.s[e]
        shape = _hermite((at - self.s[e]) / h, h)
        for j in range(4):
            np.add.at(out, 2 * e + j, shape[j] * weight)

    @cached_property
    def points(self) -> np.ndarray:
        """Places inside the elements where the seat is integrated and its push is given, m: (m,)."""
        return self._at.ravel()

    @property
    def lengths(self) -> np.ndarray:
        """Length that each of ``points`` stands for, m: (m,)."""
        return (np.diff(self.s)[:, None] * _WEIGHT).ravel()

    @property
    def _at(self):
        return self.s[:-1, None] + np.diff(self.s)[:, None] * _XI

    @cached_property
    def _shape(self):
        return np.stack([_hermite(_XI, step) for step in np.diff(self.s)])  # (elements, 4, points)

    @cached_property
    def _weight(self):
        return self.seat[:, None] * np.diff(self.s)[:, None] * _WEIGHT

    def _seat_matrix(self, touching):
        return _assemble(np.einsum("eip,ep,ejp->eij", self._shape, self._weight * touching, self._shape))

    def _sink(self, u):
        """Deflection at the seat's points for nodal values (2 n, ...): (elements, points, ...)."""
        local = np.stack([u[0:-2:2], u[1:-2:2], u[2::2], u[3::2]], axis=1)
        return np.einsum("eip,ei...->ep...", self._shape, local)

    def solve(self, loads: np.ndarray, gap=None) -> "Seated":
        """Deflection under nodal loads; the seat lets go where it would have to pull.

        Parameters
        ----------
        loads : array (2 n,)
        gap : callable, optional
            Gap between the unbent beam and its seat at s, m; default none.

        Raises
        ------
        AccuracyError
            The places that touch did not settle.
        """
        open_by = np.zeros(self._at.shape) if gap is None else gap(self._at)
        touching = np.ones(self._at.shape, dtype=bool)
        bent = self._bending_matrix()
        for _ in range(MOST_ROUNDS):
            right = loads + self._seat_load(touching * open_by)
            try:
                u = cho_solve(cho_factor(bent + self._seat_matrix(touching)), right)
            except np.linalg.LinAlgError:  # lifted off everywhere but one place
                break
            sink = self._sink(u) - open_by
            new = sink > 0
            if (new == touching).all():
                push = np.maximum(sink, 0.0).ravel() * np.repeat(self.seat, len(_XI))
                return Seated(self, u, self.points, push)
            touching = new
        msg = "the contact of bar and seat did not settle; press harder or take a softer seat"
        raise AccuracyError(msg)

    def pushes(self, loads: np.ndarray, gap=None) -> np.ndarray:
        """Push of a seat that may pull as well, N/m at ``points``, so that loads add up: (m, k).

        Parameters
        ----------
        loads : array (2 n, k)
        gap : callable, optional
            As in `solve`.
        """
        open_by = np.zeros(self._at.shape) if gap is None else gap(self._at)
        matrix = self._bending_matrix() + self._seat_matrix(1.0)
        u = cho_solve(cho_factor(matrix), loads + self._seat_load(open_by)[:, None])
        sink = self._sink(u) - open_by[..., None]
        return (sink * self.seat[:, None, None]).reshape(-1, loads.shape[1])

    def _seat_load(self, open_by):
        parts = np.einsum("eip,ep->ei", self._shape, self._weight * open_by)
        out = np.zeros(2 * len(self.s))
        for e, part in enumerate(parts):
            out[2 * e : 2 * e + 4] += part
        return out

    def _bending_matrix(self):
        h = np.diff(self.s)
        one = np.empty((len(h), 4, 4))
        for e, (step, stiff) in enumerate(zip(h, self.bending, strict=True)):
            a = np.array(
                [
                    [12, 6 * step, -12, 6 * step],
                    [6 * step, 4 * step**2, -6 * step, 2 * step**2],
                    [-12, -6 * step, 12, -6 * step],
                    [6 * step, 2 * step**2, -6 * step, 4 * step**2],
                ]
            )
            one[e] = stiff / step**3 * a
        return _assemble(one)


@dataclass(frozen=True, eq=False)
class Seated:
    """A beam pressed on its seat.

    Attributes
    ----------
    u : array (2 n,)
        Deflection (m, towards the seat) and slope at each node in turn.
    at : array (m,)
        Places inside the elements, m.
    line_pressure : array (m,)
        Push of the seat there, N/m.
    """

    beam: SeatedBeam
    u: np.ndarray
    at: np.ndarray
    line_pressure: np.ndarray

    @property
    def deflection(self) -> np.ndarray:
        """At the nodes, m: (n,)."""
        return self.u[::2]

    @property
    def total(self) -> float:
        """Push of the whole seat, N."""
        return float(self.line_pressure @ self.beam.lengths)


def _hermite(xi, h):
    return np.stack(
        [
            1 - 3 * xi**2 + 2 * xi**3,
            h * (xi - 2 * xi**2 + xi**3),
            3 * xi**2 - 2 * xi**3,
            h * (xi**3 - xi**2),
        ]
    )


def _assemble(blocks):
    n = 2 * (len(blocks) + 1)
    out = np.zeros((n, n))
    for e, block in enumerate(blocks):
        out[2 * e : 2 * e + 4, 2 * e : 2 * e + 4] += block
    return out
