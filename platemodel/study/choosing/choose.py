"""Finds the bar that meets a maker's targets, with the bands of its figures."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import OF_THE_LINE, shaped_bar
from platemodel.instrument.strings import SetUp
from platemodel.progress import Progress, no_message
from platemodel.study.choosing.freedom import Freedom
from platemodel.study.choosing.line_sensitivity import CLOSED, ONE_LINE, LineSensitivity
from platemodel.study.choosing.search import Conflict, Search, search
from platemodel.study.choosing.tables import (
    band_table,
    comparison_table,
    height_band,
    height_curve,
    step_table,
    target_margins,
)
from platemodel.study.choosing.targets import Target
from platemodel.study.choosing.wood_bands import WoodDoubt, by_top_wood, log_draws
from platemodel.study.top.answers import TopSolver
from platemodel.study.top.figures import BODY_FIGURES, BodyAnswers, Reference, TopFigures, reference_for
from platemodel.study.top.reduced_top import as_reduced

TOLERANCE = 1e-3  # of the reduced model, when this module makes it
BANDS = 1e-2  # of the same for bars of other woods, where only the width of a band depends on it
AGAIN = 2  # solutions in full of a bar beside the line, and searches after them


@dataclass(frozen=True, eq=False)
class BarChoice:
    """A bar for a top, and how it was found.

    Attributes
    ----------
    met : bool
        It meets all targets; else it is the nearest, and ``conflicts`` say why.
    figures : dict of str to float
        By the names of `study.top.figures.FIGURES`.
    margins : DataFrame
        A row a target: ``target``, ``value``, ``found``, ``margin``, ``unit``, ``met``, ``binds`` (nothing is
        left), ``chance`` (of being met, from the doubt of the wood).
    bands : DataFrame
        A row a figure: ``figure``, ``what``, ``value``, ``low``, ``high``, ``unit``; 90 %, from the doubt of
        the wood.
    height_band : (float, float)
        90 % of the woods that the top and bar may have need a height in here, mm, for the target that binds
        and that a higher bar meets better; NaN where none does.
    steps : DataFrame
        Half a millimetre up and down: ``step_mm``, figures, and the change of each (``d_...``).
    comparison : DataFrame
        A row a bar: this one, the one given, the usual one, and this one in other blanks.
    curve : DataFrame
        Figures and shared tones (`study.top.name_passes`) over the bar's height, all else as chosen,
        ``all_met`` and ``missed``.
    free : dict of str to (float, float)
        What was free and in which range, m.
    at_end : tuple of str
        Free figures that ended at an end of their range.
    """

    bar: Bar
    met: bool
    figures: dict[str, float]
    targets: tuple[Target, ...]
    margins: pd.DataFrame
    bands: pd.DataFrame
    height_band: tuple[float, float]
    steps: pd.DataFrame
    comparison: pd.DataFrame
    conflicts: tuple[Conflict, ...]
    curve: pd.DataFrame
    free: dict[str, tuple[float, float]]
    at_end: tuple[str, ...]
    reference: Reference

    @property
    def height_mm(self) -> float:
        """Greatest height, mm."""
        return self.figures["height_mm"]

    @property
    def higher_mm(self) -> float:
        """How much higher than the usual bar, mm; negative when lower."""
        return self.height_mm - 1e3 * float(self.reference.bar.heights.max())

    def height_for(self, figure: str, value: float) -> float:
        """Least height at which a figure reaches a value, all else as chosen, mm; NaN outside the curve.

        Read from the curve along straight lines of the logarithms, as figures go by powers of the height.
        """
        x, y = np.log(self.curve["height_mm"].to_numpy()), np.log(self.curve[figure].to_numpy() / value)
        for k in np.flatnonzero(y[1:] * y[:-1] <= 0):
            return float(np.exp(x[k] - y[k] * (x[k + 1] - x[k]) / (y[k + 1] - y[k])))
        return float("nan")

    @property
    def binding(self) -> tuple[Target, ...]:
        """Targets that keep the bar from being lighter, or that are missed."""
        return tuple(t for t, b in zip(self.targets, self.margins["binds"], strict=True) if b)

    def _repr_html_(self) -> str:
        return self.margins.to_html(index=False, float_format="{:.4g}".format)


def choose_bar(
    model: TopSolver,
    bar: Bar,
    targets: Sequence[Target],
    freedom: Freedom | None = None,
    doubt: WoodDoubt | None = None,
    set_up: SetUp | None = None,
    reference: Reference | None = None,
    effects: LineSensitivity | None = None,
    compare: bool = True,
    progress: Progress = no_message,
    body: BodyAnswers | None = None,
) -> BarChoice:
    """Find the lightest bar that meets targets, or the nearest one and what is in the way.

    Parameters
    ----------
    model : TopModel or ReducedTop
        Of a full model the reduced one is made first, which takes some seconds.
    bar : Bar
        Line, wood, and all that is not free.
    freedom : Freedom, optional
        What may change on the bar and how far, and what is to be small; default the lightest of other height.
    doubt : WoodDoubt, optional
        Doubt of the woods, for the bands, and other woods for the bar.
    set_up : SetUp, optional
        Strings, for the sinking.
    reference : Reference, optional
        Default the usual bar on the usual top of this kind and size.
    effects : LineSensitivity, optional
        Ready ones of this model, bar and set-up, to save the making.
    compare : bool
        False leaves other bars out of the comparison, and saves a solution in full.
    body : BodyAnswers, optional
        The closed body, learnt for this bar's line (`study.body.bar_figures.BodyFigures`).

    Raises
    ------
    ValueError
        No targets, a target on the sinking without ``set_up`` or on the closed body without ``body``, a
        range that holds nothing, or length or width free together with a target on the closed body.

    Notes
    -----
    One free figure: all places where a target begins or ceases to be met are found by bracketing, and the
    lightest bar among them is taken. Several: sequential quadratic programming (SLSQP) from several starts;
    bars of another length or width are read from `LineSensitivity` and the one found is solved in full.
    """
    targets, freedom, doubt = tuple(targets), freedom or Freedom(), doubt or WoodDoubt()
    body = body if effects is None else effects.figures.body
    _check(targets, freedom, set_up, body)
    if effects is None:
        model = as_reduced(model, bar, set_up, tolerance=TOLERANCE, progress=progress)
        effects = LineSensitivity(TopFigures(model, set_up, body=body), bar)
    figures = effects.figures
    if reference is None:
        progress("the usual bar on the usual top")
        reference = reference_for(figures.model, bar)
    spans = freedom.spans(effects)
    progress("searching")
    problem = Search(effects, bar, targets, spans, freedom.goal)
    found = search(problem)
    for _ in range(AGAIN):
        if not set(freedom.free) & set(OF_THE_LINE):
            break
        progress("solving the bar found in full")
        problem.calibrate(found.x, _full(figures, problem.bar_at(found.x)))
        found = search(problem, found.x)
    chosen = problem.bar_at(found.x)
    ask = _asker(problem, found.x)
    progress("bands of the wood")
    logs = _logs(problem, found.x, chosen, doubt)
    values = ask(chosen)
    progress("comparing")
    curve = height_curve(problem, ask, _sharer(problem, found.x), chosen)
    return BarChoice(
        chosen,
        found.met,
        values,
        targets,
        target_margins(targets, values, logs),
        band_table(values, logs),
        height_band(targets, values, curve, logs),
        step_table(ask, chosen),
        comparison_table(figures, problem, ask, chosen, bar, reference, doubt.blanks if compare else None),
        found.conflicts,
        curve,
        spans,
        tuple(k for k, t in zip(spans, found.x, strict=True) if min(t, 1 - t) < 1e-3),
        reference,
    )


def _check(targets, freedom, set_up, body):
    if not targets:
        msg = "no targets; give at least one, for example targets.foot_as_usual(reference)"
        raise ValueError(msg)
    if set_up is None and any(t.figure == "sink_mm" for t in targets):
        msg = "a target on the sinking needs the strings: give set_up, as SetUp.usual(kind) or a job's set_up"
        raise ValueError(msg)
    if body is None and any(name in BODY_FIGURES for name in (freedom.goal, *(t.figure for t in targets))):
        msg = "a target on the closed body needs it: give body, a study.body.bar_figures.BodyFigures"
        raise ValueError(msg)
    if body is not None and set(freedom.free) & set(OF_THE_LINE):
        raise ValueError(ONE_LINE)


def _full(figures, bar):
    return {k: v for k, v in figures.full.of(bar).items() if k not in CLOSED}


def _asker(problem, x):
    """Figures of bars on the chosen line, of any height and wood."""
    changes, back = _line_changes(problem, x)

    def ask(bar):
        return problem.figures_of(shaped_bar(bar, **back), changes)

    return ask


def _sharer(problem, x):
    """Shared tones of the same bars, as on the line given."""
    _, back = _line_changes(problem, x)
    figures = problem.effects.figures

    def ask(bar):
        return figures.shared(shaped_bar(bar, **back))

    return ask


def _line_changes(problem, x):
    changes = {k: v for k, v in problem.values(x).items() if k in OF_THE_LINE}
    return changes, {k: getattr(problem.bar, k) for k in changes}


def _logs(problem, x, bar, doubt):
    """Draw logarithms of the figures for woods in doubt, by a model that learns nothing more for them."""
    figures = problem.effects.figures
    rough = replace(figures, model=figures.model.unlearning(BANDS))
    ask = _asker(replace(problem, effects=replace(problem.effects, figures=rough), _seen={}), x)
    names = [n for n in ask(bar) if n != "height_mm"]
    derivatives = None if doubt.top is None else by_top_wood(figures, bar)
    return pd.DataFrame(log_draws(ask, bar, derivatives, doubt, names), columns=names)
