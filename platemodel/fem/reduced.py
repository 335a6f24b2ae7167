"""One shell, any rib on it, in milliseconds: modes and statics on a basis of shapes of a few ribs.

The full model (fom) is the shell with one rib. The reduced one (rom) seeks the shell's unknowns in the span
of a basis and lets the rib's own shear field follow; it is a Rayleigh-Ritz model: frequencies come out too
high, deflections too small. What is left over is estimated from the residual, see `residual_norm`.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from scipy.linalg import cho_factor, cho_solve, eigh

from platemodel.fem.arrays import Floats, Sparse
from platemodel.fem.kept import Kept
from platemodel.fem.own_rows import own_rows
from platemodel.fem.residual_norm import LUCK, PROBES, Norm
from platemodel.fem.rib import MOTIONS, ROWS, STRAINS, Rib
from platemodel.fem.seat import Seat

RIGID = 6
SEATS = 24  # whose rows a model keeps


@dataclass(frozen=True, eq=False)
class ReducedModes:
    """Modes of the reduced model.

    Attributes
    ----------
    omega2 : array (m,)
        1/s2.
    coefficients : array (k, m)
        Mass-normalised, in the basis.
    own : array (n_own, m)
        The rib's own unknowns.
    estimate : array (m,)
        Estimated relative error of the frequencies; an estimate, not a bound.
    """

    omega2: np.ndarray
    coefficients: np.ndarray
    own: np.ndarray
    estimate: np.ndarray

    @property
    def frequencies(self) -> Floats:
        """Hz: (m,)."""
        return np.sqrt(np.maximum(self.omega2, 0.0)) / (2.0 * np.pi)


@dataclass(frozen=True, eq=False)
class ReducedStatic:
    """Deflections under the unit loads of the reduced model.

    Attributes
    ----------
    flexibility : array (l, l)
        Work of each load on each deflection, m/N.
    coefficients : array (k, l)
    own : array (n_own, l)
    residual : array (l, l)
        Estimated r' K^-1 r: by how much the flexibility is too small. An estimate, not a bound.
    """

    flexibility: np.ndarray
    coefficients: np.ndarray
    own: np.ndarray
    residual: np.ndarray


@dataclass(frozen=True, eq=False)
class ReducedShell:
    """A shell on a basis, ready for a rib; made by `platemodel.fem.reductor.Reductor`.

    Attributes
    ----------
    basis : array (n_shell, k)
    pushes : tuple of two arrays (n_shell, k)
        Stiffness and mass of the shell and its springs times the basis; needed to learn more only, and may
        be left out.
    stiffness, mass : array (k + PROBES, k)
        The same, basis against basis, then probes against basis.
    loads : array (k + PROBES, l)
    give : array (l,) or (count,)
        Of the reference model: work of each load on its deflection, m/N, or 1/omega2 of its modes, s2.
    count : int
        Modes that it can be asked for.
    sure : int
        The lowest of them, that `error` vouches for.
    seats : Kept
        Rows of the seats asked for lately.
    """

    basis: np.ndarray
    pushes: tuple
    stiffness: np.ndarray
    mass: np.ndarray
    loads: np.ndarray
    norm: Norm
    give: np.ndarray
    count: int
    sure: int
    seats: Kept = field(default_factory=lambda: Kept(SEATS), repr=False)

    @property
    def size(self) -> int:
        """Vectors in the basis."""
        return self.basis.shape[1]

    def reconstruct(self, coefficients: Floats) -> Floats:
        """Shapes in the shell's unknowns from coefficients (k, m): (n_shell, m)."""
        return self.basis @ coefficients

    def project_rows(self, rows: Floats | Sparse) -> Floats:
        """Rows over the shell's unknowns, sparse or dense (m, n_shell), on the basis: (m, k)."""
        return rows @ self.basis

    def on(self, seat: Seat) -> tuple[tuple[Floats, Floats], ...]:
        """Rows of a seat on basis and probes, for stiffness and mass; kept for the seat's next rib.

        Returns
        -------
        tuple of two pairs of array (n, names, k), (n, names, PROBES)
        """

        def projected() -> tuple[tuple[Floats, Floats], ...]:
            return tuple(
                (seat.project(self.basis, names), seat.project(self.norm.probes, names)) for names in ROWS
            )

        return self.seats.get(seat, projected)

    def __repr__(self) -> str:
        made_for = f"{self.loads.shape[1]} loads" if self.loads.shape[1] else f"{self.count} modes"
        return f"ReducedShell({self.size} vectors in place of {len(self.basis)} unknowns, for {made_for})"

    def _softer(self, give: Floats) -> float:
        """How much more a model gives than the reference, by whose flexibility its residual is measured."""
        return max(1.0, float((give / self.give[: len(give)]).max()))

    def modes(
        self, rib: Rib | None, count: int | None = None, added: np.ndarray | None = None
    ) -> ReducedModes:
        """Lowest elastic modes of a body without supports.

        Parameters
        ----------
        rib : Rib or None
            On any seat of the shell.
        count : int, optional
            Default and at most ``self.count``.
        added : array (k, k), optional
            Mass that goes with the basis besides the body's own, such as that of air. Estimated errors are
            those of the modes without it.
        """
        whole = self.assemble(rib)
        found = self._modes(whole, self.count if count is None else min(count, self.count))
        if added is None:
            return found
        last = RIGID + len(found.omega2) - 1
        heavy = whole.mass + added
        omega2, y = eigh(whole.stiffness, heavy, subset_by_index=(RIGID, last), check_finite=False)
        return ReducedModes(omega2, y, whole.own_of(y), found.estimate)

    def _modes(self, whole: "Assembled", count: int) -> ReducedModes:
        last = min(RIGID + count, self.size - 1)
        values, vectors = eigh(whole.stiffness, whole.mass, subset_by_index=(RIGID, last), check_finite=False)
        omega2, y = values[:count], vectors[:, :count]
        residual = whole.residual(y, y * omega2)
        square = self._softer(1.0 / omega2) * (residual**2).mean(axis=0) / LUCK
        # a residual acts through (K - lambda M)^-1; where it matters, beyond the basis, that is at most
        beyond = max(values[-1], omega2[-1])
        gain = (beyond + self.norm.shift) / np.maximum(beyond - omega2, 0.1 * beyond)
        return ReducedModes(omega2, y, whole.own_of(y), 0.5 * gain * square / omega2)

    def answer(self, rib: Rib | None) -> tuple[Floats, Floats | None, Floats, "Assembled"]:
        """Vectors of which K a - M b, or K a less the loads, is the residual, its estimate, and the model.

        Returns
        -------
        a, b : array (k, m)
            b is None for deflections.
        estimate : array (m,)
            Estimated relative error of a frequency or of a load's own deflection; 0 for unsure modes.
        whole : Assembled
        """
        whole = self.assemble(rib, not self.loads.shape[1])
        if self.loads.shape[1]:
            rest = self._static(whole)
            return rest.coefficients, None, rest.residual.diagonal() / rest.flexibility.diagonal(), whole
        found = self._modes(whole, self.count)
        estimate = np.where(np.arange(len(found.omega2)) < self.sure, found.estimate, 0.0)
        return found.coefficients, found.coefficients * found.omega2, estimate, whole

    def error(self, rib: Rib | None) -> float:
        """Largest estimated relative error, of the sure frequencies or of a load's own deflection."""
        return float(self.answer(rib)[2].max())

    def restricted(self, turn: Floats) -> "ReducedShell":
        """Reduced model on part of the basis: columns of ``turn`` (k, m), orthonormal."""
        k = self.size

        def cut(matrix: Floats) -> Floats:
            return np.vstack([turn.T @ matrix[:k] @ turn, matrix[k:] @ turn])

        return replace(
            self,
            basis=self.basis @ turn,
            pushes=tuple(push @ turn for push in self.pushes),
            stiffness=cut(self.stiffness),
            mass=cut(self.mass),
            loads=np.vstack([turn.T @ self.loads[:k], self.loads[k:]]),
            seats=self.seats.mapped(lambda _, both: tuple((r @ turn, p) for r, p in both)),
        )

    def static(self, rib: Rib | None) -> ReducedStatic:
        """Deflections under the loads that the model was made with, by its supports."""
        return self._static(self.assemble(rib, inertia=False))

    def _static(self, whole: "Assembled") -> ReducedStatic:
        k = self.size
        loads = self.loads[:k]
        u = cho_solve(cho_factor(whole.stiffness, check_finite=False), loads, check_finite=False)
        residual = whole.residual(u, None) - self.loads[k:]
        flexibility = loads.T @ u
        estimate = self._softer(flexibility.diagonal()) * (residual.T @ residual) / (PROBES * LUCK)
        return ReducedStatic(flexibility, u, whole.own_of(u), estimate)

    def assemble(self, rib: Rib | None, inertia: bool = True) -> "Assembled":
        """Reduced matrices of shell and rib, the rib's own unknowns condensed; at will without its mass."""
        k = self.size
        base = self.stiffness[:k], self.mass[:k], self.stiffness[k:], self.mass[k:]
        if rib is None:
            return Assembled(*base)
        rows = self.on(rib.seat)
        stiff = _Squares(rib.factors[0], STRAINS, rows[0], rib)
        stiffness, mass = base[0] + stiff.basis, base[1]
        own = np.zeros((0, k))
        if rib.n_own:
            # the rib's own shear follows statically; its inertia is kept, in the shape that it then has
            own = -cho_solve(cho_factor(stiff.own, check_finite=False), stiff.mixed, check_finite=False)
            stiffness += stiff.mixed.T @ own
        if not inertia:
            return Assembled(stiffness, mass, *base[2:], own, (stiff,))
        heavy = _Squares(rib.factors[1], MOTIONS, rows[1], rib)
        mass = mass + heavy.basis
        if rib.n_own:
            both = heavy.mixed.T @ own
            mass += both + both.T + own.T @ (heavy.own @ own)
        return Assembled(stiffness, mass, *base[2:], own, (stiff, heavy))


