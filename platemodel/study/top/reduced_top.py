"""One top and one bar line in milliseconds: modes, stiffness under the bass foot, sinking and shapes.

The reduced model answers what the full one does (`platemodel.study.top.answers.TopSolver`). Where its own
estimate of its error is above its tolerance it first learns the new line, length or width, and if that is not
enough the full model answers.
"""

from dataclasses import dataclass, replace

import numpy as np

from platemodel.fem.eigen import Modes
from platemodel.fem.reduced import ReducedModes, ReducedShell
from platemodel.fem.rib import Rib
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.strings import SetUp
from platemodel.instrument.top import Top
from platemodel.progress import Progress, no_message
from platemodel.study.top.answers import COUNT, BarResponse, FootStiffness, NamedShapes, TopSolver
from platemodel.study.top.edge_supports import RIMS
from platemodel.study.top.foot import (
    BASS,
    STRINGS,
    foot_stiffness,
    pushed_shares,
    sinking_from,
    strung_shares,
    unit_loads,
    usual_set_up,
)
from platemodel.study.top.model import TopModel
from platemodel.study.top.reduced_learning import Teacher
from platemodel.study.top.taught_models import TaughtModels, taught_models

TOLERANCE = 1e-4  # relative, of the estimated error
# Estimated error of the sinking from which the full model is asked; the true one is far smaller.
SINKING_DOUBT = 1e-2


@dataclass(frozen=True, eq=False)
class ReducedTop:
    """A top with its bar's line, ready for any bar of a range; made by `reduced_top`.

    It can be asked by several threads at once: what it was made with never changes, and what it learns on the
    way is kept in stores that are locked.

    Attributes
    ----------
    full : TopModel
        The full model that it stands for and falls back on.
    bar : Bar
        Whose line it was made for.
    set_up : SetUp
        Whose sound post it was made with; the sinking under another post is answered by the full model.
    models : TaughtModels
        What answers, and learns a new line, length or width when it is first asked for.
    """

    full: TopModel
    bar: Bar
    range: BarRange
    set_up: SetUp
    models: TaughtModels

    def __repr__(self) -> str:
        return f"ReducedTop({self.top.name!r}, {self.models!r})"

    @property
    def top(self) -> Top:
        """The top."""
        return self.full.top

    @property
    def shell(self):
        """The full model's shell."""
        return self.full.shell

    @property
    def mass(self) -> float:
        """Mass of the top without bar, kg."""
        return self.full.mass

    @property
    def tolerance(self) -> float:
        """Estimated relative error above which it learns or falls back."""
        return self.models.tolerance

    def rib(self, bar: Bar | None) -> Rib | None:
        """Put a bar on its seat; see `TaughtModels.rib`."""
        return self.models.rib(bar)

    def _knows(self, set_up):
        """Whether the post stands where it stood when the model was made."""
        own, post, bridge = self.set_up.post, set_up.post, self.top.bridge
        return post.diameter == own.diameter and np.array_equal(post.place(bridge), own.place(bridge))

    def modes(self, bar: Bar | None, count: int = COUNT) -> tuple[ReducedShell, ReducedModes]:
        """Modes of the free plate on the reduced basis, whatever their error, and their model."""
        return self.models.modes(self.rib(bar), bar, count)[:2]

    def response(self, bar: Bar | None, set_up: SetUp | None = None) -> BarResponse:
        """See `platemodel.study.top.answers.bar_response`."""
        if set_up is not None and not self._knows(set_up):
            return self.full.response(bar, set_up)
        rib = self.rib(bar)
        _, named, error = self.models.named(rib, bar)

        def doubt(found):
            pushed = _relative_error(found, pushed_shares(found.flexibility))
            if set_up is None:
                return pushed
            sunk = _relative_error(found, strung_shares(found.flexibility, set_up, self.top.bridge))
            return max(pushed, sunk * self.tolerance / SINKING_DOUBT)

        flexibility = {}
        for rim in RIMS:
            _, found, estimate = self.models.static(rib, bar, rim, doubt)
            error = max(error, estimate)
            flexibility[rim] = None if found is None else found.flexibility
        if not error < self.tolerance:
            return self.full.response(bar, set_up)
        foot = foot_stiffness(flexibility)
        sunk = None if set_up is None else sinking_from(flexibility, self.top.bridge, set_up)
        modes, namings = named
        mass = 0.0 if rib is None else rib.mass
        return BarResponse(modes.frequencies, namings, foot, mass, self.mass + mass, error, "reduced", sunk)

    def free_modes(self, bar: Bar | None, count: int) -> Modes:
        """Lowest modes of the free plate, in the shell's unknowns."""
        rom, found, error = self.models.modes(self.rib(bar), bar, count)
        if not error < self.tolerance or len(found.omega2) < count or self.models.compact:
            return self.full.free_modes(bar, count)
        vectors = rom.reconstruct(found.coefficients)
        vectors = vectors * np.sign(vectors[np.abs(vectors).argmax(0), np.arange(count)])
        return Modes(found.omega2, vectors, np.zeros(0), error)

    def foot_stiffness(self, bar: Bar | None, post: bool = True) -> FootStiffness:
        """See `platemodel.study.top.foot.bass_foot_stiffness`."""
        rib, out = self.rib(bar), {}
        for rim in RIMS:
            _, found, error = self.models.static(
                rib, bar, rim, lambda found: _relative_error(found, pushed_shares(found.flexibility, post))
            )
            if not error < self.tolerance:
                return self.full.foot_stiffness(bar, post)
            out[rim] = found.flexibility
        return foot_stiffness(out, post)

    def moved(self, bar: Bar | None, rim: str, set_up: SetUp) -> np.ndarray:
        """Displacement under 1 N upwards along each of `platemodel.study.top.foot.load_rows`."""
        if self.models.compact or not self._knows(set_up):
            return self.full.moved(bar, rim, set_up)

        def doubt(found):
            return float((found.residual.diagonal() / found.flexibility.diagonal())[STRINGS].max())

        rom, found, error = self.models.static(self.rib(bar), bar, rim, doubt)
        if not error < self.tolerance:
            return self.full.moved(bar, rim, set_up)
        whole = np.concatenate([rom.reconstruct(found.coefficients), found.own])
        return whole[:, STRINGS]

    def named_shapes(self, bar: Bar | None, post: bool = True) -> NamedShapes:
        """Shapes of modes 1, 2 and 5 and of a push on the bass foot."""
        rib = self.rib(bar)
        rom, found, error = self.models.modes(rib, bar, COUNT)
        pushes, own, give = [], [], []
        for rim in RIMS:
            if self.models.compact or not error < self.tolerance:
                return self.full.named_shapes(bar, post)
            part, moved, error = self.models.static(
                rib, bar, rim, lambda one: _relative_error(one, pushed_shares(one.flexibility, post))
            )
            share = pushed_shares(moved.flexibility, post)
            pushes.append(part.reconstruct(moved.coefficients @ share))
            own.append(moved.own @ share)
            give.append(moved.flexibility[BASS] @ share)
        if not error < self.tolerance:
            return self.full.named_shapes(bar, post)
        namings = self.models.shape_basis(rom).recognise(found.coefficients)
        picked = [naming.index for naming in namings]
        return NamedShapes(
            namings, found.omega2[picked],
            rom.reconstruct(found.coefficients[:, picked]), found.own[:, picked],
            np.column_stack(pushes), np.column_stack(own), np.array(give),
        )  # fmt: skip

    def drawn_shapes(self, bar: Bar | None) -> dict[int, np.ndarray]:
        """Shapes of modes 1, 2 and 5 by number at the points of `drawn_plate`, whatever their error."""
        if self.models.compact:
            return self.full.drawn_shapes(bar)
        rom, modes = self.modes(bar)
        namings = self.models.shape_basis(rom).recognise(modes.coefficients)
        rows = self.models.drawn_rows(rom)
        return {n.number: rows @ modes.coefficients[:, n.index] for n in namings}

    def unlearning(self, tolerance: float) -> "ReducedTop":
        """Return the same models without what they learnt on the way; they learn nothing more.

        Parameters
        ----------
        tolerance : float
            Estimated relative error above which the full model answers.
        """
        return replace(self, models=self.models.unlearning(tolerance))

    def at_home(self) -> "ReducedTop":
        """Return the same models with only what bars of their own line need: a third of the size.

        Other lines, and whatever needs whole shapes, are answered by the full model.
        """
        return replace(self, models=self.models.at_home())


