"""What a report needs of a job before it can compute: its bar, and a workbench for its top."""

from platemodel.errors import JobError, Problem
from platemodel.instrument.bar import Bar
from platemodel.job import JOB_FILE, Job
from platemodel.progress import Progress, no_message
from platemodel.study.top.tone_bands import TopDoubt
from platemodel.study.top.workbench import Workbench
from platemodel.wood.estimate import doubt_of


def needed_bar(job: Job, what: str) -> Bar:
    """Bar of a job.

    Parameters
    ----------
    what : str
        What needs it, to begin a sentence: ``"gluing"``.

    Raises
    ------
    JobError
        The job has no bar.
    """
    if job.bar is None:
        words = f"{what} needs a bar: add the table [bar]; an empty one means the usual bar"
        raise JobError([Problem(JOB_FILE, "bar", "no such table", words)])
    return job.bar


def job_bench(job: Job, fineness: float = 1.0, progress: Progress = no_message) -> Workbench:
    """Workbench of a job's top with its bar and strings.

    Parameters
    ----------
    fineness : float
        Of the mesh.
    """
    bar_wood = None if job.bar is None else doubt_of(job.bar.wood)
    doubt = TopDoubt(job.shape_errors, job.top_wood, bar_wood)
    return Workbench(job.top, job.bar, job.set_up, fineness, progress, doubt)