class _Squares:
    """A rib's energy on a basis: its squares at the points, and the matrices they sum to.

    Attributes
    ----------
    basis, mixed, own : array (k, k), (n_own, k), (n_own, n_own)
    """

    def __init__(
        self, factors: Floats, names: tuple[str, ...], rows: tuple[Floats, Floats], rib: Rib
    ) -> None:
        basis, self.probes = rows
        plain = basis.shape[1]
        self.factors = factors[:, :, :plain]
        self.on_basis = self.factors @ basis
        self.basis = _gram(self.on_basis)
        self.of_own = own_rows(rib, names)
        self.mixed, self.own = self.of_own.times(self.on_basis[:, : self.of_own.terms]), self.of_own.gram

    def density(self, y: Floats, own: Floats) -> Floats:
        """Load of vectors (k, m), own (n_own, m) on the shell's rows: (n, names, m)."""
        stress = self.on_basis @ y
        stress[:, : self.of_own.terms] += self.of_own.at_points(own)
        return np.swapaxes(self.factors, 1, 2) @ stress


def _gram(table: Floats) -> Floats:
    """Sum of squares of rows: (n, terms, k) to (k, k)."""
    flat = table.reshape(-1, table.shape[2])
    return flat.T @ flat


@dataclass(frozen=True, eq=False)
class Assembled:
    """Reduced matrices of shell and rib, and what is needed for the residual.

    Attributes
    ----------
    stiffness, mass : array (k, k)
    probed_stiffness, probed_mass : array (PROBES, k)
        Of the shell.
    own : array (n_own, k)
        The rib's own unknowns for each vector of the basis.
    """

    stiffness: np.ndarray
    mass: np.ndarray
    probed_stiffness: np.ndarray
    probed_mass: np.ndarray
    own: np.ndarray | None = None
    squares: tuple = ()

    def densities(self, stiff: Floats, heavy: Floats | None) -> list[Floats]:
        """Put K stiff and -M heavy, of vectors (k, m), of the rib on the shell's rows: (n, names, m)."""
        vectors = (stiff,) if heavy is None else (stiff, -heavy)
        return [s.density(y, self.own_of(y)) for s, y in zip(self.squares, vectors, strict=False)]

    def own_of(self, y: Floats) -> Floats:
        """Own unknowns of the rib for vectors (k, m): (n_own, m)."""
        return np.zeros((0, y.shape[1])) if self.own is None else self.own @ y

    def residual(self, stiff: Floats, heavy: Floats | None) -> Floats:
        """K stiff - M heavy of vectors (k, m), against the probes: (PROBES, m)."""
        out = self.probed_stiffness @ stiff
        if heavy is not None:
            out = out - self.probed_mass @ heavy
        for square, load in zip(self.squares, self.densities(stiff, heavy), strict=False):
            n = square.probes.shape[2]
            out += square.probes.reshape(-1, n).T @ load.reshape(-1, load.shape[2])
        return out
