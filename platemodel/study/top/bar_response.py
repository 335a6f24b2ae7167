"""What a bar does to a top, in numbers: asked in the same words of the full and of the reduced model."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from platemodel.fem.system import System
from platemodel.instrument.bar import Bar
from platemodel.study.top.foot import FootStiffness, flexibilities, foot_stiffness, push_rows
from platemodel.study.top.model import TopModel, bar_rib
from platemodel.study.top.recognise import Naming, recognise
from platemodel.study.top.sampling import normal_displacement, plan_grid

COUNT = 8  # modes looked at for 1, 2 and 5


@dataclass(frozen=True, eq=False)
class BarAnswer:
    """What a bar does to a top.

    Attributes
    ----------
    frequencies : array (k,)
        Of the free plate, Hz; of those above mode 5 the reduced model is less sure.
    namings : tuple of Naming
        Which of them are modes 1, 2 and 5.
    foot : FootStiffness
        Under the bass foot.
    bar_mass, plate_mass : float
        kg; the plate's with the bar.
    error : float
        Estimated relative error of modes 1, 2, 5 and of the stiffness against the full model (0 from the full
        model); an estimate, not a bound.
    source : {"full", "reduced"}
    """

    frequencies: np.ndarray
    namings: tuple[Naming, ...]
    foot: FootStiffness
    bar_mass: float
    plate_mass: float
    error: float = 0.0
    source: str = "full"

    def frequency(self, number: int) -> float:
        """Frequency in Hz of mode 1, 2 or 5; NaN where no mode looks like it."""
        for naming in self.namings:
            if naming.number == number:
                return float(self.frequencies[naming.index])
        return float("nan")


def bar_answer(model, bar: Bar | None) -> BarAnswer:
    """Ask a model what a bar does.

    Parameters
    ----------
    model : TopModel or ReducedTop
        The full model takes seconds, the reduced one milliseconds.
    bar : Bar or None
        None is the top without bar.

    Returns
    -------
    BarAnswer
    """
    return full_answer(model, bar) if isinstance(model, TopModel) else model.answer(bar)


def full_answer(model: TopModel, bar: Bar | None) -> BarAnswer:
    """Answer of the full model; see `bar_answer`."""
    return full_answer_and_flexibilities(model, bar, ())[0]


def full_answer_and_flexibilities(
    model: TopModel, bar: Bar | None, rows: Sequence[np.ndarray]
) -> tuple[BarAnswer, dict[str, np.ndarray]]:
    """Answer of the full model, and flexibilities along more rows, which cost little besides.

    Parameters
    ----------
    model : TopModel
    bar : Bar or None
    rows : sequence of array (n_dofs of the shell,)
        See `platemodel.study.top.foot.flexibilities`.
    """
    ribs = () if bar is None else (bar_rib(model, bar),)
    feet = push_rows(model)
    with ThreadPoolExecutor(2) as pool:  # factorisations let other threads work
        modes = pool.submit(System(model.shell, ribs).modes, COUNT)
        found = flexibilities(model, bar, [*feet, *rows], pool)
        modes = modes.result()
    grid = plan_grid(model.top)
    namings = recognise(grid, normal_displacement(model, grid.points, modes.vectors))
    mass = sum(rib.mass for rib in ribs)
    n = len(feet)
    foot = foot_stiffness({rim: c[:n, :n] for rim, c in found.items()})
    answer = BarAnswer(modes.frequencies, namings, foot, mass, model.mass + mass)
    return answer, {rim: c[n:, n:] for rim, c in found.items()}
