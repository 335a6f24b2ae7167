"""Makes and extends reduced models of a shell."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from platemodel.fem.arrays import Floats
from platemodel.fem.reduced import ReducedShell
from platemodel.fem.residual_norm import PROBES, reference
from platemodel.fem.rib import ROWS, Rib
from platemodel.fem.seat import Seat
from platemodel.fem.shell import Shell
from platemodel.fem.supports import Constraint, Spring
from platemodel.fem.system import System


class Reductor:
    """Makes reduced models of a shell.

    Parameters
    ----------
    slender : Rib
        At least as slender as any rib to come; the residual is measured by the flexibility of this one.
    supports : tuple of Constraint or Spring
    loads : array (n_shell, l), optional
        Unit loads, N per DOF; without them the model is made for modes.
    count : int
        Modes it is made for.
    """

    def __init__(
        self,
        shell: Shell,
        slender: Rib,
        supports: Sequence[Constraint | Spring] = (),
        loads: Floats | None = None,
        count: int = 10,
    ) -> None:
        self.shell, self.count = shell, count
        self.system = System(shell, (slender,), tuple(supports))
        bare = System(shell, (), tuple(supports))
        self.stiffness, self.mass = bare.matrices
        shift = bare.shift()
        self.reference = reference(self.system, shift if loads is None else 0.05 * shift)
        self.norm = self.reference.norm
        self.loads = np.zeros((shell.n_dofs, 0)) if loads is None else np.asarray(loads, dtype=float)

    def reduce(self) -> ReducedShell:
        """Reduced model on the slender rib's own answers: rigid motions and modes, or deflections."""
        n = self.shell.n_dofs
        if self.loads.shape[1]:
            vectors = self.reference.apply(self.loads)
            give = (self.loads * vectors).sum(axis=0)
        else:
            found = self.system.modes(self.count, shift=self.norm.shift, solve=self.reference.solve)
            vectors, give = found.vectors[:n], 1.0 / found.omega2
        none, zero = np.zeros((n, 0), order="F"), np.zeros((PROBES, 0))
        start = ReducedShell(
            none,
            (none, none),
            zero,
            zero,
            self.norm.probes.T @ self.loads,
            self.norm,
            give,
            self.count,
            self.count,
        )
        if not self.loads.shape[1]:
            start = self.extend_basis(start, self._scaled(self.system.rigid_motions()[:n]))
        return self.extend_basis(start, self._scaled(vectors))

    def completed(self, rom: ReducedShell) -> ReducedShell:
        """Return a reduced model with what it needs to learn more, if it was kept without."""
        if rom.pushes:
            return rom
        return replace(rom, pushes=(self.stiffness @ rom.basis, self.mass @ rom.basis))

    def extend_basis(self, rom: ReducedShell, vectors: Floats, drop: float = 1e-5) -> ReducedShell:
        """Enrich a reduced model by what is new in some vectors.

        Parameters
        ----------
        vectors : array (n_shell, m)
            Of energy norm about 1 (answers), or what such lack.
        drop : float
            Energy norm below which something new does not count.
        """
        k = rom.size
        new = vectors, self.stiffness @ vectors, self.mass @ vectors
        known = rom.basis, *rom.pushes
        for least in (drop**2, 1e-6):
            weighted = new[1] + self.norm.shift * new[2]
            take = rom.basis.T @ weighted
            size, turn = np.linalg.eigh(new[0].T @ weighted - take.T @ take)
            keep = size > least
            turn = turn[:, keep] / np.sqrt(size[keep])
            new = tuple(v @ turn - old @ (take @ turn) for v, old in zip(new, known, strict=True))
        basis, *pushes = (_joined(old, v) for old, v in zip(known, new, strict=True))
        vectors, probes = new[0], rom.norm.probes

        def grow(old: Floats, push: Floats) -> Floats:
            mine = basis.T @ push
            return np.block([[old[:k], mine[:k]], [mine[:k].T, mine[k:]], [old[k:], probes.T @ push]])

        loads = np.vstack([rom.loads[:k], vectors.T @ self.loads, rom.loads[k:]])

        def longer(seat: Seat, both: tuple[tuple[Floats, Floats], ...]) -> tuple[tuple[Floats, Floats], ...]:
            return tuple(
                (np.concatenate([rows, seat.project(vectors, names)], axis=2), probed)
                for (rows, probed), names in zip(both, ROWS, strict=True)
            )

        return replace(
            rom,
            basis=basis,
            pushes=tuple(pushes),
            stiffness=grow(rom.stiffness, new[1]),
            mass=grow(rom.mass, new[2]),
            loads=loads,
            seats=rom.seats.mapped(longer),
        )

    def _scaled(self, vectors: Floats) -> Floats:
        """Vectors of energy norm 1."""
        weighted = self.stiffness @ vectors + self.norm.shift * (self.mass @ vectors)
        return vectors / np.sqrt((vectors * weighted).sum(axis=0))

    def corrections(self, rom: ReducedShell, ribs: Sequence[Rib | None], least: float = 0.0) -> Floats:
        """Answer of the reference model to the reduced model's residuals.

        Parameters
        ----------
        least : float
            Estimated relative error below which a mode or deflection is left as it is.

        Returns
        -------
        array (n_shell, m)
            Vectors to add.
        """
        stiffs, heavies, loads = [], [], []
        for rib in ribs:
            stiff, heavy, estimate, whole = rom.answer(rib)
            wanted = estimate >= least
            size = np.linalg.norm(stiff[:, wanted], axis=0)  # the basis is orthonormal in the energy
            stiff = stiff[:, wanted] / size
            heavy = None if heavy is None else heavy[:, wanted] / size
            load = np.zeros((self.shell.n_dofs, len(size)), order="F")
            if heavy is None:
                load -= self.loads[:, wanted] / size
            if rib is not None:
                for density, names in zip(whole.densities(stiff, heavy), ROWS, strict=False):
                    rib.seat.load(density, names, load)
            stiffs.append(stiff)
            if heavy is not None:
                heavies.append(heavy)
            loads.append(load)
        out = np.hstack(loads) + rom.pushes[0] @ np.hstack(stiffs)
        if heavies:
            out -= rom.pushes[1] @ np.hstack(heavies)
        return self.reference.apply(out)


def _joined(left: Floats, right: Floats) -> Floats:
    """Columns of both, by columns in memory, so that what is there is only copied."""
    out = np.empty((len(left), left.shape[1] + right.shape[1]), order="F")
    out[:, : left.shape[1]], out[:, left.shape[1] :] = left, right
    return out