def _relative_error(found, share):
    """Estimated relative error of the work of a load."""
    return float(share @ found.residual @ share / (share @ found.flexibility @ share))


def reduced_top(
    model: TopModel,
    bar: Bar,
    range: BarRange | None = None,
    set_up: SetUp | None = None,
    tolerance: float = TOLERANCE,
    learn: bool = True,
    keep: bool = True,
    progress: Progress = no_message,
) -> ReducedTop:
    """Make the reduced model of a top with a bar's line.

    Parameters
    ----------
    bar : Bar
        Its line, length and width; the middle of the range.
    range : BarRange, optional
        Heights and wood to be ready for; default `BarRange.around` the bar. Bars outside are answered too,
        by the full model where the estimate says so.
    set_up : SetUp, optional
        Strings and post under which the sinking will be asked for; default the usual ones of the kind. Other
        strings are answered as well, another place of the post by the full model.
    tolerance : float
        Estimated relative error of frequencies and of the stiffness under the foot.
    learn : bool
        Learn a new line, length or width when it is first asked for; else the full model answers.
    keep : bool
        Keep it in the user's cache folder for later runs, and take it from there if it was learnt before; see
        `platemodel.study.top.model_cache`.
    progress : callable, optional
        Called with a short message when a part is begun, from the threads that learn.

    Raises
    ------
    GeometryError
        The bar leaves the plate, or the sound post stands off it.
    """
    span, set_up = range or BarRange.around(bar), set_up or usual_set_up(model.top)
    teacher = Teacher(model, bar, span, tolerance, unit_loads(model, set_up))
    models = taught_models(teacher, learn, keep, progress)
    return ReducedTop(model, bar, span, set_up, models)


def as_reduced(
    model: TopSolver,
    bar: Bar,
    set_up: SetUp | None = None,
    tolerance: float = TOLERANCE,
    progress: Progress = no_message,
) -> ReducedTop:
    """Return a model that is reduced already as it is, and of a full one make the reduced one.

    The parameters are those of `reduced_top`, and count only where one is made.
    """
    if isinstance(model, ReducedTop):
        return model
    return reduced_top(model.full, bar, None, set_up, tolerance, progress=progress)
