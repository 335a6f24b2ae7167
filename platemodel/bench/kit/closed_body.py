"""A job's closed body, ready for other bars: what its page, the choice of a bar and the live panel share."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from platemodel.instrument.bar import Bar
from platemodel.instrument.body import usual_body
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.body.air import body_air
from platemodel.study.body.air_tone import AirFit, fit_air
from platemodel.study.body.bar_figures import BodyFigures
from platemodel.study.body.model import BodyModel, body_model
from platemodel.study.body.reduced import ReducedBody, reduced_body
from platemodel.study.body.statics import BodyLoad, body_load
from platemodel.study.top.model import TopModel


@dataclass(frozen=True, eq=False)
class ClosedBody:
    """Closed body of a job.

    Attributes
    ----------
    reduced : ReducedBody
        Learnt for the bar's line, its holes fitted where the job tells an air tone.
    air : AirFit or None
        That fit.
    """

    model: BodyModel
    reduced: ReducedBody
    air: AirFit | None

    @property
    def figures(self) -> BodyFigures:
        """Figures of other bars on the line."""
        return BodyFigures(self.reduced)


def job_body_model(job: Job, model: TopModel) -> BodyModel:
    """Put a job's meshed top on its body; what was not measured is as usual."""
    return body_model(model, usual_body(job.top, **job.body), job.set_up)


def closed_body(job: Job, model: BodyModel, bar: Bar, progress: Progress = no_message) -> ClosedBody:
    """Learn a job's body for the bars of one line; takes some seconds.

    Parameters
    ----------
    model : BodyModel
        From `job_body_model`.
    bar : Bar
        Gives line, length and width.
    """
    progress("listening to the closed body with bars of other heights")
    reduced, fit = reduced_body(model, body_air(model), bar), None
    if job.measured.air_tone is not None:
        fit = fit_air(reduced, bar, job.measured.air_tone)
        reduced = fit.body
    return ClosedBody(model, reduced, fit)


def strung_and_closed(
    job: Job, model: BodyModel, bar: Bar, progress: Progress = no_message
) -> tuple[BodyLoad, ClosedBody]:
    """Press a job's body with its strings while it is learnt for other bars, on two cores.

    Parameters
    ----------
    model, bar
        As for `closed_body`.
    """
    with ThreadPoolExecutor(1) as pool:
        learning = pool.submit(closed_body, job, model, bar, progress)
        load = body_load(model, bar)
        return load, learning.result()
