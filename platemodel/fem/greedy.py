"""Chooses the ribs that a reduced model learns from: always the one with the largest estimated error."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from platemodel.fem.arrays import Floats, Ints
from platemodel.fem.reduced import RIGID, ReducedShell
from platemodel.fem.reductor import Reductor
from platemodel.fem.rib import Rib

AT_ONCE = (4, 8)  # ribs learnt in a step: of modes, of deflections under few loads
ASKED = 16  # ribs asked in a step how well they are known, the least known by last answer
LEAST = 0.3  # of the tolerance: modes known better are not corrected


@dataclass(frozen=True)
class Greedy:
    """A reduced model and how it was learnt.

    Attributes
    ----------
    sizes : tuple of int
        Vectors in the basis before each step.
    errors : tuple of float
        Largest estimated relative error over the training ribs before each step.
    """

    rom: ReducedShell
    sizes: tuple
    errors: tuple

    @property
    def error(self) -> float:
        """Largest estimated error at the end."""
        return self.errors[-1]


def weak_greedy(
    reductor: Reductor,
    ribs: Sequence[Rib | None],
    tolerance: float,
    rom: ReducedShell | None = None,
    steps: int = 60,
) -> Greedy:
    """Extend the basis where the estimated error is largest until it is small for all training ribs.

    Parameters
    ----------
    ribs : sequence of Rib or None
        Training set; None is the bare shell. Few seats, as each is projected once.
    tolerance : float
        Relative error of frequencies, or of deflections under the loads, estimated.
    rom : ReducedShell, optional
        To begin with; default the reductor's first.
    steps : int
        At most.
    """
    rom = reductor.reduce() if rom is None else reductor.completed(rom)
    sizes, errors = [], []
    found, count = np.full(len(ribs), np.inf), len(ribs)
    at_once = AT_ONCE[bool(rom.loads.shape[1])]
    for _ in range(steps):
        asked = _ask(rom, ribs, found, tolerance, count)
        count = ASKED
        sizes.append(rom.size)
        errors.append(float(found[asked].max()))
        if errors[-1] < tolerance:
            break
        worst = [int(i) for i in asked[np.argsort(found[asked])[::-1][:at_once]] if found[i] >= tolerance]
        learn = reductor.corrections(rom, [ribs[i] for i in worst], LEAST * tolerance)
        # little in the shell's own energy may be much in the rib's
        grown = reductor.extend_basis(rom, learn, np.sqrt(0.02 * tolerance))
        if grown.size == rom.size:
            grown = reductor.extend_basis(rom, learn, np.sqrt(1e-4 * tolerance))
        if grown.size == rom.size:
            break
        rom = grown
    return Greedy(rom, tuple(sizes), tuple(errors))


def _ask(rom: ReducedShell, ribs: Sequence[Rib | None], found: Floats, tolerance: float, count: int) -> Ints:
    """Ask the worst ribs by their last estimates until one is still above the tolerance; the ribs asked.

    Estimates only fall as the basis grows, so ribs below the tolerance are asked again only at the end.
    """
    while True:
        asked = np.flatnonzero(found >= tolerance)
        if not len(asked):
            asked = np.arange(len(ribs))
        elif len(asked) > count:
            asked = asked[np.argsort(found[asked])[::-1][:count]]
        found[asked] = [rom.error(ribs[int(i)]) for i in asked]
        if found[asked].max() >= tolerance or len(asked) == len(ribs):
            return asked


def compress(rom: ReducedShell, ribs: Sequence[Rib | None], tolerance: float) -> ReducedShell:
    """Reduce the basis to what the answers for the training ribs need.

    Parameters
    ----------
    tolerance : float
        Largest estimated relative error allowed after it.
    """
    keep = 0 if rom.loads.shape[1] else RIGID
    answers = np.hstack([rom.answer(rib)[0][keep:] for rib in ribs])
    answers = answers / np.linalg.norm(answers, axis=0)
    u, _, _ = np.linalg.svd(answers, full_matrices=False)
    # the error of a Rayleigh quotient is the square of that of its vector
    missing = np.cumsum(((u.T @ answers) ** 2)[::-1], axis=0)[::-1].max(axis=1)
    goal = 0.03 * tolerance
    size = 0
    while size < 0.85 * u.shape[1]:
        size = max(int((missing > goal).sum()), 1)
        turn = np.zeros((rom.size, keep + size))
        turn[:keep, :keep], turn[keep:, keep:] = np.eye(keep), u[:, :size]
        small = rom.restricted(turn)
        if all(small.error(rib) < tolerance for rib in ribs):
            return small
        goal *= 0.3
    return rom
