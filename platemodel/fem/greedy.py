"""Which ribs a reduced model learns from: always the one it knows least."""

from dataclasses import dataclass

import numpy as np

from platemodel.fem.reduced import RIGID, ReducedShell, Reductor

# Estimated error of modes above which the full model is solved; below, and for deflections, the reference
# model's answer to the residual does.
ROUGH = 0.05
AT_ONCE = 4  # ribs learnt in a step


@dataclass(frozen=True)
class Greedy:
    """A reduced model and how it was learnt.

    Attributes
    ----------
    rom : ReducedShell
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
    reductor: Reductor, ribs, tolerance: float, rom: ReducedShell | None = None, steps: int = 60
) -> Greedy:
    """Extend the basis where the estimated error is largest until it is small for all training ribs.

    Parameters
    ----------
    reductor : Reductor
    ribs : sequence of Rib or None
        Training set; None is the bare shell. Few seats, as each is projected once.
    tolerance : float
        Relative error of frequencies, or of deflections under the loads, estimated.
    rom : ReducedShell, optional
        To begin with; default the reductor's first.
    steps : int
        At most.
    """
    rom = rom or reductor.reduce()
    sizes, errors = [], []
    for _ in range(steps):
        found = np.array([rom.error(rib) for rib in ribs])
        sizes.append(rom.size)
        errors.append(float(found.max()))
        if errors[-1] < tolerance:
            break
        worst = [int(i) for i in np.argsort(found)[::-1][:AT_ONCE] if found[i] >= tolerance]
        if errors[-1] > ROUGH and not rom.loads.shape[1]:
            learn = reductor.snapshot(ribs[worst[0]])
        else:
            learn = np.hstack([reductor.corrections(rom, ribs[i]) for i in worst])
        # little in the shell's own energy may be much in the rib's
        grown = reductor.extend_basis(rom, learn, np.sqrt(0.02 * tolerance))
        if grown.size == rom.size:
            grown = reductor.extend_basis(rom, learn, np.sqrt(1e-4 * tolerance))
        if grown.size == rom.size:
            break
        rom = grown
    return Greedy(rom, tuple(sizes), tuple(errors))


def compress(rom: ReducedShell, ribs, tolerance: float) -> ReducedShell:
    """Keep of the basis what the answers for the training ribs are made of.

    Parameters
    ----------
    rom : ReducedShell
    ribs : sequence of Rib or None
    tolerance : float
        Largest estimated relative error allowed after it.
    """
    keep = 0 if rom.loads.shape[1] else RIGID
    answers = np.hstack([rom.answer(rib)[0][keep:] for rib in ribs])
    answers = answers / np.linalg.norm(answers, axis=0)
    u, _, _ = np.linalg.svd(answers, full_matrices=False)
    # a Rayleigh quotient errs by the square of what its vector lacks
    lacks = np.cumsum(((u.T @ answers) ** 2)[::-1], axis=0)[::-1].max(axis=1)
    goal = 0.03 * tolerance
    size = 0
    while size < 0.85 * u.shape[1]:
        size = max(int((lacks > goal).sum()), 1)
        turn = np.zeros((rom.size, keep + size))
        turn[:keep, :keep], turn[keep:, keep:] = np.eye(keep), u[:, :size]
        small = rom.restricted(turn)
        if max(small.error(rib) for rib in ribs) < tolerance:
            return small
        goal *= 0.3
    return rom
